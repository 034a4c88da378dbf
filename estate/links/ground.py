"""What links are searched and judged on: the network with its works, rates, earths and spare cables."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, cable_length_m
from estate.links.earths import EarthPlace, Earths
from estate.links.prices import PriceBook
from estate.links.schemes import Stop
from estate.links.separation import SegmentSeparation
from estate.links.site import SiteFacts
from estate.links.spares import Spare, Unusable, spare_cables
from estate.links.stretch_limits import StretchLimits
from estate.links.ways import WayRules, pull_rates, way_rules, works_money
from estate.network.network import Network
from estate.settings import Settings
from estate.survey.survey import Survey

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

CABINETS = ("patch", "recorder")
"""Kinds of node where equipment that needs no mains can stand."""


@dataclass(frozen=True)
class Basis:
    """What follows from an estate as surveyed, whatever is designed on it: worked out once."""

    network: Network
    survey: Survey
    catalogue: Catalogue
    prices: PriceBook
    works: Floats
    """Money of each proposed segment [currency]."""
    pull: Floats
    earths: Earths
    joining: Bools
    """Segments whose metal joins earths that must not be joined, or are not known."""
    spares: list[Spare]
    unusable_spares: list[Unusable]
    limits: StretchLimits

    @classmethod
    def of(cls, network: Network, survey: Survey, catalogue: Catalogue, prices: PriceBook) -> "Basis":
        """Work it out."""
        earths = Earths(survey, network, catalogue)
        spares, unusable = spare_cables(survey, network, catalogue)
        return cls(
            network=network,
            survey=survey,
            catalogue=catalogue,
            prices=prices,
            works=works_money(network, survey, prices),
            pull=pull_rates(network, prices),
            earths=earths,
            joining=earths.barred(),
            spares=spares,
            unusable_spares=unusable,
            limits=StretchLimits(_longest_m(survey, network, spares)),
        )

    def holds_for(self, network: Network, survey: Survey, catalogue: Catalogue, prices: PriceBook) -> bool:
        """Whether it is that of this estate too: the same layers, catalogue and prices, and the same figures in them."""
        own, settings = self.survey, survey.settings
        layers = ("points", "routes", "buildings", "cables")
        return (
            self.network is network
            and self.catalogue is catalogue
            and self.prices is prices
            and all(getattr(own, name) is getattr(survey, name) for name in layers)
            and own.settings.lengths == settings.lengths
            and own.settings.limits == settings.limits
        )


def _longest_m(survey: Survey, network: Network, spares: Sequence[Spare]) -> float:
    """Return a length beyond every cable of the estate [m]."""
    heights_m = float(np.nansum(survey.points["height_m"].astype(float)))
    every_m = 2 * float(network.segment_length_m.sum())
    spare_m = sum(spare.length_m for spare in spares)
    return cable_length_m(every_m, heights_m, survey.settings.lengths) + spare_m + 1.0


@dataclass
class Ground:
    """The network, the cameras and sites, and the rules. What is derived from them is kept."""

    network: Network
    survey: Survey
    catalogue: Catalogue
    prices: PriceBook
    separation: SegmentSeparation
    cameras: list[CameraFacts]
    sites: list[SiteFacts]
    powered_at_cost: dict[int, float] = field(default_factory=dict)
    """Nodes without power where some would be brought, and the money of it [currency]."""
    closed: frozenset[int] = frozenset()
    """Segments where nothing new may lie."""
    reusable: tuple[Spare, ...] = ()
    """Installed cables in use that links may take beside the spare ones, whole or cut."""
    paid: frozenset[int] = frozenset()
    """Proposed segments that count as made already."""
    taken: frozenset[str] = frozenset()
    """Spare cables that are not to be had."""
    cured: Mapping[str, Mapping[int, float]] | None = None
    """By separation class, the money that clears each segment of mains [currency]; None: nothing is cleared.

    With it, a segment too near mains for a class and not in its table is closed to that class.
    """
    basis: Basis | None = None
    """Taken over from another ground of the same estate, else worked out."""

    def __post_init__(self) -> None:
        network, survey = self.network, self.survey
        estate = network, survey, self.catalogue, self.prices
        if self.basis is None or not self.basis.holds_for(*estate):
            self.basis = Basis.of(*estate)
        basis = self.basis
        self.settings: Settings = survey.settings
        self.works: Floats = basis.works.copy()
        self.works[list(self.paid)] = 0.0
        self.pull, self.earths, self.limits = basis.pull, basis.earths, basis.limits
        self.unusable_spares = basis.unusable_spares
        every = (*basis.spares, *self.reusable)
        self.spares = [spare for spare in every if spare.id not in self.taken]
        self.outdoors: Bools = np.zeros(network.segments, dtype=bool)
        if len(survey.buildings):
            drawn = np.array([line is not None for line in network.segment_geometry], dtype=bool)
            self.outdoors = (network.segment_building < 0) & drawn
        self.aerial: Bools = (network.segment_environment == "aerial") & self._hotter()
        powered = network.node_has_power & network.node_passes
        powered[list(self.powered_at_cost)] = True
        self.powered_nodes = np.flatnonzero(powered)
        self.power_money: Floats = np.zeros(network.nodes)
        self.power_money[list(self.powered_at_cost)] = list(self.powered_at_cost.values())
        self.cabinet_nodes = np.flatnonzero(np.isin(network.node_kind, CABINETS))
        self.housing_nodes = np.union1d(self.powered_nodes, self.cabinet_nodes)
        places = {int(node): self.earths.node_place(int(node)) for node in self.housing_nodes}
        self.node_places = {int(node): places[int(node)] for node in self.powered_nodes}
        self.housing_places = places
        self.stop_places = list(dict.fromkeys(places.values()))
        self._rules: dict[tuple[str, ...], WayRules] = {}

    def _hotter(self) -> bool:
        return self.ambient_c(hot=True) > self.settings.limits.ambient_c

    def ambient_c(self, *, hot: bool) -> float:
        """Return the temperature that a stretch is judged at: the set one, or that of an aerial one [°C]."""
        ambient_c = self.settings.limits.ambient_c
        return max(ambient_c, float(self.catalogue.rules["ambient"]["aerial_c"].value)) if hot else ambient_c

    def conditions(self, site: SiteFacts | None, *, hot: bool = False) -> Conditions:
        """Return what a stretch is judged by; its feed comes from the supplies of a site, or none that is known."""
        supplies = site.supplies if site is not None else {}
        limits, lengths = self.settings.limits, self.settings.lengths
        return Conditions(self.catalogue, limits, lengths, self.ambient_c(hot=hot), supplies)

    def is_hot(self, segments: tuple[int, ...]) -> bool:
        """Whether a stretch over these segments is judged at the temperature of an aerial one."""
        return bool(self.aerial[list(segments)].any())

    def leaves_building(self, segments: tuple[int, ...]) -> bool:
        """Whether a stretch over these segments has a drawn part outdoors."""
        return bool(self.outdoors[list(segments)].any())

    def rules(self, cables: tuple[str, ...]) -> WayRules:
        """Return where a set of cables may lie and at what cost."""
        if cables not in self._rules:
            works = self.works + self.cure_money(cables)
            rules = way_rules(
                self.network, cables, works, self.separation, self.catalogue, self.settings, self.prices
            )
            assert self.basis is not None
            free = ~self.basis.joining & np.isfinite(works)
            free[list(self.closed)] = False
            self._rules[cables] = replace(
                rules, open=rules.open & free, open_with_verify=rules.open_with_verify & free
            )
        return self._rules[cables]

    def cure_money(self, cables: tuple[str, ...]) -> Floats:
        """Return what clearing each segment of mains costs for these cables; infinite where nothing clears it [currency].

        The cable that asks for most decides: class a before b, c and d.
        """
        money = np.zeros(self.network.segments)
        worst = min(filter(None, (self.catalogue.cables[c].separation_class for c in cables)), default="")
        if self.cured is None or not worst:
            return money
        near = self.separation.verdicts(worst) == Verdict.OUTSIDE
        money[near] = np.inf
        for segment, cost in self.cured.get(worst, {}).items():
            money[segment] = cost
        return money

    def places(self, stop: Stop) -> Mapping[int, EarthPlace]:
        """Return the nodes where a stop that no port feeds can stand, with the earth there."""
        return self.node_places if stop.needs_mains else self.housing_places

    def works_cost(self, laid: Iterable[tuple[tuple[str, ...], tuple[int, ...]]]) -> float:
        """Return what making the ways of some cables costs, each segment once [currency].

        A segment to be cleared of mains is cleared for the cable there that asks for most.
        """
        cures: dict[int, float] = {}
        passed: set[int] = set()
        for cables, segments in laid:
            passed |= set(segments)
            if self.cured is not None:
                money = self.cure_money(cables)
                cures |= {s: max(float(money[s]), cures.get(s, 0.0)) for s in segments}
        works = float(self.works[sorted(passed)].sum()) if passed else 0.0
        return works + sum(cures[s] for s in sorted(cures))

    @property
    def recorders(self) -> int:
        """Number of recorder sites: they come first, cabinets after them."""
        return sum(not site.is_cabinet for site in self.sites)

    def open(self, cables: tuple[str, ...], *, with_verify: bool) -> Bools:
        """Return the segments where a set of cables may be designed."""
        rules = self.rules(cables)
        return rules.open_with_verify if with_verify else rules.open

    def is_discouraged(self, method: str, cables: tuple[str, ...]) -> bool:
        """Whether the user would rather not have a method or one of these cables."""
        return bool(set(self.settings.design.discouraged) & {method, *cables})
