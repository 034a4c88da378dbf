"""Candidates, choice and bound: what could be built, what is chosen of it, and how far from the cheapest it can be."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from estate.findings import NAN, Verdict
from estate.installed.fill import Containment, containment_of
from estate.links.found import Found
from estate.links.search import LinkSearch
from estate.placement.candidates import placement_task
from estate.placement.room import areas, new_cables, overfull, rooms_mm2
from estate.placement.sections import sections
from estate.placement.solve import solve_placement
from estate.placement.task import Choices, PlacementAnswer, PlacementTask
from estate.placement.trenches import Trenches, cheapest_trenches

Progress = Callable[[str], None]

ROUNDS = 4
"""How often full segments are closed and their links sought elsewhere."""


@dataclass(frozen=True)
class Chosen:
    """What was searched, the task that came of it, and the answer."""

    found: list[Found]
    task: PlacementTask
    answer: PlacementAnswer
    containment: Containment


def choose(search: LinkSearch, progress: Progress) -> Chosen:
    """Search links and trunks, choose among them, and bound the cost of any choice.

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
    found = distinct(search, found)
    progress("choosing recorders and cabinets")
    containment = containment_of(search.survey, search.catalogue, search.network)
    rooms = rooms_mm2(containment)
    first = placement_task(search, found, sections(searches, rooms), rooms)
    answer = solve_placement(first, progress)
    if answer.status == "interrupted":
        return Chosen(found, first, bounded(answer, NAN, first.gap_percent), containment)
    bound = _bound(search, easiest, loose, first, answer, progress)
    chosen = _within_room(search, searches, own, rooms, Chosen(found, first, answer, containment), progress)
    return replace(chosen, answer=bounded(chosen.answer, bound, first.gap_percent))


def found_links(
    search: LinkSearch,
    progress: Progress,
    easier: Sequence[Found] | None = None,
    others: Sequence[Found] = (),
) -> list[Found]:
    """Return every candidate; links that rest on an unverified fact of the site only for cameras with no other.

    `easier` are the candidates of a search under which no link costs more, `others` links found elsewhere.
    """
    everyone = range(len(search.cameras))
    sure = None if easier is None else [each for each in easier if each.verdict is not Verdict.VERIFY]
    given = [each for each in others if each.verdict is not Verdict.VERIFY]
    found = search.candidates(everyone, with_verify=False, progress=progress, easier=sure, others=given)
    if search.settings.limits.verify_in_design == "last":
        linked = {each.camera for each in found}
        without = [camera for camera in everyone if camera not in linked]
        unsure = None if easier is None else [each for each in easier if each.camera in set(without)]
        found += search.candidates(without, with_verify=True, progress=progress, easier=unsure)
    return found


def shares_works(search: LinkSearch) -> bool:
    """Whether links could share works that the objective pays for."""
    return search.settings.design.objective == "cost" and bool((search.works > 0).any())


