"""Candidates, choice and bound: what could be built, what is chosen of it, and how far from the cheapest it can be."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from estate.findings import NAN, Verdict
from estate.installed.fill import Containment, containment_of
from estate.links.found import Found
from estate.links.search import LinkSearch
from estate.placement.bounds import bounded, comparable, least_trenches
from estate.placement.candidates import placement_task
from estate.placement.loads import loads_of
from estate.placement.reused import ROUNDS as LEFT_OVER_ROUNDS
from estate.placement.reused import left_over_links, own_cable_links, possible
from estate.placement.room import areas, new_cables, overfull, rooms_mm2
from estate.placement.sections import sections
from estate.placement.solve import solve_placement
from estate.placement.task import PlacementAnswer, PlacementTask
from estate.placement.unknown_power import power_lines

Progress = Callable[[str], None]

ROUNDS = 8
"""How often full segments are closed and their links sought elsewhere."""


@dataclass(frozen=True)
class Chosen:
    """What was searched, the task that came of it, and the answer."""

    found: list[Found]
    task: PlacementTask
    answer: PlacementAnswer
    proven: bool
    """Whether nothing better is in the task; the answer's own status says more: of every way there could be."""
    containment: Containment


def choose(search: LinkSearch, progress: Progress, kept: Sequence[Found] = ()) -> Chosen:
    """Search links and trunks, choose among them and the links that are kept, and bound the cost of any choice.

    Ways are found with works at their price, with all works paid, and with the cheapest trenches paid that join every
    camera to a recorder, so that links can share them. Where containment would be filled beyond what is allowed, its
    links are sought again with the full segments closed.
    """
    shares = shares_works(search)
    easiest = search.with_works_paid() if shares else search
    loose = found_links(easiest, progress)
    searches, found, own = [easiest], list(loose), loose
    if shares:
        searches.append(search)
        own = found_links(search, progress, loose)
        found += own
        trenches = least_trenches(search, sorted({each.camera for each in found}))
        if trenches is not None:
            searches.append(search.with_works_paid(trenches.edges))
            found += found_links(searches[-1], progress, loose, own)
    if search.spares:
        searches.append(search.without_spares())
        found += found_links(searches[-1], progress, own)
    if search.reusable:
        found += own_cable_links(search, kept, progress)
    found = distinct(search, [*(f for f in found if possible(search, f)), *kept])
    progress("choosing recorders and cabinets")
    containment = containment_of(search.survey, search.catalogue, search.network)
    rooms = rooms_mm2(containment)
    task = placement_task(search, found, sections(search, searches, rooms), rooms)
    answer = solve_placement(task, progress)
    first = Chosen(found, task, answer, proven=answer.status == "optimal", containment=containment)
    first = _from_what_is_left(search, searches, rooms, first, progress)
    chosen = _within_room(search, searches, own, rooms, first, progress)
    if chosen.answer.status == "interrupted":
        return replace(chosen, answer=bounded(chosen.answer, NAN, task.gap_percent))
    easy = easy_choice(easiest, [*loose, *kept], progress) if shares or search.spares else None
    bound = _bound(search, first, chosen, easy)
    return replace(chosen, answer=bounded(chosen.answer, bound, task.gap_percent))


def easy_choice(
    easiest: LinkSearch, loose: Sequence[Found], progress: Progress
) -> tuple[PlacementTask, PlacementAnswer]:
    """Return the choice as if all works were paid and every spare cable were free to all: none costs less."""
    task = placement_task(easiest, distinct(easiest, loose), sections(easiest, [easiest], {}), {})
    task = replace(task, candidates=tuple(replace(c, spares=()) for c in task.candidates))
    return task, solve_placement(task, progress)


def _bound(
    search: LinkSearch, first: Chosen, chosen: Chosen, easy: tuple[PlacementTask, PlacementAnswer] | None
) -> float:
    """Return what any design that serves these cameras costs at least; NaN where that is not known.

    Without proposed routes and spare cables the bound of the first choice, which no room held. Else that of the easy
    choice, plus the cheapest trenches that join the cameras to recorders.
    """
    task, least = (first.task, first.answer) if easy is None else easy
    if not comparable(chosen.task, chosen.answer, task, least):
        return NAN
    served = np.flatnonzero(chosen.answer.choice >= 0).tolist()
    trenches = least_trenches(search, served) if shares_works(search) else None
    return least.bound + (trenches.bound if trenches is not None else 0.0)


def _from_what_is_left(
    search: LinkSearch,
    searches: list[LinkSearch],
    rooms: Mapping[int, float],
    chosen: Chosen,
    progress: Progress,
) -> Chosen:
    """Choose again with links from installed cables that the choice leaves over, as long as that is better."""
    for _ in range(LEFT_OVER_ROUNDS if search.reusable else 0):
        more = left_over_links(search, chosen.task, chosen.answer, progress)
        known = {f.key for f in chosen.found}
        if chosen.answer.status == "interrupted" or all(f.key in known for f in more):
            break
        found = distinct(search, [*chosen.found, *more])
        task = placement_task(search, found, sections(search, searches, rooms), rooms)
        before, answer = chosen.answer.objective_value, solve_placement(task, progress)
        chosen = replace(chosen, found=found, task=task, answer=answer, proven=answer.status == "optimal")
        if not answer.objective_value < before:
            break
    return chosen


