"""One scheme from one site as a graph of walks: cables and exposures as layers, stops between them.

Budgets: the share of its reach that a stretch has used, since the signal last started afresh; and beside it the loop
of the feed [Ω], or, where an extender hangs on the port, the share of the stretch before it. A stretch that goes
outdoors pays for its protectors, an aerial one is judged hot: each is a layer of its own, so that costs and limits
are known before the first metre.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from estate.links.conditions import Joints
from estate.links.earths import End
from estate.links.found import Found, Reuse
from estate.links.judging import Laid, quoted
from estate.links.labels import Start, Targets, Walk
from estate.links.power import supply_volts
from estate.links.schemes import Scheme, stage_variants
from estate.links.spares import Spare
from estate.links.stretch_limits import loop_limit_ohm
from estate.links.stretch_options import Option, OptionArcs, StretchBook, StretchKind, usable_variants
from estate.links.variants import Variant
from estate.links.walk_graph import Equipment, Layer, WalkGraph, walk_graph

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Wanted:
    """What is searched: a scheme from a site to cameras of like reach, whose earths are alike."""

    book: StretchBook
    scheme: Scheme
    site: int
    cameras: tuple[int, ...]
    with_verify: bool
    discouraged: bool = True
    """Whether methods and cables that the user discourages may be used."""


@dataclass(frozen=True)
class _Arcs:
    """The arcs of one option: a segment each, then spare cables."""

    layer: Layer
    segment: NDArray[np.int64]
    spares: tuple[tuple[Spare, bool], ...]
    """With whether it is walked from its first end to its last."""
    new: int
    """How many arcs are segments."""

    def along(self, arc: int) -> tuple[tuple[int, ...], Spare | None]:
        """Return the segments of an arc, and the spare cable that it is."""
        if arc < self.new:
            return (int(self.segment[arc]),), None
        spare, forth = self.spares[arc - self.new]
        return (spare.segments if forth else spare.segments[::-1]), spare


@dataclass(frozen=True)
class SchemeGraph:
    """A graph of walks with what its layers and equipment mean."""

    wanted: Wanted
    graph: WalkGraph
    start: Start
    targets: Targets
    options: dict[int, Option]
    """By layer; the other layers are places to start, stop and arrive."""
    arcs: dict[int, _Arcs]
    entered: tuple[int, ...]
    """The layer that each piece of equipment leads to."""

    def found(self, target: int, walk: Walk) -> Found:
        """Return the link that a walk is, not judged yet."""
        laid: list[Laid] = []
        marks = [(position, self.entered[item]) for position, item in walk.stands]
        for (begin, layer), (end, _) in pairwise(marks):
            if layer in self.options:
                laid.append(self._laid(layer, walk, begin, end))
        wanted = self.wanted
        return quoted(wanted.book.ground, wanted.cameras[target], wanted.site, wanted.scheme, laid)

    def _laid(self, layer: int, walk: Walk, begin: int, end: int) -> Laid:
        """Return the stretch between two marks of a walk."""
        arcs = self.arcs[layer]
        network = self.wanted.book.ground.network
        nodes = [walk.nodes[begin]]
        segments: list[int] = []
        reused: list[Reuse] = []
        for _, arc in walk.arcs[begin:end]:
            here, spare = arcs.along(arc)
            if spare is not None:
                reused.append(Reuse(spare.id, len(segments), len(segments) + len(here), spare.length_m))
            for segment in here:
                ends = int(network.segment_from[segment]), int(network.segment_to[segment])
                nodes.append(ends[1] if nodes[-1] == ends[0] else ends[0])
            segments += here
        return Laid(self.options[layer].variant, tuple(nodes), tuple(segments), tuple(reused))


def scheme_graph(wanted: Wanted) -> SchemeGraph | None:
    """Return the graph of a scheme, None where one of its stretches can't be laid at all."""
    return _Builder(wanted).built()


