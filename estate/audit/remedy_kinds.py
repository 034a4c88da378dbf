"""What a new link does to an installed one: the action, its kind, and both in words."""

from collections import Counter

from estate.audit.remedy_money import Standing, items_at, keeps_power
from estate.catalogue.tables import Cable
from estate.findings import Action
from estate.installed.link import InstalledLink
from estate.links.found import Found
from estate.links.search import LinkSearch

REPEATERS = ("repeater", "extender")
"""Kinds of equipment on the way that send a signal on."""

PROTECTIONS = ("isolator", "protector")

CHANGED_BY = {
    "encoder": "encoder near the camera",
    "switch": "switch on the way",
    "supply": "supply on the way",
}
"""What a conversion is called by the equipment that it puts on the way."""


def action_of(
    search: LinkSearch, installed: InstalledLink | None, found: Found, has: Standing
) -> tuple[Action, str]:
    """Return the action that a link is, and its kind in few words; what it changes first decides."""
    catalogue = search.catalogue
    new = Counter(items_at(search, found)) - has.items
    kinds = [catalogue.items[item].kind for item, _ in sorted(new)]
    on_the_way = [catalogue.items[i].kind for stop in found.scheme.stops for i in stop.items]
    for kind in REPEATERS:
        if kind in on_the_way and kind in kinds:
            return Action.REPEATER, kind
    new_signal, new_power = new_cable(found, has)
    if not new_signal and not new_power and kinds and set(kinds) <= set(PROTECTIONS):
        return Action.PROTECT, kinds[0]
    before = _installed_cables(search, installed)
    after = {catalogue.cables[s.variant.signal_cable].family for s in found.stretches}
    kind = _converted(before, after, found, on_the_way, new_signal=bool(new_signal))
    if kind:
        return Action.CONVERT, kind
    if installed is not None and found.scheme.name == installed.link.method:
        return _alike(installed, found, new_signal=bool(new_signal), new_power=bool(new_power))
    return Action.CONVERT, f"to {found.scheme.name}"


def _converted(
    before: list[Cable], after: set[str], found: Found, on_the_way: list[str], *, new_signal: bool
) -> str:
    """Return what a conversion is called by the cable or the equipment that it changes; empty for others."""
    if new_signal and any(cable.conductor == "cca" for cable in before):
        return "copper-clad aluminium out"
    for kind, words in CHANGED_BY.items():
        if kind in on_the_way:
            return words
    if "fibre" in after and all(cable.family != "fibre" for cable in before):
        return "fibre"
    return "" if not before or found.scheme.feed != "coax-dc" else _powered(before, new_signal=new_signal)


def _powered(before: list[Cable], *, new_signal: bool) -> str:
    had_pair = any(cable.family == "power" for cable in before)
    return "power over the coax" if had_pair and not new_signal else ""


def _alike(
    installed: InstalledLink, found: Found, *, new_signal: bool, new_power: bool
) -> tuple[Action, str]:
    """Return what a link of the installed method is."""
    if not new_signal:
        return Action.CONVERT, "other power cable" if new_power else "other end equipment"
    if set(found.segments) != set(installed.link.segments):
        return Action.RELOCATE, "another way"
    same = found.stretches[0].variant.signal_cable in installed.link.cables
    return Action.CONVERT, "new cable" if same else "other cable"


def new_cable(found: Found, has: Standing) -> tuple[dict[str, float], dict[str, float]]:
    """Return the metres of new cable by type: signal cables, and power cables beside them."""
    signal: Counter[str] = Counter()
    power: Counter[str] = Counter()
    for stretch in found.stretches:
        metres = stretch.cable_length_m - sum(each.length_m for each in stretch.reused)
        if any(spare is None for _, _, spare in stretch.pieces):
            signal[stretch.variant.signal_cable] += metres  # type: ignore[assignment]
        if stretch.variant.power_cable and not keeps_power(stretch, has):
            power[stretch.variant.power_cable] += stretch.power_length_m  # type: ignore[assignment]
    return dict(signal), dict(power)


def _installed_cables(search: LinkSearch, installed: InstalledLink | None) -> list[Cable]:
    """Return the catalogue entries of a link's installed cables, those of known type."""
    if installed is None:
        return []
    rows, cables = search.survey.cables.row_of(), search.survey.cables
    types = [cables["cable"][rows[name]] for name in installed.cables if name in rows]
    return [search.catalogue.cables[t] for t in types if t in search.catalogue.cables]


def told(search: LinkSearch, found: Found, has: Standing) -> str:
    """Say what a link is: method, head, new equipment on the way, new cable, and what stays."""
    parts = [f"{found.scheme.name} from {search.sites[found.site].id}"]
    for stop, stretch in zip(found.scheme.stops, found.stretches, strict=False):
        if stop.items:
            parts.append(f"{' and '.join(stop.items)} at {search.network.node_id[stretch.nodes[-1]]}")
    new = Counter(items_at(search, found)) - has.items
    ends = Counter(
        item
        for item, _ in new.elements()
        if search.catalogue.items[item].kind not in ("connector", *REPEATERS, *CHANGED_BY)
    )
    signal, power = new_cable(found, has)
    parts += [", ".join(f"{count} {item}" for item, count in sorted(ends.items()))] if ends else []
    metres = [f"{length_m:.0f} m {cable}" for cable, length_m in (*signal.items(), *power.items())]
    parts += [f"new cable: {', '.join(metres)}"] if metres else []
    kept = [
        *found.spares,
        *(["its power cable"] if any(keeps_power(s, has) for s in found.stretches) else []),
    ]
    parts += [f"keeps {', '.join(kept)}"] if kept else []
    return "; ".join(parts)
