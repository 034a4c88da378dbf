"""Ids held against each other: missing and doubled ones, and references to what isn't there."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.errors import suggestion
from estate.survey.fields import CATALOGUE, Column
from estate.survey.table import Table

Columns = Mapping[str, NDArray[Any]]


def check_separators(table: Table, columns: Columns) -> None:
    """Reject an id that holds ;, which parts the ids of a list here and in every table that is written."""
    for index, name in enumerate(columns["id"]):
        if name is not None and ";" in name:
            fix = f"write {name.replace(';', '-')!r}, here and wherever it is named"
            table.reject(index, "an id without ;, which parts ids in lists", field="id", value=name, fix=fix)


def check_doubles(table: Table, columns: Columns) -> None:
    """Reject an id that came before, naming both places."""
    first: dict[str, int] = {}
    for index, name in enumerate(columns["id"]):
        if name is None:
            continue
        other = first.setdefault(name, index)
        if other != index:
            place = f"{table.file[other]} row {table.row[other]}"
            table.reject(index, f"each id once; it stands in {place} as well", field="id", value=name)


def check_references(
    tables: Mapping[str, Table], columns: Mapping[str, Columns], phases: Sequence[str]
) -> None:
    """Reject references to rows of other layers, or to phases, that aren't there.

    An id of a rejected row is there: its own problem is told where it stands. Phases are only held against
    [phases] where that names any. What a record of installed cables calls by a name that isn't there is noted, not
    rejected: old records do, and an audit says so.
    """
    ids = {layer: frozenset(columns[layer]["id"]) - {None} for layer in tables}
    ids["phases"] = frozenset(phases)
    for layer, table in tables.items():
        for column in table.schema.columns:
            target = column.refers_to
            if not target or target.startswith(CATALOGUE) or (target == "phases" and not phases):
                continue
            loose = (layer, column.name) in RECORDED
            _check_column(table, column, columns[layer][column.name], ids[target], loose=loose)
    _check_cameras(tables["cables"], columns["cables"], columns["points"])


RECORDED = (("cables", "from"), ("cables", "to"), ("cables", "camera"), ("cables", "routes"))
"""Columns that say where an installed cable is."""


def _check_column(
    table: Table, column: Column, values: NDArray[Any], known: frozenset[str], *, loose: bool
) -> None:
    for index, name in _named(values):
        if name in known:
            continue
        where = "[phases] names" if column.refers_to == "phases" else f"the layer {column.refers_to}"
        fix = suggestion(name, known)
        if loose:
            what = (
                f"{table.file[index]} row {table.row[index]} ({table.id_of(index)}), {column.name} = {name!r}"
            )
            table.notes.append(f"{what}: no id in {where}" + (f"; {fix}" if fix else ""))
        else:
            table.reject(index, f"an id in {where}", field=column.name, value=name, fix=fix)


def _named(values: NDArray[Any]) -> Iterator[tuple[int, str]]:
    for index, value in enumerate(values):
        if value is None:
            continue
        for name in value if isinstance(value, tuple) else (value,):
            yield index, name


def _check_cameras(table: Table, cables: Columns, points: Columns) -> None:
    """Reject cables whose camera is a point of another kind."""
    kinds = dict(zip(points["id"], points["kind"], strict=True))
    for index, name in _named(cables["camera"]):
        kind = kinds.get(name)
        if kind not in (None, "camera"):
            table.reject(index, f"a camera, not a {kind}", field="camera", value=name)


def check_places(tables: Mapping[str, Table], columns: Mapping[str, Columns]) -> None:
    """Reject points and mains runs without a place that nothing else places.

    A point may be placed by schematic routes, a mains run by a declared separation from it. An estate whose
    routes are all schematic needs no drawing at all.
    """
    routes = columns["routes"]
    drawn = (tables["routes"].geometry != None) | tables["routes"].undrawn  # noqa: E711  elementwise
    if not drawn.any():
        return
    ends = {*routes["from"], *routes["to"]}
    near = {name for names in routes["separation_from"] for name in names}
    _require_place(
        tables["points"], columns["points"], ends, "coordinates, or a schematic route that ends here"
    )
    _require_place(
        tables["mains"], columns["mains"], near, "a drawn line, or a route with separation_from it"
    )
    outlines = tables["buildings"]
    for index in np.flatnonzero((outlines.geometry == None) & ~outlines.undrawn).tolist():  # noqa: E711  elementwise
        outlines.notes.append(f"building {outlines.id_of(index)} has no outline: nothing drawn is inside it")


def _require_place(table: Table, columns: Columns, placed: set[Any], expected: str) -> None:
    missing = (table.geometry == None) & ~table.undrawn  # noqa: E711  elementwise
    for index in np.flatnonzero(missing).tolist():
        if columns["id"][index] not in placed:
            table.reject(index, expected, field="geometry")
