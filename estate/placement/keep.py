"""What a design keeps of what is installed: links that stand cost nothing, cables in use may be taken over by other links."""

from collections.abc import Sequence
from dataclasses import replace

from estate.findings import Verdict
from estate.installed.link import InstalledLink
from estate.links.found import Found
from estate.links.link import Link
from estate.links.reusable import reusable_cables
from estate.links.search import LinkSearch
from estate.links.site import SiteFacts

KEPT = "kept"
"""Basis of a link that stays as it is."""

STANDS = (Verdict.WITHIN, Verdict.MARGINAL)


def with_installed(search: LinkSearch, installed: Sequence[InstalledLink]) -> LinkSearch:
    """Return the search with the signal cables of cameras' links to be taken over, whole or cut where equipment can stand.

    A cable of a link that was measured to fail is left out: what is wrong with it is not known.
    """
    if not installed:
        return search
    types = dict(zip(search.survey.cables["id"], search.survey.cables["cable"], strict=True))
    entries = search.catalogue.cables
    names = [
        name
        for each in installed
        if each.link.kind == "camera" and not measured_to_fail(each)
        for name in each.cables
        if types.get(name) in entries and entries[str(types[name])].family != "power"
    ]
    stops = search.powered_nodes.tolist()
    made = reusable_cables(search.survey, search.network, search.catalogue, names, stops)
    return replace(search, reusable=made)


def measured_to_fail(each: InstalledLink) -> bool:
    """Whether a measurement, or the picture, speaks against a link."""
    return any(
        line.basis == "measured" and line.verdict is Verdict.OUTSIDE and not line.informs
        for line in each.link.lines
    )


def kept_candidates(search: LinkSearch, installed: Sequence[InstalledLink]) -> list[Found]:
    """Return the installed links that a design may keep, as candidates at no cost: settled, within limits or marginal.

    Their heads are recorders that stand.
    """
    cameras = {camera.id: k for k, camera in enumerate(search.cameras)}
    sites = {site.id: k for k, site in enumerate(search.sites) if site.existing and not site.is_cabinet}
    kept = []
    for each in installed:
        link = each.link
        if each.found is None or each.deciding or link.verdict not in STANDS or link.kind != "camera":
            continue
        if link.camera in cameras and link.head in sites:
            found = replace(
                each.found,
                camera=cameras[link.camera],
                site=sites[link.head],
                own_cost=0.0,
                works_cost=0.0,
                new_cable_m=0.0,
                discouraged=False,
                kept=each.cables,
            )
            kept.append(found)
    return kept


def kept_link(each: InstalledLink, recorder: SiteFacts) -> Link:
    """Return an installed link as a link of the design, nothing of it to be bought."""
    names = "+".join(each.cables)
    runs = tuple(replace(run, installed=run.installed or names, purchase_m=0.0) for run in each.link.runs)
    return replace(
        each.link, id=f"L-{each.link.camera}", recorder=recorder.id, runs=runs, own_cost=0.0, basis=KEPT
    )
