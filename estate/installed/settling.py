"""Whether a link is settled: the same answer at every value its unknown facts could have, or what decides."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from estate.findings import Verdict, worst
from estate.installed.link import Unknown
from estate.installed.readings import Key, Reading
from estate.links.found import Found
from estate.links.lines import governing
from estate.links.link import BudgetLine

PASSES, FAILS, OPEN = "passes", "outside", "open"

CLASS = {
    Verdict.WITHIN: PASSES,
    Verdict.MARGINAL: PASSES,
    Verdict.OUTSIDE: FAILS,
    Verdict.VERIFY: OPEN,
}


@dataclass(frozen=True, slots=True)
class Judged:
    """A link under one reading, as calculated and with what was measured."""

    reading: Reading
    calculated: Found
    found: Found


def verdict_over(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the verdict of a link over every value: the worst pass, outside where all fail, else verify.

    >>> verdict_over([Verdict.WITHIN, Verdict.MARGINAL]).value, verdict_over([Verdict.WITHIN, Verdict.OUTSIDE]).value
    ('marginal', 'verify')
    """
    found = list(verdicts)
    classes = {CLASS[verdict] for verdict in found}
    return worst(found) if len(classes) == 1 else Verdict.VERIFY


def at_worst(judged: Sequence[Judged]) -> Judged:
    """Return the worst reading, the first of equals."""
    order = [Verdict.OUTSIDE, Verdict.VERIFY, Verdict.MARGINAL, Verdict.WITHIN]
    return min(judged, key=lambda each: order.index(each.found.verdict))


def at_best(judged: Sequence[Judged]) -> Verdict:
    """Return the verdict at the kindest values."""
    order = [Verdict.WITHIN, Verdict.MARGINAL, Verdict.VERIFY, Verdict.OUTSIDE]
    return min((each.found.verdict for each in judged), key=order.index)


Check = tuple[str, str]
"""Quantity and state of a budget line."""


def agreed_checks(judged: Sequence[Judged]) -> frozenset[Check]:
    """Return the checks whose verdicts are the same under every reading."""
    verdicts: dict[Check, set[frozenset[tuple[int, Verdict]]]] = defaultdict(set)
    lines = [governing(each.found.lines) for each in judged]
    for check in {(line.quantity, line.state) for own in lines for line in own}:
        for own in lines:
            same = (line for line in own if (line.quantity, line.state) == check)
            verdicts[check].add(frozenset((line.stretch, line.verdict) for line in same))
    return frozenset(check for check, several in verdicts.items() if len(several) == 1)


def told_lines(
    lines: Sequence[BudgetLine], agreed: frozenset[Check], verdict: Verdict
) -> tuple[BudgetLine, ...]:
    """Return the lines of a link at its worst; one that is outside at some values only is to be verified.

    Where a link is outside at every value, each time for another reason, its lines stay as they are.
    """
    sure = any(
        line.verdict is Verdict.OUTSIDE and (line.quantity, line.state) in agreed
        for line in governing(tuple(lines))
    )
    if verdict is Verdict.OUTSIDE and not sure:
        return tuple(lines)
    return tuple(
        replace(
            line, verdict=Verdict.VERIFY, text="; ".join(filter(None, (line.text, "at the worst values")))
        )
        if line.verdict is Verdict.OUTSIDE and not line.informs and (line.quantity, line.state) not in agreed
        else line
        for line in lines
    )


def deciding(
    unknowns: Sequence[Unknown], values: Sequence[dict[Key, object]], verdicts: Sequence[Verdict]
) -> list[Unknown]:
    """Return the facts without which a link isn't settled, of those whose values it was judged over.

    `values` and `verdicts` are those of each set of values. A fact decides where the answer changes with its value
    while all others stay, or where one of its values leaves fewer answers open.
    """
    classes = [CLASS[verdict] for verdict in verdicts]
    if len(set(classes)) == 1:
        return []
    return [
        fact
        for fact in unknowns
        if _changes(_key(fact), values, classes) or _narrows(_key(fact), values, classes)
    ]


def _key(fact: Unknown) -> Key:
    return fact.subject_kind, fact.subject, fact.fact


def _changes(key: Key, values: Sequence[dict[Key, object]], classes: Sequence[str]) -> bool:
    """Whether the answer changes with one fact while all others stay."""
    groups: dict[frozenset[tuple[Key, object]], set[str]] = defaultdict(set)
    for each, answer in zip(values, classes, strict=True):
        if key in each:
            groups[frozenset((k, v) for k, v in each.items() if k != key)].add(answer)
    return any(len(answers) > 1 for answers in groups.values())


def _narrows(key: Key, values: Sequence[dict[Key, object]], classes: Sequence[str]) -> bool:
    """Whether one value of a fact leaves fewer answers."""
    answers: dict[object, set[str]] = defaultdict(set)
    for each, answer in zip(values, classes, strict=True):
        if key in each:
            answers[each[key]].add(answer)
    return any(len(some) < len(set(classes)) for some in answers.values())
