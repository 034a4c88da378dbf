"""Separation from mains as links see it: a verdict per segment and a budget line per link."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Verdict
from estate.links.link import BudgetLine
from estate.network.network import Network
from estate.network.proximity import Exposures, Judgement, SeparationRules, find_exposures, judge
from estate.survey.survey import Survey
from estate.units import MM_PER_M

RANK = {Verdict.CROSSING: 0, Verdict.WITHIN: 0, Verdict.VERIFY: 1, Verdict.OUTSIDE: 2}


@dataclass
class SegmentSeparation:
    """Exposures of a network, judged once per cable class."""

    network: Network
    survey: Survey
    rules: SeparationRules
    exposures: Exposures
    source: str
    judged: dict[str, Judgement] = field(default_factory=dict)

    def judgement(self, cable_class: str) -> Judgement:
        """Return the judgement of every exposure for one cable class."""
        if cable_class not in self.judged:
            self.judged[cable_class] = judge(
                self.exposures, self.network, self.survey, self.rules, cable_class
            )
        return self.judged[cable_class]

    def verdicts(self, cable_class: str) -> NDArray[np.object_]:
        """Return the worst verdict per segment: within, verify or outside.

        On a proposed route the required distance is a dimension to build, so its drawing bars nothing.
        """
        rank = np.zeros(self.network.segments, dtype=int)
        if len(self.exposures.segment):
            found = np.array([RANK[v] for v in self.judgement(cable_class).verdict])
            found[self._to_build()] = 0
            np.maximum.at(rank, self.exposures.segment, found)
        return np.array([Verdict.WITHIN, Verdict.VERIFY, Verdict.OUTSIDE], dtype=object)[rank]

    def _to_build(self) -> NDArray[np.bool_]:
        """Which exposures lie on proposed segments and are not declared."""
        marks: NDArray[np.bool_] = (
            self.network.segment_proposed[self.exposures.segment] & ~self.exposures.declared
        )
        return marks

    def line(self, segments: tuple[int, ...], cable_class: str, informs: bool) -> BudgetLine | None:
        """Return the budget line of the exposure that governs a way, None where it meets no mains."""
        on_way = np.flatnonzero(np.isin(self.exposures.segment, segments))
        if not len(on_way):
            return None
        judgement, to_build = self.judgement(cable_class), self._to_build()
        margins = self.exposures.distance_m[on_way] * MM_PER_M - judgement.required_mm[on_way]
        ranks = [0 if to_build[e] else RANK[judgement.verdict[e]] for e in on_way]
        worst = int(on_way[min(range(len(on_way)), key=lambda k: (-ranks[k], margins[k]))])
        value = float(self.exposures.distance_m[worst]) * MM_PER_M
        limit = float(judgement.required_mm[worst])
        verdict = Verdict(judgement.verdict[worst])
        place = f"at {self.network.segment_id[self.exposures.segment[worst]]}"
        if to_build[worst]:
            verdict, place = Verdict.WITHIN, f"{place}, a dimension to build"
        elif verdict is Verdict.CROSSING:
            verdict, place = Verdict.WITHIN, f"{place}, a crossing"
        return BudgetLine(
            quantity="separation",
            state="",
            value=value,
            limit=limit,
            unit="mm",
            margin_percent=NAN,
            verdict=verdict,
            basis="declared" if self.exposures.declared[worst] else "calculated",
            source=self.source,
            informs=informs,
            text=place,
        )


def separation_rules(catalogue: Catalogue, safety: str) -> SeparationRules:
    """Take the figures of the separation rules out of the catalogue."""
    table, outdoors = catalogue.rules["separation"], catalogue.rules["outdoors"]
    sources = catalogue.rules["sources"]
    return SeparationRules(
        base_mm={c: dict(table[f"base_mm_{c}"].value) for c in "abcd"},
        factor=tuple((float(upper), float(factor)) for upper, factor in table["factor"].value),
        safety_mm=float(table["safety_mm"].value) if safety == "50mm" else 0.0,
        buried_mm=float(outdoors["buried_mm"].value),
        overhead_mm=float(outdoors["overhead_mm"].value),
        high_voltage_mm=float(outdoors["high_voltage_mm"].value),
        sources_mm={kind: float(figure.value) for kind, figure in sources.items()},
    )


def segment_separation(network: Network, survey: Survey, catalogue: Catalogue) -> SegmentSeparation:
    """Find every stretch near mains, ready to be judged for any cable class."""
    rules = separation_rules(catalogue, survey.settings.limits.separation_safety)
    table = catalogue.rules["separation"]
    source = f"{table['base_mm_b'].source} ({table['base_mm_b'].status.replace('_', ' ')})"
    largest_m = largest_mm(rules) / MM_PER_M
    return SegmentSeparation(network, survey, rules, find_exposures(network, survey, largest_m), source)


def largest_mm(rules: SeparationRules) -> float:
    """Return the largest distance any rule can ask for [mm]."""
    base = max(value for row in rules.base_mm.values() for value in row.values())
    factor = max(factor for _, factor in rules.factor)
    others = (rules.safety_mm, rules.buried_mm, rules.overhead_mm, rules.high_voltage_mm)
    return float(max(base * factor, *others, *rules.sources_mm.values()))
