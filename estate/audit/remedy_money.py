"""What a new link costs where some of it stands already: ends made off, equipment in place, a power cable that stays."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from estate.installed.link import InstalledLink
from estate.links.found import Found, Stretch
from estate.links.link import CableRun
from estate.links.prices import Rate
from estate.links.search import LinkSearch
from estate.links.spares import Spare


@dataclass(frozen=True)
class Standing:
    """What stands of an installed link: equipment by item and node, its cables whole, the power cable that is good."""

    items: Counter[tuple[str, str]] = field(default_factory=Counter)
    cables: tuple[Spare, ...] = ()
    power: CableRun | None = None
    made_off: frozenset[int] = frozenset()
    """Nodes where its signal cables end."""


def standing(installed: InstalledLink | None, own: Sequence[Spare], *, power_is_good: bool) -> Standing:
    """Return what stands; `own` are its signal cables that may be used again, whole ones and lengths of them."""
    if installed is None:
        return Standing()
    power = next((run for run in installed.link.runs if run.role == "power"), None)
    return Standing(
        items=Counter((each.item, each.node) for each in installed.link.equipment),
        cables=tuple(own),
        power=power if power_is_good else None,
        made_off=frozenset(n for s in own if s.id in installed.cables for n in (s.nodes[0], s.nodes[-1])),
    )


def money_of(search: LinkSearch, found: Found, has: Standing) -> tuple[float, bool]:
    """Return the money of a link without works, less what stands [currency], and whether a rate of it is invented."""
    rates = [*_rates(search, found)]
    saved = _items_saved(search, found, has) + sum(_cable_saved(search, s, has) for s in found.stretches)
    return max(found.own_cost - saved, 0.0), any(rate.invented for rate in rates)


def keeps_power(stretch: Stretch, has: Standing) -> bool:
    """Whether the power cable of a stretch lies there already."""
    power = has.power
    return (
        power is not None
        and power.cable == stretch.variant.power_cable
        and set(power.segments) == set(stretch.segments)
    )


def items_at(search: LinkSearch, found: Found) -> Iterator[tuple[str, str]]:
    """Yield the items of a link with the node each stands at."""
    names = search.network.node_id
    for k, stretch in enumerate(found.stretches):
        near, far = str(names[stretch.nodes[0]]), str(names[stretch.nodes[-1]])
        yield from ((item, near) for item in (*stretch.at_head, *stretch.inline, *stretch.protectors))
        yield from ((item, far) for item in (*stretch.at_camera, *stretch.protectors))
        if k < len(found.scheme.stops):
            yield from ((item, far) for item in found.scheme.stops[k].items)


def _items_saved(search: LinkSearch, found: Found, has: Standing) -> float:
    there = Counter(items_at(search, found)) & has.items
    items = search.catalogue.items
    return sum(search.prices.item(items[name]).value * count for (name, _), count in there.items())


def _cable_saved(search: LinkSearch, stretch: Stretch, has: Standing) -> float:
    """Return what a stretch needn't pay: ends of its own cables made off already, the power cable that stays."""
    prices, cables = search.prices, search.catalogue.cables
    own = {spare.id: spare for spare in has.cables}
    ends = 0
    for each in stretch.reused:
        if each.cable in own:
            nodes = own[each.cable].nodes
            ends += (nodes[0] in has.made_off) + (nodes[-1] in has.made_off)
    saved = ends * prices.rate("termination", cables[stretch.variant.signal_cable].family).value
    if keeps_power(stretch, has):
        beside = stretch.variant.power_cable
        along = list(stretch.segments)
        bought = 1 + search.settings.lengths.waste_percent / 100
        saved += stretch.power_length_m * bought * prices.rate("cable_m", beside).value
        saved += float((search.network.segment_length_m[along] * search.pull[along]).sum())
        saved += 2 * prices.rate("termination", cables[beside].family).value
    return saved


def _rates(search: LinkSearch, found: Found) -> Iterator[Rate]:
    """Yield the rates that a link's money rests on."""
    prices, catalogue, network = search.prices, search.catalogue, search.network
    for stretch in found.stretches:
        for cable in stretch.variant.cables:
            yield prices.rate("termination", catalogue.cables[cable].family)
            if stretch.new_m > 0:
                yield prices.rate("cable_m", cable)
                yield from (
                    prices.rate("pull_m", network.segment_containment[s] or "other") for s in stretch.segments
                )
    for item, _ in items_at(search, found):
        yield prices.item(catalogue.items[item])
