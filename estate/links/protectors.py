"""Surge protectors: which fit a link, and which links they are due on."""

from estate.catalogue.tables import Catalogue
from estate.links.earths import fitting
from estate.links.variants import Variant


def protectors(
    variant: Variant, signal: str, catalogue: Catalogue
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the protectors of one end that fit a link's signal and feed, on data and on power, and what none fits."""
    found: list[str] = []
    missing: list[str] = []
    for role, cable in zip(("signal", "power"), variant.cables, strict=False):
        entry = catalogue.cables[cable]
        if not entry.metallic or entry.family == "fibre":
            continue
        fit = _on(signal if role == "signal" else "", entry.family, variant.feed, catalogue)
        found += fit[:1]
        missing += [] if fit else [f"{role} on {cable}"]
        fed_beside = catalogue.feeds[variant.feed].kind in ("dc", "ac") and not variant.power_cable
        if role == "signal" and fed_beside:
            found += _on("", entry.family, variant.feed, catalogue)[:1]  # power on pairs of the same cable
    return tuple(found), tuple(missing)


def _on(signal: str, family: str, feed: str, catalogue: Catalogue) -> list[str]:
    """Return fitting protectors; on power those for no signal of its own."""
    if signal:
        return [
            i for i in fitting("protector", signal, family, feed, catalogue) if catalogue.items[i].signals
        ]
    anything = [i for i in catalogue.items.values() if i.kind == "protector" and not i.signals]
    return [i.id for i in anything if family in i.families and feed in i.passes]
