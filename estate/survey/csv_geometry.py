"""The geometry of CSV rows: well-known text, coordinates, vertex rows, or none for schematic rows."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.survey.numerals import parse_number
from estate.survey.table import WGS84_FRAME, Table, Values, objects

Floats = NDArray[np.float64]

STEP_TOLERANCE = 1e-9
"""Steps of seq that differ by no more than this are even."""


def with_geometry(table: Table, drawn: Mapping[str, Values]) -> Table:
    """Give a CSV's rows their geometry from its columns wkt, x, y, z, lon, lat and seq.

    Vertex rows become one row per line. A row with two forms of geometry is rejected.
    """
    blank: Values = [None] * len(table)
    columns = {name: drawn.get(name, blank) for name in ("wkt", "seq", "x", "y", "z", "lon", "lat")}
    numbers = {name: _floats(table, columns[name], name) for name in ("seq", "x", "y", "z", "lon", "lat")}
    forms = _forms(table, columns)
    _read_wkt(table, columns["wkt"], forms["wkt"])
    degrees = forms["lon, lat"]
    across = np.where(degrees, numbers["lon"], numbers["x"])
    up = np.where(degrees, numbers["lat"], numbers["y"])
    table.frame[degrees] = WGS84_FRAME
    places = np.column_stack([across, up, numbers["z"]])
    located = np.flatnonzero((forms["x, y"] | degrees) & ~table.undrawn)
    if table.schema.geometry == "point":
        return _with_points(table, located, places)
    if table.schema.geometry == "line" and len(located):
        return _with_vertices(table, located, places, numbers["seq"])
    return table


def _floats(table: Table, values: Values, name: str) -> Floats:
    """Return a coordinate column as numbers; what isn't a finite number is rejected."""
    column = np.full(len(values), np.nan)
    for index, value in enumerate(values):
        if value is None:
            continue
        column[index] = parse_number(value)
        if np.isnan(column[index]):
            table.undrawn[index] = True
            table.reject(index, "a finite number", field=name, value=value)
    return column


def _given(values: Values) -> NDArray[np.bool_]:
    return np.fromiter((value is not None for value in values), dtype=bool, count=len(values))


def _forms(table: Table, columns: Mapping[str, Values]) -> dict[str, NDArray[np.bool_]]:
    """Return which rows use which form of geometry, rejecting rows with two forms or half of one."""
    given = {name: _given(values) for name, values in columns.items()}
    forms = {
        "wkt": given["wkt"],
        "x, y": given["x"] | given["y"],
        "lon, lat": given["lon"] | given["lat"],
    }
    ends = np.zeros(len(table), dtype=bool)
    if table.schema.name == "routes":
        ends = _given(table.values["from"]) | _given(table.values["to"])
    used = np.sum([*forms.values(), ends], axis=0)
    for index in np.flatnonzero(used > 1).tolist():
        names = [name for name, mask in (*forms.items(), ("from, to", ends)) if mask[index]]
        fix = "keep one of them"
        table.reject(index, "one form of geometry in a row", field=" and ".join(names), fix=fix)
        table.undrawn[index] = True
    for first, second in (("x", "y"), ("lon", "lat")):
        for index in np.flatnonzero((given[first] != given[second]) & ~table.undrawn).tolist():
            missing = second if given[first][index] else first
            table.reject(index, f"both {first} and {second}", field=missing, value="")
            table.undrawn[index] = True
    return forms


def _read_wkt(table: Table, texts: Values, mask: NDArray[np.bool_]) -> None:
    rows = np.flatnonzero(mask)
    with np.errstate(all="ignore"):  # numbers that aren't finite are told of later
        table.geometry[rows] = shapely.from_wkt(
            objects([texts[i] for i in rows.tolist()]), on_invalid="ignore"
        )
    for index in rows.tolist():
        if table.geometry[index] is None and not table.undrawn[index]:
            shown = texts[index][:60]
            table.undrawn[index] = True
            table.reject(index, "well-known text such as LINESTRING (0 0, 10 0)", field="wkt", value=shown)


def _with_points(table: Table, rows: NDArray[np.int64], places: Floats) -> Table:
    """Set a point on every located row, with its height where one is given."""
    flat = np.isnan(places[rows, 2])
    table.geometry[rows[flat]] = shapely.points(places[rows[flat], :2])
    table.geometry[rows[~flat]] = shapely.points(places[rows[~flat]])
    return table


