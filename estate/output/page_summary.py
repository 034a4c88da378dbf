"""The summary of the page: tiles, sentences under short heads, and how much of the survey is known."""

from collections.abc import Iterator, Mapping
from typing import Any

from estate.output import page_words
from estate.output.programme_told import told_sum
from estate.output.result import Result
from estate.output.told import VERDICTS, counted, told_counts

APART = frozenset({
    "assumptions", "input_hashes", "command", "estate", "revision", "version", "cameras", "linked",
    "objective_value", "bound", "cost_rests_on_invented_rates", "links", "findings_by_severity", "completeness", "verify",
    "deciding_facts",
})  # fmt: skip
"""What the summary's list leaves to the head of the page, its tiles and its tables, or tells with something else."""

LABELS = {
    "works_m": "routes to be built",
    "trunk_m": "trunk cable",
    "cable_m": "new cable",
    "cuts": "worst single cuts",
    "solver_status": "how good the choice is",
    "objective": "what was made least",
    "gap_percent": "left open by the bound",
    "findings_by_action": "findings by what is to be done",
    "findings_by_effect": "findings by what they do",
    "cables": "cables on record",
    "judged": "cables in links",
    "unknown_facts": "not known",
    "inferred_ways": "ways of cables",
    "records": "records",
    "programme": "remedies",
    "draft_rows": "schedules",
}
AUDIT_LABELS = {"cable_m": "cable on record"}
"""What the same figures are called in an audit."""

FIRST = 3
"""Facts to find out that the summary names; all of them have a table."""


# Tiles


def tiles(result: Result) -> Iterator[tuple[str, str]]:
    """Yield what is read first, as words and values."""
    summary, currency = result.summary, str(result.estate.get("currency", ""))
    cameras, linked = summary.get("cameras"), summary.get("linked")
    is_audit = result.command == "audit"
    if linked is not None:
        yield f"cameras with a link{' on record' if is_audit else ''}", f"{linked} of {cameras}"
    elif cameras is not None:
        yield "cameras", str(cameras)
    verdicts = summary.get("links")
    if isinstance(verdicts, Mapping):
        words = {**VERDICTS, "none": "not on record"} if is_audit else VERDICTS
        yield "cameras by verdict", told_counts({words.get(word, word): n for word, n in verdicts.items()})
    findings = summary.get("findings_by_severity")
    if isinstance(findings, Mapping):
        yield "findings", told_counts(findings)
    cost = summary.get("cost")
    if isinstance(cost, Mapping) and "total" in cost:
        invented = ", at invented rates" if summary.get("cost_rests_on_invented_rates") else ""
        yield f"cost{invented}", f"{cost['total']:,.2f} {currency}".strip()
    if summary.get("bound") is not None and summary.get("objective_value") is not None:
        yield "could still be saved", f"at most {summary['gap_percent'] or 0:.1f} %"


# Sentences


def told_summary(result: Result) -> list[tuple[str, list[str]]]:
    """Return the rest of the summary: short heads, each with its sentences."""
    summary = result.summary
    labels = {**LABELS, **AUDIT_LABELS} if result.command == "audit" else LABELS
    told = [
        (labels.get(key) or page_words.in_words(key), _sentences(result, key, value))
        for key, value in summary.items()
        if key not in APART
    ]
    first = list(_first_facts(result))
    return [*told, ("to find out first", first)] if first else told


def _sentences(result: Result, key: str, value: Any) -> list[str]:
    if key == "cuts":
        return [_cut(kind, cut) for kind, cut in value.items()] or ["none"]
    if key == "cost":
        return [_cost(value, str(result.estate.get("currency") or ""))]
    if key == "programme":
        return told_sum(result)
    if key == "judged":
        return [told_judged(result.summary)]
    if key == "unknown_facts":
        return [_unknown(value, result.summary["deciding_facts"])]
    if key in COUNTED:
        nothing, one, several = COUNTED[key]
        return [nothing if not value else one if value == 1 else several.format(value)]
    return [_told(key, value)]


COUNTED = {
    "inferred_ways": (
        "all as listed",
        "1 cable lies on no listed route: the shortest way between its ends is taken",
        "{} cables lie on no listed route: the shortest way between their ends is taken",
    ),
    "records": ("all of them fit", "1 thing in them does not fit", "{} things in them do not fit"),
    "draft_rows": ("no row lacks a fact", "draft: 1 row lacks facts", "draft: {} rows lack facts"),
}
"""Counts as sentences: of nothing, of one, of several."""


def _unknown(count: int, decide: int) -> str:
    which = "none of them decides" if not decide else f"{decide} of them decide{'s' if decide == 1 else ''}"
    return f"{counted(count, 'fact')} of installed links; {which} a verdict"


def told_judged(summary: Mapping[str, Any]) -> str:
    """Say how many of the cables in links are judged, and how many wait for facts."""
    waiting, every = summary["verify"], summary["judged"] + summary["verify"]
    if not every:
        return "none on record"
    wait = "stands in a link" if waiting == 1 else "stand in links"
    rest = f"; {waiting} {wait} to be verified: a fact is not known" if waiting else ""
    return f"{summary['judged']} of {counted(every, 'cable')} in links are judged{rest}"


def _cut(kind: str, cut: Mapping[str, Any]) -> str:
    lost, stranded = cut["cameras_lost"], cut["cameras_stranded"]
    if not lost:
        return f"no {kind} takes a camera"
    other = f"{stranded} of them without another way" if stranded else "each with another way"
    return f"{kind} {cut['subject']} takes {counted(lost, 'camera')}, {other}"


def _cost(cost: Mapping[str, float], currency: str) -> str:
    parts = ", ".join(f"{heading} {money:,.2f}" for heading, money in cost.items() if heading != "total")
    total = f"{cost['total']:,.2f} {currency}".strip() if "total" in cost else "not known"
    return f"{total}: {parts}" if parts else total


def _first_facts(result: Result) -> Iterator[str]:
    """Yield the facts that settle most, and how they are found out."""
    survey = result.tables.get("survey")
    if survey is None or result.command != "audit":
        return
    for row in sorted(survey.records(), key=lambda row: row["rank"])[:FIRST]:
        place = f" in {row['building']}" if row["building"] else ""
        settles = counted(row["verdicts"], "verdict")
        yield f"{page_words.fact(row['fact'])} of {row['subject']}{place}: {row['test']} (settles {settles})"


def _told(key: str, value: Any) -> str:
    if value is None:
        return "not known"
    if isinstance(value, Mapping):
        if all(isinstance(each, int) for each in value.values()):
            return told_counts({page_words.in_words(str(word)): count for word, count in value.items()})
        return "; ".join(f"{page_words.in_words(str(k))} {_told(k, v)}" for k, v in value.items()) or "none"
    if isinstance(value, list | tuple):
        return ", ".join(_told(key, each) for each in value) or "none"
    unit = page_words.UNITS.get(key.rsplit("_", 1)[-1], "")
    text = page_words.told(key, value)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return f"{text} {unit}".strip() if is_number else page_words.in_words(text)


# How much of the survey is known


def completeness(summary: Mapping[str, Any]) -> list[tuple[str, str, str, str, str]]:
    """Return per layer and for all: facts that judging needs, known ones, assumed ones, the share known [%]."""
    rows = []
    for layer, share in summary.get("completeness", {}).items():
        needed, known, assumed = (f"{share[each]:,}" for each in ("needed", "known", "assumed"))
        percent = "" if share["percent"] is None else f"{share['percent']:.1f}"
        rows.append(("all layers" if layer == "all" else layer, needed, known, assumed, percent))
    return rows
