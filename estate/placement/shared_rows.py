"""Constraints (21) to (23) of the placement program: works paid once, spare cables used once, room in containment."""

import numpy as np
from scipy import sparse

from estate.placement.columns import Columns
from estate.placement.rows import WORKS, Name, Rows, at_most, grouped, stacked, summed
from estate.placement.task import Ints, PlacementTask


def shared_rows(task: PlacementTask, columns: Columns) -> Rows:
    """Return (21) to (23)."""
    groups = (_works_of_links, _works_of_sections, _spares, _fill)
    return stacked([group(task, columns) for group in groups], columns.count)


def _z(columns: Columns, works: Ints) -> sparse.csr_array:
    """Return z_w as rows, one for each entry of `works`."""
    rows = np.arange(len(works), dtype=np.int64)
    place = np.searchsorted(columns.works, works)
    return summed(columns.count, len(works), rows, columns.of("works")[place])


def _works_of_links(task: PlacementTask, columns: Columns) -> Rows:
    """(21) a link needs its works; a segment that a link passes twice counts once."""
    uses = [
        (x, task.candidates[k].camera, w)
        for x, k in enumerate(columns.links)
        for w in sorted(set(task.candidates[k].works))
    ]
    x, camera, works = np.array(uses, dtype=np.int64).reshape(-1, 3).T
    matrix, (_, work) = grouped(columns.count, x, camera, works)
    return at_most(matrix - _z(columns, work), names=_named(work))


def _works_of_sections(task: PlacementTask, columns: Columns) -> Rows:
    """(21) a section that is laid needs its works."""
    cables = columns.of("cable_section")
    uses = [
        (v, a, w)
        for v, a in zip(cables, columns.cable_section, strict=True)
        for w in sorted(set(task.sections[a].works))
    ]
    v, section, works = np.array(uses, dtype=np.int64).reshape(-1, 3).T
    matrix, (_, work) = grouped(columns.count, v, section, works)
    return at_most(matrix - _z(columns, work), names=_named(work))


def _named(works: Ints) -> tuple[Name, ...]:
    return tuple((WORKS, int(w)) for w in works)


def spare_cables(task: PlacementTask) -> list[str]:
    """Return the installed spare cables that something could use."""
    return sorted({spare for link in task.candidates for spare in link.spares})


def _spares(task: PlacementTask, columns: Columns) -> Rows:
    """(22) an installed spare cable is used once."""
    place = {name: n for n, name in enumerate(spare_cables(task))}
    uses = [
        (x, place[spare])
        for x, k in enumerate(columns.links)
        for spare in sorted(set(task.candidates[k].spares))
    ]
    column, row = np.array(uses, dtype=np.int64).reshape(-1, 2).T
    matrix = summed(columns.count, len(place), row, column)
    return at_most(matrix, 1.0, tuple(("spare", n) for n in range(len(place))))


def _fill(task: PlacementTask, columns: Columns) -> Rows:
    """(23) cables fit in the containment, where the room left is known."""
    segments = np.array(known_segments(task), dtype=np.int64)
    room = np.array([task.fill_limits[int(segment)] for segment in segments])
    scale = np.where(room > 0, room, 1.0)
    areas = [(x, area) for x, k in enumerate(columns.links) for area in task.candidates[k].fill]
    cables = zip(columns.of("cable_section"), columns.cable_section, columns.cable_index, strict=True)
    areas += [(v, area) for v, a, n in cables for area in task.sections[a].sizes[n].fill]
    known = [(column, segment, mm2) for column, (segment, mm2) in areas if segment in set(segments.tolist())]
    column = np.array([c for c, _, _ in known], dtype=np.int64)
    row = np.searchsorted(segments, np.array([s for _, s, _ in known], dtype=np.int64))
    mm2 = np.array([m for _, _, m in known], dtype=float)
    matrix = summed(columns.count, len(segments), row, column, mm2 / scale[row])
    return at_most(matrix, room / scale, tuple(("fill", int(segment)) for segment in segments))


def known_segments(task: PlacementTask) -> list[int]:
    """Return the segments whose room is known."""
    return sorted(segment for segment, room in task.fill_limits.items() if not np.isnan(room))
