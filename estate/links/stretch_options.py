"""The ways to lay one stretch: cables, exposure, isolator, spare cable; with what each reaches and costs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from operator import le

import numpy as np
from numpy.typing import NDArray

from estate.links.camera import CameraFacts
from estate.links.conditions import NO_JOINTS, Joints, stream_that_counts
from estate.links.ground import Ground
from estate.links.indoors import indoor_limit_m
from estate.links.judging import signalling
from estate.links.power import supply_volts
from estate.links.protectors import protectors
from estate.links.schemes import Scheme, Stage, stage_variants
from estate.links.site import SiteFacts
from estate.links.spares import Spare
from estate.links.stretch_limits import loop_limit_ohm, loop_ohm, supply_rating
from estate.links.variants import Variant
from estate.links.walk_graph import Layer

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BY_LENGTH = 1e-10
"""Weight of money where metres of cable are made least: it decides between ways of equal length."""


@dataclass(frozen=True, eq=False)
class Option:
    """One way to lay a stretch. A stretch outdoors has protectors, one with an aerial part is judged hot."""

    variant: Variant
    usable: Bools
    hot: bool
    protectors: tuple[str, ...]
    inline: tuple[str, ...]
    reach_m: float
    loop_ohm_per_m: float
    """0 where the stretch carries no feed over conductors, or power by Ethernet that its own length decides."""
    fixed: float
    """Items and ends made off, by what is made least."""
    spare: Spare | None = None
    """The spare cable that it is, all of it."""
    cords_ohm: float = 0.0
    """Loop of the cords at its ends, where power by Ethernet goes on past it."""
    indoor_m: float = np.inf
    """How long an unbroken run indoors it may have."""

    @property
    def items(self) -> tuple[str, ...]:
        """What stands in the stretch beside its ends."""
        return (*self.inline, *self.protectors, *self.protectors)


@dataclass(frozen=True)
class OptionArcs:
    """Segments of an option both ways, with what laying there costs and how much cable it takes [m]."""

    tail: Ints
    head: Ints
    segment: Ints
    cost: Floats
    cable_m: Floats
    blocked: Ints
    """The arcs out of nodes that only cameras share: new cable doesn't go on from there."""


@dataclass(frozen=True)
class StretchKind:
    """What decides over the options of a stretch, beside the isolators that earths ask for."""

    stage: Stage
    carries: bool
    """Whether it carries the camera's feed over conductors whose loop decides."""
    powered: bool
    """Whether its length decides over power by Ethernet."""
    with_verify: bool
    discouraged: bool


Inlines = Mapping[Variant, tuple[tuple[str, ...], ...]]
"""The isolators that each variant may need, by where it ends; a variant that may not stand is absent."""


