"""One scheme from one site as a graph of walks: cables and exposures as layers, stops between them.

Budgets: the share of its reach that a stretch has used, since the signal last started afresh; the loop of the feed
[Ω], or where an extender hangs on the port that of each stretch; spare cables of which it is counted that they are
taken once. A stretch that goes outdoors pays for its protectors, an aerial one is judged hot: each is a layer of its
own, so that costs and limits are known before the first metre.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from estate.links.conditions import Joints
from estate.links.earths import End
from estate.links.found import Found, Reuse
from estate.links.indoors import indoor_limit_m, runs_m, unfit_indoors
from estate.links.judging import Laid, quoted, signalling
from estate.links.labels import Start, Targets, Walk
from estate.links.schemes import Scheme, stage_variants
from estate.links.spares import Spare
from estate.links.stretch_limits import splice_reach_m
from estate.links.stretch_options import (
    BY_LENGTH,
    OVER_CONDUCTORS,
    Option,
    OptionArcs,
    StretchBook,
    StretchKind,
    feed_limits_ohm,
    usable_variants,
)
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
    once: tuple[str, ...] = ()
    """Spare cables of which it must be counted that one walk takes them once."""


@dataclass(frozen=True)
class _Arcs:
    """The arcs of one layer: a segment each, then spare cables."""

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
class _Medium:
    """The layers of an option that begins at some ends: where a stretch begins, and those where it may end."""

    option: Option
    nears: Sequence[End]
    begins: int
    ends: tuple[int, ...]


@dataclass(frozen=True)
class SchemeGraph:
    """A graph of walks with what its layers and equipment mean."""

    wanted: Wanted
    graph: WalkGraph
    start: Start
    targets: Targets
    options: dict[int, Option]
    """By the layer where they begin; other layers are places to start, stop and arrive."""
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
        network = self.wanted.book.ground.network
        nodes = [walk.nodes[begin]]
        segments: list[int] = []
        reused: list[Reuse] = []
        for leaving, arc in walk.arcs[begin:end]:
            here, spare = self.arcs[leaving].along(arc)
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
        self.kinds: dict[int, StretchKind] = {}
        self.camera = self.ground.cameras[wanted.cameras[0]]
        self.site = self.ground.sites[wanted.site]
        self.lengths = self.ground.settings.lengths
        self.longer = self.book.longer
        self.layers: list[Layer] = []
        self.equipment: list[Equipment] = []
        self.entered: list[int] = []
        self.options: dict[int, Option] = {}
        self.arcs: dict[int, _Arcs] = {}
        self.spliced = self._may_be_spliced()
        self.sheathed = self._may_be_unfit_indoors()
        self.places = [self._places(k) for k in range(len(self.scheme.stops))]
        cameras = [self.ground.cameras[c] for c in wanted.cameras]
        self.loop_limits_ohm = feed_limits_ohm(self.ground, self.scheme, self.site, cameras)
        self.carried = self.ground.catalogue.feeds[self.scheme.feed].kind in OVER_CONDUCTORS

    def built(self) -> SchemeGraph | None:
        """Return the graph, None where nothing can be laid."""
        if not (self.loop_limits_ohm > 0).any() or not all(self.places):
            return None
        hub = self._hub()
        start = Start(self.site.node, hub)
        for k in range(len(self.scheme.stages)):
            media = [
                self._lay(k, option, nears)
                for nears in self._beginnings(k)
                for option in self._options(k, nears)
            ]
            if not media:
                return None
            for place, medium in enumerate(media):
                self._enter(k, hub, medium, place * TIE)
            if k < len(self.scheme.stops):
                hub = self._hub()
                for medium in media:
                    self._stop(k, medium, hub)
        targets = self._arrivals(media)
        graph = walk_graph(self.ground.network.nodes, self.layers, self.equipment)
        return SchemeGraph(self.wanted, graph, start, targets, self.options, self.arcs, tuple(self.entered))

    # Limits

    @cached_property
    def limits(self) -> Floats:
        """Share of reach; loop of the feed, or where an extender hangs on the port of each stretch; splices; counted spares."""
        loops_ohm = [self.loop_limits_ohm.max() if self.carried else np.inf]
        if self.scheme.extended:
            loops_ohm *= len(self.scheme.stages)
        more = [1.0] * (self.spliced + self.sheathed + len(self.wanted.once))
        return np.array([1.0, *loops_ohm, *more])

    def _uses(self, k: int, option: Option, signal_m: Floats, carried_m: Floats) -> Floats:
        """Return what lengths use of the budgets: what counts for the signal, and the cable that carries the feed."""
        uses = np.zeros((*signal_m.shape, len(self.limits)))
        uses[..., 0] = signal_m / option.reach_m
        uses[..., self._loop(k)] = carried_m * option.loop_ohm_per_m
        if self.spliced and self._is_fibre(option):
            uses[..., self._splices()] = signal_m / self._splice_reach(k, option)[0]
        return uses

    def _is_fibre(self, option: Option) -> bool:
        return self.ground.catalogue.cables[option.variant.signal_cable].family == "fibre"

    def _splices(self) -> int:
        """Return the budget that the loss of fibre counts in, splices included."""
        return len(self.limits) - len(self.wanted.once) - self.sheathed - 1

    def _indoors(self) -> int:
        """Return the budget that unbroken runs of cable indoors count in."""
        return len(self.limits) - len(self.wanted.once) - 1

    def _splice_reach(self, k: int, option: Option) -> tuple[float, float]:
        """Return how far the loss of a fibre lets it go, and what a splice takes of that [m]."""
        facts = signalling(self.camera, self.scheme.stages[k].signal)
        return splice_reach_m(option.variant, facts, self.ground.conditions(None, hot=option.hot))

    def _loop(self, k: int) -> int:
        """Return the budget that the loop of stretch k counts in."""
        return 1 + k if self.scheme.extended else 1

    # Places

    def _may_be_spliced(self) -> bool:
        """Whether a spare fibre could be part of a stretch."""
        methods, cables = self.ground.catalogue.methods, self.ground.catalogue.cables
        laid = {cable for stage in self.scheme.stages for cable in methods[stage.method].signal_cables}
        return any(
            spare.cable in laid and cables[spare.cable].family == "fibre" for spare in self.ground.spares
        )

    def _may_be_unfit_indoors(self) -> bool:
        """Whether a cable of the scheme is held to a length indoors."""
        methods, catalogue = self.ground.catalogue.methods, self.ground.catalogue
        laid = [methods[stage.method] for stage in self.scheme.stages]
        cables = [cable for method in laid for cable in (*method.signal_cables, *method.power_cables)]
        return bool(np.isfinite(indoor_limit_m(catalogue, cables)))

    def _places(self, k: int) -> list[tuple[End, NDArray[np.int64]]]:
        """Return where stop k can stand, by what earth it has there."""
        if self.scheme.stops[k].by_port:
            return [(self.site.row, self.ground.housing_nodes)]
        groups: dict[End, list[int]] = {}
        for node, place in self.ground.places(self.scheme.stops[k]).items():
            groups.setdefault(place, []).append(node)
        return [(place, np.array(nodes)) for place, nodes in groups.items()]

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

    def _beginnings(self, k: int) -> list[list[End]]:
        """Return what stretch k may end at towards the head, in groups that its far ends see as one.

        Behind a stop a stretch is laid once for each group: what it needs depends on both its ends. The camera's own
        stretch has one far end, which settles it where it is entered.
        """
        nears = self._nears(k)
        if k in (0, len(self.scheme.stages) - 1):
            return [nears]
        stage, groups = self.scheme.stages[k], defaultdict(list)
        variants = stage_variants(stage, self.ground.catalogue, self.ground.settings.design)
        for near in nears:
            seen = tuple(self._settled(k, v, far, near) for v in variants for far in self._fars(k))
            groups[seen].append(near)
        return list(groups.values())

    # Options

    def _options(self, k: int, nears: Sequence[End]) -> list[Option]:
        """Return the ways to lay stretch k from some ends towards the head."""
        stage, wanted = self.scheme.stages[k], self.wanted
        kind = StretchKind(
            stage=stage,
            carries=k >= self.scheme.source and (self.carried or self.scheme.extended),
            powered=stage.feed.startswith("poe") and not self.scheme.extended,
            with_verify=wanted.with_verify,
            discouraged=wanted.discouraged,
        )
        self.kinds[k] = kind
        inlines = {}
        for variant in usable_variants(self.ground, stage, discouraged=wanted.discouraged):
            needed = {
                inline
                for far in self._fars(k)
                for near in nears
                for stands, inline in [self._settled(k, variant, far, near)]
                if stands
            }
            if needed:
                inlines[variant] = tuple(sorted(needed))
        begins, ends = self._begin_nodes(k), self._end_nodes(k)
        return [
            option
            for option in self.book.options(kind, self.camera, inlines)
            if option.spare is None or self._fits(option.spare, begins, ends)
        ]

    def _begin_nodes(self, k: int) -> frozenset[int]:
        """Return where stretch k may begin."""
        if k == 0:
            return frozenset((self.site.node,))
        return frozenset(int(node) for _, nodes in self.places[k - 1] for node in nodes)

    def _end_nodes(self, k: int) -> frozenset[int]:
        """Return where stretch k may end."""
        if k < len(self.places):
            return frozenset(int(node) for _, nodes in self.places[k] for node in nodes)
        cameras = (self.ground.cameras[c] for c in self.wanted.cameras)
        return frozenset(int(self.ground.network.point_node[camera.row]) for camera in cameras)

    @staticmethod
    def _fits(spare: Spare, begins: frozenset[int], ends: frozenset[int]) -> bool:
        """Whether a spare cable could be all of a stretch, one way round or the other."""
        first, last = spare.nodes[0], spare.nodes[-1]
        return (first in begins and last in ends) or (last in begins and first in ends)

    # Layers

    def _hub(self) -> int:
        """Add a layer without arcs: where a walk starts, stops or arrives."""
        none = np.empty(0, dtype=np.int64)
        limits = self.limits
        self.layers.append(Layer(none, none, np.empty(0), np.empty((0, len(limits))), limits))
        return len(self.layers) - 1

    def _lay(self, k: int, option: Option, nears: Sequence[End]) -> _Medium:
        """Add the layers of an option.

        One, where all cable is new. Where spare cables fit in, three: nothing laid yet, new cable last, a spare last;
        for every piece but the first is made off at two ends more. A spare that is all of the stretch has a layer
        before it and one behind it.
        """
        first = len(self.layers)
        spares = self._spare_arcs(k, option)
        if option.spare is not None:
            self._add(k, option, spares, (0.0, 0.0), (first + 1, first + 1))
            self._add(k, option, [], (0.0, 0.0), (first + 1, first + 1))
            ends: tuple[int, ...] = (first + 1,)
        elif not spares:
            self._add_new(k, option)
            ends = (first,)
        else:
            family = self.ground.catalogue.cables[option.variant.signal_cable].family
            piece = self.book.least(2 * self.ground.prices.rate("termination", family).value)
            for more in ((0.0, 0.0), (0.0, piece), (piece, piece)):
                self._add(k, option, spares, more, (first + 1, first + 2))
            ends = (first, first + 1, first + 2)
        self.options[first] = option
        return _Medium(option, nears, first, ends)

    def _add_new(self, k: int, option: Option) -> None:
        """Add the layer of an option whose cable is all new; the same for every site where cable passes all nodes."""
        new = self.book.arcs(option)
        cost = self._passable(new)
        budgets = len(self.limits), self.spliced, self.sheathed
        key = (id(option), k if self.scheme.extended else -1, *budgets)
        if cost is not new.cost or key not in self.book.layers:
            uses = self._uses(k, option, new.cable_m, new.cable_m)
            resets = self._indoors_of(option, [(int(s),) for s in new.segment], uses)
            self.book.layers[key] = Layer(new.tail, new.head, cost, uses, self.limits, resets=resets)
        layer = replace(self.book.layers[key], limits=self.limits)
        self.arcs[len(self.layers)] = _Arcs(new.segment, (), len(new.tail))
        self.layers.append(layer)

    def _add(
        self,
        k: int,
        option: Option,
        spares: Sequence[tuple[Spare, bool, float]],
        more: tuple[float, float],
        onto: tuple[int, int],
    ) -> None:
        """Add a layer: segments both ways and spare cables, what each costs more, and the layers that they lead to."""
        new = self.book.arcs(option)
        count = len(new.tail) if option.spare is None else 0
        new_m = new.cable_m[:count]
        spare_m = np.array([counted for _, _, counted in spares])
        beside = bool(option.variant.power_cable)
        lying = np.array([self.book.spare_way(spare) for spare, _, _ in spares]).reshape(-1, 2)
        way_m, pulling = lying[:, 0] * self.longer, lying[:, 1]
        carried_m = way_m if beside else np.array([spare.length_m for spare, _, _ in spares])
        spare_uses = self._uses(k, option, spare_m, carried_m)
        if self.spliced and option.spare is None and self._is_fibre(option):
            loss_m, splice_m = self._splice_reach(k, option)
            spare_uses[:, self._splices()] += SPARE_ENDS * splice_m / loss_m
        for column, once in enumerate(self.wanted.once, len(self.limits) - len(self.wanted.once)):
            spare_uses[:, column] = [spare.id == once for spare, _, _ in spares]
        begins = np.array([s.nodes[0 if forth else -1] for s, forth, _ in spares], dtype=np.int64)
        ends = np.array([s.nodes[-1 if forth else 0] for s, forth, _ in spares], dtype=np.int64)
        spare_cost = np.zeros(len(spares))
        if beside:
            money = way_m * self.book.rate(option.variant.power_cable) + pulling
            spare_cost = way_m + BY_LENGTH * money if self.book.by_length else money
        uses = np.concatenate([self._uses(k, option, new_m, new_m), spare_uses])
        along: list[tuple[int, ...]] = [(int(s),) for s in new.segment[:count]]
        along += [spare.segments if forth else spare.segments[::-1] for spare, forth, _ in spares]
        layer = Layer(
            tail=np.concatenate([new.tail[:count], begins]),
            head=np.concatenate([new.head[:count], ends]),
            cost=np.concatenate([self._passable(new)[:count] + more[0], spare_cost + more[1]]),
            uses=uses,
            limits=self.limits,
            onto=np.repeat(onto, (count, len(spares))),
            resets=self._indoors_of(option, along, uses),
        )
        laid = tuple((spare, forth) for spare, forth, _ in spares)
        self.arcs[len(self.layers)] = _Arcs(new.segment, laid, count)
        self.layers.append(layer)

    def _indoors_of(self, option: Option, along: Sequence[tuple[int, ...]], uses: Floats) -> Bools | None:
        """Enter what arcs use of an unbroken run indoors, and return which begin it afresh: those that come out.

        Of a spare cable that comes out on its way what it has at its far end counts; the finished link is judged whole.
        """
        if not self.sheathed:
            return None
        ground = self.ground
        resets = np.zeros(uses.shape, dtype=bool)
        held = unfit_indoors(ground.network, ground.catalogue, option.variant.cables)
        for arc, segments in enumerate(along):
            runs = runs_m(
                ground.network.segment_length_m[list(segments)].tolist(), held[list(segments)].tolist()
            )
            resets[arc, self._indoors()] = not all(inside for inside, _ in runs)
            inside, length_m = runs[-1]
            if inside:
                uses[arc, self._indoors()] = length_m / option.indoor_m if option.indoor_m else np.inf
        return resets

    def _passable(self, new: OptionArcs) -> Floats:
        """Return the costs of new cable, infinite where it would go on from a node that only cameras share."""
        blocked = new.blocked[new.tail[new.blocked] != self.site.node]
        if not len(blocked):
            return new.cost
        cost = new.cost.copy()
        cost[blocked] = np.inf
        return cost

    # Spare cables on a part of a stretch

    def _spare_arcs(self, k: int, option: Option) -> list[tuple[Spare, bool, float]]:
        """Return the spare cables of an option, which way they run, and the length each counts for [m]."""
        if option.spare is not None:
            return [(option.spare, forth, option.spare.length_m) for forth in (True, False)]
        found = []
        for spare in self.book.fitting(option):
            joints = Joints(SPARE_ENDS, spare.joints.bad_or_unknown)
            reach_m = self.book.reach_m(self.kinds[k], self.camera, option, joints)
            if reach_m > 0:
                # Splices of fibre count against its loss alone, which has a budget of its own.
                shorter_m = 0.0 if self._is_fibre(option) else option.reach_m - reach_m
                counted_m = spare.length_m + shorter_m
                found += [(spare, forth, counted_m) for forth in (True, False) if self._goes_on(spare, forth)]
        return found

    def _goes_on(self, spare: Spare, forth: bool) -> bool:
        """Whether cable may go on into a spare, from the end where it is entered."""
        node = spare.nodes[0 if forth else -1]
        return node == self.site.node or bool(self.ground.network.node_passes[node])

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
        every = np.array([*resets, *[False] * (len(self.limits) - 2)])
        if self.spliced:
            every[self._splices()] = resets[0]
        if self.sheathed:
            every[self._indoors()] = True
        self.equipment.append(Equipment(before, after, nodes, cost, every, uses))
        self.entered.append(after)

    def _enter(self, k: int, hub: int, medium: _Medium, tie: float) -> None:
        """Let a walk begin stretch k as an option; a tie between options is broken by so little."""
        option = medium.option
        heights_m = self.site.height_m * self.longer if k == 0 else 0.0
        ends_m = 2 * self.lengths.end_m + heights_m
        signal_m = 0.0 if option.spare is not None else ends_m
        cost = option.fixed + self.book.bought(option.variant, signal_m, ends_m) + tie
        carried_m = ends_m if option.variant.power_cable else signal_m
        uses = self._uses(k, option, np.array(signal_m), np.array(carried_m))
        uses[self._loop(k)] += option.cords_ohm
        nodes = self._begun(k, option, medium.nears)
        self._between(hub, medium.begins, nodes, cost, (False, False), uses)

    def _begun(self, k: int, option: Option, nears: Sequence[End]) -> NDArray[np.int64]:
        """Return the nodes where stretch k may begin as an option."""
        if k == 0:
            return np.array([self.site.node])
        last = k == len(self.scheme.stages) - 1
        found = [
            nodes
            for place, nodes in self.places[k - 1]
            if place in nears
            and (
                not last or self._settled(k, option.variant, self.camera.row, place) == (True, option.inline)
            )
        ]
        return np.concatenate([np.empty(0, dtype=np.int64), *found])

    def _stop(self, k: int, medium: _Medium, hub: int) -> None:
        """Let a walk stop after stretch k, where the earths of both its ends allow."""
        option, stop = medium.option, self.scheme.stops[k]
        prices, items = self.ground.prices, self.ground.catalogue.items
        nodes = [
            at
            for place, at in self.places[k]
            if all(
                self._settled(k, option.variant, place, near) == (True, option.inline)
                for near in medium.nears
            )
        ]
        if not nodes:
            return
        at = np.concatenate(nodes)
        money = sum(prices.item(items[i]).value for i in stop.items)
        bring = self.ground.power_money[at] if stop.needs_mains else np.zeros(len(at))
        cost = np.array([self.book.least(money + each) for each in bring.tolist()])
        resets = (stop.restores, stop.source and not self.scheme.extended)
        nothing = np.zeros(len(self.limits))
        for layer in medium.ends:
            self._between(layer, hub, at, cost, resets, nothing)

    def _arrivals(self, media: Sequence[_Medium]) -> Targets:
        """Let walks arrive at the cameras, those of one mounting height on a layer of their own."""
        cameras = [self.ground.cameras[c] for c in self.wanted.cameras]
        node = np.array([int(self.ground.network.point_node[c.row]) for c in cameras])
        heights = sorted({c.height_m for c in cameras})
        layer_of = {height_m: self._hub() for height_m in heights}
        for height_m, layer in layer_of.items():
            at = np.unique(node[[c.height_m == height_m for c in cameras]])
            for medium in media:
                option = medium.option
                more_m = height_m * self.longer
                signal_m = 0.0 if option.spare is not None else more_m
                cost = self.book.bought(option.variant, signal_m, more_m)
                carried_m = more_m if option.variant.power_cable else signal_m
                uses = self._uses(
                    len(self.scheme.stages) - 1, option, np.array(signal_m), np.array(carried_m)
                )
                for last in medium.ends:
                    self._between(last, layer, at, cost, (False, False), uses)
        arrives = np.zeros((len(cameras), len(self.layers)), dtype=bool)
        arrives[np.arange(len(cameras)), [layer_of[c.height_m] for c in cameras]] = True
        arrives[self.loop_limits_ohm <= 0] = False
        tighter = np.zeros((len(cameras), 2))
        if self.carried:
            tighter[:, 1] = self.loop_limits_ohm.max() - self.loop_limits_ohm
        return Targets(node, arrives, tighter)


TIE = 1e-12
"""What makes the first of the catalogue the choice among equals."""

SPARE_ENDS = 2
"""Joints at the ends of a spare cable that is a part of a stretch."""
