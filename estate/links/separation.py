"""Separation from mains as links see it: a verdict per segment and a budget line per link."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Catalogue
from estate.findings import NAN, Verdict
from estate.links.link import BudgetLine
from estate.network.columns import texts
from estate.network.network import Network
from estate.network.proximity import Exposures, Judgement, SeparationRules, find_exposures, judge
from estate.survey.survey import Layer, Survey
from estate.units import MM_PER_M

ALONGSIDE_DEG = 30.0
"""Up to this angle a line runs alongside another; beyond it, it meets or crosses it."""

RANK = {Verdict.CROSSING: 0, Verdict.WITHIN: 0, Verdict.VERIFY: 1, Verdict.OUTSIDE: 2}


@dataclass
class SegmentSeparation:
    """Exposures of a network, judged once per cable class."""

    network: Network
    survey: Survey
    rules: SeparationRules
    exposures: Exposures
    catalogue: Catalogue
    judged: dict[str, Judgement] = field(default_factory=dict)
    _verdicts: dict[str, NDArray[np.object_]] = field(default_factory=dict)

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
        if cable_class not in self._verdicts:
            rank = np.zeros(self.network.segments, dtype=int)
            if len(self.exposures.segment):
                found = np.array([RANK[v] for v in self.judgement(cable_class).verdict])
                found[self._to_build] = 0
                np.maximum.at(rank, self.exposures.segment, found)
            words = np.array([Verdict.WITHIN, Verdict.VERIFY, Verdict.OUTSIDE], dtype=object)
            self._verdicts[cable_class] = words[rank]
        return self._verdicts[cable_class]

    @cached_property
    def _to_build(self) -> NDArray[np.bool_]:
        """Which exposures lie on proposed segments and are not declared; a lightning conductor has no distance to build."""
        kind = texts(self.survey.mains, "kind", self.exposures.mains)
        marks: NDArray[np.bool_] = (
            self.network.segment_proposed[self.exposures.segment]
            & ~self.exposures.declared
            & (kind != "lightning_protection")
        )
        return marks

    def governing(self, segments: tuple[int, ...], cable_class: str) -> int | None:
        """Return the exposure that governs a way, None where it meets no source."""
        if not len(self.exposures.segment):
            return None
        on_way = np.flatnonzero(np.isin(self.exposures.segment, segments))
        if not len(on_way):
            return None
        judgement, to_build = self.judgement(cable_class), self._to_build
        margins = self.exposures.distance_m[on_way] * MM_PER_M - judgement.required_mm[on_way]
        ranks = [0 if to_build[e] else RANK[judgement.verdict[e]] for e in on_way]
        return int(on_way[min(range(len(on_way)), key=lambda k: (-ranks[k], margins[k]))])

    def line(self, segments: tuple[int, ...], cable_class: str, informs: bool) -> BudgetLine | None:
        """Return the budget line of the exposure that governs a way, None where it meets no mains."""
        worst = self.governing(segments, cable_class)
        if worst is None:
            return None
        judgement, to_build = self.judgement(cable_class), self._to_build
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
            source=self._source(worst, limit),
            informs=informs,
            text=place,
        )

    def _source(self, exposure: int, limit_mm: float) -> str:
        """Return the source of the rule that governs one exposure, with its status."""
        table, run = self.catalogue.rules["separation"], int(self.exposures.mains[exposure])
        kind = str(self.survey.mains["kind"][run]) if run >= 0 else "mains"
        outdoors = {
            self.rules.buried_mm: "buried_mm",
            self.rules.overhead_mm: "overhead_mm",
            self.rules.high_voltage_mm: "high_voltage_mm",
        }
        outside = run >= 0 and self.survey.mains["placement"][run] in ("buried", "overhead")
        if kind in self.catalogue.rules["sources"]:
            figure = self.catalogue.rules["sources"][kind]
        elif outside and limit_mm in outdoors:
            figure = self.catalogue.rules["outdoors"][outdoors[limit_mm]]
        elif limit_mm == self.rules.safety_mm:
            figure = table["safety_mm"]
        else:
            old = self.survey.settings.limits.separation == PAIRS_2000
            figure = table["pairs_2000_mm" if old else "base_mm_b"]
        return f"{figure.source} ({figure.status.replace('_', ' ')})"


PAIRS_2000 = "pairs-2000"

SCREENED = "cd"
"""Classes that the superseded table of pairs takes as screened, as the bench command does."""


def separation_rules(catalogue: Catalogue, safety: str, rules: str = "en50174") -> SeparationRules:
    """Take the figures of the separation rules out of the catalogue; `rules` as in [limits] separation."""
    if rules == PAIRS_2000:
        return _pairs_2000(catalogue, separation_rules(catalogue, safety))
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


def _pairs_2000(catalogue: Catalogue, present: SeparationRules) -> SeparationRules:
    """Return the superseded table of pairs as rules: no factor for circuits, only a solid barrier counts.

    Which metal a barrier is of isn't recorded, so aluminium, which asks for more. Outdoors and other sources as now.
    """
    figures = catalogue.rules["separation"]["pairs_2000_mm"].value

    def mm(mains: str, cable_class: str, divider: str) -> float:
        ours = "screened" if cable_class in SCREENED else "unscreened"
        return float(figures[f"{mains}_{ours}"][divider])

    open_mm = {c: mm("unscreened", c, "none") for c in "abcd"}
    return replace(
        present,
        base_mm={
            c: {
                **dict.fromkeys(("none", "open", "perforated"), open_mm[c]),
                "solid": mm("unscreened", c, "aluminium"),
            }
            for c in "abcd"
        },
        factor=((float("inf"), 1.0),),
        screened_mains_mm={c: mm("screened", c, "none") for c in "abcd"},
    )


def segment_separation(network: Network, survey: Survey, catalogue: Catalogue) -> SegmentSeparation:
    """Find every stretch near mains, ready to be judged for any cable class."""
    limits = survey.settings.limits
    rules = separation_rules(catalogue, limits.separation_safety, limits.separation)
    return SegmentSeparation(network, survey, rules, exposures_by_kind(network, survey, rules), catalogue)


def exposures_by_kind(network: Network, survey: Survey, rules: SeparationRules) -> Exposures:
    """Find every stretch near mains, each kind of source within its own largest distance.

    A fence reaches ten metres and more; a stretch beside mains is no longer for that. A declared distance that names
    no run counts for every run that the drawing shows within its kind's distance.
    """
    drawn = [_of_kind(network, as_drawn(survey), kind, largest_mm(rules, kind)) for kind in _kinds(survey)]
    every = joined_exposures(drawn) if drawn else find_exposures(network, as_drawn(survey), 0.0)
    declared = find_exposures(network, survey, largest_mm(rules, "mains") / MM_PER_M)
    declared = taken(declared, declared.declared)
    pairs = set(zip(declared.segment.tolist(), declared.mains.tolist(), strict=True))
    here = zip(every.segment.tolist(), every.mains.tolist(), strict=True)
    kept = np.array([pair not in pairs for pair in here], dtype=bool)
    return joined_exposures([taken(every, kept), declared])


def fence_corridor(network: Network, survey: Survey, within_m: float) -> Exposures:
    """Find stretches alongside electric fences within a long distance, square crossings left out."""
    near = _of_kind(network, as_drawn(survey), "fence", within_m * MM_PER_M)
    return taken(near, ~near.crossing & (near.angle_deg <= ALONGSIDE_DEG))


def _kinds(survey: Survey) -> list[str]:
    return sorted({str(kind) for kind in survey.mains["kind"] if kind is not None})


def _of_kind(network: Network, survey: Survey, kind: str, within_mm: float) -> Exposures:
    """Find the stretches near sources of one kind; `mains` is the row of the whole layer."""
    rows = np.flatnonzero(survey.mains["kind"] == kind)
    found = find_exposures(network, replace(survey, mains=rows_of(survey.mains, rows)), within_mm / MM_PER_M)
    return replace(found, mains=rows[found.mains] if len(rows) else found.mains)


def rows_of(layer: Layer, rows: NDArray[np.int64]) -> Layer:
    """Return a layer of the chosen rows."""
    columns = {name: column[rows] for name, column in layer.columns.items()}
    return replace(
        layer, columns=columns, geometry=layer.geometry[rows], origin=layer.origin[rows],
        extra={}, assumed={}, defaulted={},
    )  # fmt: skip


def as_drawn(survey: Survey) -> Survey:
    """Return the survey without declared distances: as drawn."""
    blank = np.full(len(survey.routes), np.nan)
    return replace(
        survey, routes=replace(survey.routes, columns={**survey.routes.columns, "separation_mm": blank})
    )


def joined_exposures(parts: Sequence[Exposures]) -> Exposures:
    """Return several sets of exposures as one, by segment, mains run and place."""
    columns = {f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Exposures)}
    order = np.lexsort((columns["crossing"], columns["from_m"], columns["mains"], columns["segment"]))
    return Exposures(**{name: column[order] for name, column in columns.items()})


def taken(exposures: Exposures, chosen: NDArray[np.bool_]) -> Exposures:
    """Return the chosen exposures."""
    return Exposures(**{f.name: getattr(exposures, f.name)[chosen] for f in fields(Exposures)})


def largest_mm(rules: SeparationRules, kind: str) -> float:
    """Return the largest distance that any rule can ask for beside one kind of source [mm]."""
    others = [rules.safety_mm, rules.buried_mm, rules.overhead_mm, rules.high_voltage_mm]
    if kind == "mains":
        base = max(value for row in rules.base_mm.values() for value in row.values())
        return float(max(base * max(factor for _, factor in rules.factor), *others))
    return float(max(*others, rules.sources_mm.get(kind, 0.0)))
