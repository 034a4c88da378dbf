"""What a link of a scheme costs at least, from shortest ways alone: most schemes need no search to be ruled out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from estate.links.camera import CameraFacts
from estate.links.earths import End
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
from estate.network.paths import PathGraph, matrix, tree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Laying = tuple[tuple[str, ...], bool]
"""Cables, and whether they stay indoors."""


@dataclass(frozen=True)
class Ends:
    """Where a stretch may end: nodes, earths, mounting heights, and the greatest loop of the feed there [Ω]."""

    nodes: tuple[int, ...]
    fars: tuple[End, ...]
    heights_m: tuple[float, ...]
    loops_ohm: tuple[float, ...]


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
    _reaches: dict[tuple[object, ...], list[tuple[Variant, float]]] = field(default_factory=dict)

    def floor(self, scheme: Scheme) -> float:
        """Return what a scheme costs at least, whatever its way: items, ends, and the cable at its ends."""
        if scheme not in self._floors:
            ground = self.book.ground
            items, prices = ground.catalogue.items, ground.prices
            every = [i for s in scheme.stages for i in (*s.at_head, *s.at_camera)]
            every += [i for stop in scheme.stops for i in stop.items]
            money = self.book.least(sum(prices.item(items[i]).value for i in every))
            self._floors[scheme] = money + sum(self._stage_floor(stage) for stage in scheme.stages)
        return self._floors[scheme]

    def _stage_floor(self, stage: Stage) -> float:
        ground = self.book.ground
        ends_m = 0.0 if ground.spares else 2 * ground.settings.lengths.end_m
        return min(
            (
                self.book.least(
                    sum(
                        2 * ground.prices.rate("termination", ground.catalogue.cables[c].family).value
                        for c in v.cables
                    )
                )
                + self.book.bought(v, ends_m, ends_m)
                for v in usable_variants(ground, stage, discouraged=True)
            ),
            default=np.inf,
        )

    def least(self, scheme: Scheme, site: SiteFacts, cameras: Sequence[CameraFacts]) -> Floats:
        """Return what links of a scheme from a site cost at least, one value per camera.

        Infinite where no way is short enough, or where earths forbid. The cameras have one signal and one stream.
        """
        reached: dict[tuple[int, End], float] = {(site.node, site.row): self.floor(scheme)}
        facts = cameras[0]
        for stage, stop in zip(scheme.stages, scheme.stops, strict=False):
            places = self._places(stop, site)
            count = len(places)
            ends = Ends(tuple(places), tuple(places.values()), (0.0,) * count, (np.inf,) * count)
            best = self._onward(stage, facts, reached, ends)
            reached = {
                (node, place): float(cost)
                for (node, place), cost in zip(places.items(), best, strict=True)
                if np.isfinite(cost)
            }
        ends = Ends(
            nodes=tuple(self.book.ground.network.point_node[[camera.row for camera in cameras]].tolist()),
            fars=tuple(camera.row for camera in cameras),
            heights_m=tuple(camera.height_m for camera in cameras),
            loops_ohm=tuple(feed_limits_ohm(self.book.ground, scheme, site, cameras).tolist()),
        )
        return self._onward(scheme.stages[-1], facts, reached, ends)

    def _places(self, stop: Stop, site: SiteFacts) -> dict[int, End]:
        """Return where a stop may stand, with the earth that it has there."""
        ground = self.book.ground
        if stop.by_port:
            return {int(n): site.row for n in ground.housing_nodes}
        return dict(ground.places(stop))

    def _onward(
        self, stage: Stage, facts: CameraFacts, reached: Mapping[tuple[int, End], float], ends: Ends
    ) -> Floats:
        """Return the least costs at the places where a stretch may end."""
        best = np.full(len(ends.nodes), np.inf)
        earths = self.book.ground.earths
        for (node, near), so_far in reached.items():
            key = (stage, _kind(facts), node, earths.alike(near), ends)
            if key not in self._leaps:
                self._leaps[key] = self._leap(stage, facts, node, near, ends)
            best = np.minimum(best, so_far + self._leaps[key])
        return best

    def _leap(self, stage: Stage, facts: CameraFacts, node: int, near: End, ends: Ends) -> Floats:
        """Return the least costs of a stretch from one node to others."""
        at = np.array(ends.nodes, dtype=np.int64)
        heights_m, loops_ohm = np.array(ends.heights_m), np.array(ends.loops_ohm)
        best = np.full(len(at), np.inf)
        earths, spares = self.book.ground.earths, {spare.cable for spare in self.book.ground.spares}
        kinds = {earths.alike(far): far for far in ends.fars}
        place = {kind: number for number, kind in enumerate(kinds)}
        of_kind = np.array([place[earths.alike(far)] for far in ends.fars], dtype=np.int64)
        for variant, reach_m in self._lengths(stage, facts):
            stands = [self._may_stand(stage, variant, far, near) for far in kinds.values()]
            if not any(stands):
                continue
            cost, length_m = self._from(node, variant.cables, indoors=False)
            guard = self._guard(stage, variant)
            if guard:
                inside, _ = self._from(node, variant.cables, indoors=True)
                cost = np.minimum(inside, cost + guard)
            up_m = np.zeros(len(at)) if variant.signal_cable in spares else heights_m
            ohm = self._ohm_per_m(stage, variant) * self.book.longer
            usable = (length_m[at] + up_m <= reach_m) & np.array(stands)[of_kind]
            if ohm:
                usable &= np.where(usable, length_m[at], 0.0) * ohm <= loops_ohm
            rise = up_m * self.book.longer * self.book.bought(variant, 1.0, 1.0)
            best = np.minimum(best, np.where(usable, cost[at] + rise, np.inf))
        return best

    def _ohm_per_m(self, stage: Stage, variant: Variant) -> float:
        """Return the loop of a stretch that carries its feed over conductors, 0 of any other [Ω/m]."""
        ground = self.book.ground
        if ground.catalogue.feeds[stage.feed].kind not in OVER_CONDUCTORS:
            return 0.0
        return loop_ohm(variant, ground.conditions(None))[0] * (1 - 1e-9)

    def _may_stand(self, stage: Stage, variant: Variant, far: End, near: End) -> bool:
        """Whether a stretch may join two earths."""
        earths = self.book.ground.earths
        return earths.settled(variant.cables, stage.feed, far, near, stage.signal)[0]

    def _lengths(self, stage: Stage, facts: CameraFacts) -> list[tuple[Variant, float]]:
        """Return the cables of a stretch that nothing betters, with the longest way that each can have [m]."""
        key = (stage, *_kind(facts))
        if key not in self._reaches:
            ground = self.book.ground
            carries = ground.catalogue.feeds[stage.feed].kind in OVER_CONDUCTORS
            kind = StretchKind(
                stage, carries=carries, powered=False, with_verify=self.with_verify, discouraged=True
            )
            plain = dict.fromkeys(usable_variants(ground, stage, discouraged=True), ((),))
            spares = {spare.cable for spare in ground.spares}
            longest: dict[Variant, float] = {}
            for option in self.book.options(kind, facts, plain):
                spared = option.variant.signal_cable in spares
                ends_m = 0.0 if spared else 2 * ground.settings.lengths.end_m
                way_m = (option.reach_m - ends_m) / self.book.longer * (1 + 1e-9)
                longest[option.variant] = max(way_m, longest.get(option.variant, 0.0))
            self._reaches[key] = list(longest.items())
        return self._reaches[key]

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
                weights = (np.where(shut, np.inf, weight) for weight in self._weights(cables))
                self._graphs[key] = tuple(matrix(self.book.ground.network, weight) for weight in weights)
            by_cost, by_length = self._graphs[key]
            self._trees[node, key] = (tree(by_cost, node).distance, tree(by_length, node).distance)
        return self._trees[node, key]

    def _weights(self, cables: tuple[str, ...]) -> tuple[Floats, Floats]:
        """Return the least cost and the length of every segment, infinite where the cables may not lie."""
        ground, network = self.book.ground, self.book.ground.network
        is_open = ground.open(cables, with_verify=self.with_verify)
        metres = network.segment_length_m * self.book.longer * len(cables)
        here = metres if self.book.by_length else ground.rules(cables).weight
        cost = np.where(is_open, here, np.inf)
        length_m = np.where(is_open, network.segment_length_m, np.inf)
        for spare in (each for each in ground.spares if each.cable == cables[0]):
            along = [s for s in spare.segments if is_open[s]]
            way_m = float(network.segment_length_m[list(spare.segments)].sum())
            cost[along] = 0.0
            length_m[along] *= min(1.0, spare.length_m / self.book.longer / way_m) if way_m else 1.0
        return cost, length_m


def _kind(facts: CameraFacts) -> tuple[object, ...]:
    """Return what of a camera decides over how far its signal goes."""
    return facts.signal, None if np.isnan(facts.mbps) else facts.mbps
