"""What separation from mains is required, without an estate: one stretch, described in words."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from estate.catalogue.tables import Catalogue, Figure
from estate.errors import InputError, Problem, suggestion
from estate.findings import NAN, Verdict
from estate.formulas.separation import circuits_of_20a, power_factor_of_circuits
from estate.links.separation import separation_rules
from estate.network.proximity import HIGH_VOLTAGE_V, SeparationRules

BARRIERS = ("none", "open", "perforated", "solid")
DIVIDERS = ("none", "aluminium", "steel")
ROUNDINGS = ("up", "nearest")
PLACEMENTS = ("indoor", "buried", "overhead")
RULE_SETS = ("en50174", "pairs-2000")
SLACK_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Circuits:
    """Circuits alike beside the stretch; NaN where not known."""

    amps: float
    phases: float
    number: float


@dataclass(frozen=True)
class SeparationQuestion:
    """What was asked. `screened` None and `declared_mm` NaN where not given."""

    cable_class: str
    cable: str
    ours_screened: bool
    barrier: str
    circuits: tuple[Circuits, ...]
    screened: bool | None
    declared_mm: float
    rounding: str
    safety: bool
    rules: str
    kind: str
    volts: float
    placement: str
    catalogue: Catalogue


@dataclass(frozen=True)
class SeparationAnswer:
    """The distance required, and how it comes about. All NaN figures are not known or don't apply."""

    question: SeparationQuestion
    base_mm: float
    """S, or the table's distance of the superseded rule set, or that of the kind of source."""
    circuits: float
    factor: float
    interference_mm: float
    """S × P at worst."""
    least_mm: float
    """Required at least, whatever is not known."""
    required_mm: float
    """Required at most."""
    governs: str
    """interference, safety, or what outdoors asks for."""
    verdict: Verdict | None
    """Of the declared distance; None where none is declared."""
    sources: tuple[str, ...]
    unknown: tuple[str, ...]
    """Facts that are not known and that the answer hangs on."""


def answered(question: SeparationQuestion) -> SeparationAnswer:
    """Return what is required, by the rule set asked for.

    Notes
    -----
    EN 50174-2:2009: S (class and barrier) × P (circuits of 20 A), the larger of this and the safety distance.
    Screened mains count as in perforated containment. Outdoors the distances of outdoor practice are the least.

    """
    return _by_pairs(question) if question.rules == "pairs-2000" else _by_class(question)


def with_rounding(question: SeparationQuestion, rounding: str) -> SeparationQuestion:
    """Return the same question with another rounding of parts of 20 A."""
    values = {name: getattr(question, name) for name in question.__dataclass_fields__}
    return SeparationQuestion(**{**values, "rounding": rounding})


def _by_class(question: SeparationQuestion) -> SeparationAnswer:
    catalogue = question.catalogue
    rules = separation_rules(catalogue, "50mm" if question.safety else "none")
    floor_mm, governs, sources = _floor(question, rules)
    least_n, most_n = _bounds(question)
    is_mains = question.kind == "mains"
    bare_mm = rules.base_mm[question.cable_class][question.barrier] if question.cable_class else 0.0
    behind_mm = min(
        bare_mm, rules.base_mm[question.cable_class]["perforated"] if question.cable_class else 0.0
    )
    base_mm = behind_mm if question.screened else bare_mm
    factor = _factor(most_n, rules)
    interference_mm = base_mm * factor if is_mains else 0.0
    least_mm = (bare_mm if question.screened is False else behind_mm) * _factor(least_n, rules) * is_mains
    required_mm = max(interference_mm, floor_mm)
    table = catalogue.rules["separation"]
    used = (
        [table[f"base_mm_{question.cable_class}"], table["factor"]]
        if is_mains and question.cable_class
        else []
    )
    return SeparationAnswer(
        question=question,
        base_mm=base_mm if is_mains else NAN,
        circuits=most_n if is_mains else NAN,
        factor=factor if is_mains else NAN,
        interference_mm=interference_mm if is_mains else NAN,
        least_mm=max(least_mm, floor_mm),
        required_mm=required_mm,
        governs="interference" if interference_mm > floor_mm else governs,
        verdict=_verdict(question, max(least_mm, floor_mm), required_mm),
        sources=tuple(dict.fromkeys([*map(told_source, used), *sources])),
        unknown=tuple(_unknown(question)) if is_mains and max(least_mm, floor_mm) < required_mm else (),
    )


