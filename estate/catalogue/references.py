"""Whether every id that an entry names is there."""

from collections.abc import Collection, Iterator

from estate.catalogue.tables import Catalogue

Broken = tuple[str, str, str, str, Collection[str]]


def broken_references(catalogue: Catalogue) -> Iterator[Broken]:
    """Give section, id, key, the id that isn't there, and the ids that are."""
    for section, id_, key, names, known in _references(catalogue):
        for name in names:
            if name not in known:
                yield section, id_, key, name, known


def _references(c: Catalogue) -> Iterator[tuple[str, str, str, Collection[str], Collection[str]]]:
    """Give every list of ids that an entry names, with the ids it may name."""
    classes = {cls for signal in c.signals.values() for cls in signal.reach}
    for cable in c.cables.values():
        yield "cables", cable.id, "reach_class", [cable.reach_class] if cable.reach_class else [], classes
    carried = {cable.reach_class for cable in c.cables.values()} - {""}
    for signal in c.signals.values():
        yield "signals", signal.id, "reach", list(signal.reach), carried
    supplies = {item.id for item in c.items.values() if item.kind == "supply"}
    for feed in c.feeds.values():
        supply = feed.figures.get("supply")
        yield "feeds", feed.id, "supply", [str(supply.value)] if supply else [], supplies
    for method in c.methods.values():
        yield "methods", method.id, "signals", method.signals, c.signals
        yield "methods", method.id, "signal_cables", method.signal_cables, c.cables
        yield "methods", method.id, "power_cables", method.power_cables, c.cables
        yield "methods", method.id, "feeds", method.feeds, c.feeds
        yield "methods", method.id, "at_camera", method.at_camera, c.items
        yield "methods", method.id, "at_head", method.at_head, c.items
        yield "methods", method.id, "applications", list(method.applications), c.cables
        yield "methods", method.id, "applications", list(method.applications.values()), c.applications
    for item in c.items.values():
        yield "items", item.id, "signals", item.signals, c.signals
        for key in ("gives", "passes", "blocks", "shorts"):
            yield "items", item.id, key, getattr(item, key), c.feeds
    for application in c.applications.values():
        yield "applications", application.id, "cables", application.cables, c.cables
