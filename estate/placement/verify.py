"""Every constraint checked again on the rounded answer, from the plain rules and not from the program's matrices."""

import math

from estate.placement.loads import LIMITS, load
from estate.placement.task import Candidate, PlacementAnswer, PlacementTask
from estate.placement.verify_uplinks import cabinet_faults, section_faults, shared_faults, works_built

TOLERANCE = 1e-6
"""Relative: that of the solver."""


def violations(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Return what an answer breaks, in words; empty where it keeps every rule."""
    found = _misread(task, answer)
    if found:
        return found
    for s in range(len(task.sites)):
        found += _site(task, answer, s)
    found += cabinet_faults(task, answer) + section_faults(task, answer) + shared_faults(task, answer)
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
    shape = [len(part) for part in (answer.choice, answer.size, answer.switch, answer.home, answer.ways)]
    shape.append(len(answer.cable))
    cabinets, sections = len(task.cabinets), len(task.sections)
    if shape != [len(task.cameras), len(task.sites), cabinets, cabinets, cabinets, sections]:
        return ["the answer is not of this task's size"]
    found = []
    for camera, k in enumerate(answer.choice):
        if k < -1 or k >= len(task.candidates) or (k >= 0 and task.candidates[k].camera != camera):
            found.append(f"camera {task.cameras[camera]} has candidate {k}, not one of its own")
    for place, n in zip(task.sites, answer.size, strict=True):
        if not -1 <= n < len(place.sizes):
            found.append(f"recorder {place.id} has size {n}, not one of its own")
    for cabinet, n, s in zip(task.cabinets, answer.switch, answer.home, strict=True):
        if not (-1 <= n < len(cabinet.switches) and -1 <= s < len(task.sites)):
            found.append(f"cabinet {cabinet.id} has switch {n} and home {s}, not of its own")
    for a, n in enumerate(answer.cable):
        if not -1 <= n < len(task.sections[a].sizes):
            found.append(f"section {a} has cable {n}, not one of its own")
    return found


def _recorder(answer: PlacementAnswer, link: Candidate) -> int:
    return int(answer.home[link.cabinet]) if link.cabinet >= 0 else link.site


def _site(task: PlacementTask, answer: PlacementAnswer, s: int) -> list[str]:
    """Check one site."""
    place, n = task.sites[s], int(answer.size[s])
    chosen = [task.candidates[k] for k in answer.choice if k >= 0]
    links = [link for link in chosen if _recorder(answer, link) == s]
    homes = s in answer.home.tolist()
    found = []
    if n < 0:
        found += [f"recorder {place.id} is unused but has cameras"] if links else []
        found += [f"recorder {place.id} is unused but has cabinets"] if homes else []
        return [*found, f"recorder {place.id} must be used"] if place.keep else found
    if place.forbid:
        found.append(f"recorder {place.id} must not be used")
    if not links and not homes and not place.keep and task.recorders_exactly is None:
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
    """Return what an answer costs: links, recorders, cabinets, switches, cables, works once [currency]."""
    parts = [task.candidates[k].cost for k in answer.choice if k >= 0]
    for place, n in zip(task.sites, answer.size, strict=True):
        if n >= 0 and not place.existing:
            parts.append(place.sizes[n][1])
    parts += [task.cabinets[p].cost for p in answer.standing(task)]
    for cabinet, n in zip(task.cabinets, answer.switch, strict=True):
        if n >= 0:
            parts += [cabinet.switches[n].uplink_cost, cabinet.power_cost]
        if n >= 0 and not cabinet.switches[n].existing:
            parts.append(cabinet.switches[n].cost)
    parts += [a.sizes[n].cost for a, n in zip(task.sections, answer.cable, strict=True) if n >= 0]
    return math.fsum([*parts, *(task.works_cost[w] for w in works_built(task, answer))])


def cable_m(task: PlacementTask, answer: PlacementAnswer) -> float:
    """Return the new cable of an answer [m]."""
    laid = [a.cable_m for a, n in zip(task.sections, answer.cable, strict=True) if n >= 0]
    return math.fsum([*(task.candidates[k].cable_m for k in answer.choice if k >= 0), *laid])
