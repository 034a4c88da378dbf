"""What a row of a schedule lacks, and the list of such rows: as long as there are any, a schedule is a draft."""

from collections.abc import Mapping
from typing import Any

from estate.output.result import Table, table

DRAFT = ("schedule", "row", "lacks")
SCHEDULES = {
    "schedule_cameras": "Cameras",
    "schedule_cables": "Cables",
    "schedule_ways": "Ways and trenches",
    "schedule_equipment": "Equipment",
    "schedule_power": "Power",
}
"""Tables that have a column `lacks`, with what people call them."""

WORDS = {
    "height_m": "mounting height", "load_w": "load by day", "load_night_w": "load at night", "depth_mm": "depth",
    "length_m": "length", "containment": "type", "rating_w": "rating of the supply",
}  # fmt: skip


def lacking(facts: Mapping[str, Any]) -> str:
    """Return the names of the facts that aren't known, in words.

    >>> lacking({"length_m": float("nan"), "surface": "grass", "depth_mm": None})
    'length;depth'
    """
    blank = [name for name, value in facts.items() if _is_blank(value)]
    return ";".join(WORDS.get(name, name.replace("_", " ")) for name in blank)


def _is_blank(value: Any) -> bool:
    return value is None or value == "" or value != value  # noqa: PLR0124  NaN is unknown


def draft_table(tables: Mapping[str, Table]) -> Table:
    """One row per row of a schedule that lacks facts."""
    rows = [
        (name, row[0], row[each.columns.index("lacks")])
        for name in SCHEDULES
        if (each := tables.get(name)) is not None
        for row in each.rows
        if row[each.columns.index("lacks")]
    ]
    return table(DRAFT, rows)


def draft_note(draft: Table) -> str:
    """Say that the schedules are a draft, empty where no row lacks anything."""
    if not draft.rows:
        return ""
    count = len(draft.rows)
    return f"DRAFT - {count} incomplete row{'s' if count > 1 else ''} in the schedules (draft.csv)."
