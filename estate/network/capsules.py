"""Where straight pieces of one set of lines come within reach of straight pieces of another."""

from dataclasses import dataclass, fields

import numpy as np
import shapely

from estate.network.lines import SAME_PLACE_M, crossing_fractions, project
from estate.network.network import Bools, Floats, Ints, Texts


@dataclass(frozen=True)
class Straights:
    """Straight pieces of lines: `owner` is a segment or a mains run."""

    owner: Ints
    first: Floats
    last: Floats
    start_m: Floats
    """Place of the first end along the line in plan [m]."""

    @property
    def length_m(self) -> Floats:
        """Length of every piece in plan."""
        return np.asarray(np.hypot(*(self.last - self.first).T))


@dataclass(frozen=True)
class Pairs:
    """Pieces of a segment within reach of a piece of a mains run: where along the segment, how near."""

    segment: Ints
    mains: Ints
    from_m: Floats
    to_m: Floats
    distance_m: Floats
    angle_deg: Floats
    crossing_m: Floats
    """Place along the segment where the pieces cross, NaN where they don't."""

    def taken(self, chosen: Bools | Ints) -> "Pairs":
        """Return the chosen pairs."""
        return Pairs(**{f.name: getattr(self, f.name)[chosen] for f in fields(self)})


def straights(geometry: Texts) -> Straights:
    """Cut lines to straight pieces; pieces without length in plan are left out."""
    owner = np.flatnonzero([g is not None and not g.is_empty for g in geometry])
    xy, line = shapely.get_coordinates(geometry[owner], return_index=True)
    begin = np.flatnonzero(line[1:] == line[:-1])
    step_m = np.hypot(*(xy[begin + 1] - xy[begin]).T)
    total = np.cumsum(step_m)
    opens = np.append(True, np.diff(line[begin]) > 0)[: len(begin)]
    before = total - step_m
    start_m = before - np.repeat(before[opens], np.diff(np.append(np.flatnonzero(opens), len(begin))))
    real = step_m > 0
    return Straights(owner[line[begin[real]]], xy[begin[real]], xy[begin[real] + 1], start_m[real])


def near_intervals(ways: Straights, runs: Straights, way: Ints, run: Ints, reach_m: Floats) -> Pairs:
    """Stretch of each segment piece within reach of its mains piece, with distance, angle and crossing."""
    a, b = ways.first[way], ways.last[way]
    c, d = runs.first[run], runs.last[run]
    low, high = capsule_interval((a, b), (c, d), reach_m)
    t, u, real = crossing_fractions((a, b), (c, d))
    meet = np.hypot(*((a + t[:, None] * (b - a)) - (c + u[:, None] * (d - c))).T)
    crosses = real & (meet <= SAME_PLACE_M) & (low <= high)
    # A piece that only grazes the reach has no stretch in it.
    near = ((high - low) * ways.length_m[way] > SAME_PLACE_M) | crosses
    a, b, c, d, low, high, t = (column[near] for column in (a, b, c, d, low, high, t))
    way, run, crosses = way[near], run[near], crosses[near]
    ends = [project(p, *line)[1] for p, line in ((a, (c, d)), (b, (c, d)), (c, (a, b)), (d, (a, b)))]
    cosine = np.abs(np.einsum("ij,ij->i", b - a, d - c)) / (ways.length_m[way] * runs.length_m[run])
    start, length = ways.start_m[way], ways.length_m[way]
    return Pairs(
        segment=ways.owner[way],
        mains=runs.owner[run],
        from_m=start + low * length,
        to_m=start + high * length,
        distance_m=np.where(crosses, 0.0, np.min(ends, axis=0)),
        angle_deg=np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0))),
        crossing_m=np.where(crosses, start + t * length, np.nan),
    )


def capsule_interval(
    way: tuple[Floats, Floats], run: tuple[Floats, Floats], reach_m: Floats
) -> tuple[Floats, Floats]:
    """Fractions of straight pieces within reach of other straight pieces; low > high where none.

    What is within reach of a piece is a capsule: two discs and the rectangle between them. A capsule is convex, so
    the part of a line inside it is one interval, from the least of the three low ends to the greatest of the high.

    Parameters
    ----------
    way, run : pairs of arrays of shape (n, 2)
        Both ends of the pieces [m]
    reach_m : array of shape (n,)
        Reach [m]

    """
    discs = [_disc_interval(way, centre, reach_m) for centre in run]
    parts = [*discs, _rectangle_interval(way, run, reach_m)]
    low = np.min([np.where(lo <= hi, lo, np.inf) for lo, hi in parts], axis=0)
    high = np.max([np.where(lo <= hi, hi, -np.inf) for lo, hi in parts], axis=0)
    return np.maximum(low, 0.0), np.minimum(high, 1.0)


def _disc_interval(
    way: tuple[Floats, Floats], centre: Floats, reach_m: Floats
) -> tuple[Floats, Floats]:  # fmt: skip
    """Fractions of whole lines within a disc: roots of |A − C + t·(B − A)|² = r²."""
    step, offset = way[1] - way[0], way[0] - centre
    square = np.einsum("ij,ij->i", step, step)
    half = np.einsum("ij,ij->i", step, offset) / square
    rest = (np.einsum("ij,ij->i", offset, offset) - reach_m**2) / square
    root = half**2 - rest
    spread = np.sqrt(np.maximum(root, 0.0))
    missed = root < 0
    return np.where(missed, np.inf, -half - spread), np.where(missed, -np.inf, -half + spread)


def _rectangle_interval(
    way: tuple[Floats, Floats], run: tuple[Floats, Floats], reach_m: Floats
) -> tuple[Floats, Floats]:
    """Fractions of whole lines within the rectangle of a capsule: between two pairs of parallels."""
    along = run[1] - run[0]
    length = np.hypot(*along.T)
    along = along / length[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    step, offset = way[1] - way[0], way[0] - run[0]
    one = _strip_interval(offset, step, along, np.zeros(len(length)), length)
    two = _strip_interval(offset, step, across, -reach_m, reach_m)
    return np.maximum(one[0], two[0]), np.minimum(one[1], two[1])


def _strip_interval(
    offset: Floats, step: Floats, axis: Floats, least: Floats, most: Floats
) -> tuple[Floats, Floats]:
    """Fractions of whole lines whose coordinate on an axis lies between two values."""
    at, speed = np.einsum("ij,ij->i", offset, axis), np.einsum("ij,ij->i", step, axis)
    still = np.abs(speed) < 1e-12
    safe = np.where(still, 1.0, speed)
    ends = np.stack([(least - at) / safe, (most - at) / safe])
    inside = (at >= least) & (at <= most)
    low = np.where(still, np.where(inside, -np.inf, np.inf), ends.min(axis=0))
    high = np.where(still, np.where(inside, np.inf, -np.inf), ends.max(axis=0))
    return low, high