def distinct(search: LinkSearch, found: Sequence[Found]) -> list[Found]:
    """Return the links in a fixed order, each way once, with the works that the search itself counts."""
    once = {f.key: f for f in found}

    def order(f: Found) -> tuple[object, ...]:
        cables = tuple(stretch.variant.cables for stretch in f.stretches)
        return f.camera, f.site, f.scheme.name, f.scheme.feed, cables, f.segments, f.spares, f.nodes

    return [
        replace(f, works_cost=float(search.works[sorted(set(f.segments))].sum()) if f.segments else 0.0)
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
    """Choose again with room in containment as a limit, where the first choice passes it.

    `own` are the candidates of the search itself, every segment open. What may be filled depends on how many cables
    there are: a segment that is too full is held to what its number of cables may fill, any other to what several may,
    or to what is there now.
    """
    limits: dict[int, float] = {}
    for _ in range(ROUNDS):
        full = overfull(chosen.containment, laid(chosen))
        if not full or chosen.answer.status == "interrupted":
            break
        now = dict(areas(laid(chosen), search.catalogue, rooms))
        limits = {s: max(room, now.get(s, 0.0)) for s, room in rooms.items()} | limits | full
        closed = [s for s in limits if limits[s] < rooms[s] or s in full]
        searches = [*searches, search.with_closed(closed)]
        users = {f.camera for f in chosen.found if set(closed) & set(f.segments)}
        sure = [f for f in own if f.camera in users and f.verdict is not Verdict.VERIFY]
        more = searches[-1].candidates(
            sorted(users), with_verify=False, progress=progress, easier=sure, others=chosen.found
        )
        found = distinct(search, [*chosen.found, *more])
        task = placement_task(search, found, sections(searches, rooms), rooms, limits)
        progress("choosing again within the room of containment")
        chosen = replace(chosen, found=found, task=task, answer=solve_placement(task, progress))
    return chosen


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


# Bounds


def least_trenches(search: LinkSearch, cameras: Sequence[int]) -> Trenches | None:
    """Return the cheapest trenches that join cameras to recorders; None where some can't be joined."""
    network = search.network
    usable = network.segment_use != "forbidden"
    ends = np.stack([network.segment_from, network.segment_to], axis=1)[usable]
    segment = np.flatnonzero(usable)
    forbidden = set(search.settings.design.forbid_recorders)
    sites = [s.node for s in search.sites[: search.recorders] if s.node >= 0 and s.id not in forbidden]
    terminals = [int(network.point_node[search.cameras[c].row]) for c in cameras]
    if not sites or not terminals:
        return None
    try:
        found = cheapest_trenches(
            ends, search.works[usable], np.unique(sites), np.unique(terminals), seconds=TRENCH_SECONDS
        )
    except ValueError:
        return None
    return replace(found, edges=tuple(int(segment[edge]) for edge in found.edges))


TRENCH_SECONDS = 60.0


def _bound(
    search: LinkSearch,
    easiest: LinkSearch,
    loose: Sequence[Found],
    task: PlacementTask,
    answer: PlacementAnswer,
    progress: Progress,
) -> float:
    """Return what any design that serves these cameras costs at least; NaN where that is not known.

    Without proposed routes and spare cables the program's own bound. Else links and recorders as if all works were
    paid and every spare cable were free to all (`easiest`, with its links `loose`), plus the cheapest trenches that
    join the cameras to recorders.
    """
    if easiest is search and not search.spares:
        return answer.bound
    easy = placement_task(easiest, distinct(easiest, loose), sections([easiest], {}), {})
    easy = replace(easy, candidates=tuple(replace(c, spares=()) for c in easy.candidates))
    least = solve_placement(easy, progress)
    if not comparable(task, answer, easy, least):
        return NAN
    served = np.flatnonzero(answer.choice >= 0).tolist()
    trenches = least_trenches(search, served) if easiest is not search else None
    return least.bound + (trenches.bound if trenches is not None else 0.0)


def comparable(
    task: PlacementTask, answer: PlacementAnswer, easy: PlacementTask, least: PlacementAnswer
) -> bool:
    """Whether two answers are alike in all that comes before the cost: cameras served, unverified, discouraged."""
    served = [sorted(np.flatnonzero(each.choice >= 0).tolist()) for each in (answer, least)]
    return served[0] == served[1] and _before_cost(task, answer) == _before_cost(easy, least)


def _before_cost(task: PlacementTask, choices: Choices) -> tuple[int, int]:
    links = [task.candidates[int(k)] for k in choices.choice if k >= 0]
    laid = [s for s, n in zip(task.sections, choices.cable, strict=True) if n >= 0]
    marks = [(each.verify, each.discouraged) for each in links] + [(s.verify, s.discouraged) for s in laid]
    return sum(verify for verify, _ in marks), sum(discouraged for _, discouraged in marks)


ROUNDING_PERCENT = 1e-7
"""Gap that is nothing but rounding."""


def bounded(answer: PlacementAnswer, bound: float, gap_percent: float) -> PlacementAnswer:
    """Return the answer with a bound that holds for every way, not only for those found.

    An answer farther from it than the gap allowed is the best found, not proven.
    """
    value = answer.objective_value
    bound = min(bound, value) if not np.isnan(bound) else NAN
    gap = 100 * (value - bound) / abs(value) if value else 0.0
    proven = answer.status == "optimal" and gap <= gap_percent + ROUNDING_PERCENT
    status = answer.status if proven or answer.status != "optimal" else "best_found"
    return replace(answer, bound=bound, gap_percent=gap, status=status)
