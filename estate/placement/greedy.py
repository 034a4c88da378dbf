"""A first answer that keeps every limit: it stands until the solver finds a better one, or where time runs out."""

import numpy as np

from estate.placement.columns import possible_homes
from estate.placement.first_uplinks import Uplinks
from estate.placement.fitted import fitted
from estate.placement.loads import Loads
from estate.placement.task import Choices, Ints, PlacementTask


def nothing(task: PlacementTask) -> Choices:
    """Return no link, no recorder, no cabinet."""
    parts = (task.cameras, task.sites, task.cabinets, task.cabinets, task.sections)
    choice, size, switch, home, cable = (np.full(len(part), -1, dtype=np.int64) for part in parts)
    return Choices(choice, size, switch, home, cable, ((),) * len(task.cabinets))


def first_answer(task: PlacementTask) -> Choices:
    """Serve cameras by priority, each by its cheapest link that still fits, then the others through cabinets."""
    used, uplinks = _first_sites(task), Uplinks(Loads(task))
    choice = np.full(len(task.cameras), -1, dtype=np.int64)
    by_camera: dict[int, list[int]] = {}
    for k, link in enumerate(task.candidates):
        if link.site in used or link.cabinet >= 0:
            by_camera.setdefault(link.camera, []).append(k)
    ranks = [(c, sorted(own, key=lambda k: _rank(task, k))) for c, own in by_camera.items()]
    ranks.sort(key=lambda pair: (task.priorities[pair[0]], pair[0]))
    for through in (False, True):
        for camera, ranked in ranks:
            if choice[camera] < 0:
                ends = [k for k in ranked if (task.candidates[k].cabinet >= 0) == through]
                choice[camera] = _served(uplinks, ends, used)
    return fitted(task, _choices(uplinks, choice, used))


def _served(uplinks: Uplinks, ranked: list[int], used: set[int]) -> int:
    """Take the first link that fits, and open its cabinet where it must be; -1 where none fits."""
    task, loads = uplinks.task, uplinks.loads
    for k in ranked:
        cabinet = task.candidates[k].cabinet
        opened = cabinet >= 0 and cabinet not in loads.home
        if opened and not _opened(uplinks, k, used):
            continue
        if not loads.obstacles(k):
            loads.add(k)
            return k
    return -1


def _opened(uplinks: Uplinks, k: int, used: set[int]) -> bool:
    """Home a link's cabinet to a site that has room for the link."""
    cabinet = uplinks.task.candidates[k].cabinet
    homes = set()
    for site in used & set(possible_homes(uplinks.task, cabinet)):
        uplinks.loads.home[cabinet] = site
        if not uplinks.loads.obstacles(k):
            homes.add(site)
    uplinks.loads.home.pop(cabinet, None)
    return uplinks.open(cabinet, homes)


def _choices(uplinks: Uplinks, choice: Ints, used: set[int]) -> Choices:
    task = uplinks.task
    empty = nothing(task)
    for s in used:
        empty.size[s] = 0
    for p, s in uplinks.loads.home.items():
        empty.home[p] = s
    for a, n in uplinks.cable.items():
        empty.cable[a] = n
    ways = tuple(uplinks.ways.get(p, ()) for p in range(len(task.cabinets)))
    return Choices(choice, empty.size, empty.switch, empty.home, empty.cable, ways)


def _rank(task: PlacementTask, k: int) -> tuple[bool, bool, float, int]:
    link = task.candidates[k]
    measure = link.cost if task.objective == "cost" else link.cable_m
    return link.verify, link.discouraged, measure, k


def _first_sites(task: PlacementTask) -> set[int]:
    """Return the sites to fill: kept ones, existing ones, then those that most cameras reach."""
    reached = [0] * len(task.sites)
    for site, _ in {(link.site, link.camera) for link in task.candidates if link.cabinet < 0}:
        reached[site] += 1
    usable = [s for s, place in enumerate(task.sites) if place.sizes and not place.forbid]
    usable.sort(key=lambda s: (not task.sites[s].keep, not task.sites[s].existing, -reached[s], s))
    limits = [n for n in (task.recorders_exactly, task.recorders_at_most) if n is not None]
    return set(usable[: min(limits, default=len(usable))])