@dataclass(frozen=True)
class StretchBook:
    """Options of stretches on a ground, each worked out once."""

    ground: Ground
    _options: dict[tuple[object, ...], list[Option]] = field(default_factory=dict)
    _arcs: dict[tuple[object, ...], OptionArcs] = field(default_factory=dict)
    _natures: dict[Variant, tuple[object, ...]] = field(default_factory=dict)
    _metre: dict[str, float] = field(default_factory=dict)
    layers: dict[tuple[object, ...], Layer] = field(default_factory=dict)
    """Layers of options whose cable is all new, as graphs of walks want them."""
    _fitting: dict[tuple[object, ...], list[Spare]] = field(default_factory=dict)
    _spare_ways: dict[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def by_length(self) -> bool:
        """Whether metres of new cable are made least, not money."""
        return self.ground.settings.design.objective == "cable_length"

    @property
    def longer(self) -> float:
        """Metres of cable for each metre of way."""
        return 1 + self.ground.settings.lengths.slack_percent / 100

    # Options

    def options(self, kind: StretchKind, camera: CameraFacts, inlines: Inlines) -> list[Option]:
        """Return the ways to lay a stretch, without those that another betters in everything."""
        facts = camera.kind if kind.powered else None
        mbps = stream_that_counts(camera, (kind.stage.method,), self.ground.catalogue)
        key = (kind, facts, mbps, tuple(sorted(inlines.items(), key=repr)))
        if key not in self._options:
            found = [
                option
                for variant, needed in inlines.items()
                for inline in needed
                for option in self._exposed(kind, camera, variant, inline)
            ]
            self._options[key] = [*self._undominated(found), *self._spare_options(kind, camera, found)]
        return self._options[key]

    def _exposed(
        self, kind: StretchKind, camera: CameraFacts, variant: Variant, inline: tuple[str, ...]
    ) -> list[Option]:
        """Return one option for each exposure that differs: indoors, outdoors, in the sun."""
        ground = self.ground
        usable = ground.open(variant.cables, with_verify=kind.with_verify)
        guard = protectors(variant, kind.stage.signal, ground.catalogue)[0]
        exposures: list[tuple[Bools, tuple[str, ...]]] = [(usable, ())]
        if guard and (usable & ground.outdoors).any():
            exposures = [(usable & ~ground.outdoors, ()), (usable, guard)]
        masks: list[tuple[Bools, bool, tuple[str, ...]]] = []
        for mask, items in exposures:
            masks.append((mask & ~ground.aerial, False, items))
            if (mask & ground.aerial).any():
                masks.append((mask, True, items))
        options = []
        for mask, hot, items in masks:
            each_ohm, cords_ohm = (
                loop_ohm(variant, ground.conditions(None, hot=hot)) if kind.carries else (0.0, 0.0)
            )
            indoor_m = indoor_limit_m(ground.catalogue, variant.cables)
            option = Option(variant, mask, hot, items, inline, 0.0, each_ohm, 0.0, None, cords_ohm, indoor_m)
            option = replace(
                option, reach_m=self.reach_m(kind, camera, option), fixed=self._fixed(kind, option)
            )
            options += [option] if option.reach_m > 0 else []
        return options

    def reach_m(
        self, kind: StretchKind, camera: CameraFacts, option: Option, joints: Joints = NO_JOINTS
    ) -> float:
        """Return how far an option goes [m]."""
        facts = signalling(camera, kind.stage.signal)
        conditions = self.ground.conditions(None, hot=option.hot)
        return self.ground.limits.length_m(
            option.variant, facts, conditions, option.items, joints, powered=kind.powered
        )

    def _spare_options(
        self, kind: StretchKind, camera: CameraFacts, options: Sequence[Option]
    ) -> list[Option]:
        """Return every spare cable that could be the whole of a stretch."""
        found = []
        for spare in self.ground.spares:
            along, laid = list(spare.segments), set()
            for (
                option
            ) in options:  # exposures come in the order of their costs: the first that will do is taken
                alike = option.variant, option.inline
                fits = option.variant.signal_cable == spare.cable and option.usable[along].all()
                if not fits or alike in laid:
                    continue
                reach_m = self.reach_m(kind, camera, option, spare.joints)
                if reach_m > 0:
                    found.append(replace(option, reach_m=reach_m, spare=spare))
                    laid.add(alike)
        return found

    def fitting(self, option: Option) -> list[Spare]:
        """Return the spare cables that could be a part of an option."""
        key = (option.variant.signal_cable, option.usable.tobytes())
        if key not in self._fitting:
            self._fitting[key] = [
                spare
                for spare in self.ground.spares
                if spare.cable == option.variant.signal_cable and option.usable[list(spare.segments)].all()
            ]
        return self._fitting[key]

    def spare_way(self, spare: Spare) -> tuple[float, float]:
        """Return the way of a spare cable [m], and what it costs to pull a cable along it [currency]."""
        if spare.id not in self._spare_ways:
            along, network = list(spare.segments), self.ground.network
            length_m = network.segment_length_m[along]
            pulling = float((length_m * self.ground.pull[along]).sum())
            self._spare_ways[spare.id] = float(length_m.sum()), pulling
        return self._spare_ways[spare.id]

    def _undominated(self, options: Iterable[Option]) -> list[Option]:
        """Return the options that none betters; of those alike in everything, the first of the catalogue."""
        kept: dict[object, list[Option]] = {}
        order: list[Option] = []
        for option in options:
            alike = kept.setdefault((option.inline, self._nature(option.variant)), [])
            if any(self._betters(other, option) for other in alike):
                continue
            gone = [o for o in alike if self._cheaper(option, o) and self._betters(option, o)]
            for other in gone:
                alike.remove(other)
                order.remove(other)
            alike.append(option)
            order.append(option)
        return order

    def _cheaper(self, one: Option, other: Option) -> bool:
        mine, others = ((o.fixed, *self._rates(o.variant)) for o in (one, other))
        return mine < others

    def _betters(self, one: Option, other: Option) -> bool:
        """Whether one option of the same nature is as good as another in everything that a walk sees."""
        return (
            one.reach_m >= other.reach_m
            and one.fixed <= other.fixed
            and one.loop_ohm_per_m <= other.loop_ohm_per_m
            and one.cords_ohm <= other.cords_ohm
            and one.indoor_m >= other.indoor_m
            and all(map(le, self._rates(one.variant), self._rates(other.variant)))
            and (one.variant == other.variant or other.variant.signal_cable not in self.spare_types)
            and not bool((other.usable & ~one.usable).any())
            and self._no_dearer(one, other)
        )

    def _no_dearer(self, one: Option, other: Option) -> bool:
        """Whether one option costs no more to lay wherever another may lie."""
        if one.variant.cables == other.variant.cables:
            return True
        weights = [self.ground.rules(option.variant.cables).weight for option in (one, other)]
        return bool((weights[0] <= weights[1])[other.usable].all())

    def _nature(self, variant: Variant) -> tuple[object, ...]:
        """Return what earths and the user's wishes see of an option."""
        if variant not in self._natures:
            cables = [self.ground.catalogue.cables[c] for c in variant.cables]
            discouraged = self.ground.is_discouraged(variant.method, variant.cables)
            self._natures[variant] = (discouraged, *((c.family, c.metallic, c.screened) for c in cables))
        return self._natures[variant]

    def _rates(self, variant: Variant) -> tuple[float, ...]:
        return tuple(self.rate(cable) for cable in variant.cables)

    @cached_property
    def spare_types(self) -> frozenset[str]:
        """Catalogue ids of the spare cables that may be taken."""
        return frozenset(spare.cable for spare in self.ground.spares)

    # Money

    def rate(self, cable: str) -> float:
        """Return the money of a metre of cable, waste included [currency/m]."""
        if cable not in self._metre:
            bought = 1 + self.ground.settings.lengths.waste_percent / 100
            self._metre[cable] = self.ground.prices.rate("cable_m", cable).value * bought
        return self._metre[cable]

    def least(self, money: float, metres: float = 0.0) -> float:
        """Return money and metres of new cable as what is made least."""
        return metres + BY_LENGTH * money if self.by_length else money

    def bought(self, variant: Variant, signal_m: float, power_m: float) -> float:
        """Return what lengths of new cable cost, by what is made least."""
        beside = variant.power_cable
        money = signal_m * self.rate(variant.signal_cable) + (power_m * self.rate(beside) if beside else 0.0)
        return self.least(money, signal_m + (power_m if beside else 0.0))

    def _fixed(self, kind: StretchKind, option: Option) -> float:
        prices, catalogue = self.ground.prices, self.ground.catalogue
        every = (*kind.stage.at_head, *kind.stage.at_camera, *option.items)
        money = sum(prices.item(catalogue.items[i]).value for i in every)
        ends = [prices.rate("termination", catalogue.cables[c].family).value for c in option.variant.cables]
        return self.least(money + 2 * sum(ends))

    def arcs(self, option: Option) -> OptionArcs:
        """Return the segments of an option, both ways."""
        key = (option.variant.cables, option.usable.tobytes())
        if key not in self._arcs:
            network = self.ground.network
            segments = np.flatnonzero(option.usable)
            tail = np.concatenate([network.segment_from[segments], network.segment_to[segments]])
            head = np.concatenate([network.segment_to[segments], network.segment_from[segments]])
            segment = np.tile(segments, 2)
            cable_m = network.segment_length_m[segment] * self.longer
            weight = self.ground.rules(option.variant.cables).weight[segment]
            metres = cable_m * len(option.variant.cables)
            cost = metres + BY_LENGTH * weight if self.by_length else weight
            blocked = np.flatnonzero(~network.node_passes[tail])
            self._arcs[key] = OptionArcs(tail, head, segment, cost, cable_m, blocked)
        return self._arcs[key]


def usable_variants(ground: Ground, stage: Stage, *, discouraged: bool) -> list[Variant]:
    """Return a stretch with its cables settled, with or without what the user discourages."""
    return [
        variant
        for variant in stage_variants(stage, ground.catalogue, ground.settings.design)
        if discouraged or not ground.is_discouraged(variant.method, variant.cables)
    ]


OVER_CONDUCTORS = ("dc", "ac", "coax")
"""Kinds of feed that conductors carry, whose resistance decides."""


def feed_limits_ohm(
    ground: Ground, scheme: Scheme, site: SiteFacts, cameras: Sequence[CameraFacts]
) -> Floats:
    """Return the greatest loop of each camera's feed, infinite where it is not fed over conductors [Ω].

    Its supply is the site's, or a new one on the way; -1 where none will do or the load is not known.
    """
    if ground.catalogue.feeds[scheme.feed].kind not in OVER_CONDUCTORS:
        return np.full(len(cameras), np.inf)
    conditions = ground.conditions(site if scheme.source == 0 else None)
    variants = stage_variants(scheme.stages[-1], ground.catalogue, ground.settings.design)
    if not variants:
        return np.full(len(cameras), -1.0)
    rating = supply_rating(scheme, conditions)
    return np.array(
        [
            loop_limit_ohm(variants[0], c, supply_volts(variants[0], c, conditions), conditions, rating)
            for c in cameras
        ]
    )
