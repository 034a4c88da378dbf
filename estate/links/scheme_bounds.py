"""What a link of a scheme costs at least, from shortest ways alone: most schemes need no search to be ruled out."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from estate.links.camera import CameraFacts
from estate.links.conditions import stream_that_counts
from estate.links.earths import End
from estate.links.judging import signalling
from estate.links.protectors import protectors
from estate.links.schemes import Scheme, Stage, Stop
from estate.links.site import SiteFacts
from estate.links.stretch_limits import loop_ohm
from estate.links.stretch_options import (
    OVER_CONDUCTORS,
    StretchBook,
    StretchKind,
    feed_limits_ohm,
    usable_variants,
)
from estate.links.variants import Variant
from estate.network.paths import PathGraph, matrix, tree, with_leaps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Laying = tuple[tuple[str, ...], bool]
"""Cables, and whether they stay indoors."""


@dataclass(frozen=True, eq=False)
class Ends:
    """Where a stretch may end: nodes, earths, mounting heights, the greatest loop of the feed there [Ω]."""

    nodes: Ints
    fars: tuple[End, ...]
    heights_m: Floats
    loops_ohm: Floats
    reaches_m: Floats
    """How far power by Ethernet goes at most to what stands there, infinite where that doesn't matter [m]."""


@dataclass(frozen=True)
class _Laying:
    """The cables of a stretch, with what they reach and cost at least; lengths are metres of way."""

    variant: Variant
    reach_m: float
    ohm_per_m: float
    """Loop of the feed that it carries over conductors, else 0."""
    guard: float
    """Protectors, where it goes outdoors."""
    rise: float
    """A metre of mounting height."""
    ends: float
    spare_ends: float
    """Of a spare cable that is all of it."""
    behind_spares: Mapping[int, Sequence[int]]
    """The far ends of such cables, by node."""


