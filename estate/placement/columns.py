"""The variables of the placement program: which column stands for what."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from estate.placement.task import Ints, PlacementTask, Section

BLOCKS = (
    "links",
    "size_site",
    "cabinets",
    "switch_cabinet",
    "home_cabinet",
    "hop_cabinet",
    "cable_section",
    "route_cabinet",
    "works",
)
"""Each block of columns, named by its first array."""


@dataclass(frozen=True)
class Columns:
    """Columns in blocks, in this order; every array has one entry per column of its block.

    A link that ends at a cabinet has one column for each recorder that its cabinet could be homed to. A hop is a
    cabinet's way (0, or 1 for the second) that runs through a section from one place to another.
    """

    links: Ints
    """Candidate of each x."""
    recorder: Ints
    """Site of each x."""
    size_site: Ints
    size_index: Ints
    cabinets: Ints
    switch_cabinet: Ints
    switch_index: Ints
    home_cabinet: Ints
    home_site: Ints
    hop_cabinet: Ints
    hop_way: Ints
    hop_section: Ints
    hop_from: Ints
    hop_to: Ints
    cable_section: Ints
    cable_index: Ints
    route_cabinet: Ints
    route: Ints
    """Index into `routes`."""
    works: Ints
    """Proposed segment of each z."""
    routes: tuple[str, ...]

    def sizes_of_blocks(self) -> dict[str, int]:
        """Return how many columns each block has."""
        return {block: len(getattr(self, block)) for block in BLOCKS}

    def of(self, block: str) -> Ints:
        """Return the columns of a block, named by its first array."""
        first = 0
        for name, count in self.sizes_of_blocks().items():
            if name == block:
                return np.arange(first, first + count, dtype=np.int64)
            first += count
        raise KeyError(block)

    @property
    def count(self) -> int:
        """Number of columns."""
        return sum(self.sizes_of_blocks().values())


def columns(task: PlacementTask) -> Columns:
    """Lay out the columns of a task."""
    homes = [possible_homes(task, p) for p in range(len(task.cabinets))]
    links = [
        (k, s)
        for k, link in enumerate(task.candidates)
        for s in ([link.site] if link.cabinet < 0 else homes[link.cabinet])
    ]
    ways = 2 if task.diverse_uplinks else 1
    hops = [(p, i, *hop) for p in range(len(task.cabinets)) for i in range(ways) for hop in _hops(task, p)]
    routes = sorted({r for section in task.sections for r in section.routes}) if ways > 1 else []
    used_routes = sorted({(p, routes.index(r)) for p, i, a, *_ in hops if i for r in task.sections[a].routes})
    needed = {w for link in task.candidates for w in link.works}
    needed |= {w for section in task.sections for w in section.works}
    parts = (
        _table(links, 2),
        _table([(s, n) for s, place in enumerate(task.sites) for n in range(len(place.sizes))], 2),
        _table([(p,) for p in range(len(task.cabinets))], 1),
        _table([(p, n) for p, place in enumerate(task.cabinets) for n in range(len(place.switches))], 2),
        _table([(p, s) for p, sites in enumerate(homes) for s in sites], 2),
        _table(hops, 5),
        _table([(a, n) for a, section in enumerate(task.sections) for n in range(len(section.sizes))], 2),
        _table(used_routes, 2),
        _table([(w,) for w in sorted(needed)], 1),
    )
    arrays = [array for part in parts for array in part]
    names = [each.name for each in fields(Columns) if each.name != "routes"]
    return Columns(**dict(zip(names, arrays, strict=True)), routes=tuple(routes))


def _table(rows: Sequence[tuple[int, ...]], width: int) -> list[Ints]:
    return list(np.array(rows, dtype=np.int64).reshape(-1, width).T)


def _hops(task: PlacementTask, cabinet: int) -> list[tuple[int, int, int]]:
    """Return (section, from, to) for every section that a cabinet's uplink could run through.

    It never comes back to its own cabinet.
    """
    start = len(task.sites) + cabinet
    found = []
    for a, section in enumerate(task.sections):
        turns = [(section.tail, section.head), (section.head, section.tail)]
        found += [(a, *turn) for turn in turns if turn[1] != start and turn[0] != turn[1]]
    return found


def possible_homes(task: PlacementTask, cabinet: int) -> list[int]:
    """Return the sites that sections join a cabinet to."""
    start = len(task.sites) + cabinet
    reached, front = {start}, [start]
    while front:
        place = front.pop()
        for section in task.sections:
            new = [end for end in other_end(section, place) if end not in reached]
            reached.update(new)
            front += new
    return sorted(s for s in reached if s < len(task.sites))


def other_end(section: Section, place: int) -> list[int]:
    """Return the place at the other end of a section, as a list: empty where it doesn't end at `place`."""
    if place == section.tail:
        return [section.head]
    return [section.tail] if place == section.head else []
