"""The tables of a result as the page shows them: what is beside what, cells with links, what each row is about."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

from markupsafe import Markup, escape

from estate.output import page_words
from estate.output.off_record import told_off_record
from estate.output.page_sources import sources, with_meanings
from estate.output.result import Result, Table

FIRST = {
    "findings": (
        "finding", "severity", "text", "remedy", "cameras", "subject_kind", "subject", "effect", "action", "measured",
        "limit", "unit", "cost", "source", "x", "y",
    ),
    "links": (
        "link", "camera", "head", "verdict", "margin_percent", "limiting", "method", "cable", "length_m",
        "cable_length_m", "deciding", "unknown", "installed",
    ),
    "budget": ("link", "quantity", "state", "value", "limit", "unit", "margin_percent", "verdict", "informs", "note"),
    "would_stand": ("camera", "rank", "text", "change_cost", "method", "head", "cost", "kind"),
    "cuts": ("subject_kind", "subject", "cameras_lost", "cameras_stranded", "cameras"),
    "survey": ("rank", "fact", "subject_kind", "subject", "building", "test", "verdicts", "links", "cameras"),
    "programme": ("order", "remedy", "text", "cost", "cost_total", "cameras", "cameras_total", "in_budget", "action"),
    "repairs": ("camera", "rank", "text", "cost", "verdict", "margin_percent", "action", "kind", "remedies"),
    "remedies": ("remedy", "text", "cost", "cameras", "action", "kind"),
    "records": ("kind", "subject", "problem", "suggestion", "cameras", "about"),
    "reuse": ("cable", "camera", "status", "can", "why", "method", "test"),
    "draft": ("schedule", "row", "lacks"),
}  # fmt: skip
"""Columns that stand first on the page."""

SCREEN_ONLY = {
    "findings": ("x", "y", "source"),
    "links": (
        "segments", "equipment", "kind", "feed", "fed_at", "works_cost", "basis", "unknown", "recorder", "inferred",
        "calculated", "best", "values",
    ),
    "cuts": (),
    "budget": ("profile",),
    "records": ("x", "y"),
    "schedule_cameras": ("x", "y"),
    "schedule_cables": ("segments", "type", "sheath", "tests"),
    "survey": ("values", "with_others"),
    "tests": ("source",),
    "runs": ("nodes", "segments"),
}  # fmt: skip
"""Columns that are left out on paper: they are in other tables, or for those who look closer."""

KINDS = {
    "camera": "point", "cameras": "point", "head": "point", "recorder": "point", "patch": "point", "node": "point",
    "from": "point", "to": "point", "at": "point", "fed_at": "point", "uplink": "link", "link": "link", "links": "link",
    "nodes": "point", "segment": "segment", "segments": "segment", "finding": "finding", "findings": "finding",
}  # fmt: skip
"""What kind of thing a column names. Cameras, recorders, cabinets and other nodes are points."""

SUBJECTS = {"segment": "segment", "link": "link", "finding": "finding"} | dict.fromkeys(
    ("point", "camera", "recorder", "patch", "cabinet", "node"), "point"
)
"""What kind of thing a row's subject is, by its subject_kind."""

OWN = {
    "links": ("link", "camera", "head", "recorder"),
    "cuts": (),
    "programme_curve": (),
    "survey": ("links",),
    "schedule_cables": ("link",),
    "schedule_ways": ("segment",),
    "schedule_cameras": ("camera", "link"),
    "schedule_power": ("cameras",),
}
"""Columns that say what a row is about, where not all of KINDS do: a link is not about each segment it passes."""

ABOUT_MANY = ("segments", "links", "nodes")
"""Lists in which a row names others without being about them."""

LISTS = ("equipment", "cables", "avoids")
"""Lists of what can't be chosen, folded like the others where they are long."""

MOST_SHOWN = 4
"""Ids of a list shown at once; longer lists are folded."""

