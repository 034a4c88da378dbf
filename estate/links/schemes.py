"""How a camera and a head could be joined: one stretch or several, what each carries, and what stands between.

A scheme says everything but the cables, the way and the places. Stretches and stops run from the head to the camera.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import product

from estate.catalogue.tables import Catalogue, Item, Method, Signal
from estate.links.camera import CameraFacts
from estate.links.prices import PriceBook
from estate.links.variants import (
    Head,
    Variant,
    feeds_of,
    mismatch,
    needs_power_cable,
    usable_cables,
    usable_methods,
)
from estate.settings import DesignSection

LOCAL = "local"
"""The feed of a stretch that carries no power."""

ENCODED = "ethernet-100m"
"""What an encoder sends."""

EXTENDED = "ethernet-extender"
"""The method of a link with an extender on the way."""

ANYTHING = Head(frozenset(), float("nan"))


@dataclass(frozen=True, slots=True)
class Stage:
    """One stretch: its method, what signal it carries, its feed, and the items at its two ends."""

    method: str
    signal: str
    feed: str
    at_head: tuple[str, ...]
    at_camera: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """What stands between two stretches, beside their ends."""

    items: tuple[str, ...]
    restores: bool
    """Whether the signal starts afresh here."""
    by_port: bool = False
    """Fed along the cable by the head's port, not by mains."""
    source: bool = False
    """Whether the feed of the next stretch begins here."""
    passive: bool = False
    """Whether nothing here draws power: it stands in any cabinet."""

    @property
    def needs_mains(self) -> bool:
        """Whether it can stand only where there is mains, or where mains is brought."""
        return not (self.by_port or self.passive)


@dataclass(frozen=True, slots=True)
class Scheme:
    """Stretches from the head to the camera, and the stops between them, one fewer."""

    name: str
    stages: tuple[Stage, ...]
    stops: tuple[Stop, ...] = ()

    @property
    def feed(self) -> str:
        """How the camera gets power."""
        return self.stages[-1].feed

    @property
    def source(self) -> int:
        """The stretch at whose head the camera's feed begins."""
        return max((k + 1 for k, stop in enumerate(self.stops) if stop.source), default=0)

    @property
    def extended(self) -> bool:
        """Whether an extender takes its load out of the same port as the camera."""
        return any(stop.by_port for stop in self.stops)


def schemes(
    camera: CameraFacts, head: Head, catalogue: Catalogue, design: DesignSection, prices: PriceBook
) -> list[Scheme]:
    """Return every scheme that joins this camera to this head, those of one stretch first.

    Of switches and supplies only those are taken that no cheaper one betters, the smallest first.
    """
    if camera.signal is None:
        return []
    signal = catalogue.signals[camera.signal]
    tools = _Tools(camera, head, signal, catalogue, design, prices)
    return [*tools.single(), *(tools.ethernet() if signal.kind == "ethernet" else tools.analogue())]


def stage_variants(stage: Stage, catalogue: Catalogue, design: DesignSection) -> list[Variant]:
    """Return a stretch with its cables settled, in every way a design may use."""
    method = catalogue.methods[stage.method]
    signal_cables = usable_cables(method.signal_cables, catalogue, design)
    beside = needs_power_cable(method, stage.feed)
    power_cables = usable_cables(method.power_cables, catalogue, design) if beside else [""]
    return [Variant(method.id, stage.feed, *cables) for cables in product(signal_cables, power_cables)]


