"""report.html: one self-contained page for people."""

from importlib.resources import files
from pathlib import Path
from typing import Any

from estate.output.result import Result, Table

TABLES = {
    "links": "Links",
    "findings": "Findings",
    "recorders": "Recorders",
    "cabinets": "Cabinets",
    "budget": "Budget lines",
    "segments": "Segments",
    "proximity": "Near mains",
    "quantities": "Quantities",
    "assumptions": "Assumptions",
}

FIRST = {
    "findings": (
        "finding",
        "severity",
        "text",
        "remedy",
        "cameras",
        "effect",
        "action",
        "subject_kind",
        "subject",
    ),
    "links": (
        "link",
        "camera",
        "head",
        "method",
        "cable",
        "verdict",
        "limiting",
        "cable_length_m",
        "margin_percent",
    ),
}
"""Columns that stand first on the page."""


def write_page(path: Path, result: Result, plan_svg: str) -> None:
    """Write the page with the plan inside; names are escaped, nothing is loaded from anywhere."""
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415  slow

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = environment.from_string(files("estate.output").joinpath("page.html").read_text("utf-8"))
    tables = [(key, name, _arranged(key, result.tables[key])) for key, name in TABLES.items()]
    words = ("client", "number", "revision", "date", "status")
    facts = [f"{word} {result.estate[word]}" for word in words if result.estate.get(word)]
    text = template.render(
        result=result, tables=tables, facts=facts, summary=_told(result.summary), plan_svg=_bare(plan_svg)
    )
    path.write_text(text + "\n", encoding="utf-8")


def _arranged(key: str, table: Table) -> Table:
    """Return a table with what people read first on the left."""
    wanted = FIRST.get(key, ())
    order = [*wanted, *(c for c in table.columns if c not in wanted)]
    places = [table.columns.index(c) for c in order]
    return Table(tuple(order), tuple(tuple(row[p] for p in places) for row in table.rows))


def _bare(svg: str) -> str:
    """Return the svg element alone, without XML declaration and document type."""
    return svg[svg.index("<svg") :] if "<svg" in svg else ""


def _told(summary: Any) -> list[tuple[str, str]]:
    """Return the summary as words and values; nested counts in one line, without those that are 0."""
    return [
        (key.replace("_", " "), _in_words(value))
        for key, value in summary.items()
        if key not in ("input_hashes", "assumptions")
    ]


def _in_words(value: Any) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:,.2f}"
    if isinstance(value, dict):
        return ", ".join(f"{k} {_in_words(v)}" for k, v in value.items() if v) or "none"
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    return str(value)
