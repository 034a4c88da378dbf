"""How full containment is: with the cables listed, those not listed, and what is laid beside them."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Verdict
from estate.formulas.containment import bent_fill_limit_percent
from estate.formulas.separation import stack_height_mm
from estate.installed.lying import LyingCable, lying_cables
from estate.network.network import Network
from estate.survey.survey import Survey

ROUND = ("duct", "conduit")
STACKED = ("tray", "basket")
LIMITED = (*ROUND, "trunking", *STACKED)
"""Containments that can be full; buried, surface and catenary can't."""

SEVERAL = 3
"""From so many cables on, the share that may be filled doesn't depend on their number."""

Laid = Mapping[str, int]
"""How many cables of each type."""

NOTHING: Laid = MappingProxyType({})


@dataclass(frozen=True)
class Containment:
    """The containment of an estate and the listed cables that lie in it."""

    survey: Survey
    catalogue: Catalogue
    network: Network
    lying: tuple[LyingCable, ...]
    within: Mapping[int, tuple[LyingCable, ...]]
    """Listed cables by segment; one that passes twice stands twice."""

    def route(self, segment: int) -> int:
        """Row of the route that a segment is of, -1 for a spur."""
        return int(self.network.segment_route[segment])

    def kind(self, segment: int) -> str | None:
        """What carries the cable on a segment, None where that is not known."""
        kind = self.network.segment_containment[segment]
        return None if kind is None else str(kind)


def containment_of(survey: Survey, catalogue: Catalogue, network: Network) -> Containment:
    """Return the containment of an estate with every listed cable in its place."""
    lying = lying_cables(survey, network, catalogue)
    within: dict[int, list[LyingCable]] = defaultdict(list)
    for cable in lying:
        for segment in cable.segments:
            within[segment].append(cable)
    return Containment(survey, catalogue, network, lying, {s: tuple(here) for s, here in within.items()})


def section_mm2(containment: Containment, segment: int) -> float:
    """Return what cables may be laid out in: the section inside, all ways together [mm²], NaN where not known.

    Of a tray or basket, the circles that lie in squares up to the stacking height: π/4 · width · height.
    """
    route = containment.route(segment)
    if route < 0:
        return NAN

    def given(column: str) -> float:
        return float(containment.survey.routes[column][route])

    if containment.kind(segment) in STACKED:
        rules = containment.catalogue.rules["fill"]
        height_mm = stack_height_mm(given("support_mm"), rules["stack_mm"].value, rules["stack_per_mm"].value)
        return _unless_zero(float(np.pi / 4 * given("width_mm") * height_mm))
    bore_mm = given("bore_mm")
    section = given("area_mm2") if np.isnan(bore_mm) else float(np.pi / 4 * bore_mm**2)
    return _unless_zero(section if np.isnan(given("ways")) else section * given("ways"))


def _unless_zero(section_mm2: float) -> float:
    """Return a section, NaN for 0: that is no measure of anything."""
    return float(section_mm2) if section_mm2 > 0 else NAN


def unlisted_percent(containment: Containment, segment: int) -> float:
    """Return what cables not listed take [%]; blank: unknown (NaN) if existing, 0 if proposed."""
    route = containment.route(segment)
    if route < 0:
        return NAN
    taken = float(containment.survey.routes["fill_percent"][route])
    return 0.0 if np.isnan(taken) and containment.network.segment_proposed[segment] else taken


def cable_mm2(catalogue: Catalogue, cable: str | None) -> float:
    """Return the cross-section that a cable takes up [mm²], NaN where its diameter is not known."""
    if cable is None:
        return NAN
    return float(np.pi / 4 * catalogue.cables[cable].number("od_mm") ** 2)


def could_be_mm2(catalogue: Catalogue) -> tuple[float, float]:
    """Return the cross-sections of the thinnest and the thickest cable of the catalogue [mm²]."""
    known = [area for cable in catalogue.cables if not np.isnan(area := cable_mm2(catalogue, cable))]
    return min(known), max(known)


# How full


@dataclass(frozen=True, slots=True)
class Fill:
    """How full a segment is, at least and at most, and what may be filled.

    Least and most differ where a cable in it is of unknown type: it could be the thinnest or the thickest of the
    catalogue. NaN where a size or the share of cables not listed is not known.
    """

    least_percent: float
    most_percent: float
    limit_percent: float
    """NaN where nothing limits it, or where it isn't known what carries the cable."""
    cables: int
    """How many there are; ones not listed count as several."""

    @property
    def percent(self) -> float:
        """The fill, NaN where it is not known [%]."""
        return self.least_percent if self.least_percent == self.most_percent else NAN

    @property
    def verdict(self) -> Verdict:
        """Within or outside where every value says so, else verify."""
        if self.most_percent <= self.limit_percent + TOLERANCE_PERCENT:
            return Verdict.WITHIN
        over = self.least_percent > self.limit_percent + TOLERANCE_PERCENT
        return Verdict.OUTSIDE if over else Verdict.VERIFY


TOLERANCE_PERCENT = 1e-9


def fill_of(
    containment: Containment, segment: int, laid: Laid = NOTHING, without: frozenset[str] = frozenset()
) -> Fill:
    """Return how full a segment is with cables laid beside those there; `without` are listed ones taken out.

    100·Σd²/D² in a bore, the circles' share of a section else, with what cables not listed take.
    """
    catalogue = containment.catalogue
    here = [c.cable for c in containment.within.get(segment, ()) if c.id not in without]
    known_mm2, strangers = 0.0, 0
    for cable, n in [*((cable, 1) for cable in here), *laid.items()]:
        area = cable_mm2(catalogue, cable)
        known_mm2, strangers = (
            (known_mm2, strangers + n) if np.isnan(area) else (known_mm2 + n * area, strangers)
        )
    unlisted, section = unlisted_percent(containment, segment), section_mm2(containment, segment)
    extremes = could_be_mm2(catalogue) if strangers else (0.0, 0.0)
    least, most = (unlisted + 100 * (known_mm2 + strangers * area) / section for area in extremes)
    count = sum(laid.values()) + len(here) + (0 if unlisted == 0 else SEVERAL)
    return Fill(least, most, limit_percent(containment, segment, count), count)


def limit_percent(containment: Containment, segment: int, cables: int) -> float:
    """Return the most that so many cables in all may fill of a segment [%], NaN where nothing limits it.

    53, 31 or 40 in conduit and duct for one, two and more; 45 in trunking; all of the stacking height on tray and
    basket.
    """
    rules, kind = containment.catalogue.rules["fill"], containment.kind(segment)
    if kind in ROUND:
        name = {1: "one_cable_percent", 2: "two_cables_percent"}.get(cables, "more_cables_percent")
        return float(rules[name].value)
    if kind == "trunking":
        return float(rules["trunking_percent"].value)
    return 100.0 if kind in STACKED else NAN


def limit_source(containment: Containment, segment: int) -> str:
    """Return where the limit of a segment comes from."""
    kind = containment.kind(segment)
    name = (
        "trunking_percent" if kind == "trunking" else "stack_mm" if kind in STACKED else "more_cables_percent"
    )
    return containment.catalogue.rules["fill"][name].source


def bent_limit_percent(limit: float, bends: float) -> float:
    """Return a limit lowered by the rule of thumb for bends, for comparison [%]; NaN where there are too many."""
    return float(bent_fill_limit_percent(limit, bends)) if 0 <= bends <= MOST_BENDS else NAN


MOST_BENDS = 6
