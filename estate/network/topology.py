"""What joins what: cuts in the drawn lines, and which of them are one place.

Everything that can be part of a node is a socket: first the rows of `points`, then the cuts. Cuts are made in the
order ends, sides, shared vertices, crossings, points, building outlines, cameras; a later cut that comes within
`snap_m` of an earlier one along its line uses that one. Sockets that are linked are one node (single linkage).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from estate.network.lines import (
    SAME_PLACE_M,
    DrawnLines,
    agree,
    nearest_passes,
    outline_crossings,
    passes_near,
    self_crossings,
)
from estate.network.network import Bools, Floats, Ints, Join, Texts


@dataclass(frozen=True)
class Places:
    """The rows of `points` as the joining needs them."""

    id: Texts
    xy: Floats
    """Shape (points, 2) [m]; NaN where a point has no place."""
    level: Floats
    is_camera: Bools

    @property
    def located(self) -> Bools:
        """Which points have a place."""
        return np.asarray(np.isfinite(self.xy).all(axis=1))


@dataclass
class Topology:
    """Cuts and links while they are being made, and what came of it."""

    lines: DrawnLines
    route_id: Texts
    """Id of the route that each line is."""
    places: Places
    snap_m: float
    cuts: Floats
    """Chainage of every cut; the first 2 × lines are the ends."""
    links: list[tuple[Ints, Ints]] = field(default_factory=list)
    joins: list[Join] = field(default_factory=list)
    entries: list[tuple[int, int]] = field(default_factory=list)
    """Socket of a cut at a building's outline, and the building's row."""
    crossed: tuple[Floats, Floats] = (np.zeros(0), np.zeros(0))
    """Chainages, on both lines, where lines cross."""
    attached: dict[int, int] = field(default_factory=dict)
    """Camera → the socket it sits on, or where its spur starts."""
    spur: dict[int, float] = field(default_factory=dict)
    """Camera → length of its spur [m]."""

    @property
    def sockets(self) -> int:
        """Number of sockets."""
        return len(self.places.id) + len(self.cuts)

    def end_socket(self) -> Ints:
        """Sockets of the ends: start and end of line 0, of line 1 and so on."""
        return len(self.places.id) + np.arange(2 * len(self.lines))

    def link(self, first: Ints, second: Ints) -> None:
        """Say that sockets are one place."""
        self.links.append((np.asarray(first), np.asarray(second)))

    def cut(self, chainage: Floats, reuse_m: float) -> Ints:
        """Cut the lines and return the sockets; a cut within `reuse_m` of an earlier one is that one."""
        order = np.argsort(self.cuts, kind="stable")
        known = self.cuts[order]
        right = np.clip(np.searchsorted(known, chainage), 1, max(len(known) - 1, 1))
        left = right - 1
        nearer_left = chainage - known[left] <= known[right] - chainage
        near = np.where(nearer_left, left, right)
        socket = order[near]
        new = np.abs(known[near] - chainage) > max(reuse_m, SAME_PLACE_M)
        fresh = np.flatnonzero(new)
        if len(fresh):
            by_place = fresh[np.argsort(chainage[fresh], kind="stable")]
            apart = np.diff(chainage[by_place]) > SAME_PLACE_M
            number = np.concatenate([[0], np.cumsum(apart)])
            socket[by_place] = len(self.cuts) + number
            self.cuts = np.concatenate([self.cuts, chainage[by_place[np.append(True, apart)]]])
        return len(self.places.id) + socket

    def nodes(self) -> Ints:
        """Number of the node that each socket belongs to, in no order of meaning."""
        first, second = (
            np.concatenate([np.zeros(0, dtype=np.int64), *side])
            for side in zip(*self.links, strict=True)
        ) if self.links else (np.zeros(0, dtype=np.int64),) * 2  # fmt: skip
        pairs = coo_array((np.ones(len(first)), (first, second)), shape=(self.sockets, self.sockets))
        return np.asarray(connected_components(pairs, directed=False)[1], dtype=np.int64)

    def socket_xy(self) -> Floats:
        """Place of every socket, shape (sockets, 2) [m]."""
        return np.concatenate([self.places.xy, self.lines.place(self.cuts)])

    def record(
        self, kind: str, first: Iterable[str], second: Iterable[str], gap_m: Floats, xy: Floats
    ) -> None:
        """Remember joins that were made."""
        self.joins += [
            Join(kind, a, b, gap, x, y)
            for a, b, gap, (x, y) in zip(first, second, gap_m.tolist(), xy.tolist(), strict=True)
        ]


def join_lines(
    lines: DrawnLines, route_id: Texts, places: Places, snap_m: float, *, crossings_join: bool
) -> Topology:
    """Join routes to each other and to the points that pass cable on; cameras come later."""
    topology = Topology(lines, route_id, places, snap_m, lines.ends())
    if len(lines):
        _join_ends(topology)
        _join_sides(topology)
        _join_vertices(topology)
        _join_crossings(topology, join=crossings_join)
    _join_points(topology)
    return topology


def _join_ends(t: Topology) -> None:
    """Merge ends within snap."""
    place = t.lines.place(t.lines.ends())
    pairs = cKDTree(place).query_pairs(t.snap_m + SAME_PLACE_M, output_type="ndarray")
    first, second = pairs.min(axis=1), pairs.max(axis=1)
    line, other = first // 2, second // 2
    # Both ends of a line that is no longer than the snap itself are two places.
    short = (line == other) & (t.lines.length_m[line] <= 2 * t.snap_m)
    kept = agree(t.lines.level[line], t.lines.level[other]) & ~short
    first, second = first[kept], second[kept]
    socket = t.end_socket()
    t.link(socket[first], socket[second])
    gap_m = np.hypot(*(place[first] - place[second]).T)
    # One join for each end: to the nearest of those before it.
    order = np.lexsort((first, gap_m, second))
    once = order[np.unique(second[order], return_index=True)[1]]
    name = t.route_id[np.arange(len(place)) // 2]
    t.record("end-end", name[first[once]], name[second[once]], gap_m[once], place[second[once]])


def _join_sides(t: Topology) -> None:
    """Split lines where an end comes within snap of their interior."""
    end_chainage = t.lines.ends()
    place = t.lines.place(end_chainage)
    found = passes_near(t.lines, place, t.snap_m)
    line, other = found.point // 2, t.lines.line_of(found.chainage)
    itself = np.abs(found.chainage - end_chainage[found.point]) <= 2 * t.snap_m + SAME_PLACE_M
    kept = agree(t.lines.level[line], t.lines.level[other]) & ~itself
    end, chainage, gap_m, other = found.point[kept], found.chainage[kept], found.gap_m[kept], other[kept]
    cut = t.cut(chainage, t.snap_m)
    t.link(t.end_socket()[end], cut)
    # Where the nearest place is an end within snap, the ends have merged already.
    at = t.socket_xy()[cut]
    merged = (cut < len(t.places.id) + 2 * len(t.lines)) & (
        np.hypot(*(at - place[end]).T) <= t.snap_m + SAME_PLACE_M
    )
    new = ~merged
    t.record(
        "end-side", t.route_id[line[kept][new]], t.route_id[other[new]], gap_m[new], at[new]
    )  # fmt: skip


def _join_vertices(t: Topology) -> None:
    """Join lines at interior vertices that they share exactly."""
    lines = t.lines
    line = lines.vertex_line
    along = lines.vertex_chainage - lines.start[line]
    interior = np.flatnonzero((along > SAME_PLACE_M) & (along < lines.length_m[line] - SAME_PLACE_M))
    pairs = cKDTree(lines.vertex_xy[interior]).query_pairs(SAME_PLACE_M, output_type="ndarray")
    first, second = interior[pairs.min(axis=1)], interior[pairs.max(axis=1)]
    kept = agree(lines.level[line[first]], lines.level[line[second]])
    kept &= (line[first] != line[second]) | (np.abs(along[first] - along[second]) > 2 * t.snap_m)
    first, second = first[kept], second[kept]
    cut = t.cut(lines.vertex_chainage[np.concatenate([first, second])], t.snap_m)
    t.link(*np.split(cut, 2))
    t.record(
        "vertex",
        t.route_id[line[first]],
        t.route_id[line[second]],
        np.zeros(len(first)),
        lines.vertex_xy[first],
    )


def _join_crossings(t: Topology, *, join: bool) -> None:
    """Find where lines cross on levels that agree; join them there if asked."""
    first, second = self_crossings(t.lines)
    line, other = t.lines.line_of(first), t.lines.line_of(second)
    kept = agree(t.lines.level[line], t.lines.level[other])
    first, second = first[kept], second[kept]
    t.crossed = (first, second)
    if not join or not len(first):
        return
    before = t.nodes()
    cut = t.cut(np.concatenate([first, second]), t.snap_m)
    one, two = np.split(cut, 2)
    t.link(one, two)
    offset = len(before)
    old = (one < offset) & (two < offset)
    new = ~old
    new[old] = before[one[old]] != before[two[old]]
    t.record(
        "crossing",
        t.route_id[line[kept][new]],
        t.route_id[other[kept][new]],
        np.zeros(int(new.sum())),
        t.lines.place(first[new]),
    )


def _join_points(t: Topology) -> None:
    """Split and join all lines within snap of a point that passes cable on, whatever their levels."""
    row = np.flatnonzero(t.places.located & ~t.places.is_camera)
    if not len(row):
        return
    found = passes_near(t.lines, t.places.xy[row], t.snap_m)
    point = row[found.point]
    cut = t.cut(found.chainage, t.snap_m)
    t.link(point, cut)
    route = t.route_id[t.lines.line_of(found.chainage)]
    t.record("point-route", t.places.id[point], route, found.gap_m, t.places.xy[point])
    pairs = cKDTree(t.places.xy[row]).query_pairs(t.snap_m + SAME_PLACE_M, output_type="ndarray")
    first, second = row[pairs.min(axis=1)], row[pairs.max(axis=1)]
    kept = agree(t.places.level[first], t.places.level[second])
    first, second = first[kept], second[kept]
    t.link(first, second)
    gap_m = np.hypot(*(t.places.xy[first] - t.places.xy[second]).T)
    t.record("point-point", t.places.id[first], t.places.id[second], gap_m, t.places.xy[first])


def mark_entries(t: Topology, polygons: Texts, building: Ints) -> None:
    """Split lines at the outlines of buildings."""
    chainage, which = outline_crossings(t.lines, list(polygons))
    if len(chainage):
        socket = t.cut(chainage, t.snap_m)
        t.entries += sorted(set(zip(socket.tolist(), building[which].tolist(), strict=True)))


@dataclass(frozen=True)
class Unattached:
    """A camera too far from any way: nearest distance [m], NaN where there is no way on its level."""

    camera: int
    gap_m: float


def attach_cameras(t: Topology, camera: Ints, spur_max_m: float) -> list[Unattached]:
    """Attach each camera to one place: a point within snap, the nearest line within snap, or a spur to it.

    Cameras at one spot and level share a node. A camera within snap of a point that is no farther than the nearest
    line sits on that point.
    """
    spot = _spots(t.places, camera)
    lead = camera[np.unique(spot, return_index=True)[1]]
    line_gap = np.full(len(t.places.id), np.inf)
    chainage = np.full(len(t.places.id), np.nan)
    if len(t.lines) and len(lead):
        found = nearest_passes(t.lines, t.places.xy[lead], t.places.level[lead])
        line_gap[lead[found.point]] = found.gap_m
        chainage[lead[found.point]] = found.chainage
    on_point = _points_beside(t, lead, line_gap)
    t.attached.update(on_point)
    rest = np.array([c for c in lead.tolist() if c not in on_point], dtype=np.int64)
    near = rest[line_gap[rest] <= max(spur_max_m, t.snap_m) + SAME_PLACE_M]
    sits = line_gap[near] <= t.snap_m + SAME_PLACE_M
    socket = t.cut(chainage[near], t.snap_m) if len(near) else np.zeros(0, dtype=np.int64)
    t.attached.update(zip(near.tolist(), socket.tolist(), strict=True))
    t.link(near[sits], socket[sits])
    on = np.array(sorted(on_point.items()), dtype=np.int64).reshape(-1, 2)
    t.link(on[:, 0], on[:, 1])
    route = t.route_id[t.lines.line_of(chainage[near])] if len(near) else t.route_id[:0]
    xy = t.places.xy
    t.record("camera-route", t.places.id[near[sits]], route[sits], line_gap[near[sits]], xy[near[sits]])
    t.record("spur", t.places.id[near[~sits]], route[~sits], line_gap[near[~sits]], xy[near[~sits]])
    spurs = near[~sits]
    spur_m = np.hypot(*(t.socket_xy()[socket[~sits]] - xy[spurs]).T)
    t.spur.update(zip(spurs.tolist(), spur_m.tolist(), strict=True))
    return _share_spots(t, camera, spot, line_gap)


def _share_spots(t: Topology, camera: Ints, spot: Ints, line_gap: Floats) -> list[Unattached]:
    """Let cameras at one spot share the first one's node; return those that stay without."""
    lead_of = dict(zip(*(x.tolist() for x in _first_of(camera, spot)), strict=True))
    left: list[Unattached] = []
    for one, at in zip(camera.tolist(), spot.tolist(), strict=True):
        lead = lead_of[at]
        if lead not in t.attached:
            gap = float(line_gap[lead])
            left.append(Unattached(one, gap if np.isfinite(gap) else float("nan")))
        elif one != lead:
            t.attached[one] = lead
            t.link(np.array([one]), np.array([lead]))
    return left


