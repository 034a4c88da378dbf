"""What would cure a segment too near mains: computed, priced, the cheapest first."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import LineString, Polygon

from estate.findings import Verdict
from estate.links.found import Found
from estate.links.judging import judged
from estate.links.link import Link
from estate.links.search import LinkSearch
from estate.links.separation import as_drawn, exposures_by_kind, largest_mm, rows_of
from estate.links.variants import Variant, variants
from estate.links.ways import DUG
from estate.network.columns import texts
from estate.network.network import Network
from estate.network.proximity import Exposures, judge
from estate.network.shifted import Shifted, keep_out, one_segment, shifted_line
from estate.survey.survey import Survey
from estate.units import MM_PER_M

BARRIERS = {"open": "basket", "perforated": "tray", "solid": "trunking"}
"""Metal barriers from the least to the most, with the containment that is priced."""

OPEN_TO_BARRIER = ("tray", "basket", "trunking", "conduit", "surface", None)
"""Containments where a barrier can be put between; nothing is put into a duct or into the ground."""

Wanted = Callable[[LinkSearch, Variant, Link], bool]

PASSES = (Verdict.WITHIN, Verdict.CROSSING)
ROUNDS = 4
AROUND_M = 30.0
"""Mains farther from a segment than this and twice its length can't come near its moved line [m]."""

CAUTION = "locate services and hand-dig"


@dataclass(frozen=True, slots=True)
class Cure:
    """One way to mend a segment: `kind` is barrier, moved line, screened cable or fibre.

    `geometry` is the moved line, None for the others; `added_m` what it adds to each link; `links_fail` the links
    that no longer stand with that length.
    """

    kind: str
    segment: int
    text: str
    cost: float
    geometry: LineString | None = None
    added_m: float = 0.0
    links_fail: tuple[str, ...] = ()


def cures_for(search: LinkSearch, segment: int, links: Sequence[Link]) -> list[Cure]:
    """Return what would cure one segment for the links that use it, the cheapest first.

    Without any link the segment is cured for the worst cable that it may carry. A cure that breaks another rule
    (environment, reach, earths, metal containment between earth zones) is left out; a moved line that is too long
    for some link names it. Money is what the cure adds to the present cables [currency].
    """
    users = [link for link in links if segment in link.segments]
    classes = _classes(search, segment, users)
    found = [*segment_cures(search, segment, classes, users), *_other_cables(search, segment, users)]
    return sorted(found, key=_order)


def segment_cures(
    search: LinkSearch, segment: int, classes: Sequence[str], users: Sequence[Link] = ()
) -> list[Cure]:
    """Return what cures a segment for cables of some separation classes and leaves them as they are, the cheapest first."""
    found = [*_barriers(search, segment, classes), *_moved(search, segment, classes, users)]
    return sorted(found, key=_order)


def _order(cure: Cure) -> tuple[bool, float, str]:
    return bool(cure.links_fail), cure.cost, cure.kind


def _classes(search: LinkSearch, segment: int, users: Sequence[Link]) -> list[str]:
    cables = search.catalogue.cables
    if users:
        return sorted({cables[c].separation_class for link in users for c in link.cables_on(segment)})
    allowed = search.settings.design.cables or [c.id for c in cables.values() if not c.legacy]
    return [min(filter(None, (cables[c].separation_class for c in allowed)), default="")]


def _passes(search: LinkSearch, network: Network, exposures: Exposures, classes: Sequence[str]) -> bool:
    """Whether every stretch of a one-segment network keeps its distance for every class."""
    rules, survey = search.separation.rules, search.survey
    return all(
        verdict in PASSES for c in classes for verdict in judge(exposures, network, survey, rules, c).verdict
    )


def _of_segment(search: LinkSearch, segment: int) -> Exposures:
    """Return the exposures of one segment, numbered for a network of it alone."""
    every = search.separation.exposures
    here = np.flatnonzero(every.segment == segment)
    columns = {name: getattr(every, name)[here] for name in every.__dataclass_fields__}
    return Exposures(**{**columns, "segment": np.zeros(len(here), dtype=np.int64)})


# Barrier


def _barriers(search: LinkSearch, segment: int, classes: Sequence[str]) -> Iterator[Cure]:
    """Yield the least metal barrier that suffices by S × P."""
    network = search.network
    if network.segment_containment[segment] not in OPEN_TO_BARRIER or _joins_zones(search, segment):
        return
    exposures = _of_segment(search, segment)
    metres = float(np.minimum(exposures.to_m, network.segment_length_m[segment]).max(initial=0.0)) - float(
        exposures.from_m.min(initial=0.0)
    )
    for barrier, containment in BARRIERS.items():
        if _passes(search, one_segment(network, segment, barrier=barrier), exposures, classes):
            rate = search.prices.rate("containment_m", containment).value
            yield Cure(
                "barrier",
                segment,
                f"{barrier} metal barrier ({containment}) over {metres:.1f} m, bonded as the electrical designer says",
                rate * metres,
            )
            return


