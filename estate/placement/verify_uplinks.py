"""Cabinets, uplinks and what is shared, checked again on the rounded answer from the plain rules."""

import math
from collections import Counter
from collections.abc import Iterator

from estate.placement.task import Candidate, PlacementAnswer, PlacementTask, Section

TOLERANCE = 1e-6
"""Relative: that of the solver."""


def passed(taken: float, limit: float) -> bool:
    """Whether a limit is passed by more than the solver's tolerance."""
    return taken > limit + TOLERANCE * max(1.0, limit)


def cabinet_faults(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Return what breaks a rule at cabinets, in words."""
    found = []
    for p, cabinet in enumerate(task.cabinets):
        links = [task.candidates[k] for k in answer.choice if k >= 0 and task.candidates[k].cabinet == p]
        if answer.switch[p] < 0:
            if links or answer.home[p] >= 0 or answer.ways[p]:
                found.append(f"cabinet {cabinet.id} has no switch but is used")
            continue
        if not links:
            found.append(f"cabinet {cabinet.id} has a switch without need")
        found += [f"cabinet {cabinet.id}: {fault}" for fault in _at_switch(task, answer, p, links)]
        found += [f"cabinet {cabinet.id}: {fault}" for fault in _uplink(task, answer, p)]
    return found


def _at_switch(task: PlacementTask, answer: PlacementAnswer, p: int, links: list[Candidate]) -> Iterator[str]:
    """Yield the limits of the chosen switch that its cameras pass."""
    cabinet = task.cabinets[p]
    switch = cabinet.switches[int(answer.switch[p])]
    spare = 0.0 if switch.existing else task.spare_ports_percent
    if passed(len(links) * (1 + spare / 100), switch.ports):
        yield f"{len(links)} cameras and {spare:g} % spare at {switch.ports} ports"
    if any(link.port != "ethernet" for link in links):
        yield "an analogue link ends at a switch"
    mbps = sum(link.mbps for link in links if not math.isnan(link.mbps))
    if cabinet.uplink_mbps is not None and passed(mbps, cabinet.uplink_mbps):
        yield f"{mbps:g} Mb/s over an uplink of {cabinet.uplink_mbps:g} Mb/s"
    allocated = sum(link.poe_w for link in links)
    drawn = sum(link.draw_w for link in links if not math.isnan(link.draw_w))
    for word, watts in (("allocated", allocated), ("drawn", drawn)):
        if switch.poe_w is not None and passed(watts, switch.poe_w):
            yield f"{watts:g} W {word} of {switch.poe_w:g} W"


def _uplink(task: PlacementTask, answer: PlacementAnswer, p: int) -> Iterator[str]:
    """Yield what is wrong with the ways of one cabinet's uplink."""
    ways = answer.ways[p]
    wanted = 2 if task.diverse_uplinks else 1
    if len(ways) != wanted:
        yield f"{len(ways)} ways of the uplink, {wanted} asked for"
    for way in ways:
        yield from _way(task, answer, p, [task.sections[a] for a in way])
        for used in zip(*(task.sections[a].shares for a in way), strict=True):
            if passed(math.fsum(used), 1.0):
                yield "its uplink passes its loss or reach"
        if len(set(way)) < len(way):
            yield "its uplink runs through a section twice"
        if any(answer.cable[a] < 0 for a in way):
            yield "its uplink runs through a section that is not laid"
    for n, way in enumerate(ways):
        others = {a for other in ways[:n] for a in other}
        routes = {r for a in others for r in task.sections[a].routes}
        if others & set(way) or routes & {r for a in way for r in task.sections[a].routes}:
            yield "the two ways of the uplink share a route or a cable"


def _way(task: PlacementTask, answer: PlacementAnswer, p: int, way: list[Section]) -> Iterator[str]:
    """Yield where a way is broken: section by section from the cabinet to its home."""
    place = len(task.sites) + p
    for section in way:
        if place not in (section.tail, section.head):
            yield "the sections of its uplink don't join"
            return
        place = section.head if place == section.tail else section.tail
    if place != answer.home[p] or not way:
        yield "its uplink does not end at its recorder"


def section_faults(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Return what breaks a rule in the cables of sections: cores, spare cores, cables without use."""
    carried = Counter(a for own in answer.ways for way in own for a in way)
    found = []
    for a, (section, n) in enumerate(zip(task.sections, answer.cable, strict=True)):
        if n < 0:
            continue
        uplinks = carried[a]
        if not uplinks:
            found.append(f"section {a} is laid without need")
        # two cores an uplink
        spare = max(task.spare_cores, 2 * uplinks * task.spare_cores_percent / 100)
        cores = section.sizes[n].cores
        if passed(2 * uplinks + spare, cores):
            found.append(f"section {a}: {2 * uplinks} cores used and {spare:g} spare of {cores}")
    return found


def shared_faults(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Return the spare cables used twice and the segments that are too full."""
    links = [task.candidates[k] for k in answer.choice if k >= 0]
    laid = [section.sizes[n] for section, n in zip(task.sections, answer.cable, strict=True) if n >= 0]
    uses = Counter(spare for link in links for spare in set(link.spares))
    found = [f"spare cable {spare} is used {n} times" for spare, n in sorted(uses.items()) if n > 1]
    for segment, room in sorted(task.fill_limits.items()):
        areas = [area for user in (*links, *laid) for area in user.fill]
        mm2 = math.fsum(taken for where, taken in areas if where == segment)
        if not math.isnan(room) and passed(mm2, room):
            found.append(f"segment {segment}: {mm2:g} mm² in {room:g} mm²")
    return found


def works_built(task: PlacementTask, answer: PlacementAnswer) -> list[int]:
    """Return the proposed segments that links and laid sections need."""
    works = {w for k in answer.choice if k >= 0 for w in task.candidates[k].works}
    for section, n in zip(task.sections, answer.cable, strict=True):
        works |= set(section.works) if n >= 0 else set()
    return sorted(works)
