"""How far a signal goes on a cable, fed in a given way, and what stops it: by halving on the budget lines."""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from estate.catalogue.tables import Catalogue, Method, Signal
from estate.errors import InputError, Problem, suggestion
from estate.findings import NAN, Verdict
from estate.links.assess import PROFILES, assess, signal_lines
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions
from estate.links.lines import WHEN, governing, passes
from estate.links.link import BudgetLine
from estate.links.power import extended_poe_lines, poe_loop_ohm
from estate.links.variants import Variant, needs_power_cable
from estate.settings import LengthsSection, LimitsSection

LONGEST_M = 100_000.0
SHORTEST_M = 1.0
RESOLUTION = 1e-6
"""Of a reach, as a share of it."""

Lines = Iterable[BudgetLine]
LinesAt = Callable[[float], Lines]


def farthest_m(lines_at: LinesAt, longest_m: float, resolution: float = RESOLUTION) -> tuple[float, float]:
    """Return the greatest length found to stand and the least found to fail [m].

    A length fails where a governing line is outside or to be verified. (0, 1) where 1 m fails, (`longest_m`, inf)
    where nothing does. Every line gets worse with length but the greatest volts, which are left out: they
    have to be looked at where the link is known. The two lengths differ by less than `resolution`, a share.
    """
    if not stands(lines_at(SHORTEST_M)):
        return 0.0, SHORTEST_M
    if stands(lines_at(longest_m)):
        return longest_m, math.inf
    low, high = SHORTEST_M, longest_m
    while high - low > resolution * high:
        middle = math.sqrt(low * high) if high > 2 * low else (low + high) / 2
        if stands(lines_at(middle)):
            low = middle
        else:
            high = middle
    return low, high


def stands(lines: Lines) -> bool:
    """Whether every line that governs, and that grows worse with length, is kept."""
    return all(passes(line) for line in lines if not line.informs and line.quantity != "volts max")


@dataclass(frozen=True, slots=True)
class Limit:
    """How far in one state [m]: NaN where an unknown decides, inf where nothing stops it; and what stops it."""

    length_m: float
    line: BudgetLine | None
    known: "Limit | None" = None
    """Where an unknown decides: how far the lines that are known would let it go."""

    @property
    def stop(self) -> str:
        """What stops it, in words."""
        if self.known is not None:
            return f"at most {math.floor(self.known.length_m)} m: {self.known.stop}"
        return stop_in_words(self.line) if self.line is not None else "nothing"


@dataclass(frozen=True, slots=True)
class ReachRow:
    """One method with its signal, feed and cables: how far by day and at night."""

    signal: str
    variant: Variant
    legacy: bool
    day: Limit
    night: Limit


@dataclass(frozen=True)
class ReachQuestion:
    """What was asked: which signals, methods, feeds and cables (empty: all), for which camera, judged how."""

    signals: tuple[str, ...]
    methods: tuple[str, ...]
    feeds: tuple[str, ...]
    cables: tuple[str, ...]
    camera: CameraFacts
    conditions: Conditions

    @property
    def named(self) -> bool:
        """Whether methods or cables are named: then each is told for itself, legacy ones too."""
        return bool(self.methods or self.cables)


NUMBERS: Mapping[str, tuple[float, float, str]] = {
    "load": (0.0, 1000.0, "W"),
    "load_night": (0.0, 1000.0, "W"),
    "volts": (1.0, 250.0, "V"),
    "volts_min": (1.0, 250.0, "V"),
    "temperature": (-20.0, 60.0, "°C"),
}
"""Least, greatest and unit of the options that are numbers."""


