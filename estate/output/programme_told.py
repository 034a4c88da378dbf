"""The programme of remedies in words, in numbers for summary.json, and what must be stamped on it."""

from typing import Any

from estate.audit.cured import Cured
from estate.audit.programme_task import CENTS
from estate.output.result import Result
from estate.output.told import counted

FIRST = 5
"""Remedies that are told; all of them are in programme.csv."""


def programme_summary(cured: Cured) -> dict[str, Any]:
    """Return what summary.json has of a programme; money is that of all cameras that can be cured, and of the plan."""
    programme = cured.programme
    task, curve, chosen = programme.task, programme.curve, programme.chosen
    return {
        "failing": len(task.cameras),
        "curable": len(curve),
        "cost": curve[-1].cents / CENTS if curve else 0.0,
        "budget": programme.budget,
        "in_budget": {"cameras": len(chosen.repairs), "cost": chosen.cents / CENTS},
        "without_remedy": sorted(set(task.cameras) - {r.camera for r in task.repairs}),
    }


def rests_on_invented(cured: Cured) -> bool:
    """Whether the money of any remedy rests on an invented rate."""
    return any(remedy.invented for remedy in cured.remedies.remedies)


def programme_notes(cured: Cured) -> list[str]:
    """Return what must be stamped on a programme."""
    stamped = []
    if rests_on_invented(cured):
        stamped.append("Costs rest on invented rates: they rank alternatives, they are no prices.")
    limits = [each.why for each in cured.remedies.refused if not each.camera]
    return [*stamped, *(f"Programme: {why}." for why in limits)]


def told_programme(result: Result) -> list[str]:
    """Say what the programme comes to, and which remedies come first."""
    summary = result.summary["programme"]
    if not summary["failing"]:
        return ["remedies: no link is outside its limits"]
    money = f" {result.estate.get('currency') or ''}".rstrip()
    told = f"remedies: {summary['curable']} of {counted(summary['failing'], 'failing camera')}"
    lines = [f"{told} can be cured for {summary['cost']:,.2f}{money}"]
    if summary["budget"] is not None:
        inside = summary["in_budget"]
        lines[0] += (
            f"; {counted(inside['cameras'], 'camera')} within {summary['budget']:,.2f}, for {inside['cost']:,.2f}"
        )
    rows = [row for row in result.tables["programme"].records() if row["in_budget"]]
    for row in rows[:FIRST]:
        cured = f"; cured then {row['cameras_total']}" if row["cameras"] else ""
        lines.append(f"  {row['order']}. {row['remedy']}: {row['text']} ({row['cost']:,.2f}{cured})")
    if len(rows) > FIRST:
        lines.append(f"  … {len(rows) - FIRST} more in programme.csv")
    if summary["without_remedy"]:
        lines.append(
            f"no remedy stands for {', '.join(summary['without_remedy'])}: a design may have another way"
        )
    return lines
