"""The result of a run as plain data: everything that the drawings, tables and pages are made from."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from estate.errors import InputError, Problem

DIGITS = {
    "_m": 3, "_mm": 1, "_mm2": 1, "_percent": 2, "_db": 2, "_deg": 1, "_w": 2, "_c": 1, "x": 3, "y": 3,
    "volts": 2, "volts_day": 2, "volts_night": 2, "volts_min": 2, "cost": 2, "_cost": 2, "cost_total": 2, "rate": 4, "amount": 2,
    "quantity": 2, "value": 3, "limit": 3, "measured": 3, "mbps": 2, "gb_per_day": 1,
}  # fmt: skip
"""Decimals by the ending of a column's name."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under named columns; `geometry` holds WKT or None beside each row where the table is a layer."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...] = ()
    geometry: tuple[str | None, ...] | None = None

    def column(self, name: str) -> list[Any]:
        """Return one column."""
        place = self.columns.index(name)
        return [row[place] for row in self.rows]

    def records(self) -> list[dict[str, Any]]:
        """Return the rows as dictionaries."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]


@dataclass(frozen=True)
class Result:
    """One run. `tables` by file name without its ending; `layers` are tables with a geometry."""

    command: str
    version: str
    estate: Mapping[str, Any]
    drawing: Mapping[str, Any]
    crs: str
    crs_wkt: str
    summary: Mapping[str, Any]
    tables: Mapping[str, Table]
    layers: Mapping[str, Table]
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = field(default=())

    def rows(self, name: str) -> list[dict[str, Any]]:
        """Return the rows of a table, none where the result has no such table."""
        return self.tables[name].records() if name in self.tables else []


def table(
    columns: Sequence[str], rows: Sequence[Sequence[Any]], geometry: Sequence[str | None] | None = None
) -> Table:
    """Return a table with every number rounded for its column and NaN made blank."""
    names = tuple(columns)
    cleaned = tuple(tuple(clean(name, value) for name, value in zip(names, row, strict=True)) for row in rows)
    return Table(names, cleaned, None if geometry is None else tuple(geometry))


def clean(column: str, value: Any) -> Any:
    """Return a value as it is written: plain Python, rounded for its column, None where unknown.

    >>> clean("length_m", 12.34567), clean("x", float("nan"))
    (12.346, None)
    """
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int):
        return int(value)
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        digits = DIGITS.get(column, DIGITS.get("_" + column.rsplit("_", 1)[-1], 3))
        return round(value, digits) + 0.0
    if isinstance(value, list | tuple):
        return ";".join(map(str, value))
    return str(value)


def to_json(result: Result) -> str:
    """Return the result as JSON, the same bytes for the same result."""
    return json.dumps(_plain(result), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _plain(result: Result) -> dict[str, Any]:
    def shape(each: Table) -> dict[str, Any]:
        plain: dict[str, Any] = {"columns": each.columns, "rows": each.rows}
        return plain if each.geometry is None else {**plain, "geometry": each.geometry}

    return {
        "program": "estate",
        "version": result.version,
        "command": result.command,
        "estate": dict(result.estate),
        "drawing": dict(result.drawing),
        "crs": result.crs,
        "crs_wkt": result.crs_wkt,
        "summary": dict(result.summary),
        "cautions": result.cautions,
        "notes": result.notes,
        "tables": {name: shape(each) for name, each in result.tables.items()},
        "layers": {name: shape(each) for name, each in result.layers.items()},
    }


def read_result(folder: Path) -> Result:
    """Read result.json of an output folder (or the file itself)."""
    path = folder / "result.json" if folder.is_dir() else folder
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        return _from_plain(raw)
    except FileNotFoundError:
        fix = "run `estate design FOLDER` first, or name a result with --from"
        raise InputError([Problem(path.name, "a saved result", value="missing", fix=fix)]) from None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError([Problem(path.name, f"a result written by this program ({error})")]) from None


def _from_plain(raw: Mapping[str, Any]) -> Result:
    def shape(each: Mapping[str, Any]) -> Table:
        geometry = each.get("geometry")
        rows = tuple(map(tuple, each["rows"]))
        return Table(tuple(each["columns"]), rows, None if geometry is None else tuple(geometry))

    if raw["program"] != "estate":
        raise ValueError("made by another program")
    return Result(
        command=raw["command"],
        version=raw["version"],
        estate=raw["estate"],
        drawing=raw["drawing"],
        crs=raw["crs"],
        crs_wkt=raw["crs_wkt"],
        summary=raw["summary"],
        tables={name: shape(each) for name, each in raw["tables"].items()},
        layers={name: shape(each) for name, each in raw["layers"].items()},
        cautions=tuple(raw["cautions"]),
        notes=tuple(raw["notes"]),
    )
