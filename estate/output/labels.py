"""Labels that don't overlap: positions are tried on a raster of what is taken."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from estate.output.scales import Box

CELL_MM = 0.5
CLEARANCE_MM = 0.3
LEADER_FREE_MM = 2.0
"""A leader starts in its own symbol: this much of it may stand on what is taken [mm]."""

DIRECTIONS_DEG = (
    *(45, 0, 315, 90, 270, 135, 180, 225),
    *(22.5, 337.5, 67.5, 292.5, 112.5, 247.5, 157.5, 202.5),
)
"""Where a label is tried around its place, best first."""

_TURNS = np.column_stack([np.cos(np.radians(DIRECTIONS_DEG)), np.sin(np.radians(DIRECTIONS_DEG))])

CROWDED = 0.05
"""A position that covers less than this part of drawn lines is good enough."""

RING_PENALTY = 0.06

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Label:
    """A placed label: middle and size of its box [mm], its angle, and its leader where it has one."""

    x: float
    y: float
    width: float
    height: float
    angle_deg: float = 0.0
    leader: tuple[tuple[float, float], tuple[float, float]] | None = None


class Occupancy:
    """A raster of the plan window: what is taken for good, what holds lines, what no leader may cross."""

    def __init__(self, window: Box) -> None:
        self.window = window
        shape = (int(window.height / CELL_MM) + 1, int(window.width / CELL_MM) + 1)
        self._taken = np.zeros(shape, dtype=np.bool_)
        self._lettered = np.zeros(shape, dtype=np.bool_)
        self._lines = np.zeros(shape, dtype=np.bool_)

    def draw_lines(self, xy: Floats) -> None:
        """Mark cells that lines pass, given points along them [mm]; labels avoid them where they can."""
        rows, columns, inside = self._cells(xy)
        self._lines[rows[inside], columns[inside]] = True

    def take_symbols(self, xy: Floats, size_mm: float) -> None:
        """Mark the squares of symbols as taken; a leader may still reach its symbol."""
        spots = xy[:, None, :] + _samples(size_mm + CLEARANCE_MM, size_mm + CLEARANCE_MM)[None]
        rows, columns, inside = self._cells(spots.reshape(-1, 2))
        self._taken[rows[inside], columns[inside]] = True

    def take(self, label: Label) -> None:
        """Mark a label and its leader as taken."""
        spots = [_spots(label)]
        if label.leader is not None:
            spots.append(_along(*label.leader, skip_mm=0.0))
        rows, columns, inside = self._cells(np.concatenate(spots))
        self._taken[rows[inside], columns[inside]] = True
        self._lettered[rows[inside], columns[inside]] = True

    def crowding(self, middles: Floats, size: tuple[float, float], angle_deg: float = 0.0) -> Floats:
        """Part of a label's box that covers lines, for each middle of the box; infinite where it can't stand."""
        box = _turned(_samples(size[0] + 2 * CLEARANCE_MM, size[1] + 2 * CLEARANCE_MM), angle_deg)
        score = np.full(len(middles), np.inf)
        # On a crowded sheet a few points rule out most places.
        maybe = np.flatnonzero(~self._look(middles, box[:: len(box) // 8 or 1])[0])
        barred, crowded = self._look(middles[maybe], box)
        score[maybe[~barred]] = crowded[~barred]
        return score

    def _look(self, middles: Floats, box: Floats) -> tuple[NDArray[np.bool_], Floats]:
        """Whether any point of a box is taken or outside, and the part of its points on lines, per middle."""
        rows, columns, inside = self._cells((middles[:, None] + box).reshape(-1, 2))
        shape = (len(middles), len(box))
        rows[~inside], columns[~inside] = 0, 0
        barred = (~inside | self._taken[rows, columns]).reshape(shape).any(axis=1)
        crowded = self._lines[rows, columns].reshape(shape).sum(axis=1) / len(box)
        return np.asarray(barred), np.asarray(crowded)

    def is_clear(self, label: Label) -> bool:
        """Whether the label's leader crosses no text and no other leader."""
        if label.leader is None:
            return True
        rows, columns, inside = self._cells(_along(*label.leader, skip_mm=LEADER_FREE_MM))
        return bool(inside.all()) and not self._lettered[rows, columns].any()

    def _cells(self, xy: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
        """Cells of points, and which of the points lie in the window."""
        window = self.window
        column = np.floor((xy[:, 0] - window.x) / CELL_MM).astype(np.int64)
        row = np.floor((xy[:, 1] - window.y) / CELL_MM).astype(np.int64)
        inside = (
            (xy[:, 0] >= window.x)
            & (xy[:, 0] <= window.right)
            & (xy[:, 1] >= window.y)
            & (xy[:, 1] <= window.top)
        )
        return row, column, inside


def place_around(
    occupancy: Occupancy,
    place: tuple[float, float],
    size: tuple[float, float],
    rings_mm: Sequence[float],
    leader_from_mm: float,
) -> Label | None:
    """Place a label beside a point, nearest ring first; take its room, or return None where there is none.

    Labels that stand `leader_from_mm` [mm] or farther off get a leader.
    """
    best, best_score = None, float("inf")
    for number, ring in enumerate(rings_mm):
        middles = np.array(place) + _TURNS * (ring + np.array(size) / 2)
        scores = occupancy.crowding(middles, size) + RING_PENALTY * number
        for choice in np.argsort(scores, kind="stable"):
            if scores[choice] >= best_score:
                break
            label = _beside(place, size, middles[choice], ring >= leader_from_mm)
            if occupancy.is_clear(label):
                best, best_score = label, float(scores[choice])
                break
        if best_score < CROWDED + RING_PENALTY * number:
            break
    if best is not None:
        occupancy.take(best)
    return best


def place_along(occupancy: Occupancy, line: Floats, size: tuple[float, float], off_mm: float) -> Label | None:
    """Place a label along the longest straight part of a line that is longer than the label."""
    steps = np.diff(line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    part = int(np.argmax(lengths))
    if lengths[part] < size[0]:
        return None
    angle = _readable(float(np.degrees(np.arctan2(steps[part, 1], steps[part, 0]))))
    normal = np.array([-np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    middles = np.array(
        [
            line[part] + share * steps[part] + side * normal * (off_mm + size[1] / 2)
            for share in (0.5, 0.35, 0.65, 0.2, 0.8)
            for side in (1.0, -1.0)
        ]
    )
    scores = occupancy.crowding(middles, size, angle)
    choice = int(np.argmin(scores))
    if np.isinf(scores[choice]):
        return None
    label = Label(float(middles[choice, 0]), float(middles[choice, 1]), *size, angle)
    occupancy.take(label)
    return label


def clusters(xy: Floats, within_mm: float) -> list[list[int]]:
    """Group places: each joins the first group whose first place is within `within_mm`, else begins one."""
    groups: list[list[int]] = []
    firsts = np.empty((0, 2))
    for row, spot in enumerate(xy):
        near = np.flatnonzero(np.hypot(*(firsts - spot).T) <= within_mm)
        if len(near):
            groups[int(near[0])].append(row)
        else:
            groups.append([row])
            firsts = np.vstack([firsts, spot])
    return groups


def corners(label: Label) -> Floats:
    """Four corners of a label's box [mm]."""
    half = np.array([label.width, label.height]) / 2
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return np.asarray(_turned(box, label.angle_deg) + np.array([label.x, label.y]))


def _beside(
    place: tuple[float, float], size: tuple[float, float], middle: Floats, with_leader: bool
) -> Label:
    """Return the label with its box about `middle` [mm], and a leader from its place to the box."""
    x, y = float(middle[0]), float(middle[1])
    if not with_leader:
        return Label(x, y, *size)
    end = (
        min(max(place[0], x - size[0] / 2), x + size[0] / 2),
        min(max(place[1], y - size[1] / 2), y + size[1] / 2),
    )
    return Label(x, y, *size, leader=(place, end))


def _readable(angle_deg: float) -> float:
    """Turn an angle so that its text reads from below or from the right."""
    angle_deg = (angle_deg + 180.0) % 180.0
    return angle_deg - 180.0 if angle_deg > 90.0 + 1e-6 else angle_deg


@lru_cache(maxsize=4096)
def _samples(width: float, height: float) -> Floats:
    """Points that cover a box about the origin, closer than the cells."""
    across = np.linspace(-width / 2, width / 2, int(width / (0.6 * CELL_MM)) + 2)
    up = np.linspace(-height / 2, height / 2, int(height / (0.6 * CELL_MM)) + 2)
    return np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)


def _spots(label: Label) -> Floats:
    """Points that cover a label's box and the clearance about it."""
    box = _samples(label.width + 2 * CLEARANCE_MM, label.height + 2 * CLEARANCE_MM)
    return np.asarray(_turned(box, label.angle_deg) + np.array([label.x, label.y]))


def _turned(xy: Floats, angle_deg: float) -> Floats:
    turn = np.radians(angle_deg)
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(xy @ rotation, dtype=np.float64)


def _along(start: tuple[float, float], end: tuple[float, float], skip_mm: float) -> Floats:
    """Points along a leader, without its first `skip_mm` [mm]."""
    first, last = np.asarray(start), np.asarray(end)
    length = float(np.hypot(*(last - first)))
    at = np.arange(min(skip_mm, length), length + 0.3, 0.3) / max(length, 0.3)
    return np.asarray(first + np.minimum(at, 1.0)[:, None] * (last - first))
