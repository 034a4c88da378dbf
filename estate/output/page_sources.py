"""What settings and columns mean, and what the figures of a result rest on: two tables that only the page has."""

import re
from collections import Counter
from dataclasses import fields
from typing import Any

from estate.output.result import Result, Table
from estate.settings import Settings
from estate.survey.fields import LAYERS


def with_meanings(table: Table) -> Table:
    """Return the assumptions with what each setting or column means, and words for what is not set."""
    meanings = _meanings()
    rows = []
    for record in table.records():
        value = record["value"]
        shown = {"None": "not set", "": "none given", "True": "yes", "False": "no"}.get(value, value)
        subject, kind = record["subject"], ORIGINS.get(record["kind"], record["kind"])
        rows.append((subject, shown, kind, record["count"], meanings.get(subject, "")))
    return Table(("setting or column", "value", "origin", "rows", "meaning"), tuple(rows))


ORIGINS = {
    "given": "set by the estate",
    "default": "default taken",
    "assumed": "assumed for blanks",
    "unknown": "not known, judged over its range",
    "invented": "invented rate",
}


def _meanings() -> dict[str, str]:
    """Return what settings and columns of layers mean."""
    found = {}
    for section in fields(Settings):
        if section.name not in ("catalogue", "assume", "given"):
            kind: Any = section.default_factory
            for key in fields(kind):
                found[f"[{section.name}] {key.name}"] = str(key.metadata["doc"])
    for layer in LAYERS.values():
        found |= {f"{layer.name}.{column.name}": column.doc for column in layer.columns}
    return found


STATUS = re.compile(
    r"\((standard|handbook|second hand|common practice|from memory|declared|calculated|invented)\)"
)
EDITION = re.compile(r"[A-Z0-9]:(\d{4})\b")


def sources(result: Result) -> Table:
    """Return what the budget lines and findings rest on: source, edition, status, how many of them."""
    counts: Counter[tuple[str, str]] = Counter()
    for table in (result.tables[name] for name in ("budget", "findings") if name in result.tables):
        bases = table.column("basis") if "basis" in table.columns else [""] * len(table.rows)
        for source, basis in zip(table.column("source"), bases, strict=True):
            for part in filter(None, (part.strip() for part in str(source or "").split("; night load: "))):
                counts[part, basis] += 1
    rows = []
    for (source, basis), count in sorted(counts.items()):
        status = STATUS.findall(source)
        edition = EDITION.search(source)
        told = status[-1] if status else "declared" if source.startswith("declared") else "as told"
        text = STATUS.sub("", source).strip()
        rows.append((text, edition[1] if edition else "not told", told, basis or "finding", count))
    return Table(("source", "edition", "status", "value is", "times"), tuple(rows))
