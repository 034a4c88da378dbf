"""The whole design: candidate links, the choice of recorders, one link per camera, findings."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from estate.catalogue.tables import Catalogue
from estate.findings import Finding, numbered
from estate.installed.fill import Containment
from estate.installed.link import InstalledLink
from estate.links.camera import CameraFacts, camera_facts
from estate.links.changes import Change, changes_for
from estate.links.chosen import chosen_link, no_link
from estate.links.conductor_faults import conductor_findings
from estate.links.conductors import conductor_use
from estate.links.cures import Cure
from estate.links.found import Found
from estate.links.link import Link
from estate.links.miss import Miss
from estate.links.prices import PriceBook
from estate.links.search import LinkSearch
from estate.links.separation import SegmentSeparation
from estate.links.site import SiteFacts, cabinet_sites, recorder_sites
from estate.network.network import Network
from estate.placement.cabinets import CabinetUse, Trunk
from estate.placement.choosing import choose
from estate.placement.cut_findings import cut_findings
from estate.placement.cuts import Cut, single_cuts
from estate.placement.fill_findings import fill_findings, new_cables_laid, recover_findings
from estate.placement.findings import design_findings
from estate.placement.keep import kept_candidates, kept_link, with_installed
from estate.placement.left_out import LeftOut, left_out
from estate.placement.mains_findings import near_mains_cures
from estate.placement.others import Alternative, alternatives, link_heads, standing_cameras
from estate.placement.places import segment_users
from estate.placement.profiles import ProfilePoint, link_profiles
from estate.placement.pull_findings import DesignedPull, designed_pulls, pull_findings
from estate.placement.recorders import RecorderUse, recorders_used
from estate.placement.task import Ints, PlacementAnswer
from estate.placement.unknown_power import power_lines
from estate.placement.uplinks import cabinets_used, trunks_laid, uplink_links
from estate.placement.verify_uplinks import works_built
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
    containment: Containment
    """Ways for cable with the listed cables that lie in them."""
    laid: Mapping[int, Counter[str]]
    """New cables by segment and type."""
    pulls: tuple[DesignedPull, ...]
    """What pulling them takes, by pull section and type."""
    cures: tuple[Cure, ...] = ()
    """What would mend the segments too near mains, by segment, the cheapest first."""
    cabinets: tuple[CabinetUse, ...] = ()
    trunks: tuple[Trunk, ...] = ()
    """Cables that uplinks run in."""
    cuts: tuple[Cut, ...] = ()
    """Every single cut, the worst first."""
    alternatives: tuple[Alternative, ...] = ()
    """Links that stand beside the chosen ones, by camera, the cheapest first."""
    misses: Mapping[str, tuple[Miss, ...]] = field(default_factory=dict)
    """Of cameras without a link, the nearest miss of each method, the nearest first."""
    changes: Mapping[str, tuple[Change, ...]] = field(default_factory=dict)
    """Of cameras without a link, what would give them one, the cheapest first."""
    profiles: tuple[ProfilePoint, ...] = ()
    """How the budgets of the links fill up along them."""


def link_search(
    survey: Survey, catalogue: Catalogue, network: Network, separation: SegmentSeparation
) -> LinkSearch:
    """Return the search for links of an estate, from its recorders and its cabinets."""
    prices = PriceBook(survey.settings.prices, catalogue.rates)
    sites = [*recorder_sites(survey, network, catalogue), *cabinet_sites(survey, network)]
    return LinkSearch(network, survey, catalogue, prices, separation, camera_facts(survey.points), sites)


def make_design(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    separation: SegmentSeparation,
    progress: Callable[[str], None],
    others: int = 0,
    installed: Sequence[InstalledLink] = (),
) -> Design:
    """Design an estate: search every link, choose the recorders, judge what was chosen.

    `others` is how many links beside the chosen one are looked for, for each camera. `installed` are the installed
    links: those that stand may be kept at no cost, and cables of all of them taken over.
    """
    search = with_installed(link_search(survey, catalogue, network, separation), installed)
    chosen = choose(search, progress, kept_candidates(search, installed))
    task, answer = chosen.task, chosen.answer
    progress("judging links")
    out = left_out(search, chosen)
    taken = {k: chosen.found[c] for k, c in enumerate(answer.choice) if c >= 0}
    search.designed = {search.cameras[k].id: each for k, each in taken.items()}
    own = _camera_links(search, answer.recorders(task), out, installed)
    trunks = trunks_laid(search, task, answer)
    links = (*own, *uplink_links(search, task, answer, trunks, own))
    recorders = recorders_used(search, task, answer, links)
    works = {s: task.works_cost[s] for s in sorted(works_built(task, answer))}
    cures = near_mains_cures(search, links)
    heads = [use.site.node for use in recorders]
    containment, laid = chosen.containment, new_cables_laid(links)
    pulls = designed_pulls(survey, network, catalogue, links)
    cuts = single_cuts(survey, network, links, heads)
    changes = _changes(search, out, progress)
    findings = (
        *_with_changes((*network.findings, *design_findings(search, links, out, recorders, cures)), changes),
        *fill_findings(containment, laid, segment_users(links)),
        *recover_findings(containment, laid),
        *pull_findings(survey, network, catalogue, pulls),
        *_conductor_findings(catalogue, links),
        *cut_findings(network, search.prices, cuts, links, heads),
    )
    cabinets = cabinets_used(search, task, answer)
    return Design(
        survey=survey,
        catalogue=catalogue,
        network=network,
        separation=separation,
        prices=search.prices,
        cameras=tuple(search.cameras),
        links=links,
        recorders=recorders,
        works=works,
        answer=answer,
        findings=numbered(findings),
        containment=containment,
        laid=laid,
        pulls=pulls,
        cures=tuple(cures),
        cabinets=cabinets,
        trunks=tuple(trunks.values()),
        cuts=cuts,
        alternatives=alternatives(
            search,
            taken,
            standing_cameras(chosen.found),
            link_heads(search, _with_switch(cabinets)),
            others,
            progress,
        ),
        misses={search.cameras[k].id: each.misses for k, each in out.items()},
        changes=changes,
        profiles=link_profiles(search, links, search.designed),
    )


def _camera_links(
    search: LinkSearch,
    homes: Ints,
    out: Mapping[int, LeftOut],
    installed: Sequence[InstalledLink],
) -> tuple[Link, ...]:
    """Return each camera's link: the one chosen, else one that says why there is none."""
    stands = {each.link.camera: each for each in installed}
    return tuple(
        _taken_link(search, search.designed[camera.id], search.sites[homes[k]], stands)
        if camera.id in search.designed
        else no_link(camera, out[k].why)
        for k, camera in enumerate(search.cameras)
    )