def reach_question(
    names: Mapping[str, tuple[str, ...]], values: Mapping[str, str | None], catalogue: Catalogue
) -> ReachQuestion:
    """Read what was asked; InputError names every problem with the nearest known word.

    `names` holds signal, method, feed and cable; `values` holds profile and the keys of NUMBERS.
    """
    problems = [
        _problem(f"--{key}", name, f"the id of a {key}", suggestion(name, getattr(catalogue, f"{key}s")))
        for key, given in names.items()
        for name in given
        if name not in getattr(catalogue, f"{key}s")
    ]
    number = {key: _number(key, values.get(key), problems) for key in NUMBERS}
    if number["volts_min"] > number["volts"]:
        problems.append(_problem("--volts-min", values["volts_min"], "no more than --volts"))
    profile = values.get("profile") or PROFILES[0]
    if profile not in PROFILES:
        problems.append(_problem("--profile", profile, " or ".join(PROFILES), suggestion(profile, PROFILES)))
    if problems:
        raise InputError(problems)
    ambient_c = 20.0 if math.isnan(number["temperature"]) else number["temperature"]
    limits = replace(LimitsSection(), profile=profile, ambient_c=ambient_c)
    question = ReachQuestion(
        signals=names["signal"],
        methods=names["method"],
        feeds=names["feed"],
        cables=names["cable"],
        camera=_camera(number, catalogue),
        conditions=Conditions(catalogue, limits, LengthsSection(), ambient_c),
    )
    if next(_wanted(question), None) is None:
        raise InputError([_problem("", None, "a method that takes this signal, cable and feed together",
                                   "`estate methods` says what each takes")])  # fmt: skip
    return question


def _problem(field: str, value: object, expected: str, fix: str = "") -> Problem:
    return Problem("command line", expected, field=field, value=value, fix=fix)


def _number(key: str, text: str | None, problems: list[Problem]) -> float:
    """Read one number, NaN where it isn't given or wrong."""
    if text is None:
        return NAN
    least, greatest, unit = NUMBERS[key]
    try:
        value = float(text)
    except ValueError:
        value = NAN
    if least <= value <= greatest:
        return value
    option = f"--{key.replace('_', '-')}"
    problems.append(_problem(option, text, f"a number from {least:g} to {greatest:g} [{unit}]"))
    return NAN


def _camera(number: Mapping[str, float], catalogue: Catalogue) -> CameraFacts:
    """Return the camera asked about: the typical one where no load is given."""
    typical = catalogue.rules["camera"]
    day_w, night_w = number["load"], number["load_night"]
    if math.isnan(day_w):
        day_w = float(typical["typical_day_w"].value)
        night_w = float(typical["typical_night_w"].value) if math.isnan(night_w) else night_w
    return CameraFacts(
        id="", row=-1, signal=None, feeds=(), power="unswitched", load_w=day_w, load_night_w=night_w,
        volts=number["volts"], volts_min=number["volts_min"], volts_max=NAN, mbps=NAN, priority=5, height_m=0.0,
    )  # fmt: skip


def reach_rows(question: ReachQuestion, *, brief: bool) -> list[ReachRow]:
    """Return how far every method that was asked about goes, in the catalogue's order.

    `brief` leaves out legacy cables, and shows power pairs beside one coaxial cable only, where none is named.
    """
    wanted = _wanted(question)
    if brief and not question.named:
        wanted = (each for each in wanted if _on_page(question, *each))
    return [reach_row(question, signal, variant) for signal, variant in wanted]


def _wanted(question: ReachQuestion) -> Iterator[tuple[str, Variant]]:
    """Yield signal and variant of everything that was asked about; without a named signal one of each kind."""
    catalogue = question.conditions.catalogue
    for method in catalogue.methods.values():
        if question.methods and method.id not in question.methods:
            continue
        for signal in question.signals or first_of_kind(method, catalogue.signals):
            if signal in method.signals:
                for variant in _variants(method, question):
                    yield signal, variant


def first_of_kind(method: Method, signals: Mapping[str, Signal]) -> tuple[str, ...]:
    """Return the first signal of each kind that a method takes."""
    first: dict[str, str] = {}
    for signal in method.signals:
        first.setdefault(signals[signal].kind, signal)
    return tuple(first.values())


def _variants(method: Method, question: ReachQuestion) -> Iterator[Variant]:
    """Yield a method's variants with the feeds and cables asked about."""
    for feed in method.feeds:
        if question.feeds and feed not in question.feeds:
            continue
        for signal_cable in method.signal_cables:
            for power_cable in method.power_cables if needs_power_cable(method, feed) else ("",):
                variant = Variant(method.id, feed, signal_cable, power_cable)
                if not question.cables or set(question.cables) & set(variant.cables):
                    yield variant


