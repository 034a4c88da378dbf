"""Nodes: numbered and named, with what stands there."""

from dataclasses import dataclass

import numpy as np
import shapely

from estate.network.columns import numbers, texts
from estate.network.network import Bools, Floats, Ints, Texts
from estate.network.pieces import Pieces
from estate.network.topology import Topology
from estate.survey.survey import Layer, Survey

RANK = ("recorder", "patch", "pit", "junction", "camera")
"""Which of several points at one place names the node."""

FED = ("unswitched", "ups")
"""Power that equipment can live on."""


@dataclass(frozen=True)
class Nodes:
    """The node columns of a network; `number` gives a node for each group of sockets, -1 where there is none."""

    id: Texts
    kind: Texts
    xy: Floats
    building: Ints
    level: Floats
    passes: Bools
    has_power: Bools
    degree: Ints
    point_node: Ints
    number: Ints


def number_nodes(survey: Survey, topology: Topology, groups: Ints, pieces: Pieces, middle: Ints) -> Nodes:
    """Number and name the nodes: first those with points, in their order, then by place.

    `groups` is the group of each socket, `middle` the building that each drawn segment's middle lies in.
    """
    rank = np.array([RANK.index(kind) for kind in survey.points["kind"]], dtype=np.int64)
    used = _used(groups, rank, pieces)
    point = _naming_points(groups, rank, used)
    cut_xy, first_cut = _cut_places(topology, groups)
    xy = np.where((point >= 0)[:, None], topology.places.xy[point] if len(rank) else cut_xy, cut_xy)
    xy = np.where(np.isnan(xy), cut_xy, xy)
    chosen = np.flatnonzero(used)
    late = np.where(point < 0, len(rank), point)
    order = chosen[np.lexsort(tuple(key[chosen] for key in (first_cut, xy[:, 1], xy[:, 0], late)))]
    number = np.full(len(used), -1)
    number[order] = np.arange(len(order))
    start, end = number[pieces.start_node], number[pieces.end_node]
    degree = np.bincount(np.concatenate([start, end]), minlength=len(order))
    point_node = number[groups[: len(rank)]]
    entry = _entries(topology, number[groups], np.concatenate([start, end]), np.tile(middle, 2), degree)
    building = _buildings(survey, point_node, rank, entry, xy[order])
    kind = _kinds(survey.points, point[order], entry, degree)
    return Nodes(
        id=_names(survey.points, point[order]),
        kind=kind,
        xy=xy[order],
        building=building,
        level=_levels(survey, point[order], pieces, start, end),
        passes=_passing(rank, point_node, pieces, start, end, len(order)),
        has_power=_powered(survey, point_node, entry, building),
        degree=degree,
        point_node=point_node,
        number=number,
    )


def _used(groups: Ints, rank: Ints, pieces: Pieces) -> Bools:
    """Groups that are nodes: ends of segments, and every point that passes cable on."""
    used = np.zeros(int(groups.max(initial=-1)) + 1, dtype=bool)
    used[pieces.start_node] = True
    used[pieces.end_node] = True
    used[groups[: len(rank)][rank < RANK.index("camera")]] = True
    return used


def _naming_points(groups: Ints, rank: Ints, used: Bools) -> Ints:
    """Row of the point of highest rank in each group, -1 for none."""
    point = np.full(len(used), -1)
    order = np.lexsort((np.arange(len(rank)), rank))[::-1]
    point[groups[order]] = order
    return point


def _cut_places(topology: Topology, groups: Ints) -> tuple[Floats, Floats]:
    """Mean place of each group's cuts, of those within a line where there are any; and its first chainage."""
    group = groups[len(topology.places.id) :]
    size = int(groups.max(initial=-1)) + 1
    inner = np.arange(len(group)) >= 2 * len(topology.lines)
    xy = topology.socket_xy()[len(topology.places.id) :]
    means = []
    for chosen in (inner, ~inner):
        count = np.bincount(group[chosen], minlength=size)
        sums = [np.bincount(group[chosen], xy[chosen, axis], minlength=size) for axis in (0, 1)]
        means.append(
            np.column_stack([
                np.divide(s, count, out=np.full(size, np.nan), where=count > 0) for s in sums
            ])
        )  # fmt: skip
    first = np.full(size, np.inf)
    np.minimum.at(first, group, topology.cuts)
    return np.where(np.isnan(means[0]), means[1], means[0]), first