def _taken_link(
    search: LinkSearch, found: Found, recorder: SiteFacts, stands: Mapping[str, InstalledLink]
) -> Link:
    """Return a chosen link: an installed one that is kept as it is, any other as it will be laid."""
    if found.kept:
        return kept_link(stands[search.cameras[found.camera].id], recorder)
    return chosen_link(search, found, recorder, power_lines(search, found))


def _with_switch(cabinets: Sequence[CabinetUse]) -> list[str]:
    return [use.patch.id for use in cabinets if use.switch is not None]


def _changes(
    search: LinkSearch, out: Mapping[int, LeftOut], progress: Callable[[str], None]
) -> dict[str, tuple[Change, ...]]:
    """Return what would give a link to the cameras for which none stands."""
    without = [k for k, each in out.items() if each.misses]
    if without:
        progress("what would give links to cameras without one")
    return {search.cameras[k].id: tuple(found) for k, found in changes_for(search, without).items()}


def _with_changes(
    findings: Sequence[Finding], changes: Mapping[str, tuple[Change, ...]]
) -> Iterator[Finding]:
    """Yield findings; that of a camera without a link has the least change that would give it one as its remedy."""
    for finding in findings:
        camera = finding.cameras[0] if len(finding.cameras) == 1 else ""
        if camera in changes and changes[camera] and finding.text.startswith(f"camera {camera} "):
            least = changes[camera][0]
            yield replace(finding, remedy=f"would stand with: {least.told}", cost=least.total)
        else:
            yield finding


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
