"""Every constraint checked again on the rounded answer, from the plain rules and not from the program's matrices."""

import math

from estate.placement.loads import LIMITS, load
from estate.placement.task import PlacementAnswer, PlacementTask

TOLERANCE = 1e-6
"""Relative: that of the solver."""


def violations(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Return what an answer breaks, in words; empty where it keeps every rule."""
    found = _misread(task, answer)
    if found:
        return found
    for s in range(len(task.sites)):
        found += _site(task, answer, s)
    used = sum(1 for n in answer.size if n >= 0)
    if task.recorders_exactly is not None and used != task.recorders_exactly:
        found.append(f"{used} recorders used, exactly {task.recorders_exactly} asked for")
    if task.recorders_at_most is not None and used > task.recorders_at_most:
        found.append(f"{used} recorders used, at most {task.recorders_at_most} asked for")
    value = cable_m(task, answer) if task.objective == "cable_length" else money(task, answer)
    if not math.isclose(value, answer.objective_value, rel_tol=TOLERANCE, abs_tol=TOLERANCE):
        found.append(f"objective {answer.objective_value}, its parts sum to {value}")
    if answer.bound > value + TOLERANCE * max(1.0, abs(value)):
        found.append(f"bound {answer.bound} above the value {value}")
    return found


def _misread(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Check that choice and size point at links and sizes that are there."""
    if len(answer.choice) != len(task.cameras) or len(answer.size) != len(task.sites):
        return ["the answer is not of this task's size"]
    found = []
    for camera, k in enumerate(answer.choice):
        if k < -1 or k >= len(task.candidates) or (k >= 0 and task.candidates[k].camera != camera):
            found.append(f"camera {task.cameras[camera]} has candidate {k}, not one of its own")
    for place, n in zip(task.sites, answer.size, strict=True):
        if not -1 <= n < len(place.sizes):
            found.append(f"recorder {place.id} has size {n}, not one of its own")
    return found


def _site(task: PlacementTask, answer: PlacementAnswer, s: int) -> list[str]:
    """Check one site."""
    place, n = task.sites[s], int(answer.size[s])
    links = [task.candidates[k] for k in answer.choice if k >= 0 and task.candidates[k].site == s]
    found = []
    if n < 0:
        found += [f"recorder {place.id} is unused but has cameras"] if links else []
        return [*found, f"recorder {place.id} must be used"] if place.keep else found
    if place.forbid:
        found.append(f"recorder {place.id} must not be used")
    if not links and not place.keep and task.recorders_exactly is None:
        found.append(f"recorder {place.id} is used without need")
    channels = place.sizes[n][0]
    cameras = len(links) if place.existing else len(links) * (1 + task.spare_percent / 100)
    if cameras > channels + TOLERANCE:
        found.append(f"recorder {place.id}: {cameras:g} channels of {channels}")
    for limit in LIMITS:
        most = getattr(place, limit)
        taken = sum(load(link, limit) for link in links)
        if most is not None and taken > most + TOLERANCE * max(1.0, most):
            found.append(f"recorder {place.id}: {limit} {taken:g} of {most:g}")
    for group in task.apart:
        together = [task.cameras[link.camera] for link in links if link.camera in group]
        if len(together) > 1:
            found.append(f"recorder {place.id}: {', '.join(together)} must stand apart")
    return found


def money(task: PlacementTask, answer: PlacementAnswer) -> float:
    """Return what an answer costs: links, recorders, works once [currency]."""
    links = [task.candidates[k] for k in answer.choice if k >= 0]
    recorders = [
        place.sizes[n][1]
        for place, n in zip(task.sites, answer.size, strict=True)
        if n >= 0 and not place.existing
    ]
    works = {w for link in links for w in link.works}
    return math.fsum([*(link.cost for link in links), *recorders, *(task.works_cost[w] for w in works)])


def cable_m(task: PlacementTask, answer: PlacementAnswer) -> float:
    """Return the new cable of an answer [m]."""
    return math.fsum(task.candidates[k].cable_m for k in answer.choice if k >= 0)
