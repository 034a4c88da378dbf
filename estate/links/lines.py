"""Budget lines as such: value against limit, margin, verdict, and the line in words."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

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


def passes(line: BudgetLine) -> bool:
    """Whether a line is kept, with or without the margin wanted."""
    return line.verdict in (Verdict.WITHIN, Verdict.MARGINAL)


def profile_note(lines: Iterable[BudgetLine]) -> str:
    """Say that a link passes the reach of one profile and fails the other's; empty where both agree."""
    reach = [line for line in lines if line.profile and line.verdict is not Verdict.VERIFY]
    kept, broken = ([line for line in reach if passes(line) is wanted] for wanted in (True, False))
    if not kept or not broken:
        return ""
    return (
        f"passes the {kept[0].profile} reach of {kept[0].limit:g} m, "
        f"fails the {broken[0].profile} one of {broken[0].limit:g} m"
    )


def with_profile_note(lines: Sequence[BudgetLine]) -> list[BudgetLine]:
    """Return the lines with the note on the profile that doesn't govern, where the two differ."""
    note = profile_note(lines)
    if not note:
        return list(lines)
    return [
        replace(line, text="; ".join(filter(None, (line.text, note))))
        if line.profile and line.informs
        else line
        for line in lines
    ]


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
    stretch = f"on stretch {line.stretch}" if line.stretch else ""
    return " ".join(filter(None, (told, line.text, stretch)))


def states_in_words(lines: tuple[BudgetLine, ...]) -> str:
    """Say by day and by night how the feed stands, naming the state that fails; empty for a feed without states.

    "Within limits" is said only where everything that doesn't depend on the state is within too.
    """
    governs = governing(lines)
    prefix = "" if all(passes(line) for line in governs if not line.state) else "feed "
    told = {}
    for state in WHEN:
        own = [line for line in governs if line.state == state]
        if own:
            told[state] = _state_in_words(own, state, prefix)
    if len(told) == 2 and told["day"] == told["night"]:
        return f"{told['day'][0]} by day and at night{told['day'][1]}"
    return ", ".join(f"{word}{WHEN[state]}{why}" for state, (word, why) in told.items())


def _state_in_words(lines: list[BudgetLine], state: str, prefix: str) -> tuple[str, str]:
    """Return the word for one state, and in brackets what decides it."""
    verdict = worst(line.verdict for line in lines)
    failing = [line for line in lines if line.verdict is verdict]
    line = failing[0]
    if verdict is Verdict.VERIFY:
        return f"{prefix}to be verified", f" ({line.text})" if line.text else ""
    if verdict is not Verdict.OUTSIDE:
        return f"{prefix}within limits", ""
    if np.isnan(line.value):
        return line.text.removesuffix(WHEN[state]) or "outside limits", ""
    told = (in_words(replace(each, state="", text="")) for each in failing)
    return "outside limits", f" ({', '.join(told)})"
