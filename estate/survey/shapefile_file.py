"""One shapefile in: field names cut to ten characters are put back in full, the crs is the file's or the estate's."""

import glob
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import shapely

from estate.errors import Problem
from estate.survey.fields import Column, LayerSchema
from estate.survey.geopackage_file import plain_values
from estate.survey.table import ESTATE_FRAME, Table, Values, blank_table, fill
from estate.survey.values import is_numeric

NAME_MOST = 10
"""Characters of a field's name."""

PARTS = (".shx", ".dbf", ".prj", ".cpg")
"""Files that belong to a shapefile."""


def parts_of(path: Path) -> list[Path]:
    """Return the files beside a shapefile that belong to it."""
    beside = sorted(path.parent.glob(f"{glob.escape(path.stem)}.*"))
    return [each for each in beside if each.suffix.casefold() in PARTS]


def read_shapefile(path: Path, schema: LayerSchema) -> tuple[Table, str, list[Problem]]:
    """Read one shapefile: its features, a note on how it was read, and problems of the file as a whole."""
    import pyogrio  # noqa: PLC0415  slow, and only this format needs it
    from pyogrio.errors import DataLayerError, DataSourceError  # noqa: PLC0415

    empty = blank_table(schema, path.name, [])
    if problems := _parts_missing(path):
        return empty, "", problems
    try:
        meta, _, shapes, columns = pyogrio.raw.read(path)
    except (DataSourceError, DataLayerError, UnicodeDecodeError) as error:
        return empty, "", [Problem(path.name, f"a readable shapefile ({error})")]
    values = {str(n): plain_values(c) for n, c in zip(meta["fields"], columns, strict=True)}
    numeric = {str(n) for n, c in zip(meta["fields"], columns, strict=True) if c.dtype.kind in "if"}
    names, problems = full_names(values, numeric, schema, path.name)
    table = blank_table(schema, path.name, list(range(1, len(shapes) + 1)))
    fill(table, {names[name]: _blank_texts(column) for name, column in values.items()})
    table.geometry[:] = shapely.from_wkb(shapes)
    table.frame[:] = meta["crs"] or ESTATE_FRAME
    return table, _note(meta, names), problems


def _parts_missing(path: Path) -> list[Problem]:
    """Return a problem for the files beside a shapefile that hold its index and its fields, where one is missing."""
    beside = {each.suffix.casefold() for each in parts_of(path)}
    return [
        Problem(
            path.name, f"{path.stem}{part} beside it", value="missing", fix="copy all files of the shapefile"
        )
        for part in (".shx", ".dbf")
        if part not in beside
    ]


def _note(meta: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Say what the file leaves to be known from elsewhere, and which names were put back."""
    put_back = [f"{cut} is {full}" for cut, full in names.items() if cut.casefold() != full]
    known = "" if meta["crs"] else "no .prj: taken to be in the estate's crs"
    return ", ".join(filter(None, (f"encoding {meta['encoding']}", known, *put_back)))


def _blank_texts(column: Values) -> Values:
    """Return a column with empty texts as None: a shapefile has no blank."""
    return [None if isinstance(value, str) and not value.strip() else value for value in column]


def full_names(
    columns: Mapping[str, Values], numeric: set[str], schema: LayerSchema, file: str
) -> tuple[dict[str, str], list[Problem]]:
    """Return the schema's name for each field; a field that could be several columns is a problem.

    A name is cut to its first ten characters; where two are then alike, the later end in _1, _2 after eight.
    Between a number and a text the type of the field decides.
    """
    names: dict[str, str] = {}
    problems = []
    for field in columns:
        name = field.casefold()
        fits = [] if name in schema.by_name else [c for c in schema.columns if _is_cut_of(name, c.name)]
        if len(fits) > 1:
            fits = [c for c in fits if is_numeric(c) == (field in numeric)]
        if len(fits) > 1:
            problems.append(_ambiguous(file, field, fits))
        names[field] = fits[0].name if len(fits) == 1 else field
    return names, problems


def _is_cut_of(cut: str, name: str) -> bool:
    if len(name) <= NAME_MOST:
        return False
    if cut == name[:NAME_MOST]:
        return True
    root, _, number = cut.rpartition("_")
    return len(cut) == NAME_MOST and number.isdecimal() and name.startswith(root)


def _ambiguous(file: str, field: str, fits: list[Column]) -> Problem:
    names = " or ".join(column.name for column in fits)
    return Problem(
        file, f"a field that is one column, not {names}", field=field, fix="use GeoPackage or CSV here"
    )