def _with_vertices(table: Table, rows: NDArray[np.int64], places: Floats, seq: Floats) -> Table:
    """Gather vertex rows into one row per line, in order of seq; attributes from the first row that gives them."""
    rows = rows[_has_id_and_seq(table, rows, seq)]
    heads: dict[str, int] = {}
    head_of = np.array([heads.setdefault(table.id_of(i), i) for i in rows.tolist()], dtype=np.int64)
    _merge_attributes(table, rows.tolist(), head_of.tolist())
    good = _good_lines(table, rows, head_of, seq)
    order = np.lexsort((seq[rows], head_of))
    order = order[good[order]]
    _draw(table, head_of[order], places[rows[order]])
    # rows that couldn't be read count with the line that they belong to
    stray = [i for i in np.flatnonzero(table.undrawn).tolist() if heads.get(table.id_of(i), i) != i]
    followers = rows[head_of != rows]
    return table.taken(np.setdiff1d(np.arange(len(table)), np.concatenate([followers, stray]).astype(int)))


def _has_id_and_seq(table: Table, rows: NDArray[np.int64], seq: Floats) -> NDArray[np.bool_]:
    good = np.ones(len(rows), dtype=bool)
    for place, index in enumerate(rows.tolist()):
        for name, missing in (("id", table.values["id"][index] is None), ("seq", bool(np.isnan(seq[index])))):
            if missing:
                good[place] = False
                table.broken[index] = table.undrawn[index] = True
                table.reject(index, "a value in every vertex row", field=name, value="")
    return good


def _good_lines(
    table: Table, rows: NDArray[np.int64], head_of: NDArray[np.int64], seq: Floats
) -> NDArray[np.bool_]:
    """Check the vertex rows line by line; return which rows belong to lines that can be drawn.

    A line that lost a row is not drawn without it. An uneven seq is read as it stands and said.
    """
    lost = {table.id_of(i) for i in np.flatnonzero(table.undrawn).tolist()} - {""}
    order = np.lexsort((seq[rows], head_of))
    sorted_rows, line = rows[order], head_of[order]
    step, inside = np.diff(seq[sorted_rows]), line[1:] == line[:-1]
    good = np.ones(len(table), dtype=bool)
    for place in np.flatnonzero(inside & (step == 0)).tolist():
        index = int(sorted_rows[place + 1])
        good[line[place]] = False
        table.reject(index, "each seq once per line", field="seq", value=f"{seq[index]:g}")
    heads, counts = np.unique(head_of, return_counts=True)
    for head, count in zip(heads.tolist(), counts.tolist(), strict=True):
        if table.id_of(head) in lost:
            good[head] = False
        elif count == 1:
            good[head] = False
            fix = "or give wkt, or from, to and length_m"
            table.reject(head, "two vertex rows or more", field="seq", fix=fix)
    uneven = inside[1:] & inside[:-1] & (np.abs(np.diff(step)) > STEP_TOLERANCE)
    for head in np.unique(line[:-2][uneven]).tolist():
        name = f"{table.file[head]}: {table.id_of(head)}"
        table.notes.append(f"{name}: seq has uneven steps; its vertices are read in that order")
    bad = heads[~good[heads]]
    table.undrawn[bad] = table.rejected[bad] = True
    return good[head_of]


def _draw(table: Table, head_of: NDArray[np.int64], vertices: Floats) -> None:
    """Build the lines of vertices that stand in order, each in 3-D where it has any height."""
    heads, line = np.unique(head_of, return_inverse=True)
    high = np.bincount(line, ~np.isnan(vertices[:, 2]), len(heads)) > 0
    for solid, width in ((False, 2), (True, 3)):
        mine = high[line] == solid
        _, renumbered = np.unique(line[mine], return_inverse=True)
        table.geometry[heads[high == solid]] = shapely.linestrings(vertices[mine, :width], indices=renumbered)


def _merge_attributes(table: Table, rows: list[int], head_of: list[int]) -> None:
    """Collect each line's attributes on its first row; two values that differ are rejected."""
    for name, values in (*table.values.items(), *table.extra.items()):
        if name == "id" or all(value is None for value in values):
            continue
        first: dict[int, Any] = {}
        for index, head in zip(rows, head_of, strict=True):
            value = values[index]
            if value is None:
                continue
            if first.setdefault(head, value) != value:
                table.reject(index, f"one value per line, {first[head]!r} as above", field=name, value=value)
                table.rejected[head] = True
        for head, value in first.items():
            values[head] = value
