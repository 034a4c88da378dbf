"""Results side by side: one row each, as a table, as text and as files."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from estate.findings import Severity
from estate.links.ways import DUG
from estate.output.audit_changes import are_audits, audit_changes_table
from estate.output.changes import changes_table
from estate.output.compare_plot import plot_costs
from estate.output.result import Result, Table, table
from estate.output.store import write_csv

CUT_KINDS = ("segment", "route", "node")


@dataclass(frozen=True, slots=True)
class Compared:
    """One result under its name; without one, `status` and `why` say what stood against it."""

    name: str
    result: Result | None = None
    status: str = ""
    why: str = ""
    recorders: int | None = None
    """Number of recorders asked for."""


@dataclass(frozen=True)
class Comparison:
    """Rows of compare.csv; of two designs or two audits also those of changes.csv."""

    rows: Table
    changes: Table | None
    audit_changes: Table | None
    """Of two audits, the rows of audit_changes.csv."""
    notes: tuple[str, ...]
    currency: str
    by_count: bool
    """Whether the rows are designs of one estate for different numbers of recorders."""


def comparison(compared: Sequence[Compared]) -> Comparison:
    """Return what is to be said of these results."""
    results = [each.result for each in compared if each.result is not None]
    two = len(compared) == len(results) == 2 and results[0].command == results[1].command != "check"
    currencies = sorted({str(result.estate.get("currency", "")) for result in results})
    return Comparison(
        rows=comparison_table(compared),
        changes=changes_table(*results) if two else None,
        audit_changes=audit_changes_table(*results) if two and are_audits(*results) else None,
        notes=tuple(_notes(compared, currencies)),
        currency=currencies[0] if len(currencies) == 1 else "",
        by_count=all(each.recorders is not None for each in compared),
    )


def _notes(compared: Sequence[Compared], currencies: Sequence[str]) -> Iterator[str]:
    if len(currencies) > 1:
        yield f"The costs are in different currencies ({', '.join(c or 'not given' for c in currencies)}): they don't compare."
    linked = [each.result.summary.get("linked") for each in compared if each.result is not None]
    if len(set(linked) - {None}) > 1:
        yield "Not all of them link as many cameras: what links fewer costs less and may still be dear."
    invented = [
        each.name
        for each in compared
        if each.result is not None and each.result.summary.get("cost_rests_on_invented_rates")
    ]
    if invented:
        yield "Costs rest on invented rates: they rank alternatives, they are no prices."


def comparison_table(compared: Sequence[Compared]) -> Table:
    """Return compare.csv: one row per result, cost by heading in columns `cost_HEADING`, blank where there is none."""
    records = [_record(each) for each in compared]
    headings = dict.fromkeys(
        heading for each in compared if each.result is not None for heading in _cost(each.result)
    )
    costs = ["cost_total", *(f"cost_{heading}" for heading in headings if heading != "total")]
    columns = (
        "name", "status", "cameras", "linked", "recorders", *costs, "cable_m", "trench_m", "worst_margin_percent",
        "worst_link", *(f"lost_{kind}" for kind in CUT_KINDS), "worst_cut", *map(str, Severity), "objective",
        "objective_value", "bound", "gap_percent", "sites", "why",
    )  # fmt: skip
    return table(columns, [tuple(record.get(column) for column in columns) for record in records])


def _record(each: Compared) -> dict[str, Any]:
    """Return one row by column."""
    if each.result is None:
        return {"name": each.name, "status": each.status, "recorders": each.recorders, "why": each.why}
    result, summary = each.result, each.result.summary
    margin, link = _worst_margin(result)
    sites = result.tables["recorders"].column("recorder")
    has_links = result.command != "check"
    return {
        "name": each.name,
        "status": summary.get("solver_status", result.command),
        "cameras": summary.get("cameras"),
        "linked": summary.get("linked"),
        "recorders": len(sites) if has_links else None,
        **{f"cost_{heading}": money for heading, money in _cost(result).items()},
        "cable_m": summary.get("cable_m"),
        "trench_m": trench_m(result) if has_links else None,
        "worst_margin_percent": margin,
        "worst_link": link,
        **_cuts(result),
        **summary.get("findings_by_severity", {}),
        "objective": summary.get("objective"),
        "objective_value": summary.get("objective_value"),
        "bound": summary.get("bound"),
        "gap_percent": summary.get("gap_percent"),
        "sites": sites,
    }


def _cost(result: Result) -> Mapping[str, float]:
    cost: Mapping[str, float] = result.summary.get("cost", {})
    return cost


def trench_m(result: Result) -> float:
    """Return the metres that a result digs: proposed segments in the ground that carry a link, each once."""
    return float(
        sum(
            row["length_m"]
            for row in result.layers["segments"].records()
            if row["proposed"] and row["links"] and row["containment"] in DUG
        )
    )


def _worst_margin(result: Result) -> tuple[float | None, str]:
    """Return the least margin of any link [%] and the link."""
    rows = [row for row in result.tables["links"].records() if row["margin_percent"] is not None]
    worst = min(rows, key=lambda row: (row["margin_percent"], row["link"]), default=None)
    return (None, "") if worst is None else (worst["margin_percent"], worst["link"])


def _cuts(result: Result) -> dict[str, Any]:
    """Return the cameras that the worst single cut of each kind takes, and the worst segment."""
    rows = result.tables["cuts"].records()
    found: dict[str, Any] = {}
    for kind in CUT_KINDS:
        own = [row for row in rows if row["subject_kind"] == kind]
        if own:
            found[f"lost_{kind}"] = max(row["cameras_lost"] for row in own)
            if kind == "segment" and found["lost_segment"]:
                found["worst_cut"] = next(
                    row["subject"] for row in own if row["cameras_lost"] == found["lost_segment"]
                )
    return found


def told_comparison(shown: Comparison) -> list[str]:
    """Return the rows as a table for a terminal, then why a row has no answer, then the notes."""
    heads = (
        "", "status", "linked", "recorders", f"cost {shown.currency}".strip(), "cable m", "trench m", "margin %",
        "lost", "danger/fault/watch/note", "gap %",
    )  # fmt: skip
    records = shown.rows.records()
    lines = [heads, *(_cells(record) for record in records)]
    widths = [max(len(line[c]) for line in lines) for c in range(len(heads))]
    told = [
        "  ".join(
            cell.ljust(width) if c < 2 else cell.rjust(width)
            for c, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]
    told += [f"{record['name']}: {record['why']}" for record in records if record["why"]]
    told.append("lost: cameras that the worst cut of one segment takes")
    return [*told, *shown.notes, "Calculated, not tested; local codes and licensed practice govern."]


def _cells(record: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the cells of one row; - where there is no figure."""
    answered = record["cameras"] is not None
    counts = "/".join(str(record[str(severity)]) for severity in Severity) if answered else "-"
    return (
        str(record["name"]),
        str(record["status"]).replace("_", " "),
        f"{record['linked']} of {record['cameras']}" if record["linked"] is not None else "-",
        _number(record["recorders"], "d"),
        _number(record["cost_total"], ",.2f"),
        _number(record["cable_m"], ".1f"),
        _number(record["trench_m"], ".1f"),
        _number(record["worst_margin_percent"], ".1f"),
        _number(record["lost_segment"], "d"),
        counts,
        _number(record["gap_percent"], ".2f"),
    )


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def write_comparison(folder: Path, shown: Comparison) -> None:
    """Write compare.csv, changes.csv where there are two to hold against each other, and the plot."""
    write_csv(folder / "compare.csv", shown.rows)
    if shown.changes is not None:
        write_csv(folder / "changes.csv", shown.changes)
    if shown.audit_changes is not None:
        write_csv(folder / "audit_changes.csv", shown.audit_changes)
    plot_costs(folder, shown.rows.records(), shown.currency, shown.notes, joined=shown.by_count)
