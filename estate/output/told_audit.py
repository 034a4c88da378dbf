"""What `estate audit` prints."""

from collections.abc import Mapping
from typing import Any

from estate.output.page_words import fact
from estate.output.programme_told import told_programme
from estate.output.result import Result
from estate.output.told import counted, told_counts, told_verdicts

FIRST = 5
"""Facts to find out that are told; all of them are in survey.csv."""


def told_audit(result: Result) -> list[str]:
    """Say what an audit came to: links by verdict, cables judged and to be verified, what to find out first."""
    summary = result.summary
    links = told_verdicts(summary["links"], "not on record")
    cables = told_counts({word.replace("_", " "): count for word, count in summary["cables"].items()})
    lines = [
        f"cables on record: {cables}; in links {summary['judged']} judged, {summary['verify']} to be verified",
        f"cameras: {summary['linked']} of {summary['cameras']} with a link on record ({links})",
        *map(_recorder, result.tables["recorders"].records()),
        *told_programme(result),
        *_first(result),
    ]
    return [*lines, *result.notes]


def _recorder(row: Mapping[str, Any]) -> str:
    """Say how many channels of a recorder are in use; how many there are only where that is known."""
    there = (
        "channels in use, not given how many there are"
        if row["channels"] is None
        else f"of {row['channels']} channels"
    )
    kinds = f"{row['used_analogue']} analogue, {row['used_network']} network"
    unknown = row["used"] - row["used_analogue"] - row["used_network"]
    if unknown:
        kinds += f", {unknown} of unknown kind"
    return f"recorder {row['recorder']}: {row['used']} {there} ({kinds}), {row['status']}"


def _settles(row: Mapping[str, Any]) -> str:
    """Say what a fact settles by itself, or with others."""
    if row["verdicts"]:
        return f"settles {counted(row['verdicts'], 'verdict')}"
    return f"settles {counted(row['with_others'], 'verdict')} together with other facts"


def _first(result: Result) -> list[str]:
    """Name the facts that settle most, where they are and how to find them out."""
    rows = sorted(result.tables["survey"].records(), key=lambda row: row["rank"])
    if not rows:
        return []
    told = [
        f"to find out first, of {counted(len(rows), 'fact')} that decide{'s' if len(rows) == 1 else ''} links:"
    ]
    for row in rows[:FIRST]:
        place = f" in {row['building']}" if row["building"] else ""
        told.append(
            f"  {row['rank']}. {fact(row['fact'])} of {row['subject']}{place}: {row['test']} ({_settles(row)})"
        )
    return told