def _joins_zones(search: LinkSearch, segment: int) -> bool:
    """Whether metal along a segment would join earth zones: those of the buildings at its two ends."""
    network = search.network
    ends = [int(network.segment_from[segment]), int(network.segment_to[segment])]
    return bool(network.segment_building[segment] < 0) and len(search.earths.node_zones(ends)) > 1


# Moved line


def _moved(search: LinkSearch, segment: int, classes: Sequence[str], users: Sequence[Link]) -> Iterator[Cure]:
    """Yield the segment on a line that keeps clear of every mains run, where there is one."""
    network = search.network
    old = network.segment_geometry[segment]
    if old is None or not len(search.survey.mains):
        return
    found = _clear_line(search, segment, old, classes)
    if found is None:
        return
    added_m = float(found.line.length - old.length)
    fail = tuple(link.id for link in users if not _stands_longer(search, link, segment, added_m))
    dug = network.segment_containment[segment] in DUG
    text = f"move {found.moved_m:.1f} m clear of the mains"
    if dug:
        text += f" as a new trench ({CAUTION})"
    text += f"; {added_m:+.1f} m to each link"
    if found.leads_m:
        text += f"; {found.leads_m:.1f} m of leads at its ends stay within the distance: move the ends or protect them"
    if fail:
        text += f"; then too long: {', '.join(fail)}"
    yield Cure(
        "moved line", segment, text, _moved_cost(search, segment, found, added_m, users), found.line, added_m, fail
    )  # fmt: skip


def _clear_line(search: LinkSearch, segment: int, old: LineString, classes: Sequence[str]) -> Shifted | None:
    """Return the moved line, with its clear distances widened until every run that comes near is kept."""
    network = search.network
    drawn = _around(search.survey, old)
    clear: dict[int, float] = {}
    line, found = old, None
    buildings = search.survey.buildings.geometry
    within = _building(search, segment)
    barred = [b for b in buildings if b is not None and within is None and b.intersection(old).length <= 0]
    for _ in range(ROUNDS):
        alone = one_segment(network, segment, line)
        exposures = exposures_by_kind(alone, drawn, search.separation.rules)
        more = _short(search, alone, drawn, exposures, classes)
        if found is not None and (not more or all(clear.get(run, 0.0) >= m for run, m in more.items())):
            return found
        if not more:
            return None
        clear |= {run: max(metres, clear.get(run, 0.0)) for run, metres in more.items()}
        runs = sorted(clear)
        zone = keep_out([drawn.mains.geometry[r] for r in runs], [clear[r] for r in runs])
        found = shifted_line(old, zone, barred, within)
        if found is None:
            return None
        line = found.line
    return None


def _building(search: LinkSearch, segment: int) -> Polygon | None:
    row = int(search.network.segment_building[segment])
    return search.survey.buildings.geometry[row] if row >= 0 else None


def _around(survey: Survey, line: LineString) -> Survey:
    """Return the survey without declared distances, which a moved line has none of, and with the mains near it only."""
    reach_m = AROUND_M + 2 * float(line.length)
    near = [g is not None and g.dwithin(line, reach_m) for g in survey.mains.geometry]
    return replace(as_drawn(survey), mains=rows_of(survey.mains, np.flatnonzero(near)))


def _short(
    search: LinkSearch, alone: Network, survey: Survey, exposures: Exposures, classes: Sequence[str]
) -> dict[int, float]:
    """Return the runs that a line comes too near, with the distance that certainly keeps them clear [m]."""
    short: dict[int, float] = {}
    lightning = texts(survey.mains, "kind", exposures.mains) == "lightning_protection"
    for c in classes:
        found = judge(exposures, alone, survey, search.separation.rules, c)
        for e, verdict in enumerate(found.verdict):
            run = int(exposures.mains[e])
            if verdict in PASSES or run < 0 or lightning[e]:
                continue
            required_mm = float(found.required_mm[e])
            if np.isnan(required_mm):
                required_mm = largest_mm(search.separation.rules, "mains")
            metres = required_mm / MM_PER_M + float(exposures.accuracy_m[e])
            short[run] = max(metres, short.get(run, 0.0))
    return short


def _moved_cost(
    search: LinkSearch, segment: int, found: Shifted, added_m: float, users: Sequence[Link]
) -> float:
    """Money of the new way, and of the cable that each link takes more [currency]."""
    network, prices = search.network, search.prices
    kind = network.segment_containment[segment]
    rate = prices.rate("containment_m", kind or "surface").value
    if kind in DUG:
        rate += prices.rate("trench_m", network.segment_surface[segment] or "other").value
    pull = prices.rate("pull_m", kind or "other").value
    longer = 1 + search.settings.lengths.slack_percent / 100
    bought = longer * (1 + search.settings.lengths.waste_percent / 100)
    cable = sum(
        max(added_m, 0.0) * (bought * prices.rate("cable_m", c).value + pull)
        for link in users
        for c in link.cables_on(segment)
    )
    return rate * found.moved_m + cable


