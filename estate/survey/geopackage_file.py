"""One GeoPackage in: the table that bears the layer's name, in the file's own crs."""

from pathlib import Path
from typing import Any

import numpy as np
import shapely

from estate.errors import Problem
from estate.survey.fields import LayerSchema
from estate.survey.table import ESTATE_FRAME, Table, Values, blank_table, fill


def read_geopackage(path: Path, schema: LayerSchema) -> tuple[Table, str, list[Problem]]:
    """Read one GeoPackage: its features, a note on how it was read, and problems of the file as a whole."""
    import pyogrio  # noqa: PLC0415  slow, and only this format needs it
    from pyogrio.errors import DataLayerError, DataSourceError  # noqa: PLC0415

    label = path.name if path.stem.casefold().startswith(schema.name) else f"{path.name} ({schema.name})"
    empty = blank_table(schema, label, [])
    try:
        names = [str(name) for name in pyogrio.list_layers(path)[:, 0]]
        chosen = _choose(names, path, schema)
        if chosen is None:
            fix = f"name one of its tables {schema.name!r}"
            return (
                empty,
                "",
                [Problem(path.name, f"one table, or one named {schema.name}", value=names, fix=fix)],
            )
        meta, _, shapes, columns = pyogrio.raw.read(path, layer=chosen)
    except (DataSourceError, DataLayerError) as error:
        return empty, "", [Problem(path.name, f"a readable GeoPackage ({error})")]
    table = blank_table(schema, label, list(range(1, len(columns[0]) + 1 if columns else len(shapes) + 1)))
    fill(table, {str(n): plain_values(c) for n, c in zip(meta["fields"], columns, strict=True)})
    if shapes is not None:
        table.geometry[:] = shapely.from_wkb(shapes)
        table.frame[:] = meta["crs"] or ESTATE_FRAME
    return table, f"table {chosen}", []


def _choose(names: list[str], path: Path, schema: LayerSchema) -> str | None:
    """Return the table to read: the layer's name, the file's, or the only one."""
    for wanted in (schema.name, path.stem):
        if wanted in names:
            return wanted
    return names[0] if len(names) == 1 else None


def plain_values(column: Any) -> Values:
    """Return a column as plain values, None for NULL (which numbers hold as NaN)."""
    if column.dtype.kind == "M":
        return [None if np.isnat(v) else str(v).removesuffix("T00:00:00.000") for v in column]
    if column.dtype.kind == "f":
        return [None if np.isnan(v) else float(v) for v in column]
    return list(column.tolist())
