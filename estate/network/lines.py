"""Drawn routes as straight pieces on one axis, and what lies near them or crosses them in plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from estate.network.network import Bools, Floats, Ints, Texts

SAME_PLACE_M = 1e-6
"""Places nearer than this are one place [m]: coordinates carry no more."""


def agree(first: Floats, second: Floats) -> Bools:
    """Whether two levels can be the same one; a blank level (NaN) agrees with any."""
    return np.asarray(np.isnan(first) | np.isnan(second) | (first == second))


@dataclass(frozen=True)
class DrawnLines:
    """Lines cut into straight pieces and laid end to end on one axis.

    A place on a line is one number, its chainage [m]: metres along the axis. Lines stand so far apart on the axis
    that no search reaches from one to the next. Distances along a line are in 3-D where every vertex has a finite
    height, else in plan; searches are in plan.
    """

    row: Ints
    """Row of the layer that each line is."""
    level: Floats
    start: Floats
    """Chainage of each line's first vertex."""
    length_m: Floats
    vertex_xy: Floats
    """Shape (vertices, 2) [m]."""
    vertex_chainage: Floats
    piece_vertex: Ints
    """First vertex of each piece; the next vertex is its other end."""

    def __len__(self) -> int:
        return len(self.row)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Index of the pieces."""
        first, last = self.piece_ends(np.arange(len(self.piece_vertex)))
        return shapely.STRtree(pieces(first, last))

    @cached_property
    def vertex_line(self) -> Ints:
        """The line of each vertex."""
        return self.line_of(self.vertex_chainage)

    def piece_ends(self, piece: Ints) -> tuple[Floats, Floats]:
        """Places of both ends of pieces, each of shape (n, 2) [m]."""
        vertex = self.piece_vertex[piece]
        return self.vertex_xy[vertex], self.vertex_xy[vertex + 1]

    def at(self, piece: Ints, fraction: Floats) -> Floats:
        """Chainage at a fraction (0 to 1) of each piece."""
        vertex = self.piece_vertex[piece]
        begin = self.vertex_chainage[vertex]
        return np.asarray(begin + fraction * (self.vertex_chainage[vertex + 1] - begin))

    def line_of(self, chainage: Floats) -> Ints:
        """The line that each chainage lies on."""
        return np.searchsorted(self.start, chainage + SAME_PLACE_M, side="right") - 1

    def place(self, chainage: Floats) -> Floats:
        """Coordinates of chainages, of shape (n, 2) [m]."""
        if not len(self):
            return np.zeros((0, 2))
        x = np.interp(chainage, self.vertex_chainage, self.vertex_xy[:, 0])
        y = np.interp(chainage, self.vertex_chainage, self.vertex_xy[:, 1])
        return np.column_stack([x, y])

    def ends(self) -> Floats:
        """Chainages of the ends: start and end of line 0, of line 1 and so on."""
        return np.column_stack([self.start, self.start + self.length_m]).ravel()


def pieces(first: Floats, last: Floats) -> Texts:
    """Return straight lines between two arrays of places."""
    return np.asarray(shapely.linestrings(np.stack([first, last], axis=1)), dtype=object)


def drawn_lines(geometry: Texts, level: Floats, reach_m: float) -> DrawnLines:
    """Lay the drawn lines of a layer on one axis; rows without a drawn length are left out.

    `reach_m` is the farthest any search along the axis will look.
    """
    row = np.flatnonzero([g is not None and not g.is_empty for g in geometry])
    xyz, line = shapely.get_coordinates(geometry[row], include_z=True, return_index=True)
    step_m = _steps(xyz, line, len(row))
    length_m = np.bincount(line, step_m, minlength=len(row))
    kept = length_m > SAME_PLACE_M
    if not kept.all():
        chosen = np.full(len(geometry), None, dtype=object)
        chosen[row[kept]] = geometry[row[kept]]
        return drawn_lines(chosen, level, reach_m)
    gap_m = 10 * reach_m + 10
    start = np.concatenate([[0.0], np.cumsum(length_m + gap_m)])[:-1] if len(row) else np.zeros(0)
    first = np.searchsorted(line, np.arange(len(row)))
    along = np.cumsum(step_m)
    along = along - (along[first][line] if len(row) else 0.0)
    return DrawnLines(
        row=row,
        level=level[row],
        start=start,
        length_m=along[np.append(first[1:], len(line)) - 1] if len(row) else np.zeros(0),
        vertex_xy=xyz[:, :2],
        vertex_chainage=start[line] + along,
        piece_vertex=np.flatnonzero(line[1:] == line[:-1]),
    )


def _steps(xyz: Floats, line: Ints, lines: int) -> Floats:
    """Distance of each vertex from the one before on its line [m]; 0 at the first."""
    flat = np.bincount(line, ~np.isfinite(xyz[:, 2]), minlength=lines) > 0
    xyz = np.where(flat[line][:, None] & np.array([False, False, True]), 0.0, xyz)
    step = np.zeros(len(xyz))
    step[1:] = np.linalg.norm(np.diff(xyz, axis=0), axis=1) * (line[1:] == line[:-1])
    return step


@dataclass(frozen=True)
class Passes:
    """Places where lines pass near points: one for each point and pass."""

    point: Ints
    chainage: Floats
    gap_m: Floats


def project(place: Floats, first: Floats, last: Floats) -> tuple[Floats, Floats]:
    """Fraction along each straight piece nearest to each place, and the distance there [m]."""
    way = last - first
    square = np.einsum("ij,ij->i", way, way)
    along = np.einsum("ij,ij->i", place - first, way)
    fraction = np.clip(np.divide(along, square, out=np.zeros(len(along)), where=square > 0), 0.0, 1.0)
    foot = first + fraction[:, None] * way
    return fraction, np.hypot(*(place - foot).T)


def passes_near(lines: DrawnLines, place: Floats, reach_m: float) -> Passes:
    """Find where lines pass within reach of places; a line that comes by twice passes twice."""
    if not len(lines) or not len(place):
        return Passes(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    point, piece = lines.tree.query(
        shapely.points(place), predicate="dwithin", distance=reach_m + SAME_PLACE_M
    )
    fraction, gap_m = project(place[point], *lines.piece_ends(piece))
    chainage = lines.at(piece, fraction)
    order = np.lexsort((chainage, point))
    point, chainage, gap_m = point[order], chainage[order], gap_m[order]
    apart = (np.diff(point) != 0) | (np.diff(chainage) > 2 * reach_m + SAME_PLACE_M)
    visit = np.concatenate([[0], np.cumsum(apart)]) if len(point) else np.zeros(0, dtype=np.int64)
    nearest = np.lexsort((gap_m, visit))
    chosen = nearest[np.unique(visit[nearest], return_index=True)[1]]
    return Passes(point[chosen], chainage[chosen], gap_m[chosen])


def nearest_passes(lines: DrawnLines, place: Floats, level: Floats) -> Passes:
    """Find the nearest pass of each place among lines whose level agrees with it; ties go to the first line.

    A place without any such line has no pass.
    """
    found: list[tuple[Ints, Floats, Floats]] = []
    piece_level = lines.level[lines.vertex_line[lines.piece_vertex]]
    all_pieces = np.arange(len(lines.piece_vertex))
    for one in np.unique(level):
        asked = np.flatnonzero((level == one) | (np.isnan(level) & np.isnan(one)))
        usable = all_pieces[agree(piece_level, one)]
        if not len(usable):
            continue
        tree = shapely.STRtree(pieces(*lines.piece_ends(usable)))
        index, near = tree.query_nearest(shapely.points(place[asked]), all_matches=True)
        fraction, gap_m = project(place[asked][index], *lines.piece_ends(usable[near]))
        found.append((asked[index], lines.at(usable[near], fraction), gap_m))
    if not found:
        return Passes(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    point, chainage, gap_m = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.lexsort((chainage, point))
    chosen = order[np.unique(point[order], return_index=True)[1]]
    return Passes(point[chosen], chainage[chosen], gap_m[chosen])


def crossing_fractions(
    first: tuple[Floats, Floats], second: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Bools]:
    """Fractions along two arrays of straight pieces where they cross, and whether they do cross at a point."""
    a, b = first[1] - first[0], second[1] - second[0]
    offset = second[0] - first[0]
    turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    real = np.abs(turn) > 1e-9 * np.hypot(*a.T) * np.hypot(*b.T)
    safe = np.where(real, turn, 1.0)
    t = (offset[:, 0] * b[:, 1] - offset[:, 1] * b[:, 0]) / safe
    u = (offset[:, 0] * a[:, 1] - offset[:, 1] * a[:, 0]) / safe
    return np.clip(t, 0.0, 1.0), np.clip(u, 0.0, 1.0), real


def self_crossings(lines: DrawnLines) -> tuple[Floats, Floats]:
    """Chainages, on both lines, of every place where pieces of the lines cross or touch at an angle."""
    if not len(lines):
        return np.zeros(0), np.zeros(0)
    first, second = lines.tree.query(lines.tree.geometries, predicate="intersects")
    # Neighbouring pieces of one line share a vertex; that's no crossing.
    neighbours = lines.piece_vertex[second] - lines.piece_vertex[first] == 1
    later = (second > first) & ~neighbours
    first, second = first[later], second[later]
    t, u, real = crossing_fractions(lines.piece_ends(first), lines.piece_ends(second))
    return lines.at(first[real], t[real]), lines.at(second[real], u[real])


def outline_crossings(lines: DrawnLines, polygons: Sequence[object]) -> tuple[Floats, Ints]:
    """Chainages where lines cross the outlines of polygons, and the polygon's number."""
    rings, owner = shapely.get_parts(shapely.boundary(np.asarray(polygons, dtype=object)), return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    if not len(edge) or not len(lines):
        return np.zeros(0), np.zeros(0, dtype=np.int64)
    side, piece = lines.tree.query(pieces(xy[edge], xy[edge + 1]), predicate="intersects")
    t, _, real = crossing_fractions(lines.piece_ends(piece), (xy[edge[side]], xy[edge[side] + 1]))
    return lines.at(piece[real], t[real]), owner[ring[edge[side[real]]]]