FEW = 300
"""Rows of a table that the page shows at first: a browser takes long to lay out thousands."""

LONG = 30
"""Letters from which a text gets room of its own."""

JUDGED = ("verdict", "severity")
"""Columns whose words are set apart by how they are printed."""

MARKED = ("verdict", "value")
ASSUMED = ' <small class="assumed">assumed</small>'
"""Stands behind what rests on the user's assumptions, in rows that say so."""

ALWAYS = ("findings", "links")
"""Tables that are shown with no rows as well."""


@dataclass(frozen=True)
class PageTable:
    """One table of the page: heads, whether each column holds numbers, and the rows in HTML."""

    name: str
    title: str
    columns: tuple[str, ...]
    heads: tuple[str, ...]
    classes: tuple[str, ...]
    """Of each column: n where it holds numbers, s where it is left out on paper."""
    rows: tuple[Markup, ...]
    has_money: bool
    is_folded: bool


def page_tables(result: Result) -> list[PageTable]:
    """Return the tables that have rows, in the order of the page: known ones, others, those that are folded."""
    tables = _joined(result)
    known = [name for name in page_words.TITLES if name not in page_words.FOLDED]
    others = sorted(set(tables) - set(page_words.TITLES))
    order = [*known, *others, *page_words.FOLDED]
    return [
        _page_table(name, tables[name])
        for name in order
        if name in tables and (tables[name].rows or name in ALWAYS)
    ]


def empty_tables(result: Result) -> list[str]:
    """Return the titles of known tables without rows."""
    tables = _joined(result)
    return [
        title
        for name, title in page_words.TITLES.items()
        if name in tables and not tables[name].rows and name not in ALWAYS
    ]


def _joined(result: Result) -> dict[str, Table]:
    """Return the tables with notes and facts beside what they belong to, and the sources of the figures."""
    tables = dict(result.tables)
    notes = tables.pop("budget_notes", None)
    if notes is not None and len(notes.rows) == len(tables["budget"].rows):
        tables["budget"] = _beside(tables["budget"], notes, ("informs", "note"))
    facts = tables.pop("link_facts", None)
    if facts is not None and facts.column("link") == tables["links"].column("link"):
        tables["links"] = _beside(tables["links"], facts, ("feed", "fed_at", "works_cost"))
    if result.command == "audit":
        tables |= {
            name: told_off_record(tables[name]) for name in ("links", "schedule_cameras") if name in tables
        }
        if "programme" in tables and "remedies" in tables:
            tables["programme"] = _with_kinds(tables["programme"], tables["remedies"])
    if "assumptions" in tables:
        tables["assumptions"] = with_meanings(tables["assumptions"])
    tables["sources"] = sources(result)
    return tables


def _beside(table: Table, other: Table, columns: Sequence[str]) -> Table:
    """Return a table with columns of another that has the same rows."""
    added = zip(*(other.column(column) for column in columns), strict=True)
    rows = tuple((*row, *more) for row, more in zip(table.rows, added, strict=True))
    return Table((*table.columns, *columns), rows)


def _with_kinds(programme: Table, remedies: Table) -> Table:
    """Return the programme with the kinds of its subjects, so that they can be chosen."""
    kinds = dict(zip(remedies.column("remedy"), remedies.column("subject_kind"), strict=True))
    rows = tuple(
        (*row, kinds.get(name, ""))
        for row, name in zip(programme.rows, programme.column("remedy"), strict=True)
    )
    return Table((*programme.columns, "subject_kind"), rows)


# Rows