def _first_of(camera: Ints, spot: Ints) -> tuple[Ints, Ints]:
    numbers, index = np.unique(spot, return_index=True)
    return numbers, camera[index]


def _spots(places: Places, camera: Ints) -> Ints:
    """Number of the spot and level that each camera stands at."""
    level = np.nan_to_num(places.level[camera], nan=-1e9)
    key = np.column_stack([np.round(places.xy[camera] / SAME_PLACE_M), level])
    if not len(key):
        return np.zeros(0, dtype=np.int64)
    return np.unique(key, axis=0, return_inverse=True)[1].reshape(-1)


def _points_beside(t: Topology, camera: Ints, line_gap: Floats) -> dict[int, int]:
    """Find, for each camera, the nearest point within snap that passes cable on, where no line is nearer."""
    row = np.flatnonzero(t.places.located & ~t.places.is_camera)
    if not len(row) or not len(camera):
        return {}
    near = cKDTree(t.places.xy[row]).query_ball_point(t.places.xy[camera], t.snap_m + SAME_PLACE_M)
    found: dict[int, int] = {}
    for one, around in zip(camera.tolist(), near, strict=True):
        beside = row[np.sort(np.asarray(around, dtype=np.int64))]
        beside = beside[agree(t.places.level[beside], t.places.level[np.array([one])])]
        gap_m = np.hypot(*(t.places.xy[beside] - t.places.xy[one]).T)
        if len(beside) and gap_m.min() <= line_gap[one] + SAME_PLACE_M:
            found[one] = int(beside[np.argmin(gap_m)])
    return found
