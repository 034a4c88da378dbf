"""Constraints (14) to (20) of the placement program: ways of uplinks through sections, cables, cores, routes."""

import numpy as np
from scipy import sparse

from estate.placement.cabinet_rows import switched
from estate.placement.channels import uplinks_allowed
from estate.placement.columns import Columns
from estate.placement.rows import Floats, Rows, at_most, equal, grouped, stacked, summed
from estate.placement.task import Ints, PlacementTask


def uplink_rows(task: PlacementTask, columns: Columns) -> Rows:
    """Return (14) to (20); no rows where there is no cabinet."""
    if not task.cabinets:
        return stacked([], columns.count)
    groups = (_joined, _laid, _cores, _one_cable, _passed_stand, _within_reach, _diverse)
    return stacked([group(task, columns) for group in groups], columns.count)


def _joined(task: PlacementTask, columns: Columns) -> Rows:
    """(14) each way runs from its cabinet to its home, and goes on wherever it passes."""
    places = len(task.sites) + len(task.cabinets)
    ways = 2 if task.diverse_uplinks else 1
    rows = len(task.cabinets) * ways * places

    def row(cabinet: Ints, way: Ints | int, place: Ints) -> Ints:
        return (cabinet * ways + way) * places + place

    hops = columns.of("hop_cabinet")
    out = row(columns.hop_cabinet, columns.hop_way, columns.hop_from)
    back = row(columns.hop_cabinet, columns.hop_way, columns.hop_to)
    matrix = summed(columns.count, rows, out, hops) - summed(columns.count, rows, back, hops)
    everyone = np.arange(len(task.cabinets), dtype=np.int64)
    for way in range(ways):
        starts = row(everyone, way, len(task.sites) + everyone)
        at_start = switched(task, columns, everyone).tocoo()
        ends = row(columns.home_cabinet, way, columns.home_site)
        matrix = matrix - summed(columns.count, rows, starts[at_start.row], at_start.col)
        matrix = matrix + summed(columns.count, rows, ends, columns.of("home_cabinet"))
    matrix.eliminate_zeros()
    return equal(matrix[np.flatnonzero(np.diff(matrix.indptr))])


def _cables(
    task: PlacementTask, columns: Columns, section: Ints, weight: Floats | None = None
) -> sparse.csr_array:
    """Return Σ weight_v v as rows, one for each entry of `section`; weight 1 where none is given."""
    by_section = summed(
        columns.count, len(task.sections), columns.cable_section, columns.of("cable_section"), weight
    )
    return by_section[section]


def _laid(task: PlacementTask, columns: Columns) -> Rows:
    """(15) an uplink runs through laid sections, through each once; its two ways share no cable."""
    matrix, (_, section) = grouped(
        columns.count, columns.of("hop_cabinet"), columns.hop_cabinet, columns.hop_section
    )
    return at_most(matrix - _cables(task, columns, section))


def _cores(task: PlacementTask, columns: Columns) -> Rows:
    """(16) no more uplinks than the cores of the chosen cable take, less spare."""
    sections = np.arange(len(task.sections), dtype=np.int64)
    hops = summed(columns.count, len(sections), columns.hop_section, columns.of("hop_cabinet"))
    pairs = zip(columns.cable_section, columns.cable_index, strict=True)
    allowed = np.array([uplinks_allowed(task, task.sections[a], n) for a, n in pairs], dtype=float)
    return at_most(
        hops - _cables(task, columns, sections, allowed), names=tuple(("cores", int(a)) for a in sections)
    )


def _one_cable(task: PlacementTask, columns: Columns) -> Rows:
    """(17) one cable per section."""
    sections = np.arange(len(task.sections), dtype=np.int64)
    return at_most(_cables(task, columns, sections), 1.0)


def _passed_stand(task: PlacementTask, columns: Columns) -> Rows:
    """(18) a way passes only cabinets that stand."""
    passing = np.flatnonzero(columns.hop_to >= len(task.sites))
    matrix, (_, _, place) = grouped(
        columns.count,
        columns.of("hop_cabinet")[passing],
        columns.hop_cabinet[passing],
        columns.hop_way[passing],
        columns.hop_to[passing],
    )
    cabinet = place - len(task.sites)
    rows = np.arange(len(cabinet), dtype=np.int64)
    return at_most(matrix - summed(columns.count, len(rows), rows, columns.of("cabinets")[cabinet]))


def _within_reach(task: PlacementTask, columns: Columns) -> Rows:
    """(19) each way keeps every limit of an uplink: its sections use no more than all of it."""
    ways = 2 if task.diverse_uplinks else 1
    count = max((len(section.shares) for section in task.sections), default=0)
    way = columns.hop_cabinet * ways + columns.hop_way
    names = tuple(("uplink_reach", p) for p in range(len(task.cabinets)) for _ in range(ways))
    groups = []
    for limit in range(count):
        used = np.array([section.shares[limit] if section.shares else 0.0 for section in task.sections])
        share = used[columns.hop_section]
        matrix = summed(columns.count, len(names), way, columns.of("hop_cabinet"), share)
        groups.append(at_most(matrix, 1.0, names))
    return stacked(groups, columns.count)


def _diverse(task: PlacementTask, columns: Columns) -> Rows:
    """(20) the two ways of an uplink share no route: it is the first way's (ρ = 1) or the second's."""
    if not task.diverse_uplinks:
        return stacked([], columns.count)
    place = {name: n for n, name in enumerate(columns.routes)}
    pairs = zip(columns.route_cabinet.tolist(), columns.route.tolist(), strict=True)
    column = dict(zip(pairs, columns.of("route_cabinet").tolist(), strict=True))
    hops = zip(columns.hop_cabinet.tolist(), columns.hop_section.tolist(), strict=True)
    uses = [
        (h, column[p, place[r]])
        for h, (p, a) in enumerate(hops)
        for r in sorted(set(task.sections[a].routes))
    ]
    hop, route = np.array(uses, dtype=np.int64).reshape(-1, 2).T
    first = columns.hop_way[hop] == 0
    rows = np.arange(len(uses), dtype=np.int64)
    runs = summed(columns.count, len(uses), rows, columns.of("hop_cabinet")[hop])
    taken = summed(columns.count, len(uses), rows, route, np.where(first, -1.0, 1.0))
    return at_most(runs + taken, np.where(first, 0.0, 1.0))