def _on_page(question: ReachQuestion, signal: str, variant: Variant) -> bool:
    """Whether a variant stands on the page that answers a general question."""
    catalogue = question.conditions.catalogue
    method = catalogue.methods[variant.method]
    if any(catalogue.cables[cable].legacy for cable in variant.cables):
        return False
    first = question.signals or first_of_kind(method, catalogue.signals)
    return not variant.power_cable or (signal == first[0] and variant.signal_cable == method.signal_cables[0])


def reach_row(question: ReachQuestion, signal: str, variant: Variant) -> ReachRow:
    """Return how far one variant goes by day and at night."""
    catalogue = question.conditions.catalogue
    camera = replace(question.camera, signal=signal)
    lines_at = lru_cache(maxsize=None)(
        lambda length_m: link_lines(variant, camera, length_m, question.conditions)
    )
    legacy = any(catalogue.cables[cable].legacy for cable in variant.cables)
    day, night = (_limit(lines_at, state) for state in WHEN)
    return ReachRow(signal, variant, legacy, day, night)


def link_lines(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
) -> tuple[BudgetLine, ...]:
    """Return the budget lines of a link, over as many stretches as its method's extenders make of it."""
    extenders = conditions.catalogue.methods[variant.method].number("extenders_max")
    if math.isnan(extenders):
        return assess(variant, camera, length_m, conditions)
    stretches = int(extenders) + 1
    signal = tuple(signal_lines(variant, camera, length_m / stretches, conditions))
    if not stands(signal) or not variant.feed.startswith("poe"):
        return signal
    extender = next(item for item in conditions.catalogue.items.values() if item.kind == "extender")
    legs_ohm = [poe_loop_ohm(variant, length_m / stretches, conditions)] * stretches
    own_w = extender.number("own_w")
    return (*signal, *extended_poe_lines(variant, camera, legs_ohm, own_w, conditions))


def _limit(lines_at: Callable[[float], tuple[BudgetLine, ...]], state: str) -> Limit:
    """Return how far in one state, rounded down to 0.1 m, and the line that fails just beyond."""

    def of_state(length_m: float) -> list[BudgetLine]:
        return [line for line in governing(lines_at(length_m)) if line.state in ("", state)]

    near = [line for line in of_state(SHORTEST_M) if not passes(line)]
    outside = [line for line in near if line.verdict is Verdict.OUTSIDE]
    if outside:
        return Limit(0.0, outside[0])
    if not near:
        return _halved(of_state)
    unknown = {line.quantity for line in near}
    known = _halved(lambda length_m: [x for x in of_state(length_m) if x.quantity not in unknown])
    return Limit(NAN, near[0], known if math.isfinite(known.length_m) else None)


def _halved(lines_at: Callable[[float], list[BudgetLine]]) -> Limit:
    """Return how far lines that are kept at first let a link go."""
    _, fails_m = farthest_m(lines_at, LONGEST_M)
    if math.isinf(fails_m):
        return Limit(math.inf, None)
    broken = [line for line in lines_at(fails_m) if not passes(line) and line.quantity != "volts max"]
    return Limit(math.floor(fails_m * 10 + 1e-9) / 10, broken[0])


def stop_in_words(line: BudgetLine) -> str:
    """Say what stops a run, at its limit.

    >>> stop_in_words(BudgetLine("volts", "night", 10.79, 10.8, "V", -0.1, Verdict.OUTSIDE, "calculated", ""))
    'volts 10.8 V'
    """
    if line.verdict is Verdict.VERIFY:
        if line.quantity == "reach":
            return "no trade reach known"
        return "load not known" if "load" in line.text else f"{line.quantity} not known"
    if line.quantity == "reach":
        return "trade reach" if line.profile else f"reach {line.limit:g} m"
    if math.isnan(line.value):
        return "no working point"
    if line.quantity == "loss" and line.text:
        return "loss limit"  # it depends on the frequency: the line's text has it
    return f"{line.quantity} {round(line.limit, 2):g} {line.unit}"
