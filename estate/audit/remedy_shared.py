"""Remedies that several cameras can share: segments brought up to separation, new routes, room in ducts, fibre with a switch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from estate.audit.remedy import Remedy
from estate.findings import Action, Verdict
from estate.installed.fill import Containment
from estate.installed.link import InstalledLink
from estate.links.cures import Cure, cures_for
from estate.links.found import Found
from estate.links.prices import Rate
from estate.links.search import LinkSearch
from estate.links.ways import DUG
from estate.placement.candidates import cabinet_money
from estate.placement.channels import channels_needed
from estate.placement.room import new_cables, overfull, rooms_mm2
from estate.placement.sections import sections
from estate.placement.task import Section

ON_SEGMENT = ("barrier", "moved line")
"""Cures of a segment that leave the cables as they are."""

HAND_DIG = "locate services and hand-dig"


def named(kind: str, subject: str) -> str:
    """Return the id of a shared remedy."""
    return f"{kind} {subject}"


# Separation of segments


def separation_remedies(
    search: LinkSearch, installed: Sequence[InstalledLink]
) -> tuple[dict[int, Remedy], dict[int, Cure]]:
    """Return the cheapest cure of each segment where installed links are too near mains, that leaves cables as they are.

    Its money is that of the cure for all links there together.
    """
    links = [each.link for each in installed]
    near = sorted({s for each in installed for s in too_near(search, each)})
    remedies, cures = {}, {}
    for segment in near:
        cure = next((c for c in cures_for(search, segment, links) if c.kind in ON_SEGMENT), None)
        if cure is None:
            continue
        name = str(search.network.segment_id[segment])
        cures[segment] = cure
        remedies[segment] = Remedy(
            named("separation", name), Action.RELOCATE, cure.kind, "segment", name, f"{name}: {cure.text}",
            cure.cost, any(rate.invented for rate in _cure_rates(search, segment, cure)),
        )  # fmt: skip
    return remedies, cures


def too_near(search: LinkSearch, installed: InstalledLink) -> set[int]:
    """Return the segments of an installed link that are too near mains for its cables there."""
    near: set[int] = set()
    for run in installed.link.runs:
        verdicts = search.separation.verdicts(search.catalogue.cables[run.cable].separation_class)
        near |= {s for s in run.segments if verdicts[s] == Verdict.OUTSIDE}
    return near


def _cure_rates(search: LinkSearch, segment: int, cure: Cure) -> Iterator[Rate]:
    kind = search.network.segment_containment[segment] or "surface"
    yield search.prices.rate("containment_m", kind)
    if cure.geometry is not None and kind in DUG:
        yield search.prices.rate("trench_m", search.network.segment_surface[segment] or "other")


# New routes, and room


def works_remedies(search: LinkSearch, segments: Sequence[int]) -> list[Remedy]:
    """Return the making of each proposed segment that a link runs in."""
    found = []
    for segment in sorted(set(segments)):
        if search.works[segment] > 0:
            name = str(search.network.segment_id[segment])
            found.append(
                Remedy(
                    named("route", name), Action.CONNECT, "new route", "segment", name,
                    f"make the proposed route at {name}, {search.network.segment_length_m[segment]:.0f} m"
                    + (f"; {HAND_DIG}" if search.network.segment_containment[segment] in DUG else ""),
                    float(search.works[segment]), any(rate.invented for rate in _works_rates(search, segment)),
                )
            )  # fmt: skip
    return found


def _works_rates(search: LinkSearch, segment: int) -> Iterator[Rate]:
    route = int(search.network.segment_route[segment])
    if route >= 0 and not np.isnan(float(search.survey.routes["build_cost_m"][route])):
        return
    kind = search.network.segment_containment[segment] or "surface"
    yield search.prices.rate("containment_m", kind)
    if kind in DUG:
        yield search.prices.rate("trench_m", search.network.segment_surface[segment] or "other")


def room_remedies(search: LinkSearch, containment: Containment, found: Found) -> list[Remedy]:
    """Return more room beside each segment that the new cables of a link, by themselves, would overfill."""
    network, prices = search.network, search.prices
    remedies = []
    for segment in overfull(containment, new_cables(found)):
        name, kind = str(network.segment_id[segment]), network.segment_containment[segment] or "surface"
        metres = float(network.segment_length_m[segment])
        rates = [prices.rate("containment_m", kind)]
        if kind in DUG:
            rates.append(prices.rate("trench_m", network.segment_surface[segment] or "other"))
        dig = f", in a new trench; {HAND_DIG}" if kind in DUG else ""
        remedies.append(
            Remedy(
                named("room", name), Action.ENLARGE, "more room", "segment", name,
                f"a second {kind} beside {name}, {metres:.0f} m{dig}; or recover dead cable there first",
                metres * sum(rate.value for rate in rates), any(rate.invented for rate in rates),
            )
        )  # fmt: skip
    return remedies


# Fibre and a switch at a cabinet


@dataclass(frozen=True)
class Trunk:
    """Fibre from a recorder to a cabinet with a switch for so many cameras: one remedy, its works apart."""

    cabinet: int
    """Its number among the sites."""
    recorder: int
    remedy: Remedy
    ports: int
    works: tuple[int, ...]


def trunk_remedies(
    search: LinkSearch, containment: Containment, wanted: dict[int, int], served: Sequence[str]
) -> dict[int, Trunk]:
    """Return for each cabinet the cheapest fibre to an existing recorder and the smallest switch that takes all who want it.

    `wanted` is how many cameras have a link to each cabinet, by its number among the sites; `served` are the
    cabinets that an installed uplink joins already: they need nothing here. Fibre straight from recorder to cabinet.
    """
    every = sections(search, [search], rooms_mm2(containment)) if wanted else ()
    found = {}
    for cabinet, cameras in sorted(wanted.items()):
        here = [s for s in every if {s.tail, s.head} & {cabinet} and _recorder_end(search, s) is not None]
        trunks = [t for s in here if (t := _trunk(search, cabinet, s, cameras)) is not None]
        if trunks and search.sites[cabinet].id not in served:
            found[cabinet] = min(
                trunks, key=lambda t: (t.remedy.cost + search.works[list(t.works)].sum(), t.recorder)
            )
    return found


def _recorder_end(search: LinkSearch, section: Section) -> int | None:
    ends = [k for k in (section.tail, section.head) if k < search.recorders and search.sites[k].existing]
    return ends[0] if ends else None


def _trunk(search: LinkSearch, cabinet: int, section: Section, cameras: int) -> Trunk | None:
    """Return one fibre with its switch; None where no switch is large enough."""
    prices, items = search.prices, search.catalogue.items
    ports = channels_needed(cameras, search.settings.design.spare_percent)
    switches = [i for i in items.values() if i.kind == "switch" and i.number("ports") >= ports]
    recorder = _recorder_end(search, section)
    if not section.sizes or not switches or recorder is None:
        return None
    size = min(section.sizes, key=lambda s: (s.cost, s.model))
    switch = min(switches, key=lambda i: (prices.item(i).value, i.id))
    place, site = search.sites[cabinet], search.sites[recorder]
    house, power = cabinet_money(search, place)
    module = prices.item(items["fibre-module"])
    rates = [
        prices.rate("cable_m", size.model),
        prices.item(switch),
        module,
        prices.rate("termination", "fibre"),
    ]
    rates += [
        prices.rate("pull_m", search.network.segment_containment[s] or "other") for s in section.segments
    ]
    text = f"fibre {size.model}, {section.cable_m:.0f} m from {site.id} to {place.id}, with {switch.id} there"
    text += ", its cabinet" if house else ""
    text += ", power brought by a licensed electrician" if power else ""
    return Trunk(
        cabinet,
        recorder,
        Remedy(
            named("trunk", place.id), Action.CONVERT, "fibre and switch", "point", place.id, text,
            size.cost + prices.item(switch).value + 2 * module.value + house + power,
            any(rate.invented for rate in rates),
        ),
        int(switch.number("ports")),
        tuple(section.works),
    )  # fmt: skip
