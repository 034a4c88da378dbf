"""report.html: one self-contained page for people."""

from importlib.resources import files
from pathlib import Path
from typing import Any

from estate.output.result import Result

TABLES = {
    "links": "Links",
    "findings": "Findings",
    "recorders": "Recorders",
    "budget": "Budget lines",
    "segments": "Segments",
    "proximity": "Near mains",
    "quantities": "Quantities",
    "assumptions": "Assumptions",
}


def write_page(path: Path, result: Result, plan_svg: str) -> None:
    """Write the page with the plan inside; names are escaped, nothing is loaded from anywhere."""
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415  slow

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = environment.from_string(files("estate.output").joinpath("page.html").read_text("utf-8"))
    tables = [(key, name, result.tables[key]) for key, name in TABLES.items()]
    words = ("client", "number", "revision", "date", "status")
    facts = [f"{word} {result.estate[word]}" for word in words if result.estate.get(word)]
    text = template.render(
        result=result, tables=tables, facts=facts, summary=_told(result.summary), plan_svg=_bare(plan_svg)
    )
    path.write_text(text + "\n", encoding="utf-8")


def _bare(svg: str) -> str:
    """Return the svg element alone, without XML declaration and document type."""
    return svg[svg.index("<svg") :] if "<svg" in svg else ""


def _told(summary: Any) -> list[tuple[str, str]]:
    """Return the summary as words and values; nested counts in one line."""
    told = []
    for key, value in summary.items():
        if key in ("input_hashes", "assumptions"):
            continue
        if isinstance(value, dict):
            value = ", ".join(f"{k} {v}" for k, v in value.items()) or "none"  # noqa: PLW2901
        elif isinstance(value, list):
            value = ", ".join(map(str, value)) or "none"  # noqa: PLW2901
        told.append((key.replace("_", " "), "not known" if value is None else str(value)))
    return told
