"""Findings: something to do or to know, and the words they are told in."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

NAN = float("nan")


class Verdict(StrEnum):
    """What a check says. Within means within calculated limits."""

    WITHIN = "within"
    MARGINAL = "marginal"
    VERIFY = "verify"
    OUTSIDE = "outside"
    CROSSING = "crossing"
    NONE = "none"


WORST_FIRST = (Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the verdict that governs a set of checks; within where there are none.

    >>> worst([Verdict.WITHIN, Verdict.VERIFY, Verdict.MARGINAL]).value
    'verify'
    """
    found = set(verdicts)
    return next((v for v in WORST_FIRST if v in found), Verdict.WITHIN)


class Severity(StrEnum):
    """How much a finding matters; danger: a person or a building can be hurt."""

    DANGER = "danger"
    FAULT = "fault"
    WATCH = "watch"
    NOTE = "note"


class Effect(StrEnum):
    """What the client would notice."""

    DANGER = "danger"
    PICTURE = "picture"
    NIGHT = "night"
    DEGRADED = "degraded"
    RECORDS = "records"


class Action(StrEnum):
    """What to do about a finding."""

    REPEATER = "repeater"
    RELOCATE = "relocate"
    CONVERT = "convert"
    PROTECT = "protect"
    ENLARGE = "enlarge"
    SURVEY = "survey"
    CONNECT = "connect"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. `x` and `y` in metres of the estate's CRS, NaN where there is no place.

    `subject_kind` is one of route, segment, node, point, link, mains, building, supply, recorder, cable,
    estate; `cameras` are the ids of the cameras it touches.
    """

    severity: Severity
    effect: Effect
    action: Action
    subject_kind: str
    subject: str
    text: str
    x: float = NAN
    y: float = NAN
    measured: float = NAN
    limit: float = NAN
    unit: str = ""
    source: str = ""
    remedy: str = ""
    cost: float = NAN
    cameras: tuple[str, ...] = ()
    id: str = ""


def numbered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Rank findings as clients read them (severity, effect, cameras touched) and number them F1, F2 and so on."""
    severities, effects = list(Severity), list(Effect)
    ranked = sorted(
        findings,
        key=lambda f: (
            severities.index(f.severity),
            effects.index(f.effect),
            -len(f.cameras),
            f.subject_kind,
            f.subject,
            f.action,
            f.text,
        ),
    )
    return tuple(replace(f, id=f"F{n}") for n, f in enumerate(ranked, 1))
