"""The least devices for what is chosen: recorders, switches and cables no larger than needed, empty ones closed."""

from dataclasses import replace

import numpy as np

from estate.placement.channels import fitting_size, uplinks_allowed
from estate.placement.loads import fitting_switch
from estate.placement.task import Choices, Ints, PlacementTask
from estate.placement.ways import uplinks_carried


def fitted(task: PlacementTask, choices: Choices) -> Choices:
    """Return the same links with the cheapest devices that fit; what serves no camera closes where it may."""
    switch = _switches(task, choices)
    home = np.where(switch >= 0, choices.home, -1)
    ways = tuple(own if s >= 0 else () for own, s in zip(choices.ways, home, strict=True))
    closed = replace(choices, switch=switch, home=home, ways=ways)
    closed = replace(closed, cable=_cables(task, closed))
    return replace(closed, size=fitted_sizes(task, closed))


def _switches(task: PlacementTask, choices: Choices) -> Ints:
    links: dict[int, list[int]] = {}
    for k in choices.choice[choices.choice >= 0]:
        links.setdefault(task.candidates[k].cabinet, []).append(int(k))
    found = [
        fitting_switch(task, p, links.get(p, ())) if p in links else -1 for p in range(len(task.cabinets))
    ]
    return np.array(found, dtype=np.int64)


def _cables(task: PlacementTask, choices: Choices) -> Ints:
    """Return the cheapest cable that carries a section's uplinks and takes no more room than the one chosen."""
    carried = uplinks_carried(task, choices.ways)
    found = np.full(len(task.sections), -1, dtype=np.int64)
    for a, section in enumerate(task.sections):
        if not carried[a]:
            continue
        chosen = int(choices.cable[a])
        fitting = [
            n
            for n in range(len(section.sizes))
            if uplinks_allowed(task, section, n) >= carried[a] and _no_larger(task, a, n, chosen)
        ]
        found[a] = min(
            fitting, key=lambda n: (section.sizes[n].cost, section.sizes[n].cores, n), default=chosen
        )
    return found


def _no_larger(task: PlacementTask, section: int, size: int, chosen: int) -> bool:
    sizes = task.sections[section].sizes
    room: dict[int, float] = {}
    for segment, mm2 in sizes[chosen].fill:
        room[segment] = room.get(segment, 0.0) + mm2
    for segment, mm2 in sizes[size].fill:
        room[segment] = room.get(segment, 0.0) - mm2
    return all(left >= 0 for left in room.values())


def fitted_sizes(task: PlacementTask, choices: Choices) -> Ints:
    """Return the cheapest size that fits at every site in use; sites without cameras or cabinets close where they may."""
    recorders = choices.recorders(task)
    cameras = np.bincount(recorders[recorders >= 0], minlength=len(task.sites))
    homes = set(choices.home.tolist())
    size = np.full(len(task.sites), -1, dtype=np.int64)
    for s, place in enumerate(task.sites):
        asked_for = place.keep or (task.recorders_exactly is not None and choices.size[s] >= 0)
        if cameras[s] or asked_for or s in homes:
            size[s] = fitting_size(place, int(cameras[s]), task.spare_percent)
    return size
