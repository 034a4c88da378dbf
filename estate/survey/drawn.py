"""The drawn geometry of a layer: its type, its least length, several parts, and rows without any."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.survey.table import Table, objects

SHORTEST_M = 0.001
SHARED = ("length_m", "rise_m", "bends")
"""Quantities of a whole line that its parts share by their length."""

POINT, LINE, POLYGON, MULTIPOINT, MULTILINE, MULTIPOLYGON = 0, 1, 3, 4, 5, 6
TYPES = {
    "line": ((LINE, MULTILINE), "a LineString"),
    "point": ((POINT, MULTIPOINT), "a Point"),
    "polygon": ((POLYGON, MULTIPOLYGON), "a Polygon"),
}

Columns = dict[str, NDArray[Any]]


def check_types(table: Table) -> None:
    """Reject geometry of another type than the layer's, and what is empty; collections of one part are taken out."""
    kind = table.schema.geometry
    present = table.geometry != None  # noqa: E711  elementwise
    if kind == "none":
        if present.any():
            table.notes.append(f"{table.schema.name}: geometry is not used in this layer")
            table.geometry[:] = None
        return
    allowed, expected = TYPES[kind]
    types = shapely.get_type_id(table.geometry)
    single = np.isin(types, (MULTIPOINT, MULTILINE, MULTIPOLYGON)) & (
        shapely.get_num_geometries(table.geometry) == 1
    )
    table.geometry[single] = shapely.get_geometry(table.geometry[single], 0)
    types = shapely.get_type_id(table.geometry)
    wrong = present & (~np.isin(types, allowed) | (types == MULTIPOINT) | shapely.is_empty(table.geometry))
    for index in np.flatnonzero(wrong & ~table.undrawn).tolist():
        table.undrawn[index] = True
        found = table.geometry[index]
        name = f"{found.geom_type} EMPTY" if found.is_empty else found.geom_type
        table.reject(index, expected, field="geometry", value=name)


def check_shapes(table: Table, snap_m: float) -> None:
    """Reject lines too short to be told from a point and outlines that cross themselves; geometry is in metres.

    The two ends of a route no longer than `snap_m` would join each other.
    """
    sound = (table.geometry != None) & ~table.undrawn  # noqa: E711  elementwise
    if table.schema.geometry == "line":
        lengths_m = shapely.length(table.geometry)
        for index in np.flatnonzero(sound & (lengths_m < SHORTEST_M)).tolist():
            found = f"{lengths_m[index]:.6f} m"
            table.reject(index, "a line of 1 mm or more", field="geometry", value=found, fix="remove it")
        stubs = sound & (lengths_m >= SHORTEST_M) & (lengths_m <= snap_m) & (table.schema.name == "routes")
        for index in np.flatnonzero(stubs).tolist():
            found = f"{lengths_m[index]:.3f} m"
            expected = f"a line longer than [network] snap_m = {snap_m:g}, or its ends join each other"
            fix = "remove it, draw it to where it leads, or lower snap_m"
            table.reject(index, expected, field="geometry", value=found, fix=fix)
    if table.schema.geometry == "polygon":
        for index in np.flatnonzero(sound & ~shapely.is_valid(table.geometry)).tolist():
            reason = shapely.is_valid_reason(table.geometry[index])
            table.reject(index, "an outline that doesn't cross itself", field="geometry", value=reason)


def check_routes(table: Table, columns: Columns) -> None:
    """Reject routes with neither drawing nor ends, with both, and schematic ones that aren't whole."""
    for index in np.flatnonzero(~table.undrawn).tolist():
        ends = [name for name in ("from", "to") if columns[name][index] is not None]
        if table.geometry[index] is not None:
            if ends:
                fix = "keep the drawing or the two ends"
                table.reject(
                    index, "one form of geometry in a row", field=" and ".join(["drawing", *ends]), fix=fix
                )
        elif not ends:
            table.reject(index, "a drawn line, or from, to and length_m", field="geometry")
        else:
            _check_schematic(table, columns, index, ends)


def _check_schematic(table: Table, columns: Columns, index: int, ends: list[str]) -> None:
    for name in ("from", "to"):
        if name not in ends:
            table.reject(index, "both ends of a schematic route", field=name, value="")
    blank = table.values["length_m"][index] is None and table.values["length_ft"][index] is None
    if blank and np.isnan(columns["length_m"][index]):
        table.reject(index, "the length of a schematic route", field="length_m", value="")


def exploded(table: Table, columns: Columns) -> tuple[Table, Columns, Mapping[str, tuple[str, ...]]]:
    """Cut lines of several parts into one row per part, named R1/1, R1/2; return the parts by their line.

    Quantities of the whole line are shared by drawn length.
    """
    parts = shapely.get_num_geometries(table.geometry)
    several = (shapely.get_type_id(table.geometry) == MULTILINE) & ~table.undrawn & (parts > 1)
    if not several.any():
        return table, columns, {}
    repeats = np.where(several, parts, 1)
    source = np.repeat(np.arange(len(table)), repeats)
    number = np.arange(len(source)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    longer = table.taken(source)
    wide = {name: column[source] for name, column in columns.items()}
    cut = several[source]
    pieces = longer.geometry[cut]
    longer.geometry[cut] = shapely.get_geometry(pieces, number[cut])
    share = np.ones(len(source))
    share[cut] = shapely.length(longer.geometry[cut]) / shapely.length(pieces)
    for name in SHARED:
        if name in wide:
            wide[name] = wide[name] * share
    names = wide["id"].copy()
    names[cut] = [f"{name}/{n + 1}" for name, n in zip(names[cut], number[cut], strict=True)]
    wide["id"] = names
    longer.values["id"] = list(names)
    made: dict[str, tuple[str, ...]] = {}
    for whole, name in zip(columns["id"][source][cut], names[cut], strict=True):
        made[str(whole)] = (*made.get(str(whole), ()), name)
    for whole, each in made.items():
        longer.notes.append(
            f"{table.schema.name} {whole} is drawn in {len(each)} parts: {each[0]} to {each[-1]}"
        )
    return longer, wide, made


def with_parts(column: NDArray[Any], parts: Mapping[str, tuple[str, ...]]) -> NDArray[np.object_]:
    """Replace lines of several parts by their parts in a list column."""
    return objects([tuple(p for name in value for p in parts.get(name, (name,))) for value in column])