def found_links(
    search: LinkSearch,
    progress: Progress,
    easier: Sequence[Found] | None = None,
    others: Sequence[Found] = (),
    wanted: Sequence[int] | None = None,
) -> list[Found]:
    """Return every candidate; links that rest on an unverified fact of the site only for cameras with no other.

    `easier` are the candidates of a search under which no link costs more, `others` links found elsewhere, both of
    the `wanted` cameras (None: all).
    """
    cameras = range(len(search.cameras)) if wanted is None else wanted
    sure = None if easier is None else [each for each in easier if each.verdict is not Verdict.VERIFY]
    given = [each for each in others if each.verdict is not Verdict.VERIFY]
    found = search.candidates(cameras, with_verify=False, progress=progress, easier=sure, others=given)
    if search.settings.limits.verify_in_design == "last":
        linked = {each.camera for each in found}
        # where the easier search had a sure link, it did not look for others
        known = {each.camera for each in sure or ()} - linked
        without = [camera for camera in cameras if camera not in linked and camera not in known]
        unsure = None if easier is None else [each for each in easier if each.camera in set(without)]
        found += search.candidates(without, with_verify=True, progress=progress, easier=unsure)
        if known:
            found += search.candidates(sorted(known), with_verify=True, progress=progress)
    return found


def shares_works(search: LinkSearch) -> bool:
    """Whether links could share works that the objective pays for."""
    return search.settings.design.objective == "cost" and bool((search.works > 0).any())


def distinct(search: LinkSearch, found: Sequence[Found]) -> list[Found]:
    """Return the links in a fixed order, each way once, with the works that the search itself counts.

    Where nothing unverified may be designed, those that a switch of unknown power feeds are left out.
    """
    never = search.settings.limits.verify_in_design == "never"
    once = {f.key: f for f in found if not (never and power_lines(search, f))}

    def order(f: Found) -> tuple[object, ...]:
        cables = tuple(stretch.variant.cables for stretch in f.stretches)
        return f.camera, f.site, f.scheme.name, f.scheme.feed, cables, f.segments, f.spares, f.nodes

    return [
        replace(f, works_cost=float(search.works[sorted(set(f.segments))].sum()))
        if f.segments and not f.kept
        else replace(f, works_cost=0.0)
        for f in sorted(once.values(), key=order)
    ]


# Room in containment


def _within_room(
    search: LinkSearch,
    searches: list[LinkSearch],
    own: Sequence[Found],
    rooms: Mapping[int, float],
    chosen: Chosen,
    progress: Progress,
) -> Chosen:
    """Choose again with room in containment as a limit, where the choice passes it.

    `own` are the candidates of the search itself, every segment open. What may be filled depends on how many cables
    there are: a segment that is too full is held to what the most of its cables may fill, any other to what one may,
    or to what is there now. Segments that are full, and those that keep cameras from being served, are closed, and the
    links that use them sought elsewhere.
    """
    limits: dict[int, float] = {}
    closed: set[int] = set()
    for _ in range(ROUNDS):
        if chosen.answer.status == "interrupted":
            break
        full = overfull(chosen.containment, laid(chosen))
        if full:
            now = dict(areas(laid(chosen), search.catalogue, rooms))
            open_ = {s: max(room, now.get(s, 0.0)) for s, room in rooms.items()} | limits
            limits = open_ | {s: min(room, open_.get(s, room)) for s, room in full.items()}
        held = {s for s in limits if limits[s] < rooms[s]} | set(full) | crowded(chosen.task, chosen.answer)
        if not full and held <= closed:
            break
        closed |= held
        searches = [*searches, search.with_closed(closed)]
        users = {f.camera for f in chosen.found if closed & set(f.segments)}
        easier = [f for f in own if f.camera in users]
        others = [f for f in chosen.found if f.camera in users and not f.kept]
        more = found_links(searches[-1], progress, easier, others, sorted(users))
        found = distinct(search, [*chosen.found, *more])
        task = placement_task(search, found, sections(search, searches, rooms), rooms, limits)
        progress("choosing again within the room of containment")
        answer = solve_placement(task, progress)
        chosen = replace(chosen, found=found, task=task, answer=answer, proven=answer.status == "optimal")
    return chosen


def crowded(task: PlacementTask, answer: PlacementAnswer) -> set[int]:
    """Return the segments that are too full for a link or trunk of a camera that is not served."""
    loads = loads_of(task, answer)
    links = [link for link in task.candidates if answer.choice[link.camera] < 0]
    found = {segment for link in links for segment in loads.full(link.fill)}
    if any(link.cabinet >= 0 and answer.home[link.cabinet] < 0 for link in links):
        for section in task.sections:
            too_full = [loads.full(size.fill) for size in section.sizes]
            found.update(segment for each in too_full for segment in each if all(too_full))
    return found


def laid(chosen: Chosen) -> list[tuple[str, int]]:
    """Return the new cables of a choice, with every segment that they pass."""
    answer = chosen.answer
    links = [chosen.found[int(k)] for k in answer.choice if k >= 0]
    trunks = [
        (section.sizes[int(n)].model, segment)
        for section, n in zip(chosen.task.sections, answer.cable, strict=True)
        if n >= 0
        for segment in section.segments
    ]
    return [*(each for link in links for each in new_cables(link)), *trunks]
