"""Findings of an audit in the order that clients read them."""

from collections.abc import Iterable
from dataclasses import replace
from math import inf, isnan

from estate.findings import Effect, Finding, Severity


def ranked(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Rank findings and number them F1, F2 and so on.

    By effect: danger, loss of picture, loss at night only, degraded picture, records. Within each by the cameras it
    touches, so that a segment that carries 14 cameras comes before one camera's tail; then what costs least to mend,
    what has no known cost last; then by severity.
    """
    effects, severities = list(Effect), list(Severity)
    in_order = sorted(
        findings,
        key=lambda f: (
            effects.index(f.effect),
            -len(f.cameras),
            inf if isnan(f.cost) else f.cost,
            severities.index(f.severity),
            f.subject_kind,
            f.subject,
            f.action,
            f.text,
        ),
    )
    return tuple(replace(f, id=f"F{n}") for n, f in enumerate(in_order, 1))