def _by_pairs(question: SeparationQuestion) -> SeparationAnswer:
    """Answer by the superseded table of cable pairs; blank screening of the mains is either."""
    table = question.catalogue.rules["separation"]["pairs_2000_mm"]

    def distance_mm(*, screened: bool) -> float:
        pair = f"{_word(screened)}_{_word(question.ours_screened)}"
        return float(table.value[pair][question.barrier])

    either = [question.screened] if question.screened is not None else [False, True]
    found = [distance_mm(screened=screened) for screened in either]
    safety_mm = _safety_mm(question)
    least_mm, required_mm = max(min(found), safety_mm), max(*found, safety_mm)
    safety = [told_source(question.catalogue.rules["separation"]["safety_mm"])] if safety_mm else []
    return SeparationAnswer(
        question=question,
        base_mm=max(found),
        circuits=NAN,
        factor=NAN,
        interference_mm=max(found),
        least_mm=least_mm,
        required_mm=required_mm,
        governs="interference" if max(found) > safety_mm else "safety",
        verdict=_verdict(question, least_mm, required_mm),
        sources=(told_source(table), *safety),
        unknown=("whether the mains cable is screened",) if least_mm < required_mm else (),
    )


def _word(screened: bool) -> str:
    return "screened" if screened else "unscreened"


def _safety_mm(question: SeparationQuestion) -> float:
    return float(question.catalogue.rules["separation"]["safety_mm"].value) if question.safety else 0.0


def _floor(question: SeparationQuestion, rules: SeparationRules) -> tuple[float, str, list[str]]:
    """Return the largest distance that holds whatever the circuits, what it is, and the sources of all that apply."""
    catalogue = question.catalogue
    outdoors, table = catalogue.rules["outdoors"], catalogue.rules["separation"]
    known: list[tuple[float, str, Figure]] = []
    if rules.safety_mm:
        known.append((rules.safety_mm, "safety", table["safety_mm"]))
    if question.placement == "buried":
        known.append((rules.buried_mm, "buried beside buried", outdoors["buried_mm"]))
    if question.placement == "overhead":
        known.append((rules.overhead_mm, "overhead line", outdoors["overhead_mm"]))
    if question.volts > HIGH_VOLTAGE_V:
        known.append((rules.high_voltage_mm, "high voltage", outdoors["high_voltage_mm"]))
    if question.kind != "mains" and question.cable_class:
        figure = catalogue.rules["sources"][question.kind]
        known.append((float(figure.value), question.kind.replace("_", " "), figure))
    distance_mm, governs = max(((d, what) for d, what, _ in known), default=(0.0, "interference"))
    return distance_mm, governs, [told_source(figure) for _, _, figure in known]


def _bounds(question: SeparationQuestion) -> tuple[float, float]:
    """Least and greatest number of circuits of 20 A; without bound where amps or circuits are not known."""
    least = most = 0.0
    for each in question.circuits or (Circuits(NAN, NAN, NAN),):
        amps = 20.0 if math.isnan(each.amps) else each.amps
        number = 1.0 if math.isnan(each.number) else each.number
        one, three = (
            float(circuits_of_20a(amps, phases if math.isnan(each.phases) else each.phases, number, rounding=question.rounding))
            for phases in (1.0, 3.0)
        )  # fmt: skip
        least += one
        most += math.inf if math.isnan(each.amps) or math.isnan(each.number) else three
    return least, most


def _factor(circuits: float, rules: SeparationRules) -> float:
    greatest = rules.factor[-1][1]
    return greatest if math.isinf(circuits) else float(power_factor_of_circuits(circuits, rules.factor))


def _unknown(question: SeparationQuestion) -> Iterable[str]:
    if question.screened is None:
        yield "whether the mains cable is screened"
    given = question.circuits or (Circuits(NAN, NAN, NAN),)
    for name, values in (
        ("the rating in amps", [c.amps for c in given]),
        ("the phases", [c.phases for c in given]),
        ("the number of circuits", [c.number for c in given]),
    ):
        if any(math.isnan(v) for v in values):
            yield name


def _verdict(question: SeparationQuestion, least_mm: float, required_mm: float) -> Verdict | None:
    if math.isnan(question.declared_mm):
        return None
    if question.kind == "lightning_protection":
        return Verdict.VERIFY  # the designer's distance (IEC 62305-3), never calculated
    if question.declared_mm < least_mm - SLACK_MM:
        return Verdict.OUTSIDE
    return Verdict.WITHIN if question.declared_mm >= required_mm - SLACK_MM else Verdict.VERIFY