def _entries(topology: Topology, node: Ints, end_node: Ints, end_building: Ints, degree: Ints) -> Ints:
    """Building that each node is an entry of, -1 for none: its ways change building there, or one ends there."""
    entry = np.full(len(degree), -1)
    low, high = np.full(len(degree), np.iinfo(np.int64).max), np.full(len(degree), -1)
    np.minimum.at(low, end_node, end_building)
    np.maximum.at(high, end_node, end_building)
    for socket, building in reversed(topology.entries):
        at = node[socket]
        if at >= 0 and (degree[at] == 1 or low[at] != high[at]):
            entry[at] = building
    return entry


def _buildings(survey: Survey, point_node: Ints, rank: Ints, entry: Ints, xy: Floats) -> Ints:
    """Row of each node's building: as its points declare, else the one entered there, else by place."""
    building = np.where(entry >= 0, entry, containing(survey.buildings, xy))
    row_of = survey.buildings.row_of()
    for point in np.lexsort((np.arange(len(rank)), rank))[::-1].tolist():
        declared = row_of.get(survey.points["building"][point] or "", -1)
        if declared >= 0 and point_node[point] >= 0:
            building[point_node[point]] = declared
    return building


def containing(buildings: Layer, xy: Floats) -> Ints:
    """Row of the first building that holds each place, -1 for none."""
    found = np.full(len(xy), -1)
    outlined = np.flatnonzero([g is not None for g in buildings.geometry])
    placed = np.flatnonzero(np.isfinite(xy).all(axis=1))
    if len(outlined) and len(placed):
        tree = shapely.STRtree(buildings.geometry[outlined])
        index, row = tree.query(shapely.points(xy[placed]), predicate="intersects")
        order = np.argsort(-row, kind="stable")
        found[placed[index[order]]] = outlined[row[order]]
    return found


def _names(points: Layer, point: Ints) -> Texts:
    """Ids: the naming point's, else N1, N2 and so on, without those that points bear."""
    taken = set(points["id"])
    names: list[str] = []
    count = 0
    for row in point.tolist():
        if row >= 0:
            names.append(points["id"][row])
            continue
        count += 1
        while f"N{count}" in taken:
            count += 1
        names.append(f"N{count}")
    return np.array(names, dtype=object)


def _kinds(points: Layer, point: Ints, entry: Ints, degree: Ints) -> Texts:
    kind = np.where(degree == 1, "end", "meet").astype(object)
    kind[entry >= 0] = "entry"
    named = point >= 0
    kind[named] = points["kind"][point[named]]
    return kind


def _levels(survey: Survey, point: Ints, pieces: Pieces, start: Ints, end: Ints) -> Floats:
    """Level of the naming point, else the one level that all routes there have."""
    route_level = numbers(survey.routes, "level", pieces.route)
    known = ~np.isnan(route_level)
    node = np.concatenate([start[known], end[known]])
    level = np.tile(route_level[known], 2)
    low, high = np.full(len(point), np.inf), np.full(len(point), -np.inf)
    np.minimum.at(low, node, level)
    np.maximum.at(high, node, level)
    found = np.where(low == high, low, np.nan)
    declared = numbers(survey.points, "level", point)
    return np.where(np.isnan(declared), found, declared)


def _passing(
    rank: Ints, point_node: Ints, pieces: Pieces, start: Ints, end: Ints, nodes: int
) -> Bools:  # fmt: skip
    """Cable passes on everywhere but where only cameras stand on ways without a drawing."""
    passes = np.zeros(nodes, dtype=bool)
    drawn = np.array([g is not None for g in pieces.geometry], dtype=bool)
    passes[start[drawn]] = True
    passes[end[drawn]] = True
    passes[point_node[rank < RANK.index("camera")]] = True
    return passes


def _powered(survey: Survey, point_node: Ints, entry: Ints, building: Ints) -> Bools:
    """Where equipment can stand and be fed.

    At recorders, at powered patch points, at junctions and entries of a building with power; a patch point whose
    own power is blank has its building's.
    """
    fed_building = np.isin(texts(survey.buildings, "power", building).astype(str), FED)
    powered = (entry >= 0) & fed_building
    for node, kind, power in zip(
        point_node.tolist(), survey.points["kind"], survey.points["power"], strict=True
    ):
        if node < 0:
            continue
        if kind == "recorder" or (kind == "patch" and power in FED):
            powered[node] = True
        elif kind == "junction" or (kind == "patch" and power is None):
            powered[node] |= fed_building[node]
    return powered