@dataclass
class SchemeBounds:
    """Least costs of schemes on a ground; trees from sites and from places for equipment are kept."""

    book: StretchBook
    with_verify: bool
    _trees: dict[tuple[int, Laying], tuple[Floats, Floats]] = field(default_factory=dict)
    _graphs: dict[Laying, tuple[PathGraph, ...]] = field(default_factory=dict)
    _floors: dict[Scheme, float] = field(default_factory=dict)
    _guards: dict[tuple[str, Variant], float] = field(default_factory=dict)
    _leaps: dict[tuple[object, ...], Floats] = field(default_factory=dict)
    _ended: dict[tuple[object, ...], Ends] = field(default_factory=dict)
    _known: dict[tuple[object, ...], list[_Laying]] = field(default_factory=dict)

    def floor(self, scheme: Scheme) -> float:
        """Return what the equipment of a scheme costs, wherever it stands and whatever the cables."""
        if scheme not in self._floors:
            ground = self.book.ground
            items, prices = ground.catalogue.items, ground.prices
            every = [i for s in scheme.stages for i in (*s.at_head, *s.at_camera)]
            every += [i for stop in scheme.stops for i in stop.items]
            self._floors[scheme] = self.book.least(sum(prices.item(items[i]).value for i in every))
        return self._floors[scheme]

    def _ends(self, variant: Variant, *, spared: bool) -> float:
        """Return what the two ends of a stretch cost: made off, and new cable at them; one spare cable may be all of it."""
        ground = self.book.ground
        ends_m = 2 * ground.settings.lengths.end_m
        families = [ground.catalogue.cables[c].family for c in variant.cables]
        money = 2 * sum(ground.prices.rate("termination", family).value for family in families)
        return self.book.least(money) + self.book.bought(variant, 0.0 if spared else ends_m, ends_m)

    def least(self, scheme: Scheme, site: SiteFacts, cameras: Sequence[CameraFacts]) -> Floats:
        """Return what links of a scheme from a site cost at least, one value per camera.

        Infinite where no way is short enough, or where earths forbid. The cameras have one signal and one stream.
        """
        ground = self.book.ground
        reached: dict[tuple[int, End], float] = {(site.node, site.row): self.floor(scheme)}
        facts, begun_m = cameras[0], site.height_m
        for stage, stop in zip(scheme.stages, scheme.stops, strict=False):
            places = self._places(stop, site)
            nothing, endless = (0.0,) * len(places), (np.inf,) * len(places)
            ends = self._at(tuple(places), tuple(places.values()), nothing, endless, endless)
            best = self._onward(stage, facts, reached, ends, begun_m)
            if stop.needs_mains:
                money = ground.power_money[list(places)].tolist()
                best = best + np.array([self.book.least(each) for each in money])
            reached = {
                (node, place): float(cost)
                for (node, place), cost in zip(places.items(), best, strict=True)
                if np.isfinite(cost)
            }
            begun_m = 0.0
        ends = self._at(
            tuple(ground.network.point_node[[camera.row for camera in cameras]].tolist()),
            tuple(camera.row for camera in cameras),
            tuple(camera.height_m for camera in cameras),
            tuple(feed_limits_ohm(ground, scheme, site, cameras).tolist()),
            tuple(self._powered_m(scheme.stages[-1], camera) for camera in cameras),
        )
        return self._onward(scheme.stages[-1], facts, reached, ends, begun_m)

    def _at(
        self,
        nodes: tuple[int, ...],
        fars: tuple[End, ...],
        heights_m: tuple[float, ...],
        loops_ohm: tuple[float, ...],
        reaches_m: tuple[float, ...],
    ) -> Ends:
        """Return places where a stretch may end, the same object for the same places."""
        key = (nodes, fars, heights_m, loops_ohm, reaches_m)
        if key not in self._ended:
            numbers = (np.array(each) for each in (heights_m, loops_ohm, reaches_m))
            self._ended[key] = Ends(np.array(nodes, dtype=np.int64), fars, *numbers)
        return self._ended[key]

    def _powered_m(self, stage: Stage, camera: CameraFacts) -> float:
        """Return how far power by Ethernet goes to a camera on the best cable, infinite for any other feed [m].

        Behind an extender it goes no farther.
        """
        ground = self.book.ground
        if ground.catalogue.feeds[stage.feed].kind != "poe":
            return np.inf
        facts, at = signalling(camera, stage.signal), ground.conditions(None)
        variants = usable_variants(ground, stage, discouraged=True)
        return max((ground.limits.length_m(v, facts, at, powered=True) for v in variants), default=-1.0)

    def _places(self, stop: Stop, site: SiteFacts) -> dict[int, End]:
        """Return where a stop may stand, with the earth that it has there."""
        ground = self.book.ground
        if stop.by_port:
            return {int(n): site.row for n in ground.housing_nodes}
        return dict(ground.places(stop))

    def _onward(
        self,
        stage: Stage,
        facts: CameraFacts,
        reached: Mapping[tuple[int, End], float],
        ends: Ends,
        begun_m: float,
    ) -> Floats:
        """Return the least costs at the places where a stretch may end; it begins so high above its node."""
        best = np.full(len(ends.nodes), np.inf)
        earths = self.book.ground.earths
        for (node, near), so_far in reached.items():
            key = (stage, self._kind(stage, facts), node, earths.alike(near), ends, begun_m)
            if key not in self._leaps:
                self._leaps[key] = self._leap(stage, facts, node, near, ends, begun_m)
            best = np.minimum(best, so_far + self._leaps[key])
        return best

    def _leap(
        self, stage: Stage, facts: CameraFacts, node: int, near: End, ends: Ends, begun_m: float
    ) -> Floats:
        """Return the least costs of a stretch from one node to others."""
        ground, earths = self.book.ground, self.book.ground.earths
        heights_m = ends.heights_m + begun_m
        whole_m = heights_m + 2 * ground.settings.lengths.end_m / self.book.longer
        powered_m = ends.reaches_m / self.book.longer * (1 + 1e-9)
        best = np.full(len(ends.nodes), np.inf)
        kinds = {earths.alike(far): far for far in ends.fars}
        place = {kind: number for number, kind in enumerate(kinds)}
        of_kind = np.array([place[earths.alike(far)] for far in ends.fars], dtype=np.int64)
        for laying in self._layings(stage, facts):
            isolated = np.array([self._isolated(stage, laying.variant, far, near) for far in kinds.values()])
            if not np.isfinite(isolated).any():
                continue
            cost, length_m = self._from(node, laying.variant.cables, indoors=False)
            if laying.guard:
                inside, _ = self._from(node, laying.variant.cables, indoors=True)
                cost = np.minimum(inside, cost + laying.guard)
            long_m = length_m[ends.nodes] + whole_m
            usable = long_m <= np.minimum(laying.reach_m, powered_m)
            if laying.ohm_per_m:
                usable &= np.where(usable, long_m, 0.0) * laying.ohm_per_m <= ends.loops_ohm
            here = cost[ends.nodes] + heights_m * laying.rise + laying.ends
            here[~usable] = np.inf
            for far_node in laying.behind_spares.get(node, ()):
                at = ends.nodes == far_node
                here[at] = np.minimum(here[at], laying.spare_ends)
            best = np.minimum(best, here + isolated[of_kind])
        return best

    def _behind_spares(self, variant: Variant) -> dict[int, list[int]]:
        """Return by node the other ends of the spare cables that could be a whole stretch from there."""
        found: dict[int, list[int]] = defaultdict(list)
        for spare in self.book.ground.spares:
            if spare.cable == variant.signal_cable:
                found[spare.nodes[0]].append(spare.nodes[-1])
                found[spare.nodes[-1]].append(spare.nodes[0])
        return found

    def _ohm_per_m(self, stage: Stage, variant: Variant) -> float:
        """Return the loop of a stretch that carries its feed over conductors, 0 of any other [Ω/m]."""
        ground = self.book.ground
        if ground.catalogue.feeds[stage.feed].kind not in OVER_CONDUCTORS:
            return 0.0
        return loop_ohm(variant, ground.conditions(None))[0] * (1 - 1e-9)

    def _isolated(self, stage: Stage, variant: Variant, far: End, near: End) -> float:
        """Return what the isolator between two earths costs, infinite where a stretch may not join them."""
        ground = self.book.ground
        stands, inline = ground.earths.settled(variant.cables, stage.feed, far, near, stage.signal)
        items = ground.catalogue.items
        money = sum(ground.prices.item(items[i]).value for i in inline)
        return self.book.least(money) if stands else np.inf

    def _layings(self, stage: Stage, facts: CameraFacts) -> list[_Laying]:
        """Return the cables of a stretch that nothing betters."""
        key = (stage, *self._kind(stage, facts))
        if key not in self._known:
            ground = self.book.ground
            carries = ground.catalogue.feeds[stage.feed].kind in OVER_CONDUCTORS
            kind = StretchKind(
                stage, carries=carries, powered=False, with_verify=self.with_verify, discouraged=True
            )
            plain = dict.fromkeys(usable_variants(ground, stage, discouraged=True), ((),))
            longest: dict[Variant, float] = {}
            for option in self.book.options(kind, facts, plain):
                way_m = option.reach_m / self.book.longer * (1 + 1e-9)
                longest[option.variant] = max(way_m, longest.get(option.variant, 0.0))
            self._known[key] = [self._laying(stage, *each) for each in longest.items()]
        return self._known[key]

    def _laying(self, stage: Stage, variant: Variant, reach_m: float) -> _Laying:
        longer = self.book.longer
        return _Laying(
            variant=variant,
            reach_m=reach_m,
            ohm_per_m=self._ohm_per_m(stage, variant) * longer,
            guard=self._guard(stage, variant),
            rise=longer * self.book.bought(variant, 1.0, 1.0),
            ends=self._ends(variant, spared=False),
            spare_ends=self._ends(variant, spared=True),
            behind_spares=self._behind_spares(variant),
        )

    def _guard(self, stage: Stage, variant: Variant) -> float:
        """Return what the protectors of a stretch that goes outdoors cost, by what is made least."""
        ground, key = self.book.ground, (stage.signal, variant)
        if key not in self._guards:
            items = protectors(variant, stage.signal, ground.catalogue)[0] if ground.outdoors.any() else ()
            money = 2 * sum(ground.prices.item(ground.catalogue.items[i]).value for i in items)
            self._guards[key] = self.book.least(money)
        return self._guards[key]

    def _from(self, node: int, cables: tuple[str, ...], *, indoors: bool) -> tuple[Floats, Floats]:
        """Return the least costs and the least lengths of ways of some cables from a node."""
        key = cables, indoors
        if (node, key) not in self._trees:
            if key not in self._graphs:
                shut = self.book.ground.outdoors & indoors
                self._graphs[key] = self._ways(cables, ~shut)
            by_cost, by_length = self._graphs[key]
            self._trees[node, key] = (tree(by_cost, node).distance, tree(by_length, node).distance)
        return self._trees[node, key]

    def _ways(self, cables: tuple[str, ...], inside: Bools) -> tuple[PathGraph, PathGraph]:
        """Return ways by cost and by length where cables may lie; spare cables cost nothing from end to end."""
        ground, network = self.book.ground, self.book.ground.network
        is_open = ground.open(cables, with_verify=self.with_verify) & inside
        metres = network.segment_length_m * self.book.longer * len(cables)
        here = metres if self.book.by_length else ground.rules(cables).weight
        spares = [s for s in ground.spares if s.cable == cables[0] and is_open[list(s.segments)].all()]
        ends = [(s.nodes[0], s.nodes[-1]) for s in spares]
        way_m = [float(network.segment_length_m[list(s.segments)].sum()) for s in spares]
        shorter_m = [min(s.length_m / self.book.longer, m) for s, m in zip(spares, way_m, strict=True)]
        return (
            with_leaps(matrix(network, np.where(is_open, here, np.inf)), ends, np.zeros(len(spares))),
            with_leaps(
                matrix(network, np.where(is_open, network.segment_length_m, np.inf)),
                ends,
                np.array(shorter_m),
            ),
        )

    def _kind(self, stage: Stage, facts: CameraFacts) -> tuple[object, ...]:
        """Return what of a camera decides over how far its signal goes on a stretch."""
        return facts.signal, stream_that_counts(facts, (stage.method,), self.book.ground.catalogue)