@dataclass(frozen=True)
class _Tools:
    """One camera and one head, with what the catalogue offers between them."""

    camera: CameraFacts
    head: Head
    signal: Signal
    catalogue: Catalogue
    design: DesignSection
    prices: PriceBook

    def single(self) -> Iterator[Scheme]:
        """Yield one stretch from head to camera."""
        for method in usable_methods(self.catalogue, self.design):
            if not mismatch(method, self.camera, self.head, self.signal):
                for feed in feeds_of(method, self.camera, self.head):
                    yield Scheme(method.id, (_stage(method, self.signal.id, feed),))

    # Analogue and serial digital cameras

    def analogue(self) -> Iterator[Scheme]:
        """Yield repeaters, changes of medium, supplies on the way, and encoders."""
        carriers = [
            m for m in self._carrying(self.signal.id) if self._family(m) in ("coax", "pair") and _plain(m)
        ]
        if self._accepted("analogue"):
            for method in carriers:
                yield from self._repeated(method)
            for first, last in product(carriers, carriers):
                yield from self._converted(first, last)
                yield from self._fed_on_the_way(first, last)
        for method, last in product(usable_methods(self.catalogue, self.design), carriers):
            yield from self._from_fibre(method, last)
            yield from self._encoded(method, last)

    def _carrying(self, signal: str) -> list[Method]:
        return [m for m in usable_methods(self.catalogue, self.design) if signal in m.signals]

    def _family(self, method: Method) -> str:
        return self.catalogue.cables[method.signal_cables[0]].family

    def _accepted(self, port: str, signal: str = "") -> bool:
        accepts = self.head.accepts
        return not accepts or bool({port, signal or self.signal.id} & accepts)

    def _feeds(self, method: Method) -> list[str]:
        """Feeds that method and camera share, wherever they come from."""
        return feeds_of(method, self.camera, ANYTHING)

    def _passing(self, kind: str, family: str, feed: str, signal: str) -> list[Item]:
        return [
            item
            for item in self.catalogue.items.values()
            if item.kind == kind
            and (not item.signals or signal in item.signals)
            and (not item.families or family in item.families)
            and feed in item.passes
        ]

    def _repeated(self, method: Method) -> Iterator[Scheme]:
        """Yield one repeater after another on the same medium, the feed going past them."""
        for feed in self._feeds(method):
            stage = _stage(method, self.signal.id, feed)
            for item in self._passing("repeater", self._family(method), feed, self.signal.id):
                for count in range(1, int(item.number("limit_per_link")) + 1):
                    yield self._joined(
                        method.id, [stage] * (count + 1), [Stop((item.id,), restores=True)] * count
                    )

    def _converted(self, first: Method, last: Method) -> Iterator[Scheme]:
        """Yield a change of medium without a new start: the feed, if any, goes through."""
        if self._family(first) == self._family(last):
            return
        for feed in [f for f in self._feeds(last) if f in first.feeds]:
            if all(feed in self.catalogue.items[i].passes for i in (*first.at_camera, *last.at_head)):
                stages = [_stage(m, self.signal.id, feed) for m in (first, last)]
                yield self._joined(f"{first.id}+{last.id}", stages, [Stop((), restores=False)])

    def _fed_on_the_way(self, first: Method, last: Method) -> Iterator[Scheme]:
        """Yield a feed that begins where there is mains on the way, behind repeaters or not."""
        if LOCAL not in first.feeds:
            return
        for feed in self._feeds(last):
            for supply in self._supplies(feed):
                before, after = (
                    _stage(first, self.signal.id, LOCAL),
                    _stage(last, self.signal.id, feed),
                )
                name = f"{first.id}+{last.id}"
                yield self._joined(name, [before, after], [Stop((supply,), restores=False, source=True)])
                if self._family(first) != self._family(last):
                    continue
                for item in self._passing("repeater", self._family(first), LOCAL, self.signal.id):
                    for count in range(1, int(item.number("limit_per_link")) + 1):
                        stops = [Stop((item.id,), restores=True)] * (count - 1)
                        stops.append(Stop((item.id, supply), restores=True, source=True))
                        yield self._joined(name, [*[before] * count, after], stops)

    def _supplies(self, feed: str) -> list[str]:
        """Return the supplies that give a feed; one over coax takes the camera's own volts."""
        entry, volts = self.catalogue.feeds[feed], self.camera.volts
        givers = [entry]
        if entry.kind == "coax" and volts == volts:  # noqa: PLR0124  not NaN
            feeds = self.catalogue.feeds.values()
            givers = [f for f in feeds if f.kind == "dc" and f.number("source_volts") == volts]
        named = {str(f.figures["supply"].value) for f in givers if "supply" in f.figures}
        given = {giver.id for giver in givers}
        items = self.catalogue.items.values()
        return self._by_size(
            [i for i in items if i.id in named or (i.kind == "supply" and given & set(i.gives))]
        )

    def _by_size(self, supplies: Iterable[Item]) -> list[str]:
        """Return the supplies that none larger undercuts in price, the smallest first."""
        kept: list[tuple[float, str]] = []
        for item in sorted(supplies, key=lambda i: (-i.number("watts"), self.prices.item(i).value)):
            money = self.prices.item(item).value
            if not kept or money <= kept[-1][0]:
                kept.append((money, item.id))
        return [identity for _, identity in reversed(kept)]

    def _from_fibre(self, method: Method, last: Method) -> Iterator[Scheme]:
        """Yield glass from the head to a converter, copper from there."""
        if (
            self.signal.id not in method.signals
            or self._family(method) != "fibre"
            or not self._accepted("analogue")
        ):
            return
        yield from self._behind(method, self.signal.id, (), last)

    def _encoded(self, method: Method, last: Method) -> Iterator[Scheme]:
        """Yield Ethernet from the head to an encoder, analogue from there."""
        if ENCODED not in method.signals or not self._accepted("ethernet", ENCODED):
            return
        for encoder in self.catalogue.items.values():
            if encoder.kind == "encoder" and self.signal.id in encoder.signals:
                yield from self._behind(method, ENCODED, (encoder.id,), last)

    def _behind(self, first: Method, signal: str, items: tuple[str, ...], last: Method) -> Iterator[Scheme]:
        """Yield one stretch to a stop where the signal starts afresh, and the camera's own behind it."""
        before = _stage(first, signal, LOCAL)
        name = f"{first.id}+{last.id}"
        for feed in self._feeds(last):
            after = _stage(last, self.signal.id, feed)
            if feed == LOCAL:
                yield self._joined(name, [before, after], [Stop(items, restores=True)])
            for supply in self._supplies(feed):
                yield self._joined(
                    name, [before, after], [Stop((*items, supply), restores=True, source=True)]
                )

    # Network cameras

    def ethernet(self) -> Iterator[Scheme]:
        """Yield extenders, switches and changes of medium."""
        if not self._accepted("ethernet"):
            return
        methods = self._carrying(self.signal.id)
        pairs = [m for m in methods if extensible(m, self.signal)]
        extended = self.catalogue.methods[EXTENDED]
        if not self.design.methods or EXTENDED in self.design.methods:
            for method in pairs:
                yield from self._extended(method, extended)
        for first in methods:
            for last in pairs:
                yield from self._switched(first, last, same=first.id == last.id)
            for last in methods:
                if first.id != last.id and self.camera.has_own_power and LOCAL in self._feeds(last):
                    stages = [_stage(m, self.signal.id, LOCAL) for m in (first, last)]
                    yield self._joined(f"{first.id}+{last.id}", stages, [Stop((), restores=True)])

    def _extended(self, method: Method, extended: Method) -> Iterator[Scheme]:
        """Yield an extender that the head's port feeds."""
        for feed in feeds_of(method, self.camera, self.head):
            if feed not in extended.feeds or not feed.startswith("poe"):
                continue
            for item in self._passing("extender", "pair", feed, self.signal.id):
                stages = [_stage(method, self.signal.id, feed)] * 2
                yield self._joined(EXTENDED, stages, [Stop((item.id,), restores=True, by_port=True)])

    def _switched(self, first: Method, last: Method, *, same: bool) -> Iterator[Scheme]:
        """Yield a switch that feeds the camera, or that lengthens a copper link."""
        for feed in self._feeds(last):
            if feed == LOCAL and not same:
                continue  # converters do it without a switch
            port_w = 0.0 if feed == LOCAL else self.catalogue.feeds[feed].number("pse_w")
            switches = self._passing("switch", "pair", feed, self.signal.id)
            enough = [item for item in switches if item.number("poe_w") >= port_w]
            if enough:
                chosen = min(enough, key=lambda i: (self.prices.item(i).value, i.number("poe_w")))
                stages = [_stage(first, self.signal.id, LOCAL), _stage(last, self.signal.id, feed)]
                name = first.id if same else f"{first.id}+{last.id}"
                stop = Stop((chosen.id,), restores=True, source=feed != LOCAL)
                yield self._joined(name, stages, [stop])

    def _joined(self, name: str, stages: list[Stage], stops: list[Stop]) -> Scheme:
        """Return a scheme, with the ends at its stops as they are there."""
        stages, placed = list(stages), []
        for k, stop in enumerate(stops):
            kinds = {self.catalogue.items[i].kind for i in stop.items}
            stages[k] = replace(stages[k], at_camera=self._at_stop(stages[k].at_camera, kinds))
            stages[k + 1] = replace(stages[k + 1], at_head=self._at_stop(stages[k + 1].at_head, kinds))
            here = (*stages[k].at_camera, *stop.items, *stages[k + 1].at_head)
            drawing = any(_draws(self.catalogue.items[i]) for i in here)
            placed.append(stop if drawing else replace(stop, passive=True))
        return Scheme(name, tuple(stages), tuple(placed))

    def _at_stop(self, items: tuple[str, ...], kinds: set[str]) -> tuple[str, ...]:
        """Return end items at a stop: a repeater needs no balun, glass ends in a switch or in a converter."""
        found = []
        for item in items:
            entry = self.catalogue.items[item]
            if "repeater" in kinds and entry.kind == "balun":
                continue
            glass = (
                entry.kind == "converter" and entry.families == ("fibre",) and "ethernet-1g" in entry.signals
            )
            found.append(GLASS["switch" in kinds] if glass else item)
        return tuple(found)


GLASS = {True: "fibre-module", False: "converter-fibre"}
"""What ends a fibre of Ethernet on the way: a module where a switch stands, else a converter."""


def extensible(method: Method, signal: Signal) -> bool:
    """Whether an extender can lengthen a link of a method: Ethernet on balanced pairs."""
    figures = method.figures
    return signal.id in method.signals and "data_pairs" in figures and "reach_limit_m" not in figures


def _stage(method: Method, signal: str, feed: str) -> Stage:
    return Stage(method.id, signal, feed, method.at_head, method.at_camera)


PASSIVE = ("balun", "connector", "isolator", "protector", "joint")
"""Kinds of item that draw nothing unless they have a load of their own."""


def _draws(item: Item) -> bool:
    """Whether an item draws power where it stands."""
    return item.kind not in PASSIVE or item.number("own_w") > 0


def _plain(method: Method) -> bool:
    """Whether a method takes the reach of its signal, not one of its own."""
    return "reach_cautious_m" not in method.figures and method.delivers == "analogue"
