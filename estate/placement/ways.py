"""Ways of uplinks: read off the program's hops, written back, and found for a first answer."""

import numpy as np

from estate.placement.columns import Columns, other_end
from estate.placement.rows import Floats
from estate.placement.task import Ints, PlacementTask

Ways = tuple[tuple[tuple[int, ...], ...], ...]


def read(task: PlacementTask, columns: Columns, home: Ints, hops: Ints) -> Ways:
    """Return the ways of every cabinet from the hops taken; closed loops beside a way are dropped."""
    count = 2 if task.diverse_uplinks else 1
    steps: dict[tuple[int, int], dict[int, list[tuple[int, int]]]] = {}
    for hop in hops:
        own = steps.setdefault((int(columns.hop_cabinet[hop]), int(columns.hop_way[hop])), {})
        step = (int(columns.hop_to[hop]), int(columns.hop_section[hop]))
        own.setdefault(int(columns.hop_from[hop]), []).append(step)
    return tuple(
        tuple(
            _way(steps.get((p, i), {}), len(task.sites) + p, int(home[p]))
            for i in range(count if home[p] >= 0 else 0)
        )
        for p in range(len(task.cabinets))
    )


def _way(steps: dict[int, list[tuple[int, int]]], start: int, end: int) -> tuple[int, ...]:
    """Return the sections of a way through the fewest places."""
    reached: dict[int, tuple[int, ...]] = {start: ()}
    front = [start]
    while front and end not in reached:
        place = front.pop(0)
        for to, section in steps.get(place, []):
            if to not in reached:
                reached[to] = (*reached[place], section)
                front.append(to)
    return reached.get(end, ())


def places(task: PlacementTask, cabinet: int, way: tuple[int, ...]) -> list[int]:
    """Return the places along a way, its cabinet first; ends early where sections don't join."""
    found = [len(task.sites) + cabinet]
    for section in way:
        found += other_end(task.sections[section], found[-1])
    return found


def written(task: PlacementTask, columns: Columns, ways: Ways) -> Floats:
    """Return 1 for every hop that the ways take."""
    taken = {
        (p, i, section, place)
        for p, own in enumerate(ways)
        for i, way in enumerate(own)
        for section, place in zip(way, places(task, p, way), strict=False)
    }
    hops = zip(
        columns.hop_cabinet.tolist(),
        columns.hop_way.tolist(),
        columns.hop_section.tolist(),
        columns.hop_from.tolist(),
        strict=True,
    )
    return np.array([float(hop in taken) for hop in hops])


def routes_written(task: PlacementTask, columns: Columns, ways: Ways) -> Floats:
    """Return 1 for every route that belongs to the first way of a cabinet."""
    first = {
        (p, r) for p, own in enumerate(ways) for way in own[:1] for a in way for r in task.sections[a].routes
    }
    pairs = zip(columns.route_cabinet.tolist(), columns.route.tolist(), strict=True)
    return np.array([float((p, columns.routes[r]) in first) for p, r in pairs])


def uplinks_carried(task: PlacementTask, ways: Ways) -> Ints:
    """Return how many uplinks run through each section."""
    sections = [section for own in ways for way in own for section in way]
    return np.bincount(np.array(sections, dtype=np.int64), minlength=len(task.sections))
