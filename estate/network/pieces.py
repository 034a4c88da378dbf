"""Segments: routes cut at every node, schematic rows, and spurs to cameras."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import shapely

from estate.network.lines import SAME_PLACE_M
from estate.network.network import Bools, Floats, Ints, Texts
from estate.network.topology import Topology
from estate.survey.survey import Layer


@dataclass(frozen=True)
class Pieces:
    """Segments before their nodes are numbered: `start_node` and `end_node` are groups of sockets."""

    route: Ints
    """Row of `routes`, -1 for a spur."""
    camera: Ints
    """Row of `points` that a spur leads to, else -1."""
    number: Ints
    """Number along the route, from 1."""
    start_node: Ints
    end_node: Ints
    start_m: Floats
    """Place along the drawn route [m], NaN without a drawing."""
    end_m: Floats
    share: Floats
    """Part of the route's whole length."""
    geometry: Texts

    def __len__(self) -> int:
        return len(self.route)

    def ids(self, routes: Layer, points: Layer) -> Texts:
        """Ids: the route's and the number, `SPUR-` and the camera's for a spur."""
        names = [
            f"{routes['id'][route] if route >= 0 else 'SPUR-' + points['id'][camera]}.{number}"
            for route, camera, number in zip(
                self.route.tolist(), self.camera.tolist(), self.number.tolist(), strict=True
            )
        ]
        return np.array(names, dtype=object)


def kept_cuts(topology: Topology, nodes: Ints) -> Ints:
    """Cuts that part a line, in order along the axis.

    Neighbouring cuts of one node within 2 × snap are one: the line's end where it is among them, else the first.
    """
    lines = topology.lines
    is_end = np.arange(len(topology.cuts)) < 2 * len(lines)
    order = np.lexsort((~is_end, topology.cuts))
    chainage, node = topology.cuts[order], nodes[len(topology.places.id) + order]
    line = lines.line_of(chainage)
    same = (
        (np.diff(line) == 0)
        & (np.diff(node) == 0)
        & (np.diff(chainage) <= 2 * topology.snap_m + SAME_PLACE_M)
    )
    run = np.concatenate([[0], np.cumsum(~same)]) if len(order) else np.zeros(0, dtype=np.int64)
    has_end = np.bincount(run, is_end[order]) > 0
    first = np.append(True, np.diff(run) > 0)[: len(order)]
    return np.asarray(order[is_end[order] | (first & ~has_end[run])])


def cut_lines(topology: Topology, nodes: Ints, kept: Ints) -> Pieces:
    """Cut the drawn lines at the kept cuts."""
    lines = topology.lines
    chainage = topology.cuts[kept]
    line = lines.line_of(chainage)
    begin = np.flatnonzero(np.diff(line) == 0) if len(kept) else np.zeros(0, dtype=np.int64)
    end = begin + 1
    of = line[begin]
    node = nodes[len(topology.places.id) + kept]
    first = np.searchsorted(of, np.arange(len(lines)))
    return Pieces(
        route=lines.row[of],
        camera=np.full(len(of), -1),
        number=np.arange(len(of)) - first[of] + 1,
        start_node=node[begin],
        end_node=node[end],
        start_m=chainage[begin] - lines.start[of],
        end_m=chainage[end] - lines.start[of],
        share=(chainage[end] - chainage[begin]) / lines.length_m[of],
        geometry=_parts(topology, chainage, line, kept >= 2 * len(lines)),
    )


def _parts(topology: Topology, chainage: Floats, line: Ints, inner: Bools) -> Texts:
    """Geometry between neighbouring cuts of each line; `chainage` in order, `inner` where a cut is no end."""
    lines = topology.lines
    if not len(chainage):
        return np.zeros(0, dtype=object)
    chainage, line = chainage[inner], line[inner]
    vertex_is_cut, extra = _cut_vertices(lines.vertex_chainage, chainage)
    along = np.concatenate([lines.vertex_chainage, chainage[extra]])
    xy = np.concatenate([lines.vertex_xy, lines.place(chainage[extra])])
    is_cut = np.concatenate([vertex_is_cut, np.ones(len(extra), dtype=bool)])
    of = np.concatenate([lines.vertex_line, line[extra]])
    order = np.lexsort((along, of))
    xy, is_cut, of = xy[order], is_cut[order], of[order]
    # A cut ends one segment and starts the next: its vertex stands in both.
    twice = np.repeat(np.arange(len(of)), 1 + is_cut)
    opens = np.append(True, (np.diff(twice) == 0) | (np.diff(of[twice]) > 0))
    return np.asarray(shapely.linestrings(xy[twice], indices=np.cumsum(opens) - 1), dtype=object)


def _cut_vertices(vertex: Floats, cut: Floats) -> tuple[Bools, Ints]:
    """Return which vertices are cuts, and which cuts are at no vertex."""
    right = np.clip(np.searchsorted(vertex, cut), 1, len(vertex) - 1)
    near = np.where(cut - vertex[right - 1] <= vertex[right] - cut, right - 1, right)
    at_vertex = np.abs(vertex[near] - cut) <= SAME_PLACE_M
    is_cut = np.zeros(len(vertex), dtype=bool)
    is_cut[near[at_vertex]] = True
    return is_cut, np.flatnonzero(~at_vertex)


def schematic(routes: Layer, points: Layer, nodes: Ints) -> Pieces:
    """Segments of rows without a drawing: one each, between two points."""
    row_of = points.row_of()
    row = np.array(
        [r for r in range(len(routes)) if routes.geometry[r] is None and routes["from"][r] is not None],
        dtype=np.int64,
    )
    start = np.array([row_of[routes["from"][r]] for r in row], dtype=np.int64)
    end = np.array([row_of[routes["to"][r]] for r in row], dtype=np.int64)
    unknown = np.full(len(row), np.nan)
    return Pieces(
        route=row,
        camera=np.full(len(row), -1),
        number=np.ones(len(row), dtype=np.int64),
        start_node=nodes[start],
        end_node=nodes[end],
        start_m=unknown,
        end_m=unknown,
        share=np.ones(len(row)),
        geometry=np.full(len(row), None, dtype=object),
    )


def spurs(topology: Topology, nodes: Ints) -> Pieces:
    """One straight segment from a route to each camera that stands off it."""
    camera = np.array(sorted(topology.spur), dtype=np.int64)
    foot = np.array([topology.attached[c] for c in camera.tolist()], dtype=np.int64)
    length_m = np.array([topology.spur[c] for c in camera.tolist()])
    xy = topology.socket_xy()
    lines = [shapely.linestrings([xy[a], xy[b]]) for a, b in zip(foot, camera, strict=True)]
    geometry = np.full(len(camera), None, dtype=object)
    geometry[:] = lines
    return Pieces(
        route=np.full(len(camera), -1),
        camera=camera,
        number=np.ones(len(camera), dtype=np.int64),
        start_node=nodes[foot],
        end_node=nodes[camera],
        start_m=np.zeros(len(camera)),
        end_m=length_m,
        share=np.ones(len(camera)),
        geometry=geometry,
    )


def ordered(parts: Sequence[Pieces]) -> Pieces:
    """All segments, by route and number; spurs last, by camera."""
    columns = {f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Pieces)}
    late = np.where(columns["route"] < 0, np.iinfo(np.int64).max, columns["route"])
    order = np.lexsort((columns["number"], columns["camera"], late))
    return Pieces(**{name: column[order] for name, column in columns.items()})