def _page_table(name: str, table: Table) -> PageTable:
    table = _arranged(table, FIRST.get(name, ()))
    columns = table.columns
    classes = tuple(
        " ".join(_classes(name, column, [row[k] for row in table.rows])) for k, column in enumerate(columns)
    )
    counts = {column for column, each in zip(columns, classes, strict=True) if "n" in each.split()}
    asked = OWN.get(name) or [c for c in KINDS if c not in ABOUT_MANY and name not in OWN]
    about = [c for c in asked if c in columns and c not in counts]
    return PageTable(
        name=name,
        title=page_words.title(name),
        columns=columns,
        heads=tuple(page_words.head(column, name) for column in columns),
        classes=classes,
        rows=tuple(_row(columns, classes, about, row, more=k >= FEW) for k, row in enumerate(table.rows)),
        has_money=any(page_words.is_money(column) for column in columns),
        is_folded=name in page_words.FOLDED,
    )


def _arranged(table: Table, first: Sequence[str]) -> Table:
    """Return a table with what people read first on the left."""
    front = [column for column in first if column in table.columns]
    order = [*front, *(column for column in table.columns if column not in front)]
    places = [table.columns.index(column) for column in order]
    return replace(
        table, columns=tuple(order), rows=tuple(tuple(row[p] for p in places) for row in table.rows)
    )


def _classes(name: str, column: str, values: Sequence[Any]) -> Iterator[str]:
    if _is_number(column, values):
        yield "n"
    if column in SCREEN_ONLY.get(name, ()):
        yield "s"


def _is_number(column: str, values: Sequence[Any]) -> bool:
    known = [value for value in values if value is not None]
    if not known:
        return column.rsplit("_", 1)[-1] in page_words.UNITS
    return all(isinstance(value, int | float) and not isinstance(value, bool) for value in known)


def _row(
    columns: Sequence[str], classes: Sequence[str], about: Sequence[str], row: Sequence[Any], *, more: bool
) -> Markup:
    """Return one row: cells in words, things named in them linked, and what the row is about."""
    record = dict(zip(columns, row, strict=True))
    unit = str(record.get("unit") or "")
    subject_kind = SUBJECTS.get(str(record.get("subject_kind")), "")
    keys = ";".join(dict.fromkeys(_keys(record, about, subject_kind)))
    mark = ASSUMED if isinstance(record.get("assumed"), str) and record["assumed"] else ""
    cells = [
        _cell(
            column, value, subject_kind if column == "subject" else KINDS.get(column, ""), unit, name,
            mark if column in MARKED else "",
        )
        for column, value, name in zip(columns, row, classes, strict=True)
    ]  # fmt: skip
    named = f' data-r="{escape(keys)}"' if keys else ""
    later = ' class="more"' if more else ""
    return Markup(f"<tr{later}{named}>{''.join(cells)}</tr>")  # noqa: S704  every part is escaped


def _keys(record: dict[str, Any], about: Sequence[str], subject_kind: str) -> Iterator[str]:
    """Yield what a row is about, as kind:id."""
    for column in about:
        yield from (f"{KINDS[column]}:{name}" for name in _ids(record[column]))
    if subject_kind and record.get("subject"):
        yield f"{subject_kind}:{record['subject']}"


def _ids(value: Any) -> list[str]:
    return [name.strip() for name in str(value).split(";") if name.strip()] if value is not None else []


def _cell(column: str, value: Any, kind: str, unit: str, classes: str, assumed: str = "") -> str:
    """Return one cell as HTML; classes of the column, t for a long text, f for a folded list."""
    text = page_words.told(column, value, unit)
    names = _ids(value) if kind or column in LISTS else []
    if len(names) > MOST_SHOWN:
        listed = escape("; ".join(names))
        return f'<td class="f {classes}" data-k="{kind}"><details><summary>{len(names)}</summary>{listed}</details></td>'
    inside: str = escape(text)
    if kind and "n" not in classes:
        inside = "; ".join(f'<a href="#{kind}={quote(name, safe="")}">{escape(name)}</a>' for name in names)
    elif len(text) > LONG:
        classes = f"t {classes}".strip()
    named = f' class="{classes}"' if classes else ""
    judged = f' data-v="{escape(value)}"' if column in JUDGED and text else ""
    return f"<td{named}{judged}>{inside}{assumed}</td>"
