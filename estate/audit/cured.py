"""What would cure an audited estate: remedies, the programme that orders them, and what coax and pair could serve again."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from estate.audit.programme import Programme, make_programme
from estate.audit.programme_task import programme_task
from estate.audit.remedies import STANDS, make_remedies
from estate.audit.remedy import Remedies
from estate.audit.reuse import ReuseVerdict, reuse_verdicts
from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.installed.link import InstalledLink
from estate.links.separation import segment_separation
from estate.network.network import Network
from estate.placement.design import link_search
from estate.survey.survey import Survey


@dataclass(frozen=True)
class Cured:
    """What could be done, and in which order."""

    remedies: Remedies
    programme: Programme
    reuse: tuple[ReuseVerdict, ...]


def cures_of(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    installed: Sequence[InstalledLink],
    progress: Callable[[str], None],
    budget: float | None = None,
) -> Cured:
    """Return what would cure the installed links; `budget` is money for the programme [currency].

    What is new is judged as designs are, whatever table old work is judged by. The programme is for cameras whose
    link is outside its limits; links to be verified are tested first.
    """
    limits = replace(survey.settings.limits, separation="en50174")
    design = replace(survey.settings.design, objective="cost", proximity="ban")
    as_new = replace(survey, settings=replace(survey.settings, limits=limits, design=design))
    separation = segment_separation(network, as_new, catalogue)
    search = link_search(as_new, catalogue, network, separation)
    remedies = make_remedies(search, installed, progress)
    priority = {camera.id: camera.priority for camera in search.cameras}
    failing = {
        each.link.camera: priority[each.link.camera]
        for each in installed
        if each.link.camera in priority and each.cables and each.link.verdict not in (*STANDS, Verdict.VERIFY)
    }
    progress("programme")
    programme = make_programme(programme_task(remedies, failing), budget)
    return Cured(remedies, programme, reuse_verdicts(survey, network, catalogue))
