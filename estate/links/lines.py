"""Budget lines as such: value against limit, margin, verdict, and the line in words."""

import numpy as np

from estate.findings import NAN, Verdict, worst
from estate.links.link import BudgetLine

TOLERANCE = 1e-9
"""At the limit a value passes; this absorbs rounding of floating point only."""


def governing(lines: tuple[BudgetLine, ...]) -> list[BudgetLine]:
    """Return the lines that decide, without those that inform."""
    return [line for line in lines if not line.informs]


def verdict_of(lines: tuple[BudgetLine, ...]) -> Verdict:
    """Return the worst verdict of the lines that govern."""
    return worst(line.verdict for line in governing(lines))


def graded(passes: bool, margin_percent: float, wanted_percent: float) -> Verdict:
    """Return within, marginal or outside for a line with its margin [%] and the margin wanted [%]."""
    if not passes:
        return Verdict.OUTSIDE
    return Verdict.MARGINAL if margin_percent < wanted_percent - TOLERANCE else Verdict.WITHIN


def ceiling(  # noqa: PLR0913  one name for each column of a budget line
    quantity: str,
    value: float,
    limit: float,
    unit: str,
    wanted_percent: float,
    *,
    source: str,
    state: str = "",
    profile: str = "",
    informs: bool = False,
    text: str = "",
) -> BudgetLine:
    """Return a line whose value must not exceed its limit; at the limit it passes."""
    if np.isnan(value) or np.isnan(limit):
        return unknown(
            quantity, state, value, unit, "no figure is known", profile=profile, informs=informs, limit=limit
        )
    margin = 100 * (limit - value) / limit if limit > 0 else NAN
    verdict = graded(value <= limit + TOLERANCE, margin, wanted_percent)
    return BudgetLine(
        quantity, state, value, limit, unit, margin, verdict, "calculated", source, profile, informs, text
    )


def unknown(
    quantity: str,
    state: str,
    value: float,
    unit: str,
    text: str,
    *,
    limit: float = NAN,
    profile: str = "",
    informs: bool = False,
) -> BudgetLine:
    """Return a line that an unknown fact decides."""
    return BudgetLine(
        quantity, state, value, limit, unit, NAN, Verdict.VERIFY, "unknown", "", profile, informs, text
    )


DIGITS = {"mm": 0, "V": 2, "dB": 2}
"""Decimals that a unit is told with; 1 for the others."""

WHEN = {"day": " by day", "night": " at night"}


def in_words(line: BudgetLine) -> str:
    """Say what a line says.

    >>> in_words(ceiling("fixed part", 97.0, 90.0, "m", 5.0, source=""))
    'fixed part 97.0 m against 90 m'
    """
    if np.isnan(line.value):
        return (
            f"{line.quantity}: {line.text}"
            if line.text
            else f"{line.quantity}{WHEN.get(line.state, '')} not known"
        )
    told = f"{line.quantity}{WHEN.get(line.state, '')} {line.value:.{DIGITS.get(line.unit, 1)}f} {line.unit}"
    if not np.isnan(line.limit):
        told += f" against {round(line.limit, 2):g} {line.unit}"
    return f"{told} {line.text}".rstrip()
