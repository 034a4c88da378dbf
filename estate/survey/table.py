"""Features as they stand in the files, before their values are checked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.errors import Problem
from estate.survey.fields import LayerSchema

Values = list[Any]

ESTATE_FRAME = ""
"""Frame of coordinates that are in the estate's own crs."""

WGS84_FRAME = "OGC:CRS84"
"""Frame of longitude and latitude on WGS 84."""


def objects(values: Sequence[Any]) -> NDArray[np.object_]:
    """Return an object array of one dimension, whatever the values are."""
    column = np.empty(len(values), dtype=object)
    column[:] = values
    return column


@dataclass
class Table:
    """Features of one layer, one row each, with everything that is wrong with them.

    `values` holds the schema's columns and `extra` all others, None where blank. `geometry` is in the frame
    named by `frame`: "" the estate's crs, else what pyproj can read. A `broken` row could not be read at all, an `undrawn` one
    has geometry that can't be used, a `rejected` one has any problem.
    """

    schema: LayerSchema
    file: NDArray[np.object_]
    row: NDArray[np.int64]
    values: dict[str, Values]
    extra: dict[str, Values]
    geometry: NDArray[np.object_]
    frame: NDArray[np.object_]
    rejected: NDArray[np.bool_]
    broken: NDArray[np.bool_]
    undrawn: NDArray[np.bool_]
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    absent: set[tuple[str, str]] = field(default_factory=set)
    """Required columns that a file lacks, as (file, column): told once, not row by row."""

    def __len__(self) -> int:
        return len(self.row)

    def id_of(self, index: int) -> str:
        """Return the id of a row as text, empty where it has none."""
        value = self.values["id"][index]
        return "" if value is None else str(value)

    def reject(self, index: int, expected: str, *, field: str = "", value: Any = None, fix: str = "") -> None:
        """Record a problem of one row."""
        self.rejected[index] = True
        file, row, name = str(self.file[index]), int(self.row[index]), self.id_of(index)
        self.problems.append(Problem(file, expected, row, name, field, value, fix))

    def reject_file(
        self, file: str, expected: str, *, field: str = "", value: Any = None, fix: str = ""
    ) -> None:
        """Record a problem that all rows of a file share."""
        self.rejected |= self.file == file
        self.problems.append(Problem(file, expected, field=field, value=value, fix=fix))

    def refuse_geometry(
        self, file: str, expected: str, *, field: str, value: Any = None, fix: str = ""
    ) -> None:
        """Record a problem of all coordinates of a file, which are not looked at any further."""
        self.undrawn |= self.file == file
        self.reject_file(file, expected, field=field, value=value, fix=fix)

    def taken(self, index: NDArray[np.int64]) -> "Table":
        """Return the rows of an index; problems and notes stay with the result."""
        rows = index.tolist()
        return Table(
            self.schema,
            self.file[index],
            self.row[index],
            {name: [column[i] for i in rows] for name, column in self.values.items()},
            {name: [column[i] for i in rows] for name, column in self.extra.items()},
            self.geometry[index],
            self.frame[index],
            self.rejected[index],
            self.broken[index],
            self.undrawn[index],
            self.problems,
            self.notes,
            self.absent,
        )


def blank_table(schema: LayerSchema, file: str, rows: Sequence[int]) -> Table:
    """Return a table of rows without any values or geometry."""
    count = len(rows)
    return Table(
        schema,
        objects([file] * count),
        np.array(rows, dtype=np.int64),
        {column.name: [None] * count for column in schema.columns},
        {},
        objects([None] * count),
        objects([ESTATE_FRAME] * count),
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=bool),
        np.zeros(count, dtype=bool),
    )


def joined(schema: LayerSchema, tables: Sequence[Table]) -> Table:
    """Put the tables of one layer's files under each other."""
    if not tables:
        return blank_table(schema, "", [])
    extras = sorted({name for table in tables for name in table.extra})
    return Table(
        schema,
        np.concatenate([t.file for t in tables]),
        np.concatenate([t.row for t in tables]),
        {c.name: [v for t in tables for v in t.values[c.name]] for c in schema.columns},
        {name: [v for t in tables for v in t.extra.get(name, [None] * len(t))] for name in extras},
        np.concatenate([t.geometry for t in tables]),
        np.concatenate([t.frame for t in tables]),
        np.concatenate([t.rejected for t in tables]),
        np.concatenate([t.broken for t in tables]),
        np.concatenate([t.undrawn for t in tables]),
        [problem for t in tables for problem in t.problems],
        [note for t in tables for note in t.notes],
        {pair for t in tables for pair in t.absent},
    )


def fill(table: Table, columns: Mapping[str, Values], reserved: Iterable[str] = ()) -> None:
    """Sort raw columns into the schema's and extra ones, by name without case.

    A column that is near a known one is guessed: a problem where the known one is required, else a note.
    `reserved` names are the geometry's and are left out.
    """
    file = str(table.file[0]) if len(table) else ""
    known = table.schema.by_name
    seen: set[str] = set()
    for header, values in columns.items():
        name = header.strip().casefold()
        if name in reserved:
            continue
        if name in seen:
            table.reject_file(file, "each column once", field=header)
        elif name in known:
            table.values[name] = values
        else:
            table.extra[header.strip()] = values
        seen.add(name)
    guessed = _guess_columns(table, file, seen)
    for column in table.schema.columns:
        if column.required and column.name not in seen and len(table):
            table.absent.add((file, column.name))
            found = guessed.get(column.name)
            fix = f"rename {found!r} to {column.name!r}" if found else ""
            table.reject_file(file, f"a column {column.name!r}", field=column.name, fix=fix)


def _guess_columns(table: Table, file: str, seen: set[str]) -> dict[str, str]:
    """Note extra columns that look like misspelt known ones; return the guesses, known name to extra."""
    absent = [c.name for c in table.schema.columns if c.name not in seen]
    guessed: dict[str, str] = {}
    for header in table.extra:
        near = get_close_matches(header.casefold(), absent, n=1, cutoff=0.8)
        if near and near[0] not in guessed:
            guessed[near[0]] = header
            if not table.schema.by_name[near[0]].required:
                table.notes.append(
                    f"{file}: column {header!r} is not known and kept as it is; did you mean {near[0]!r}?"
                )
    return guessed
