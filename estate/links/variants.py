"""Which methods, feeds and cables a camera and a head could be joined by."""

from collections.abc import Iterator
from dataclasses import dataclass

from estate.catalogue.tables import Catalogue, Item, Method, Signal
from estate.errors import Problem
from estate.links.camera import CameraFacts
from estate.settings import DesignSection

NOT_CARRIED = "does not carry"


@dataclass(frozen=True, slots=True)
class Variant:
    """One method with its feed and its cables settled; `power_cable` is empty where there is no second cable."""

    method: str
    feed: str
    signal_cable: str
    power_cable: str = ""

    @property
    def cables(self) -> tuple[str, ...]:
        """Catalogue ids of its cables, the signal cable first."""
        return (self.signal_cable, self.power_cable) if self.power_cable else (self.signal_cable,)


@dataclass(frozen=True, slots=True)
class Head:
    """What a recorder says of itself that decides whether a method fits."""

    accepts: frozenset[str]
    """analogue, ethernet or signal ids; empty means any."""
    poe_ports: float
    """NaN where not given."""


def usable_methods(catalogue: Catalogue, design: DesignSection) -> list[Method]:
    """Return the methods a design may use: those listed, else all that are not legacy.

    Methods that need equipment on the way, or no cable, are not searched for.
    """
    listed = design.methods or tuple(catalogue.methods)
    methods = [catalogue.methods[name] for name in listed]
    return [m for m in methods if not m.legacy and m.signal_cables and "extenders_max" not in m.figures]


def usable_cables(cables: tuple[str, ...], catalogue: Catalogue, design: DesignSection) -> list[str]:
    """Return those of `cables` that a design may use: never a legacy one."""
    return [c for c in cables if not catalogue.cables[c].legacy and (not design.cables or c in design.cables)]


def mismatch(method: Method, camera: CameraFacts, head: Head, signal: Signal) -> str:
    """Return why a method can't join this camera to this head, empty where it can."""
    if signal.id not in method.signals:
        return f"{NOT_CARRIED} {signal.id}"
    accepted = not head.accepts or method.delivers in head.accepts or signal.id in head.accepts
    if not accepted:
        return f"delivers {method.delivers}, the recorder accepts {', '.join(sorted(head.accepts))}"
    if not feeds_of(method, camera, head):
        offered = ", ".join(method.feeds)
        asked = ", ".join(camera.feeds) or "any feed"
        local = "" if camera.has_own_power else ", no unswitched power at the camera for a local feed"
        return f"offers feeds {offered}; the camera takes {asked}{local}"
    return ""


def feeds_of(method: Method, camera: CameraFacts, head: Head) -> list[str]:
    """Return the feeds that method, camera and head have in common."""
    return [
        feed
        for feed in method.feeds
        if (not camera.feeds or feed in camera.feeds)
        and (feed != "local" or camera.has_own_power)
        and not (feed.startswith("poe") and head.poe_ports == 0)
    ]


def variants(
    camera: CameraFacts, head: Head, catalogue: Catalogue, design: DesignSection
) -> Iterator[Variant]:
    """Yield every variant that joins this camera to this head, in the catalogue's order."""
    if camera.signal is None:
        return
    signal = catalogue.signals[camera.signal]
    for method in usable_methods(catalogue, design):
        if mismatch(method, camera, head, signal):
            continue
        signal_cables = usable_cables(method.signal_cables, catalogue, design)
        power_cables = usable_cables(method.power_cables, catalogue, design) if method.power_cables else [""]
        for feed in feeds_of(method, camera, head):
            for signal_cable in signal_cables:
                for power_cable in power_cables if needs_power_cable(method, feed) else [""]:
                    yield Variant(method.id, feed, signal_cable, power_cable)


def feed_through(item: Item, feed: str) -> str:
    """Return what becomes of a feed at an item: passes, blocks or shorts.

    A feed that the item doesn't list is blocked: nothing says that it gets through.
    """
    if feed in item.shorts:
        return "shorts"
    return "passes" if feed in item.passes else "blocks"


def blocked_feeds(catalogue: Catalogue) -> list[Problem]:
    """Return a problem for every method whose own end equipment doesn't pass a feed that it offers."""
    return [
        Problem(
            "catalogue",
            "end equipment that passes every feed of its method",
            id=method.id,
            field=f"{end}: {name}",
            value=f"{feed_through(catalogue.items[name], feed)} {feed}",
            fix=f"take {feed} out of the method's feeds, or another item",
        )
        for method in catalogue.methods.values()
        for end, names in (("at_camera", method.at_camera), ("at_head", method.at_head))
        for name in names
        for feed in method.feeds
        if feed_through(catalogue.items[name], feed) != "passes"
    ]


def needs_power_cable(method: Method, feed: str) -> bool:
    """Whether the feed comes over a second cable beside the signal cable."""
    return bool(method.power_cables) and feed != "local"
