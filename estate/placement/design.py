"""The whole design: candidate links, the choice of recorders, one link per camera, findings."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Finding, numbered
from estate.links.camera import CameraFacts, camera_facts
from estate.links.conductor_faults import conductor_findings
from estate.links.conductors import conductor_use
from estate.links.cures import Cure
from estate.links.found import Found
from estate.links.link import Link
from estate.links.miss import Miss, miss_in_words, nearest_misses
from estate.links.prices import PriceBook
from estate.links.search import LinkSearch
from estate.links.separation import SegmentSeparation
from estate.links.site import recorder_sites
from estate.network.network import Network
from estate.placement.candidates import placement_task
from estate.placement.chosen import chosen_link, no_link
from estate.placement.cut_findings import cut_findings
from estate.placement.cuts import Cut, single_cuts
from estate.placement.explain import short
from estate.placement.fill import fill_findings
from estate.placement.findings import design_findings
from estate.placement.mains_findings import near_mains_cures
from estate.placement.recorders import RecorderUse, recorders_used
from estate.placement.solve import solve_placement
from estate.placement.task import PlacementAnswer, PlacementTask
from estate.survey.survey import Survey


@dataclass(frozen=True)
class Design:
    """What a design decided, and all it was decided from."""

    survey: Survey
    catalogue: Catalogue
    network: Network
    separation: SegmentSeparation
    prices: PriceBook
    cameras: tuple[CameraFacts, ...]
    links: tuple[Link, ...]
    recorders: tuple[RecorderUse, ...]
    works: dict[int, float]
    """Proposed segments that are made, with their money, each once."""
    answer: PlacementAnswer
    findings: tuple[Finding, ...]
    cures: tuple[Cure, ...] = ()
    """What would mend the segments too near mains, by segment, the cheapest first."""
    cuts: tuple[Cut, ...] = ()
    """Every single cut, the worst first."""


def make_design(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    separation: SegmentSeparation,
    progress: Callable[[str], None],
) -> Design:
    """Design an estate: search every link, choose the recorders, judge what was chosen."""
    prices = PriceBook(survey.settings.prices, catalogue.rates)
    cameras = camera_facts(survey.points)
    sites = recorder_sites(survey, network, catalogue)
    search = LinkSearch(network, survey, catalogue, prices, separation, cameras, sites)
    found = _found_links(search, progress)
    paid_search = search.with_works_paid()
    paid = _found_links(paid_search, progress) if shares_works(search) else []
    found = distinct([*found, *paid])
    task = placement_task(search, found)
    progress("choosing recorders")
    answer = solve_placement(task, progress)
    if paid:
        answer = bounded(
            answer, solve_placement(placement_task(paid_search, paid), progress), task.gap_percent
        )
    progress("judging links")
    misses = _misses(search, found, task, answer)
    chosen = {int(task.candidates[c].camera): found[c] for c in answer.choice if c >= 0}
    search.designed = {search.cameras[k].id: each for k, each in chosen.items()}
    links = tuple(
        chosen_link(search, chosen[k]) if k in chosen else no_link(camera, misses[k][0])
        for k, camera in enumerate(cameras)
    )
    recorders = recorders_used(search, task, answer, links)
    works = {s: task.works_cost[s] for c in answer.choice if c >= 0 for s in task.candidates[c].works}
    cures = near_mains_cures(search, links)
    heads = [use.site.node for use in recorders]
    cuts = single_cuts(survey, network, links, heads)
    findings = design_findings(search, links, {k: m for k, (_, m) in misses.items()}, recorders, cures)
    return Design(
        survey=survey,
        catalogue=catalogue,
        network=network,
        separation=separation,
        prices=prices,
        cameras=tuple(cameras),
        links=links,
        recorders=recorders,
        works=dict(sorted(works.items())),
        answer=answer,
        findings=numbered(
            (
                *network.findings,
                *findings,
                *fill_findings(survey, catalogue, network, links),
                *_conductor_findings(catalogue, links),
                *cut_findings(network, prices, cuts, links, heads),
            )
        ),
        cures=tuple(cures),
        cuts=cuts,
    )


def _conductor_findings(catalogue: Catalogue, links: tuple[Link, ...]) -> list[Finding]:
    """Return what is wrong with the use of conductors: one finding per link whose method misuses them."""
    found: list[Finding] = []
    for link in links:
        for run in link.runs:
            feed = catalogue.feeds.get(run.feed)
            uses = conductor_use(catalogue.methods[run.method], catalogue.cables[run.cable], feed, catalogue)
            purposes = {use.conductor: use.purpose for use in uses}
            if catalogue.cables[run.cable].family == "pair":
                found += conductor_findings(purposes, link.id, link.camera, catalogue)
    return found


def _found_links(search: LinkSearch, progress: Callable[[str], None]) -> list[Found]:
    """Return every candidate; links that rest on an unverified fact of the site only for cameras with no other."""
    everyone = range(len(search.cameras))
    found = search.candidates(everyone, with_verify=False, progress=progress)
    if search.settings.limits.verify_in_design == "last":
        linked = {each.camera for each in found}
        without = [camera for camera in everyone if camera not in linked]
        found += search.candidates(without, with_verify=True, progress=progress)
    return found


def shares_works(search: LinkSearch) -> bool:
    """Whether links could share works that the objective pays for."""
    return search.settings.design.objective == "cost" and bool((search.works > 0).any())


def distinct(found: list[Found]) -> list[Found]:
    """Return the links in a fixed order, each way once."""
    once = {f.key: f for f in found}

    def order(f: Found) -> tuple[object, ...]:
        cables = tuple(stretch.variant.cables for stretch in f.stretches)
        return f.camera, f.site, f.scheme.name, f.scheme.feed, cables, f.segments, f.spares, f.nodes

    return sorted(once.values(), key=order)


def bounded(answer: PlacementAnswer, relaxed: PlacementAnswer, gap_percent: float) -> PlacementAnswer:
    """Return the answer with a bound that holds for every way, not only for those found.

    `relaxed` chose among the cheapest ways as if all works were paid, so no design costs less. An answer farther
    from that than the gap allowed is the best found, not proven.
    """
    comparable = (answer.choice >= 0).sum() == (relaxed.choice >= 0).sum()
    bound = relaxed.bound if comparable else NAN
    value = answer.objective_value
    gap = 100 * (value - bound) / abs(value) if value else 0.0
    proven = answer.status == "optimal" and gap <= gap_percent
    status = answer.status if proven or answer.status != "optimal" else "best_found"
    return replace(answer, bound=bound, gap_percent=gap, status=status)


def _misses(
    search: LinkSearch, found: list[Found], task: PlacementTask, answer: PlacementAnswer
) -> dict[int, tuple[str, list[Miss]]]:
    """Return for every camera without a link why, in words, and the misses it rests on."""
    had = {each.camera for each in found}
    without = [k for k in range(len(search.cameras)) if answer.choice[k] < 0]
    no_room = "; ".join(short(task, answer)) if any(k in had for k in without) else ""
    misses: dict[int, tuple[str, list[Miss]]] = {
        k: (f"a link stands, but no recorder has room: {no_room}", []) for k in without if k in had
    }
    for k, nearest in nearest_misses(search, [k for k in without if k not in had]).items():
        misses[k] = (miss_in_words(nearest) or "there is no recorder site", nearest)
    return misses
