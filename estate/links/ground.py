"""What links are searched and judged on: the network with its works, rates, earths and spare cables."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, cable_length_m
from estate.links.earths import Earths
from estate.links.prices import PriceBook
from estate.links.separation import SegmentSeparation
from estate.links.site import SiteFacts
from estate.links.spares import Spare, spare_cables
from estate.links.stretch_limits import StretchLimits
from estate.links.ways import WayRules, pull_rates, way_rules, works_money
from estate.network.network import Network
from estate.settings import Settings
from estate.survey.survey import Survey

Bools = NDArray[np.bool_]

CABINETS = ("patch", "recorder")
"""Kinds of node where equipment that needs no mains can stand."""


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

    def __post_init__(self) -> None:
        network, survey = self.network, self.survey
        self.settings: Settings = survey.settings
        self.works: NDArray[np.float64] = works_money(network, survey, self.prices)
        self.pull: NDArray[np.float64] = pull_rates(network, self.prices)
        self.earths = Earths(survey, network, self.catalogue)
        self.spares, self.unusable_spares = spare_cables(survey, network, self.catalogue)
        self.spares += self.reusable
        self.limits = StretchLimits(self._longest_m())
        self.outdoors: Bools = np.zeros(network.segments, dtype=bool)
        if len(survey.buildings):
            drawn = np.array([line is not None for line in network.segment_geometry], dtype=bool)
            self.outdoors = (network.segment_building < 0) & drawn
        self.aerial: Bools = (network.segment_environment == "aerial") & self._hotter()
        powered = network.node_has_power & network.node_passes
        powered[list(self.powered_at_cost)] = True
        self.powered_nodes = np.flatnonzero(powered)
        self.power_money: NDArray[np.float64] = np.zeros(network.nodes)
        self.power_money[list(self.powered_at_cost)] = list(self.powered_at_cost.values())
        self.cabinet_nodes = np.flatnonzero(np.isin(network.node_kind, CABINETS))
        self.node_places = {int(node): self.earths.node_place(int(node)) for node in self.powered_nodes}
        self.stop_places = list(dict.fromkeys(self.node_places.values()))
        self._joining = self.earths.barred()
        self._rules: dict[tuple[str, ...], WayRules] = {}

    def share(self, other: "Ground") -> None:
        """Take over what another ground of the same estate has worked out: limits, and judgements of earths."""
        self.limits, self.earths = other.limits, other.earths

    def _longest_m(self) -> float:
        """Return a length beyond every cable of the estate [m]."""
        heights_m = sum(camera.height_m for camera in self.cameras) + sum(s.height_m for s in self.sites)
        every_m = 2 * float(self.network.segment_length_m.sum())
        spare_m = sum(spare.length_m for spare in self.spares)
        return cable_length_m(every_m, heights_m, self.settings.lengths) + spare_m + 1.0

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
            rules = way_rules(
                self.network, cables, self.works, self.separation, self.catalogue, self.settings, self.prices
            )
            free = ~self._joining
            free[list(self.closed)] = False
            self._rules[cables] = replace(
                rules, open=rules.open & free, open_with_verify=rules.open_with_verify & free
            )
        return self._rules[cables]

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
