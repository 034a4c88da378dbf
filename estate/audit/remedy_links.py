"""Other links for a camera whose installed link doesn't stand: priced, the cheapest of each kind of action.

The search takes the camera's own cables as spare ones, whole or cut where equipment can stand, so that the cheapest
link that stands is the cheapest cure. Legacy cables and chained extenders are no part of any search.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count

from estate.audit.remedy_kinds import action_of, new_cable, told
from estate.audit.remedy_money import Standing, items_at, money_of, standing
from estate.findings import Action, Verdict
from estate.installed.link import InstalledLink
from estate.links.found import Found
from estate.links.judging import TOGETHER
from estate.links.lines import in_words
from estate.links.miss import STRETCH as LONGEST
from estate.links.reusable import reusable_cables, takes_twice
from estate.links.schemes import Scheme
from estate.links.search import LinkSearch

POWER_LINES = ("volts", "volts max", "PoE power", "PoE port power")
"""Quantities that tell of the feed, not of the signal."""

STRETCH = (*LONGEST, TOGETHER)
"""Quantities that a repeater mends."""

OVER_COAX = "ethernet-coax"
"""The method by which a coaxial cable carries Ethernet between converters."""

NETWORK_SIGNAL = "ethernet-100m"
"""What a network camera in place of an analogue one sends."""

NETWORK_CAMERA = "network-camera"
"""The item that is priced where an analogue camera is replaced."""


@dataclass(frozen=True)
class LinkCure:
    """One other link for a camera, judged, with its money [currency] and what it is."""

    found: Found
    action: Action
    kind: str
    text: str
    cost: float
    invented: bool
    search: LinkSearch


def link_cures(
    search: LinkSearch,
    camera: int,
    sites: Sequence[int],
    installed: InstalledLink | None,
    most: int,
    below: float = math.inf,
) -> list[LinkCure]:
    """Return up to `most` other links of different kinds of action that cost less than `below`, the cheapest first.

    Links that rest on a fact of the site to be verified come only where no other stands.
    """
    own = _with_own_cables(search, installed)
    has = standing(installed, own.reusable, power_is_good=not _fails(installed, of_power=True))
    limits = _Wanted(most, below)
    cures = list(_cheapest(own, camera, sites, installed, has, limits, with_verify=False))
    if not cures:
        cures = list(_cheapest(own, camera, sites, installed, has, limits, with_verify=True))
    coax = [cure for cure in _over_its_coax(own, camera, sites, has) if cure.cost < below]
    return sorted([*cures, *coax], key=lambda cure: (cure.cost, cure.kind))


@dataclass(frozen=True, slots=True)
class _Wanted:
    """How many links are wanted, and what they must stay below [currency]."""

    most: int
    below: float


def _with_own_cables(search: LinkSearch, installed: InstalledLink | None) -> LinkSearch:
    """Return the search with the link's own signal cables to be used again, unless a measurement speaks against them."""
    if installed is None or _fails(installed, of_power=False):
        return search
    rows, cables = search.survey.cables.row_of(), search.survey.cables
    signal = [
        name
        for name in installed.cables
        if name in rows
        and cables["cable"][rows[name]] in search.catalogue.cables
        and search.catalogue.cables[cables["cable"][rows[name]]].family != "power"
    ]
    stops = search.powered_nodes.tolist()
    reusable = reusable_cables(search.survey, search.network, search.catalogue, signal, stops)
    return replace(search, reusable=reusable, designed={})


def _fails(installed: InstalledLink | None, *, of_power: bool) -> bool:
    """Whether a measured line of the feed, or of the signal, is outside; of the feed a calculated one counts too."""
    lines = installed.link.lines if installed is not None else ()
    return any(
        line.verdict is Verdict.OUTSIDE
        and not line.informs
        and (line.quantity in POWER_LINES) is of_power
        and (of_power or line.basis == "measured")
        for line in lines
    )


def _cheapest(
    search: LinkSearch,
    camera: int,
    sites: Sequence[int],
    installed: InstalledLink | None,
    has: Standing,
    wanted: _Wanted,
    *,
    with_verify: bool,
) -> Iterator[LinkCure]:
    """Yield the best link of each scheme, the cheapest of every kind of action, until there are as many as wanted."""
    kinds: set[tuple[Action, str]] = set()
    cheaper: list[Counter[object]] = []
    in_order = _in_order(search, camera, sites, has, wanted.below, with_verify=with_verify)
    for cost, found, invented in in_order:
        action, kind = action_of(search, installed, found, has)
        new = _new_parts(search, found, has)
        if any(less <= new for less in cheaper) or takes_twice(found, search.spares):
            continue
        if not new and not cost and _is_as_installed(search, installed, found):
            continue
        if _is_idle(search, found, bool(cheaper)) or (action is Action.REPEATER and not _too_long(installed)):
            continue
        if (action, kind) not in kinds:
            kinds.add((action, kind))
            cheaper.append(new)
            yield LinkCure(found, action, kind, told(search, found, has), cost, invented, search)
            if len(kinds) == wanted.most:
                return


def _is_idle(search: LinkSearch, found: Found, others: bool) -> bool:
    """Whether a link has a stop that does nothing for it.

    A stop beside the recorder, or at the camera; a mere change of cable where another link needs none.
    """
    first, last = found.stretches[0], found.stretches[-1]
    beside = not search.sites[found.site].is_cabinet and len(found.stretches) > 1 and not first.segments
    at_camera = len(found.stretches) > 1 and not last.segments
    return beside or at_camera or (others and any(not stop.items for stop in found.scheme.stops))


