"""Intervals along lines: united by group, and cut out of each other."""

from dataclasses import dataclass

import numpy as np

from estate.network.network import Bools, Floats, Ints

TOUCHING_M = 1e-6
"""Intervals nearer than this are one [m]."""


@dataclass(frozen=True)
class Stretches:
    """Intervals that don't overlap, by group and place."""

    group: Ints
    from_m: Floats
    to_m: Floats
    member: Ints
    """Of united intervals: the stretch that each input lies in. Of cut ones: the stretch that each came from."""

    def __len__(self) -> int:
        return len(self.group)


def united(group: Ints, from_m: Floats, to_m: Floats) -> Stretches:
    """Unite overlapping or touching intervals of each group."""
    count = len(group)
    member = np.zeros(count, dtype=np.int64)
    if not count:
        return Stretches(group, from_m, to_m, member)
    order = np.lexsort((from_m, group))
    of, low, high = group[order], from_m[order], to_m[order]
    # The farthest end so far within the group: groups are set apart so that one running maximum serves all.
    rank = np.cumsum(np.append(0, np.diff(of) != 0))
    apart = (to_m.max() - from_m.min() + 1.0) * rank
    reach = np.maximum.accumulate(high + apart) - apart
    opens = np.append(True, (np.diff(of) != 0) | (low[1:] > reach[:-1] + TOUCHING_M))
    first = np.flatnonzero(opens)
    member[order] = np.cumsum(opens) - 1
    return Stretches(of[first], low[first], np.maximum.reduceat(high, first), member)


def outside_of(stretches: Stretches, cover: Stretches, mark_m: Floats) -> Stretches:
    """Cut away what the cover's intervals of the same group cover.

    `mark_m` gives, for each input that was united, a place that must not vanish (or NaN): where it is covered, an
    interval without length stands for it.
    """
    touched = np.isin(stretches.group, cover.group)
    rows = [
        (int(stretches.group[k]), float(stretches.from_m[k]), float(stretches.to_m[k]), int(k))
        for k in np.flatnonzero(~touched)
    ]
    for k in np.flatnonzero(touched).tolist():
        low, high = np.searchsorted(cover.group, [stretches.group[k], stretches.group[k] + 1])
        holes = list(zip(cover.from_m[low:high].tolist(), cover.to_m[low:high].tolist(), strict=True))
        marks = mark_m[stretches.member == k]
        parts = _cut(float(stretches.from_m[k]), float(stretches.to_m[k]), holes)
        parts += _covered(np.unique(marks[np.isfinite(marks)]), parts)
        rows += [(int(stretches.group[k]), a, b, k) for a, b in sorted(parts)]
    rows.sort()
    table = np.array(rows, dtype=float).reshape(-1, 4)
    return Stretches(table[:, 0].astype(np.int64), table[:, 1], table[:, 2], table[:, 3].astype(np.int64))


def _cut(low: float, high: float, holes: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Parts of an interval outside holes, which are in order."""
    parts = []
    for start, end in holes:
        if start > low + TOUCHING_M:
            parts.append((low, min(start, high)))
        low = max(low, end)
        if low >= high:
            return parts
    return [*parts, (low, high)] if high > low + TOUCHING_M else parts


def _covered(marks: Floats, parts: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [
        (m, m)
        for m in marks.tolist()
        if not any(low - TOUCHING_M <= m <= high + TOUCHING_M for low, high in parts)
    ]


def overlapping(group: Ints, from_m: Floats, to_m: Floats) -> tuple[Ints, Ints]:
    """All ordered pairs of intervals of one group that overlap or touch, each with itself as well."""
    order = np.argsort(group, kind="stable")
    sizes = np.unique(group[order], return_counts=True)[1] if len(group) else np.zeros(0, dtype=np.int64)
    begin = np.repeat(np.cumsum(sizes) - sizes, sizes)
    size = np.repeat(sizes, sizes)
    first = np.repeat(np.arange(len(group)), size)
    second = np.arange(len(first)) - np.repeat(np.cumsum(size) - size, size) + np.repeat(begin, size)
    first, second = order[first], order[second]
    meet: Bools = (from_m[first] <= to_m[second] + TOUCHING_M) & (from_m[second] <= to_m[first] + TOUCHING_M)
    return first[meet], second[meet]