def _stands_longer(search: LinkSearch, link: Link, segment: int, added_m: float) -> bool:
    """Whether a link still stands with so much more way."""
    found = _found(search, link)
    if found is None:
        return False
    longer = 1 + search.settings.lengths.slack_percent / 100
    more_m = added_m * longer
    stretches = tuple(
        replace(s, cable_length_m=s.cable_length_m + more_m, power_length_m=s.power_length_m + more_m)
        if segment in s.segments
        else s
        for s in found.stretches
    )
    again = judged(search, replace(found, stretches=stretches))
    return all(
        line.verdict in (Verdict.WITHIN, Verdict.MARGINAL)
        for line in again.lines
        if not line.informs and line.quantity != "separation"
    )


def _found(search: LinkSearch, link: Link) -> Found | None:
    """Return a link as the search holds it; None where its ends or cables are not the search's."""
    if link.camera in search.designed:
        return search.designed[link.camera]
    camera = next((k for k, c in enumerate(search.cameras) if c.id == link.camera), None)
    site = next((k for k, s in enumerate(search.sites) if s.id == link.head), None)
    if camera is None or site is None or not link.method:
        return None
    variant = Variant(link.method, link.feed, *link.cables)
    return search.on_way(site, camera, variant, link.nodes, link.segments)


# Other cables


def _other_cables(search: LinkSearch, segment: int, users: Sequence[Link]) -> Iterator[Cure]:
    """Yield a screened cable, and fibre, for all links of a segment together."""
    if not users:
        return
    screened = [_swap(search, link, segment, _is_screened) for link in users]
    if all(s is not None for s in screened):
        pairs = [s for s in screened if s is not None]
        names = sorted({new.variant.signal_cable for _, new in pairs})
        ends = sum(2 * search.prices.rate("termination", "pair-screened").value for _ in pairs)
        racks = len({new.site for _, new in pairs}) * search.prices.rate("termination", "rack-bond").value
        yield Cure(
            "screened cable",
            segment,
            f"screened cable {', '.join(names)} with screened outlets and a bonded rack at the head",
            sum(new.own_cost - old.own_cost for old, new in pairs) + ends + racks,
        )
    glass = [_swap(search, link, segment, _is_glass) for link in users]
    if all(g is not None for g in glass):
        pairs = [g for g in glass if g is not None]
        names = sorted({new.variant.signal_cable for _, new in pairs})
        yield Cure(
            "fibre",
            segment,
            f"metal-free fibre {', '.join(names)} with its converters",
            sum(new.own_cost - old.own_cost for old, new in pairs),
        )


def _is_screened(search: LinkSearch, variant: Variant, link: Link) -> bool:
    cable = search.catalogue.cables[variant.signal_cable]
    same = (variant.method, variant.feed) == (link.method, link.feed)
    return same and cable.family == "pair" and cable.separation_class in ("c", "d")


def _is_glass(search: LinkSearch, variant: Variant, _link: Link) -> bool:
    cable = search.catalogue.cables[variant.signal_cable]
    return cable.family == "fibre" and not cable.metallic


def _swap(search: LinkSearch, link: Link, segment: int, wanted: Wanted) -> tuple[Found, Found] | None:
    """Return a link as it is and with the cheapest other cable of a kind that stands on the same way."""
    old = _found(search, link)
    if old is None or len(old.stretches) > 1:
        return None
    camera, place = search.cameras[old.camera], search.sites[old.site]
    best = None
    for variant in variants(camera, place.head, search.catalogue, search.settings.design):
        if variant.cables == link.cables or not wanted(search, variant, link):
            continue
        new = search.on_way(old.site, old.camera, variant, link.nodes, link.segments)
        if not _stands(search, new, segment):
            continue
        if best is None or new.own_cost < best.own_cost:
            best = new
    return (old, best) if best is not None else None


def _stands(search: LinkSearch, found: Found, segment: int) -> bool:
    """Whether a link stands, its environment and the segment's separation included."""
    if not all(search.open(found.variant.cables, with_verify=True)[list(found.segments)]):
        return False
    classes = [search.catalogue.cables[c].separation_class for c in found.variant.cables]
    near = [search.separation.line((segment,), c, informs=False) for c in classes]
    if any(line is not None and line.verdict is not Verdict.WITHIN for line in near):
        return False
    return all(
        line.verdict in (Verdict.WITHIN, Verdict.MARGINAL) or line.quantity == "separation"
        for line in found.lines
        if not line.informs
    )
