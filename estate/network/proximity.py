"""Whether stretches near mains keep the required separation, as far as a drawing can tell."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from estate.findings import Verdict
from estate.formulas.separation import circuits_of_20a, power_factor_of_circuits
from estate.network.columns import numbers, texts
from estate.network.exposures import Exposures, find_exposures
from estate.network.network import Bools, Floats, Ints, Network, Texts
from estate.network.stretches import overlapping
from estate.survey.survey import Survey
from estate.units import MM_PER_M

__all__ = [
    "Exposures",
    "Judgement",
    "SeparationRules",
    "circuit_bounds",
    "find_exposures",
    "judge",
]

HIGH_VOLTAGE_V = 1000.0
"""Above this, outdoor distances govern (low voltage ends here: IEC 60038) [V]."""

SLACK_MM = 1e-6
"""Rounding of metres to millimetres is no shortfall [mm]."""


@dataclass(frozen=True)
class SeparationRules:
    """The figures of separation, as the catalogue holds them."""

    base_mm: Mapping[str, Mapping[str, float]]
    """Base distance S by cable class (a to d) and barrier (none, open, perforated, solid) [mm]."""
    factor: tuple[tuple[float, float], ...]
    """Greatest number of circuits and the factor P, ascending, the last infinite."""
    safety_mm: float
    """Safety distance beside the interference rule; 0 where it is switched off [mm]."""
    buried_mm: float
    overhead_mm: float
    high_voltage_mm: float
    sources_mm: Mapping[str, float]
    """Distance to sources other than mains, by kind [mm]."""
    screened_mains_mm: Mapping[str, float] | None = None
    """Base distance from screened mains by cable class; None: as behind a perforated barrier [mm]."""


@dataclass(frozen=True)
class Judgement:
    """One row for each exposure."""

    required_mm: Floats
    """The greatest distance that can be required, given what is known; NaN where no rule gives one."""
    circuits: Floats
    """Circuits of 20 A that it rests on; NaN where unknown, and for sources other than mains."""
    verdict: Texts


@dataclass(frozen=True)
class _Cases:
    """What the rules need of every exposure; `least` and `most` are what unknown facts leave open."""

    near_mm: Floats
    far_mm: Floats
    is_mains: Bools
    base_least_mm: Floats
    base_most_mm: Floats
    circuits_least: Floats
    circuits_most: Floats
    other_mm: Floats
    """What is required whatever the circuits: safety, outdoors, other sources [mm]."""


def judge(
    exposures: Exposures, network: Network, survey: Survey, rules: SeparationRules, cable_class: str | Texts
) -> Judgement:
    """Judge every exposure: outside, within, verify, or crossing.

    Required is the largest of S × P, the safety distance and, for buried, overhead and high-voltage runs, the
    outdoor distance. P counts the circuits of all runs beside the same stretch that are nearer than the requirement
    which that count gives; the run itself always counts. `outside` holds however far the drawing and the unknown
    facts could be out, and so does `within`; all between is `verify`. A lightning conductor is always `verify`.

    Parameters
    ----------
    exposures : Exposures
        Stretches near mains
    network, survey : Network, Survey
        Where barriers, and the runs' own data, are
    rules : SeparationRules
        Figures, from the catalogue
    cable_class : str or array of str
        Class a to d of EN 50174-2 of the worst cable there, empty for cable without metal; one, or one per exposure

    References
    ----------
    EN 50174-2:2009, tables 4 and 5 and the counting of circuits; the fixed-point reading is this project's.

    """
    classes = np.broadcast_to(np.asarray(cable_class, dtype=object), (len(exposures),))
    cases = _cases(exposures, network, survey, rules, classes)
    most, count = _required(exposures, cases, rules, cases.near_mm, cases.base_most_mm, cases.circuits_most)
    least, _ = _required(exposures, cases, rules, cases.far_mm, cases.base_least_mm, cases.circuits_least)
    verdict = np.full(len(exposures), Verdict.VERIFY, dtype=object)
    verdict[cases.far_mm < least - SLACK_MM] = Verdict.OUTSIDE
    verdict[cases.near_mm >= most - SLACK_MM] = Verdict.WITHIN
    verdict[exposures.crossing] = Verdict.CROSSING
    verdict[texts(survey.mains, "kind", exposures.mains) == "lightning_protection"] = Verdict.VERIFY
    return Judgement(most, np.where(cases.is_mains & np.isfinite(count), count, np.nan), verdict)


def _cases(
    exposures: Exposures, network: Network, survey: Survey, rules: SeparationRules, classes: Texts
) -> _Cases:
    kind = texts(survey.mains, "kind", exposures.mains)
    is_mains = (kind == "mains") | (exposures.mains < 0)
    screened = texts(survey.mains, "screened", exposures.mains)
    barrier = network.segment_barrier[exposures.segment]
    # A screened mains cable counts as perforated metallic containment.
    bare_mm = np.array([_base_mm(rules, c, b) for c, b in zip(classes, barrier, strict=True)], dtype=float)
    screen_mm = np.array([_screened_mm(rules, c) for c in classes], dtype=float)
    screen_mm = np.minimum(bare_mm, screen_mm)
    is_screened = np.array([s is not None and bool(s) for s in screened], dtype=bool)
    unknown = np.array([s is None for s in screened], dtype=bool)
    least, most = circuit_bounds(survey)
    return _Cases(
        near_mm=np.maximum(exposures.distance_m - exposures.accuracy_m, 0.0) * MM_PER_M,
        far_mm=(exposures.distance_m + exposures.accuracy_m) * MM_PER_M,
        is_mains=is_mains,
        base_least_mm=np.where(is_screened | unknown, screen_mm, bare_mm),
        base_most_mm=np.where(is_screened, screen_mm, bare_mm),
        circuits_least=np.where(is_mains, least[exposures.mains], 0.0),
        circuits_most=np.where(is_mains, most[exposures.mains], 0.0),
        other_mm=_other_mm(exposures, survey, rules, classes),
    )


def _base_mm(rules: SeparationRules, cable_class: str, barrier: str) -> float:
    """Base distance S [mm]; cable without metal needs none."""
    return 0.0 if cable_class == "" else rules.base_mm[cable_class][barrier]


def _screened_mm(rules: SeparationRules, cable_class: str) -> float:
    """Base distance from a screened mains cable [mm]."""
    if rules.screened_mains_mm is None or cable_class == "":
        return _base_mm(rules, cable_class, "perforated")
    return rules.screened_mains_mm[cable_class]


def circuit_bounds(survey: Survey) -> tuple[Floats, Floats]:
    """Least and greatest number of 20 A circuits of every mains run; a last row for a run that isn't known.

    Unknown circuits or amps are one circuit of 20 A at least and unbounded at most; unknown phases one to three.
    """
    every = np.append(np.arange(len(survey.mains)), -1)
    circuits, amps, phases = (numbers(survey.mains, name, every) for name in ("circuits", "amps", "phases"))
    amps = np.where(amps > 0, amps, np.nan)
    # Two phases are counted as three: the table knows one and three.
    phases = np.where(phases == 2, 3.0, phases)
    rounding = survey.settings.limits.circuit_rounding
    known = np.isfinite(circuits) & np.isfinite(amps)
    least, most = (
        np.asarray(
            circuits_of_20a(
                np.where(np.isnan(amps), 20.0, amps),
                np.where(np.isnan(phases), blank, phases),
                np.where(np.isnan(circuits), 1.0, circuits),
                rounding=rounding,
            )
        )
        for blank in (1.0, 3.0)
    )
    return least, np.where(known, most, np.inf)


def _other_mm(exposures: Exposures, survey: Survey, rules: SeparationRules, classes: Texts) -> Floats:
    """What is required besides S × P [mm]; NaN where a source has no figure."""
    kind = texts(survey.mains, "kind", exposures.mains)
    placement = texts(survey.mains, "placement", exposures.mains)
    volts = numbers(survey.mains, "volts", exposures.mains)
    required = np.full(len(exposures), float(rules.safety_mm))
    for where, outdoor_mm in (
        (placement == "buried", rules.buried_mm),
        (placement == "overhead", rules.overhead_mm),
        (volts > HIGH_VOLTAGE_V, rules.high_voltage_mm),
    ):
        required[where] = np.maximum(required[where], outdoor_mm)
    source_mm = np.array(
        [
            0.0 if k in (None, "mains") or c == "" else rules.sources_mm.get(k, np.nan)
            for k, c in zip(kind, classes, strict=True)
        ],
        dtype=float,
    )
    return np.asarray(np.maximum(required, source_mm))


def _required(
    exposures: Exposures,
    cases: _Cases,
    rules: SeparationRules,
    at_mm: Floats,
    base_mm: Floats,
    circuits: Floats,
) -> tuple[Floats, Floats]:
    """Required distance of every exposure and the circuits counted for it [mm].

    Start from every run within the largest requirement, drop those farther than the requirement that the count
    gives, and repeat until none drops.
    """
    first, second = _beside(exposures, at_mm)
    own = first == second
    largest = rules.factor[-1][1] * base_mm
    counted = own | (at_mm[second] <= np.maximum(largest, cases.other_mm)[first] + SLACK_MM)
    while True:
        weights = circuits[second[counted]]
        count = np.bincount(first[counted], weights, minlength=len(exposures)).astype(float)
        required = np.maximum(_separation_mm(base_mm, count, rules) * cases.is_mains, cases.other_mm)
        kept = counted & (own | (at_mm[second] <= required[first] + SLACK_MM))
        if (kept == counted).all():
            return required, count
        counted = kept


def _separation_mm(base_mm: Floats, count: Floats, rules: SeparationRules) -> Floats:
    """S × P [mm]; a count without bound takes the greatest P."""
    bounded = np.where(np.isinf(count), np.finfo(float).max, count)
    return np.asarray(base_mm * np.asarray(power_factor_of_circuits(bounded, rules.factor)))


def _beside(exposures: Exposures, at_mm: Floats) -> tuple[Ints, Ints]:
    """Pairs of an exposure and each mains run beside the same stretch, at its nearest; crossings don't count."""
    first, second = overlapping(exposures.segment, exposures.from_m, exposures.to_m)
    mains = exposures.mains
    kept = (first == second) | ((mains[first] != mains[second]) & ~exposures.crossing[second])
    first, second = first[kept], second[kept]
    order = np.lexsort((second, at_mm[second], mains[second], first))
    first, second = first[order], second[order]
    new = np.append(True, (np.diff(first) != 0) | (np.diff(mains[second]) != 0))[: len(first)]
    return first[new], second[new]
