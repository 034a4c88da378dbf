"""Findings between earths: shock, ground loop and surge, told apart. Cures are metal-free or isolated."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from estate.findings import Action, Effect, Finding, Severity, Verdict
from estate.links.earths import SOURCE, EarthJudgement, between
from estate.links.judging import stretch_earths
from estate.links.link import Link
from estate.links.protectors import protectors
from estate.links.search import LinkSearch
from estate.placement.places import middle, served_by

DESIGNER = "refer to a competent electrical designer"
METAL_FREE = f"metal-free fibre, or a recorder in the camera's building; {DESIGNER}"
ISOLATED = (
    "an isolator of at least 3 kV r.m.s. and 7 kV impulse, outer conductor earthed on the outdoor side (AS/CA S009:2013, "
    f"second hand), or metal-free fibre; {DESIGNER}"
)


def earth_findings(search: LinkSearch, links: Sequence[Link]) -> list[Finding]:
    """Return the findings of links between earths, of metal containment that joins them, and of surges."""
    return [
        *link_earths(search, links),
        *presumed(search, links),
        *joining_routes(search, links),
        *_leaving_buildings(search),
        *supply_loops(search, links),
    ]


def judged_link(search: LinkSearch, link: Link) -> list[EarthJudgement]:
    """Return what a link does between the earths of its ends, stretch by stretch; empty where it has no way."""
    if link.camera in search.designed:
        found = search.designed[link.camera]
        return [stretch_earths(search, found, k) for k in range(len(found.stretches))]
    rows = search.survey.points.row_of()
    if not link.nodes or link.camera not in rows or link.head not in rows:
        return []
    isolated = any(search.catalogue.items[each.item].kind == "isolator" for each in link.equipment)
    ends = rows[link.camera], rows[link.head]
    return [search.earths.judge(link.cables, link.feed, *ends, link.segments, isolated=isolated)]


def link_earths(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield links that join different earths, or earths not known."""
    judged = [(link, found) for link in links for found in judged_link(search, link)]
    for link, found in judged:
        if found.verdict is Verdict.WITHIN:
            continue
        isolated = any(search.catalogue.items[each.item].kind == "isolator" for each in link.equipment)
        severity, effect, action = _weight(found)
        x, y = (float(v[link.nodes[-1]]) for v in (search.network.node_x, search.network.node_y))
        yield Finding(
            severity, effect, action, "link", link.id, f"link {link.id}: {found.text}",
            x=x, y=y, source=SOURCE, remedy=ISOLATED if isolated else METAL_FREE, cameras=(link.camera,),
        )  # fmt: skip


def _weight(found: EarthJudgement) -> tuple[Severity, Effect, Action]:
    """Return how much a judgement matters: an earth path from TT to an exported earth can hurt a person."""
    if found.verdict is Verdict.OUTSIDE:
        return Severity.DANGER, Effect.DANGER, Action.CONVERT
    if found.verdict is Verdict.VERIFY:
        return Severity.FAULT, Effect.DANGER if found.paths else Effect.DEGRADED, Action.SURVEY
    if found.paths:
        return Severity.FAULT, Effect.PICTURE, Action.CONVERT
    return (Severity.FAULT if found.mixed else Severity.WATCH), Effect.DEGRADED, Action.PROTECT


def presumed(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield one finding for all links whose earths outdoors rest on the nearest building's."""
    cameras = [link.camera for link in links if any(each.presumed for each in judged_link(search, link))]
    if cameras:
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", search.settings.estate.title,
            f"{len(cameras)} link{' is' if len(cameras) == 1 else 's are'} at a camera or recorder outdoors: its earth is taken as the nearest building's",
            source=SOURCE,
            remedy="establish on site whether each camera is insulated from earthed steel, and from where it is fed; "
            "enter insulated or earth_zone",
            cameras=tuple(sorted(cameras)),
        )  # fmt: skip


def joining_routes(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield routes whose metal containment joins buildings of different earths, laid or used."""
    network = search.network
    used = {segment for link in links for segment in link.segments}
    for route, kind, zones in search.earths.joining_routes():
        segments = np.flatnonzero(network.segment_route == route).tolist()
        if all(network.segment_proposed[s] and s not in used for s in segments):
            continue
        found = between(zones, [kind])
        severity, effect, action = _weight(found)
        name = str(search.survey.routes["id"][route])
        x, y = middle(network, segments[0])
        yield Finding(
            severity, effect, action, "route", name, f"route {name}: {found.text}", x=x, y=y, source=SOURCE,
            remedy=f"have it opened or insulated at one building; {DESIGNER}; metal-free fibre does not cure the strand",
            cameras=served_by(links, [link for link in links if set(link.segments) & set(segments)]),
        )  # fmt: skip


# Surges


def _leaving_buildings(search: LinkSearch) -> Iterator[Finding]:
    """Yield one finding for all copper links with a stretch outdoors: the surge decision at both ends of each."""
    told: dict[str, set[str]] = defaultdict(set)
    for camera, found in sorted(search.designed.items()):
        for stretch in found.stretches:
            if not any(search.catalogue.cables[c].metallic for c in stretch.variant.cables):
                continue
            if not search.leaves_building(stretch.segments):
                continue
            items, missing = protectors(stretch.variant, stretch.signal, search.catalogue)
            words = " and ".join([*items, *(f"none listed for {what}" for what in missing)])
            told[words or "none, no copper conductor: earth the armour as the designer says"].add(camera)
    if not told:
        return
    leaving = sorted(set().union(*told.values()))
    fit = "; ".join(f"{words}: {', '.join(sorted(cameras))}" for words, cameras in sorted(told.items()))
    count = f"{len(leaving)} copper link{'s leave' if len(leaving) != 1 else ' leaves'}"
    yield Finding(
        Severity.WATCH, Effect.DEGRADED, Action.PROTECT, "estate", search.settings.estate.title,
        f"{count} a building: surge protectors are counted at both ends of each, on data and on power",
        source="common practice, no source",
        remedy=f"kind and earthing by the electrical designer: {fit}; or metal-free fibre",
        cameras=tuple(leaving),
    )  # fmt: skip


def supply_loops(search: LinkSearch, links: Sequence[Link]) -> Iterator[Finding]:
    """Yield heads where the 0 V of a shared supply and several screens join the same cameras twice over."""
    shared: dict[str, list[Link]] = defaultdict(list)
    for link in links:
        if not link.method or search.catalogue.feeds[link.feed].kind not in ("dc", "ac"):
            continue
        if any(search.catalogue.cables[c].screened for c in link.cables):
            shared[link.head].append(link)
    for head, several in sorted(shared.items()):
        if len(several) < 2:
            continue
        node = several[0].nodes[0]
        yield Finding(
            Severity.WATCH, Effect.DEGRADED, Action.SURVEY, "recorder", head,
            f"{len(several)} cameras at {head} are fed from there and screened: the joined 0 V of a shared supply and "
            "the screens form a loop",
            x=float(search.network.node_x[node]), y=float(search.network.node_y[node]),
            source="common practice, no source",
            remedy=f"a supply with isolated outputs, or unscreened pair over baluns; {DESIGNER}",
            cameras=tuple(sorted(link.camera for link in several)),
        )  # fmt: skip