class _Builder:
    """Puts the graph of one scheme together."""

    def __init__(self, wanted: Wanted) -> None:
        self.wanted, self.book, self.scheme = wanted, wanted.book, wanted.scheme
        self.ground = wanted.book.ground
        self.kinds: list[StretchKind] = []
        self.camera = self.ground.cameras[wanted.cameras[0]]
        self.site = self.ground.sites[wanted.site]
        self.lengths = self.ground.settings.lengths
        self.longer = self.book.longer
        self.layers: list[Layer] = []
        self.equipment: list[Equipment] = []
        self.entered: list[int] = []
        self.options: dict[int, Option] = {}
        self.arcs: dict[int, _Arcs] = {}
        self.along: dict[int, tuple[int, int]] = {}
        self.places = [self._places(k) for k in range(len(self.scheme.stops))]
        self.loop_limits_ohm = self._loop_limits_ohm()
        self.carried = self.ground.catalogue.feeds[self.scheme.feed].kind in OVER_CONDUCTORS

    def built(self) -> SchemeGraph | None:
        """Return the graph, None where nothing can be laid."""
        if not (self.loop_limits_ohm > 0).any() or not all(self.places):
            return None
        hub = self._hub()
        start = Start(self.site.node, hub)
        nodes = np.array([self.site.node])
        for k in range(len(self.scheme.stages)):
            numbers = [number for option in self._options(k) for number in self._lay(k, option)]
            if not numbers:
                return None
            for place, number in enumerate(numbers):
                self._enter(k, hub, number, nodes, place * TIE)
            if k < len(self.scheme.stops):
                hub = self._hub()
                nodes = np.concatenate([at for _, at in self.places[k]])
                for number in numbers:
                    self._stop(k, number, hub)
        targets = self._arrivals(numbers)
        graph = walk_graph(self.ground.network.nodes, self.layers, self.equipment)
        return SchemeGraph(self.wanted, graph, start, targets, self.options, self.arcs, tuple(self.entered))

    # Limits

    def _loop_limits_ohm(self) -> Floats:
        """Return the greatest loop of each camera's feed, infinite where it is not fed over conductors [Ω]."""
        cameras = [self.ground.cameras[c] for c in self.wanted.cameras]
        if self.ground.catalogue.feeds[self.scheme.feed].kind not in OVER_CONDUCTORS:
            return np.full(len(cameras), np.inf)
        conditions = self.ground.conditions(self.site if self.scheme.source == 0 else None)
        variants = stage_variants(self.scheme.stages[-1], self.ground.catalogue, self.ground.settings.design)
        if not variants:
            return np.full(len(cameras), -1.0)
        return np.array(
            [
                loop_limit_ohm(variants[0], c, supply_volts(variants[0], c, conditions), conditions)
                for c in cameras
            ]
        )

    @property
    def limits(self) -> Floats:
        """Share of reach, and the feed's loop or the share of the stretch before an extender."""
        return np.array([1.0, self.loop_limits_ohm.max() if self.carried else np.inf])

    def _uses(self, k: int, option: Option, signal_m: Floats, power_m: Floats) -> Floats:
        """Return what lengths of cable use of both budgets."""
        share = signal_m / option.reach_m
        if self.scheme.extended:
            return np.stack([share, share if k == 0 else np.zeros_like(share)], axis=-1)
        carried_m = power_m if option.variant.power_cable else signal_m
        return np.stack([share, carried_m * option.loop_ohm_per_m], axis=-1)

    # Places

    def _places(self, k: int) -> list[tuple[End, NDArray[np.int64]]]:
        """Return where stop k can stand, by what earth it has there."""
        if self.scheme.stops[k].by_port:
            return [(self.site.row, np.union1d(self.ground.powered_nodes, self.ground.cabinet_nodes))]
        groups: dict[End, list[int]] = {}
        for node, place in self.ground.node_places.items():
            groups.setdefault(place, []).append(node)
        found = [(place, np.array(nodes)) for place, nodes in groups.items()]
        return found if len(self.scheme.stops) == 1 else self._joinable(found)

    def _joinable(self, found: list[tuple[End, NDArray[np.int64]]]) -> list[tuple[End, NDArray[np.int64]]]:
        """Return places that any two stops of one link may have: all, or those of the head's own earth."""
        stage = self.scheme.stages[0]
        variants = stage_variants(stage, self.ground.catalogue, self.ground.settings.design)

        def joins(one: End, other: End) -> bool:
            return all(
                self.ground.earths.settled(v.cables, stage.feed, one, other, stage.signal) == (True, ())
                for v in variants
            )

        ends = [place for place, _ in found]
        if all(joins(one, other) for one in ends for other in (*ends, self.site.row)):
            return found
        return [(place, nodes) for place, nodes in found if place == self.ground.earths.places[self.site.row]]

    def _settled(self, k: int, variant: Variant, far: End, near: End) -> tuple[bool, tuple[str, ...]]:
        stage = self.scheme.stages[k]
        return self.ground.earths.settled(variant.cables, stage.feed, far, near, stage.signal)

    def _fars(self, k: int) -> list[End]:
        """What stretch k may end at towards the camera."""
        if k == len(self.scheme.stages) - 1:
            return [self.camera.row]
        return [place for place, _ in self.places[k]]

    def _nears(self, k: int) -> list[End]:
        """What stretch k may end at towards the head."""
        if k == 0 or self.scheme.stops[k - 1].by_port:
            return [self.site.row]
        return [place for place, _ in self.places[k - 1]]

    # Options

    def _options(self, k: int) -> list[Option]:
        """Return the ways to lay stretch k."""
        stage, wanted = self.scheme.stages[k], self.wanted
        kind = StretchKind(
            stage=stage,
            carries=k >= self.scheme.source and self.carried,
            powered=stage.feed.startswith("poe") and not self.scheme.extended,
            with_verify=wanted.with_verify,
            discouraged=wanted.discouraged,
        )
        self.kinds.append(kind)
        inlines = {}
        for variant in usable_variants(self.ground, stage, discouraged=wanted.discouraged):
            needed = {
                inline
                for far in self._fars(k)
                for near in self._nears(k)
                for stands, inline in [self._settled(k, variant, far, near)]
                if stands
            }
            if needed:
                inlines[variant] = tuple(sorted(needed))
        return self.book.options(kind, self.camera, inlines)

    # Layers

    def _hub(self) -> int:
        """Add a layer without arcs: where a walk starts, stops or arrives."""
        none = np.empty(0, dtype=np.int64)
        self.layers.append(Layer(none, none, np.empty(0), np.empty((0, 2)), self.limits))
        return len(self.layers) - 1

    def _lay(self, k: int, option: Option) -> list[int]:
        """Add the layer of an option and return its number; a spare cable that is all of it has one for each way along it.

        Such a layer is entered at one end of the cable and left at the other, so that none is taken without its length.
        """
        if option.spare is None:
            return [self._layer(self._arcs(k, option), option)]
        ends = option.spare.nodes[0], option.spare.nodes[-1]
        numbers = [self._layer(self._arcs(k, option), option) for _ in range(2)]
        self.along |= {numbers[0]: ends, numbers[1]: ends[::-1]}
        return numbers

    def _layer(self, arcs: _Arcs, option: Option) -> int:
        number = len(self.layers)
        self.layers.append(arcs.layer)
        self.options[number], self.arcs[number] = option, arcs
        return number

    def _at(self, number: int, nodes: NDArray[np.int64], *, leaving: bool) -> NDArray[np.int64]:
        """Return those of some nodes where a layer may be entered or left."""
        return np.intersect1d(nodes, self.along[number][leaving]) if number in self.along else nodes

    def _arcs(self, k: int, option: Option) -> _Arcs:
        """Return the arcs of an option: its segments both ways, and the spare cables that fit."""
        new = self.book.arcs(option)
        count = len(new.tail) if option.spare is None else 0
        spares = self._spare_arcs(k, option)
        new_m = new.cable_m[:count]
        spare_m = np.array([counted for _, _, counted in spares])
        beside_m = np.array([self._way_m(spare.segments) * self.longer for spare, _, _ in spares])
        begins = np.array([s.nodes[0 if forth else -1] for s, forth, _ in spares], dtype=np.int64)
        ends = np.array([s.nodes[-1 if forth else 0] for s, forth, _ in spares], dtype=np.int64)
        layer = Layer(
            tail=np.concatenate([new.tail[:count], begins]),
            head=np.concatenate([new.head[:count], ends]),
            cost=np.concatenate(
                [self._passable(new)[:count], [self._spare_cost(k, option, s) for s, _, _ in spares]]
            ),
            uses=np.concatenate(
                [self._uses(k, option, new_m, new_m), self._uses(k, option, spare_m, beside_m)]
            ),
            limits=self.limits,
        )
        return _Arcs(layer, new.segment, tuple((spare, forth) for spare, forth, _ in spares), count)

    def _passable(self, new: OptionArcs) -> Floats:
        """Return the costs of new cable, infinite where it would go on from a node that only cameras share."""
        passes = self.ground.network.node_passes[new.tail] | (new.tail == self.site.node)
        return new.cost if passes.all() else np.where(passes, new.cost, np.inf)

    # Spare cables on a part of a stretch

    def _spare_arcs(self, k: int, option: Option) -> list[tuple[Spare, bool, float]]:
        """Return the spare cables of an option, which way they run, and the length each counts for [m]."""
        if option.spare is not None:
            return [(option.spare, forth, option.spare.length_m) for forth in (True, False)]
        found = []
        for spare in self.ground.spares:
            if spare.cable != option.variant.signal_cable or not option.usable[list(spare.segments)].all():
                continue
            joints = Joints(2, spare.joints.bad_or_unknown)
            reach_m = self.book.reach_m(self.kinds[k], self.camera, option, joints)
            if reach_m > 0:
                counted_m = spare.length_m + option.reach_m - reach_m
                found += [(spare, forth, counted_m) for forth in (True, False)]
        return found

    def _way_m(self, segments: tuple[int, ...]) -> float:
        return float(self.ground.network.segment_length_m[list(segments)].sum())

    def _spare_cost(self, k: int, option: Option, spare: Spare) -> float:
        """Cost of taking a spare: ends made off, unless it is the stretch, and the power cable beside it.

        A spare in the middle of a stretch parts the new cable, which is then made off at two ends more.
        """
        ground = self.ground
        amid = not ({spare.nodes[0], spare.nodes[-1]} & self._stretch_ends(k))
        ends = 0 if option.spare is not None else 4 if amid else 2
        family = ground.catalogue.cables[spare.cable].family
        money = ends * ground.prices.rate("termination", family).value
        metres = 0.0
        if option.variant.power_cable:
            metres = self._way_m(spare.segments) * self.longer
            pulled = list(spare.segments)
            money += metres * self.book.rate(option.variant.power_cable)
            money += float((ground.network.segment_length_m[pulled] * ground.pull[pulled]).sum())
        return self.book.least(money, metres)

    def _stretch_ends(self, k: int) -> set[int]:
        """Return the nodes where stretch k may begin or end."""
        found = {self.site.node} if k == 0 else set()
        for stop in (k - 1, k):
            if 0 <= stop < len(self.places):
                found |= {node for _, at in self.places[stop] for node in at.tolist()}
        if k == len(self.scheme.stages) - 1:
            rows = [self.ground.cameras[c].row for c in self.wanted.cameras]
            found |= set(self.ground.network.point_node[rows].tolist())
        return found

    # Equipment

    def _between(
        self,
        before: int,
        after: int,
        nodes: NDArray[np.int64],
        cost: ArrayLike,
        resets: tuple[bool, bool],
        uses: Floats,
    ) -> None:
        self.equipment.append(Equipment(before, after, nodes, cost, np.array(resets), uses))
        self.entered.append(after)

    def _enter(self, k: int, hub: int, number: int, nodes: NDArray[np.int64], tie: float) -> None:
        """Let a walk begin stretch k as an option; a tie between options is broken by so little."""
        option = self.options[number]
        heights_m = self.site.height_m * self.longer if k == 0 else 0.0
        ends_m = 2 * self.lengths.end_m + heights_m
        signal_m = 0.0 if option.spare is not None else ends_m
        if k and k == len(self.scheme.stages) - 1:
            nodes = np.concatenate(
                [
                    np.empty(0, dtype=np.int64),
                    *(
                        at
                        for place, at in self.places[k - 1]
                        if self._settled(k, option.variant, self.camera.row, place) == (True, option.inline)
                    ),
                ]
            )
        cost = option.fixed + self.book.bought(option.variant, signal_m, ends_m) + tie
        uses = self._uses(k, option, np.array(signal_m), np.array(ends_m))
        self._between(hub, number, self._at(number, nodes, leaving=False), cost, (False, False), uses)

    def _stop(self, k: int, number: int, hub: int) -> None:
        """Let a walk stop after stretch k, where the earths of both its ends allow."""
        option, stop = self.options[number], self.scheme.stops[k]
        prices, items = self.ground.prices, self.ground.catalogue.items
        nodes = [
            at
            for place, at in self.places[k]
            if all(
                self._settled(k, option.variant, place, near) == (True, option.inline)
                for near in self._nears(k)
            )
        ]
        money = sum(prices.item(items[i]).value for i in stop.items)
        resets = (stop.restores, stop.source and not self.scheme.extended)
        if nodes:
            at = self._at(number, np.concatenate(nodes), leaving=True)
            bring = np.zeros(len(at)) if stop.by_port else self.ground.power_money[at]
            cost = np.array([self.book.least(money + each) for each in bring.tolist()])
            self._between(number, hub, at, cost, resets, np.zeros(2))

    def _arrivals(self, numbers: Sequence[int]) -> Targets:
        """Let walks arrive at the cameras, those of one mounting height on a layer of their own."""
        cameras = [self.ground.cameras[c] for c in self.wanted.cameras]
        node = np.array([int(self.ground.network.point_node[c.row]) for c in cameras])
        heights = sorted({c.height_m for c in cameras})
        layer_of = {height_m: self._hub() for height_m in heights}
        for height_m, layer in layer_of.items():
            at = np.unique(node[[c.height_m == height_m for c in cameras]])
            for number in numbers:
                option = self.options[number]
                more_m = height_m * self.longer
                signal_m = 0.0 if option.spare is not None else more_m
                cost = self.book.bought(option.variant, signal_m, more_m)
                uses = self._uses(len(self.scheme.stages) - 1, option, np.array(signal_m), np.array(more_m))
                ends = self._at(number, at, leaving=True)
                self._between(number, layer, ends, cost, (False, False), uses)
        arrives = np.zeros((len(cameras), len(self.layers)), dtype=bool)
        arrives[np.arange(len(cameras)), [layer_of[c.height_m] for c in cameras]] = True
        arrives[self.loop_limits_ohm <= 0] = False
        tighter = np.zeros((len(cameras), 2))
        if self.carried:
            tighter[:, 1] = self.loop_limits_ohm.max() - self.loop_limits_ohm
        return Targets(node, arrives, tighter)


TIE = 1e-12
"""What makes the first of the catalogue the choice among equals."""

OVER_CONDUCTORS = ("dc", "ac", "coax")
"""Kinds of feed that conductors carry, whose resistance decides."""