def told_source(figure: Figure) -> str:
    """Return a figure's source with its status."""
    return f"{figure.source} ({figure.status.replace('_', ' ')})"


# Reading


def separation_question(
    words: Mapping[str, str | None],
    lists: Mapping[str, Sequence[str]],
    catalogue: Catalogue,
    *,
    safety: bool,
    screened: bool | None,
) -> SeparationQuestion:
    """Read what was asked; InputError names every problem with the nearest known word.

    `words` holds class, cable, barrier, rounding, rules, kind, placement, declared, volts; `lists` holds amps,
    phases and circuits, one of each for each group of circuits alike (a list of one counts for all).
    """
    problems: list[Problem] = []
    rules = _choice(words, "rules", RULE_SETS, "en50174", problems)
    barrier = _choice(words, "barrier", DIVIDERS if rules == "pairs-2000" else BARRIERS, "none", problems)
    kinds = ("mains", *sorted(catalogue.rules["sources"]))
    cable = words.get("cable") or ""
    if cable and cable not in catalogue.cables:
        problems.append(_problem("--cable", cable, "the id of a cable", suggestion(cable, catalogue.cables)))
    if cable and words.get("class"):
        problems.append(_problem("--class", words["class"], "--class or --cable, not both"))
    entry = catalogue.cables.get(cable)
    cable_class = entry.separation_class if entry else _choice(words, "class", tuple("abcd"), "b", problems)
    question = SeparationQuestion(
        cable_class=cable_class,
        cable=cable,
        ours_screened=entry.screened if entry else cable_class in ("c", "d"),
        barrier=barrier,
        circuits=_circuits(lists, problems),
        screened=screened,
        declared_mm=_number("--declared", words.get("declared"), 0.0, problems),
        rounding=_choice(words, "rounding", ROUNDINGS, "up", problems),
        safety=safety,
        rules=rules,
        kind=_choice(words, "kind", kinds, "mains", problems),
        volts=_number("--volts", words.get("volts"), 0.0, problems),
        placement=_choice(words, "placement", PLACEMENTS, "indoor", problems),
        catalogue=catalogue,
    )
    if rules == "pairs-2000" and (question.kind != "mains" or question.placement != "indoor"):
        problems.append(_problem("--rules", rules, "en50174 for anything but mains indoors"))
    if problems:
        raise InputError(problems)
    return question


def _circuits(lists: Mapping[str, Sequence[str]], problems: list[Problem]) -> tuple[Circuits, ...]:
    read = {
        name: [_number(f"--{name}", text, 0.0, problems, above=True) for text in lists.get(name, ())]
        for name in ("amps", "phases", "circuits")
    }
    for value in read["phases"]:
        if not math.isnan(value) and value not in (1, 2, 3):
            problems.append(_problem("--phases", value, "1, 2 or 3"))
            return ()
    groups = max((len(values) for values in read.values()), default=0)
    wrong = [name for name, values in read.items() if len(values) not in (0, 1, groups)]
    problems += [
        _problem(f"--{name}", len(read[name]), f"one for all, or one for each of {groups} groups")
        for name in wrong
    ]
    if wrong or not groups:
        return ()
    full = {name: (values or [NAN]) * (groups if len(values) < 2 else 1) for name, values in read.items()}
    # Two phases are counted as three: the table knows one and three.
    phases = [3.0 if p == 2 else p for p in full["phases"]]
    return tuple(map(Circuits, full["amps"], phases, full["circuits"]))


def _choice(
    words: Mapping[str, str | None], name: str, known: Sequence[str], default: str, problems: list[Problem]
) -> str:
    given = words.get(name) or default
    if given not in known:
        problems.append(_problem(f"--{name}", given, " or ".join(known), suggestion(given, known)))
        return default
    return given


def _number(
    field: str, text: str | None, least: float, problems: list[Problem], *, above: bool = False
) -> float:
    """Read a number, NaN where not given."""
    if text is None:
        return NAN
    try:
        value = float(text)
    except ValueError:
        value = NAN
    if not math.isfinite(value) or value < least or (above and value == least):
        expected = f"a number {'greater than' if above else 'of at least'} {least:g}"
        problems.append(_problem(field, text, expected))
        return NAN
    return value


def _problem(field: str, value: object, expected: str, fix: str = "") -> Problem:
    return Problem("command line", expected, field=field, value=value, fix=fix)
