"""The whole audit: every installed cable as a link, judged, with findings in the order that clients read them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from estate.audit.assets import Asset, assets_of
from estate.audit.completeness import Share, completeness
from estate.audit.cured import Cured, cures_of
from estate.audit.judge import audit_findings
from estate.audit.judge_links import segments_to_repeat
from estate.audit.ranking import ranked
from estate.audit.record_findings import unfitting_findings
from estate.audit.recorders import recorders_in_use
from estate.audit.records import Record, records
from estate.audit.remedy import with_remedies
from estate.audit.survey_list import Question, survey_list
from estate.catalogue.tables import Catalogue
from estate.findings import Finding
from estate.installed.circuits import plant_of
from estate.installed.fill import Containment, containment_of
from estate.installed.heads import cabinet_heads
from estate.installed.link import InstalledLink
from estate.installed.links import Installed, installed_links
from estate.installed.rows import cable_rows
from estate.installed.uplinks import installed_uplinks
from estate.installed.ways import LaidPiece
from estate.links.camera import CameraFacts, camera_facts
from estate.links.link import Link
from estate.links.prices import PriceBook
from estate.links.search import LinkSearch
from estate.links.separation import SegmentSeparation
from estate.links.site import recorder_sites
from estate.network.network import Network
from estate.placement.cuts import Cut, single_cuts
from estate.placement.fill_findings import overfilled, recover_findings
from estate.placement.places import segment_users
from estate.placement.recorders import RecorderUse
from estate.survey.survey import Survey


@dataclass(frozen=True)
class Audit:
    """What an audit found, and all it was found from."""

    survey: Survey
    catalogue: Catalogue
    network: Network
    separation: SegmentSeparation
    prices: PriceBook
    search: LinkSearch
    cameras: tuple[CameraFacts, ...]
    installed: tuple[InstalledLink, ...]
    """One for each camera, in their order, then one for each uplink."""
    laid: tuple[LaidPiece, ...]
    """Where the cables in use lie, as far as that is known."""
    recorders: tuple[RecorderUse, ...]
    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...]
    """Ranked and numbered."""
    questions: tuple[Question, ...]
    """What to find out on site."""
    assets: tuple[Asset, ...]
    containment: Containment
    """Ways for cable with the listed cables that lie in them."""
    records: tuple[Record, ...]
    """Where the records don't fit."""
    completeness: tuple[Share, ...]
    """How much of what judging needs is known, by layer and column."""
    cured: Cured
    """Remedies, the programme of them, and what could serve again."""
    to_repeat: frozenset[int] = frozenset()
    """Segments on which links pass the limits of their signal."""

    @property
    def links(self) -> tuple[Link, ...]:
        """The links, in the order of `installed`."""
        return tuple(each.link for each in self.installed)


def audit_search(
    survey: Survey, catalogue: Catalogue, network: Network, separation: SegmentSeparation
) -> LinkSearch:
    """Return the ground that installed links are judged on: heads are recorders and cabinets with a switch.

    Separation from mains governs here whatever a design may pay for.
    """
    settings = replace(survey.settings, design=replace(survey.settings.design, proximity="ban"))
    judged_by = replace(survey, settings=settings)
    prices = PriceBook(settings.prices, catalogue.rates)
    plant = plant_of(survey, cable_rows(survey, catalogue), catalogue)
    sites = [*recorder_sites(survey, network, catalogue), *cabinet_heads(survey, network, plant)]
    return LinkSearch(network, judged_by, catalogue, prices, separation, camera_facts(survey.points), sites)


def make_audit(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    separation: SegmentSeparation,
    progress: Callable[[str], None],
    budget: float | None = None,
) -> Audit:
    """Audit what is installed: every cable in use as a link, judged over every value of what is not known.

    `budget` is money for the programme of remedies [currency].
    """
    progress("installed cables as links")
    search = audit_search(survey, catalogue, network, separation)
    stands = installed_links(search)
    uplinks, trunks = installed_uplinks(search, stands)
    installed = (*_recorded(stands, uplinks), *uplinks)
    search.designed = {each.link.camera: each.found for each in installed if each.found is not None}
    links = [each.link for each in installed]
    progress("findings")
    recorders = recorders_in_use(search, links)
    heads = sorted({use.site.node for use in recorders if use.site.node >= 0})
    cuts = single_cuts(survey, network, links, heads)
    laid = tuple({piece.row.id: piece for piece in (*stands.laid, *trunks)}.values())
    found = audit_findings(search, stands, installed, laid, recorders, cuts)
    containment = containment_of(survey, catalogue, network)
    records_found, shares = records(containment), completeness(survey)
    found += [
        *overfilled(containment, {}, segment_users(links)),
        *recover_findings(containment, {}),
        *unfitting_findings(survey.settings.estate.title, records_found, shares),
    ]
    cured = cures_of(survey, catalogue, network, installed, progress, budget)
    findings = ranked(with_remedies((*network.findings, *found), cured.remedies))
    return Audit(
        survey=survey,
        catalogue=catalogue,
        network=network,
        separation=separation,
        prices=search.prices,
        search=search,
        cameras=tuple(search.cameras),
        installed=installed,
        laid=laid,
        recorders=recorders,
        cuts=cuts,
        findings=findings,
        questions=survey_list(search, installed),
        assets=assets_of(search, stands, installed, recorders, findings),
        containment=containment,
        records=records_found,
        completeness=shares,
        cured=cured,
        to_repeat=frozenset(segments_to_repeat(search, installed)),
    )


def _recorded(stands: Installed, uplinks: Sequence[InstalledLink]) -> list[InstalledLink]:
    """Return the cameras' links with the recorder that each is recorded at: that of its cabinet's uplink."""
    homes = {
        each.link.id.partition("-")[2]: each.link.recorder for each in uplinks if each.link.kind == "uplink"
    }
    return [
        replace(each, link=replace(each.link, recorder=homes.get(each.link.head, each.link.recorder)))
        for each in stands.links
    ]
