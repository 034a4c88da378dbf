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


def told_sum(result: Result) -> list[str]:
    """Say how many failing cameras can be cured and for what, what a budget does, and for whom no remedy stands."""
    summary, currency = result.summary["programme"], str(result.estate.get("currency") or "")
    failing, curable = summary["failing"], summary["curable"]
    if not failing:
        return ["no link is outside its limits"]
    which = "all" if curable == failing > 1 else str(curable)
    can = f"{which} can be cured, for {_money(summary['cost'], currency)}" if curable else "none can be cured"
    lines = [f"{counted(failing, 'camera')} with a link outside its limits; {can}"]
    if summary["budget"] is not None:
        inside, budget = summary["in_budget"], _money(summary["budget"], currency)
        lines.append(
            f"a budget of {budget} cures {counted(inside['cameras'], 'camera')}, for {_money(inside['cost'], currency)}"
        )
    if summary["without_remedy"]:
        lines.append(
            f"no remedy stands for {', '.join(summary['without_remedy'])}: a design may have another way"
        )
    return lines


def _money(value: float, currency: str) -> str:
    return f"{value:,.2f} {currency}".rstrip()


def told_programme(result: Result) -> list[str]:
    """Say what the programme comes to, and which remedies come first."""
    first, *more = told_sum(result)
    lines = [f"remedies: {first}", *(f"  {line}" for line in more)]
    rows = [row for row in result.tables["programme"].records() if row["in_budget"]]
    for row in rows[:FIRST]:
        cured = f"; {row['cameras_total']} cured so far" if row["cameras"] else ""
        lines.append(f"  {row['order']}. {row['remedy']}: {row['text']} ({row['cost']:,.2f}{cured})")
    if len(rows) > FIRST:
        lines.append(f"  … {len(rows) - FIRST} more in programme.csv")
    return lines
