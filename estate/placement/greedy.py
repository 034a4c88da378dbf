"""A first answer that keeps every limit: it stands until the solver finds a better one, or where time runs out."""

import numpy as np

from estate.placement.channels import fitting_size
from estate.placement.loads import Loads
from estate.placement.model import Ints
from estate.placement.task import PlacementTask


def first_answer(task: PlacementTask) -> tuple[Ints, Ints]:
    """Serve cameras by priority, each by its cheapest link that still fits; return choice and size."""
    used = _first_sites(task)
    loads = Loads(task)
    choice = np.full(len(task.cameras), -1, dtype=np.int64)
    by_camera: dict[int, list[int]] = {}
    for k, link in enumerate(task.candidates):
        if link.site in used:
            by_camera.setdefault(link.camera, []).append(k)
    for camera in sorted(by_camera, key=lambda c: (task.priorities[c], c)):
        ranked = sorted(by_camera[camera], key=lambda k: _rank(task, k))
        fitting = next((k for k in ranked if not loads.obstacles(k)), -1)
        choice[camera] = fitting
        if fitting >= 0:
            loads.add(fitting)
    return choice, fitted_sizes(task, choice, used)


def _rank(task: PlacementTask, k: int) -> tuple[bool, bool, float, int]:
    link = task.candidates[k]
    measure = link.cost if task.objective == "cost" else link.cable_m
    return link.verify, link.discouraged, measure, k


def _first_sites(task: PlacementTask) -> set[int]:
    """Return the sites to fill: kept ones, existing ones, then those that most cameras reach."""
    reached = [0] * len(task.sites)
    for site, _ in {(link.site, link.camera) for link in task.candidates}:
        reached[site] += 1
    usable = [s for s, place in enumerate(task.sites) if place.sizes and not place.forbid]
    usable.sort(key=lambda s: (not task.sites[s].keep, not task.sites[s].existing, -reached[s], s))
    limits = [n for n in (task.recorders_exactly, task.recorders_at_most) if n is not None]
    return set(usable[: min(limits, default=len(usable))])


def fitted_sizes(task: PlacementTask, choice: Ints, used: set[int]) -> Ints:
    """Return the cheapest size that fits at every site with cameras; empty ones close where they may."""
    cameras = np.zeros(len(task.sites), dtype=np.int64)
    for k in choice[choice >= 0]:
        cameras[task.candidates[k].site] += 1
    size = np.full(len(task.sites), -1, dtype=np.int64)
    for s, place in enumerate(task.sites):
        asked_for = place.keep or (task.recorders_exactly is not None and s in used)
        if cameras[s] or asked_for:
            size[s] = fitting_size(place, int(cameras[s]), task.spare_percent)
    return size
