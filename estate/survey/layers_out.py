"""A survey written as an estate that can be read again."""

import csv
import json
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.survey.cells import harmless
from estate.survey.fields import LAYERS, Column
from estate.survey.geopackage_out import write_backdrop
from estate.survey.read import SETTINGS_FILE
from estate.survey.survey import Layer, Survey
from estate.survey.table import WGS84_FRAME
from estate.survey.template import spelt
from estate.survey.values import is_unknown
from estate.units import M_PER_FT

DECIMALS = 9
"""Decimals of a degree that are written: 0.1 mm.

RFC 7946 advises fewer, as in network.geojson; these layers are read again, and a result must not change by that.
"""

BACKDROP = "backdrop.gpkg"


def write_layers(survey: Survey, folder: Path) -> list[Path]:
    """Write every layer that has rows, and estate.toml; return the files.

    Where the CRS is known, geometry goes to GeoJSON; plain coordinates go to CSV as well-known text. Rows
    without geometry go to CSV. Defaults and assumed values are left blank, so that a second reading counts
    them again.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _write_settings(survey, folder / SETTINGS_FILE)
    paths = [folder / SETTINGS_FILE]
    if survey.settings.drawing.backdrop:
        paths.append(folder / BACKDROP)
        write_backdrop(survey, paths[-1])
    for name in LAYERS:
        layer: Layer = getattr(survey, name)
        placed = layer.geometry != None  # noqa: E711  elementwise
        if survey.crs_wkt and placed.any():
            paths.append(folder / f"{name}.geojson")
            _write_geojson(survey, layer, np.flatnonzero(placed), paths[-1])
            placed = ~placed
        elif survey.crs_wkt or len(layer):
            placed = np.ones(len(layer), dtype=bool)
        if placed.any():
            paths.append(folder / f"{name}.csv")
            _write_csv(survey, layer, np.flatnonzero(placed), paths[-1])
    return paths


def _write_settings(survey: Survey, path: Path) -> None:
    """Copy estate.toml, naming the CRS where the file leaves it to the data, and the backdrop as it is written."""
    source = survey.folder / SETTINGS_FILE
    gives_crs = survey.crs is None or bool(survey.settings.estate.crs.strip())
    if gives_crs and not survey.settings.drawing.backdrop:
        shutil.copyfile(source, path)
        return
    text = source.read_text(encoding="utf-8-sig")
    text = re.sub(r"^backdrop[ \t]*=.*$", f'backdrop = "{BACKDROP}"', text, count=1, flags=re.MULTILINE)
    text = text if gives_crs else _with_crs(survey, text)
    path.write_text(text, encoding="utf-8", newline="\n")


def _with_crs(survey: Survey, text: str) -> str:
    """Return the text of an estate.toml with the CRS that the data gave."""
    assert survey.crs is not None
    line = f'crs = "{survey.crs.removesuffix(" in metres")}"'
    blank_key = re.compile(r'^crs[ \t]*=[ \t]*""', re.MULTILINE)
    if blank_key.search(text):
        text = blank_key.sub(line, text, count=1)
    elif re.search(r"^\[estate\]", text, re.MULTILINE):
        text = re.sub(
            r"^\[estate\][^\n]*", lambda found: f"{found[0]}\n{line}", text, count=1, flags=re.MULTILINE
        )
    else:
        text = f"[estate]\n{line}\n\n{text}"
    return text


def layer_columns(layer: Layer) -> dict[str, list[Any]]:
    """Return the columns to write, None where blank, defaulted or assumed."""
    columns = {}
    for column in LAYERS[layer.name].columns:
        if column.name not in layer.columns:
            continue
        values = layer[column.name]
        hidden = is_unknown(values)
        for marks in (layer.assumed, layer.defaulted):
            hidden |= marks.get(column.name, np.zeros(len(layer), dtype=bool))
        if not hidden.all():
            columns[column.name] = [
                None if hide else _plain(v, column) for v, hide in zip(values, hidden, strict=True)
            ]
    return columns | {name: list(values) for name, values in layer.extra.items()}


def _plain(value: Any, column: Column) -> Any:
    """Return a value that JSON and CSV can hold."""
    if column.kind == "list":
        return list(value)
    if column.kind == "count":
        return int(value)
    return float(value) if column.kind == "number" else value


def _write_geojson(survey: Survey, layer: Layer, rows: NDArray[np.int64], path: Path) -> None:
    from pyproj import Transformer  # noqa: PLC0415  only where there is a crs

    to_degrees = Transformer.from_crs(survey.crs_wkt, WGS84_FRAME, always_xy=True)
    columns = layer_columns(layer)
    features = []
    for row, shape in zip(rows.tolist(), _in_degrees(layer.geometry[rows], to_degrees), strict=True):
        properties = {name: values[row] for name, values in columns.items() if values[row] is not None}
        features.append(
            {
                "type": "Feature",
                "properties": properties,
                "geometry": shapely.geometry.mapping(_right_handed(shape)),
            }
        )
    content = {"type": "FeatureCollection", "features": features}
    path.write_text(json.dumps(content, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")


def _right_handed(shape: Any) -> Any:
    """Return outlines with the outer ring counterclockwise and holes clockwise (RFC 7946, 3.1.6)."""
    if shape.geom_type == "Polygon":
        return shapely.geometry.polygon.orient(shape)
    if shape.geom_type == "MultiPolygon":
        return shapely.MultiPolygon([shapely.geometry.polygon.orient(part) for part in shape.geoms])
    return shape


def _in_degrees(geometry: NDArray[np.object_], to_degrees: Any) -> NDArray[np.object_]:
    def change(places: NDArray[np.float64]) -> NDArray[np.float64]:
        lon, lat = to_degrees.transform(places[:, 0], places[:, 1])
        return np.column_stack([np.round(lon, DECIMALS), np.round(lat, DECIMALS), *places[:, 2:].T])

    result = geometry.copy()
    for solid in (False, True):
        mine = shapely.has_z(geometry) == solid
        result[mine] = shapely.transform(geometry[mine], change, include_z=solid)
    return result


def _write_csv(survey: Survey, layer: Layer, rows: NDArray[np.int64], path: Path) -> None:
    columns = {
        harmless(name): [_cell(values[row]) for row in rows.tolist()]
        for name, values in layer_columns(layer).items()
    }
    shapes = layer.geometry[rows]
    if (shapes != None).any():  # noqa: E711  elementwise
        unit = M_PER_FT if survey.settings.estate.units == "ft" else 1.0
        columns["wkt"] = [_wkt(shape, unit) for shape in shapes]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(zip(*columns.values(), strict=True))


def _cell(value: Any) -> str:
    """Spell a value; a text is kept from being run by a spreadsheet, a number stays one."""
    text = spelt(value)
    return text if isinstance(value, int | float) else harmless(text)


def _wkt(shape: Any, unit: float) -> str:
    if shape is None:
        return ""
    plain = shapely.transform(shape, lambda places: places / unit, include_z=bool(shape.has_z))
    return str(shapely.to_wkt(plain, rounding_precision=-1))