def _too_long(installed: InstalledLink | None) -> bool:
    """Whether an installed link fails, or may fail, by how far its signal goes."""
    lines = installed.link.lines if installed is not None else ()
    return any(
        line.quantity in STRETCH and line.verdict in (Verdict.OUTSIDE, Verdict.VERIFY) and not line.informs
        for line in lines
    )


def _new_parts(search: LinkSearch, found: Found, has: Standing) -> Counter[object]:
    """Return what is new of a link: equipment by kind of item, metres of cable by type.

    A link with all that of a cheaper one, and more, is no alternative to it.
    """
    items: Counter[object] = Counter(
        item for item, _ in (Counter(items_at(search, found)) - has.items).elements()
    )
    for metres in new_cable(found, has):
        items.update({name: round(length_m) for name, length_m in metres.items()})
    return items


def _is_as_installed(search: LinkSearch, installed: InstalledLink | None, found: Found) -> bool:
    """Whether a link is the installed one over again: its head, its method and its way."""
    if installed is None:
        return False
    link, head = installed.link, search.sites[found.site].id
    return (link.head, link.method) == (head, found.scheme.name) and set(link.segments) == set(found.segments)


def _in_order(
    search: LinkSearch, camera: int, sites: Sequence[int], has: Standing, below: float, *, with_verify: bool
) -> Iterator[tuple[float, Found, bool]]:
    """Yield the best link of every scheme from every site that costs less than `below`, the cheapest first, with works.

    Schemes wait by what they cost at least, less all that could stand of them; most are never searched.
    """
    heap: list[tuple[bool, float, int, tuple[int, Scheme], tuple[Found, bool] | None]] = []
    number, saved = count(), _most_saved(search, has)
    bounds = search.bounds(with_verify=with_verify)
    for site in sites:
        for scheme, discouraged in search.ways_to_join(site, camera, with_verify=with_verify):
            least = float(bounds.least(scheme, search.sites[site], [search.cameras[camera]])[0])
            at_least = max(least - saved, 0.0)
            if at_least < below:
                heappush(heap, (discouraged, at_least, next(number), (site, scheme), None))
    while heap:
        discouraged, cost, _, (site, scheme), known = heappop(heap)
        if known is not None:
            yield cost, *known
            continue
        found = search.of_scheme(site, camera, scheme, discouraged=discouraged, with_verify=with_verify)
        if found is not None:
            own, invented = money_of(search, found, has)
            paid = own + found.works_cost
            if paid < below:
                heappush(heap, (discouraged, paid, next(number), (site, scheme), (found, invented)))


def _most_saved(search: LinkSearch, has: Standing) -> float:
    """Return the most that what stands can save any link [currency]."""
    prices, catalogue = search.prices, search.catalogue
    items = sum(prices.item(catalogue.items[i]).value * n for (i, _), n in has.items.items())
    ends = sum(2 * prices.rate("termination", catalogue.cables[s.cable].family).value for s in has.cables)
    if has.power is None:
        return items + ends
    along = list(has.power.segments)
    laid = float((search.network.segment_length_m[along] * search.pull[along]).sum()) if along else 0.0
    longest_m = search.limits.longest_m
    beside = prices.rate("cable_m", has.power.cable).value * min(longest_m, 2 * has.power.cable_length_m)
    return items + ends + laid + beside + 2 * prices.rate("termination", "power").value


# Ethernet over the coax that is there


def _over_its_coax(
    search: LinkSearch, camera: int, sites: Sequence[int], has: Standing
) -> Iterator[LinkCure]:
    """Yield a network camera in place of an analogue one, with converters on the coax that is there."""
    facts = search.cameras[camera]
    analogue = facts.signal is not None and search.catalogue.signals[facts.signal].kind == "analogue"
    if not analogue or not any(search.catalogue.cables[s.cable].family == "coax" for s in has.cables):
        return
    networked = replace(facts, signal=NETWORK_SIGNAL, feeds=(), mbps=float("nan"))
    cameras = [networked if k == camera else each for k, each in enumerate(search.cameras)]
    made = replace(search, cameras=cameras, designed={})
    best: tuple[float, Found, bool] | None = None
    for site in sites:
        for scheme, discouraged in made.ways_to_join(site, camera, with_verify=False):
            if scheme.name != OVER_COAX:
                continue
            found = made.of_scheme(site, camera, scheme, discouraged=discouraged, with_verify=False)
            if found is None or not any(
                each.cable in {s.id for s in has.cables} for s in found.stretches for each in s.reused
            ):
                continue
            own, invented = money_of(made, found, has)
            if best is None or own + found.works_cost < best[0]:
                best = own + found.works_cost, found, invented
    if best is not None:
        cost, found, invented = best
        rate = search.prices.item(search.catalogue.items[NETWORK_CAMERA])
        text = f"a network camera in place of {facts.id}; {told(made, found, has)}; converter test needed"
        yield LinkCure(
            found, Action.CONVERT, "Ethernet over the same coax", text, cost + rate.value,
            invented or rate.invented, made,
        )  # fmt: skip


# What is refused


def refused_extender(search: LinkSearch, camera: int, sites: Sequence[int]) -> str:
    """Say why one extender does not do, with the number; empty where it does, or where none could be tried."""
    told_by: list[tuple[float, str]] = []
    for site in sites:
        for _, found, excess in search.nearest(site, [camera]):
            failing = [x for x in found.lines if x.verdict is Verdict.OUTSIDE and not x.informs]
            if not found.scheme.extended:
                continue
            if not failing and found.verdict is not Verdict.VERIFY:
                return ""
            order = {name: k for k, name in enumerate(reversed(POWER_LINES))}
            failing.sort(key=lambda line: order.get(line.quantity, len(order)))
            if failing:
                told_by.append((excess, f"one extender: {in_words(failing[0])}"))
    return min(told_by, default=(0.0, ""))[1]
