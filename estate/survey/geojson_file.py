"""One GeoJSON file in (RFC 7946), with the older `crs` member honoured."""

import json
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.errors import Problem
from estate.survey.fields import LayerSchema
from estate.survey.table import WGS84_FRAME, Table, blank_table, fill, objects

WGS84_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326", "EPSG/0/4326")
"""Ends of crs names that mean longitude and latitude on WGS 84."""


def read_geojson(path: Path, schema: LayerSchema) -> tuple[Table, str, list[Problem]]:
    """Read one GeoJSON file: its features, a note on how it was read, and problems of the file as a whole."""
    empty = blank_table(schema, path.name, [])
    try:
        content = json.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError:
        return empty, "", [Problem(path.name, "UTF-8 text", fix="save the file as UTF-8")]
    except (json.JSONDecodeError, RecursionError) as error:
        return empty, "", [Problem(path.name, f"readable JSON ({error})")]
    features = content.get("features") if isinstance(content, dict) else None
    if not isinstance(features, list) or content.get("type") != "FeatureCollection":
        return empty, "", [Problem(path.name, "a FeatureCollection with a list of features")]
    table = blank_table(schema, path.name, list(range(1, len(features) + 1)))
    table.frame[:] = _frame(content.get("crs"))
    note = "" if not len(table) or table.frame[0] == WGS84_FRAME else f"crs member {table.frame[0]}"
    sound = [_is_feature(table, index, feature) for index, feature in enumerate(features)]
    kept = [feature if good else {} for feature, good in zip(features, sound, strict=True)]
    _fill_properties(table, kept)
    _fill_geometry(table, [feature.get("geometry") for feature in kept])
    return table, note, []


def _frame(member: Any) -> str:
    """Return the frame that the old `crs` member names; without one, WGS 84."""
    if member is None:
        return WGS84_FRAME
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str) or not name.strip():
        return f"unreadable: {member!r}"
    return WGS84_FRAME if name.strip().endswith(WGS84_NAMES) else name.strip()


def _is_feature(table: Table, index: int, feature: Any) -> bool:
    good = (
        isinstance(feature, dict)
        and feature.get("type") == "Feature"
        and isinstance(feature.get("properties"), dict | None)
        and isinstance(feature.get("geometry"), dict | None)
    )
    if not good:
        table.broken[index] = table.undrawn[index] = True
        table.reject(index, "a Feature with properties and geometry")
    return good


def _fill_properties(table: Table, features: list[dict[str, Any]]) -> None:
    """Turn properties into columns; the feature's own id serves where the properties have none."""
    rows = [feature.get("properties") or {} for feature in features]
    names = dict.fromkeys(chain.from_iterable(rows))
    columns = {name: [row.get(name) for row in rows] for name in names}
    if not any(name.strip().casefold() == "id" for name in names):
        ids = [feature.get("id") for feature in features]
        if any(value is not None for value in ids):
            columns["id"] = ids
    fill(table, columns)


def _fill_geometry(table: Table, shapes: list[dict[str, Any] | None]) -> None:
    """Build geometries, lines and points many at a time."""
    kinds = np.array([shape.get("type") if shape else None for shape in shapes], dtype=object)
    lines, points = np.flatnonzero(kinds == "LineString"), np.flatnonzero(kinds == "Point")
    coordinates = [shape.get("coordinates") if shape else None for shape in shapes]
    table.geometry[lines] = _lines([coordinates[i] for i in lines.tolist()])
    table.geometry[points] = _points([coordinates[i] for i in points.tolist()])
    for index, shape in enumerate(shapes):
        if shape is None:
            continue
        if kinds[index] not in ("LineString", "Point"):
            table.geometry[index] = shapely.from_geojson(json.dumps(shape), on_invalid="ignore")
        if table.geometry[index] is None:
            table.undrawn[index] = True
            expected = (
                "two or more places of two or three numbers each"
                if kinds[index] == "LineString"
                else "GeoJSON coordinates"
            )
            table.reject(index, expected, field="geometry", value=kinds[index])


def _lines(coordinates: list[Any]) -> NDArray[np.object_]:
    """Return LineStrings, None where the coordinates are none. One pass over all where they are alike."""
    if not coordinates:
        return objects([])
    sizes = np.array([len(c) if isinstance(c, list) else 0 for c in coordinates])
    vertices = _numbers(list(chain.from_iterable(coordinates))) if sizes.min() >= 2 else None
    if vertices is not None:
        index = np.repeat(np.arange(len(sizes)), sizes)
        built: NDArray[np.object_] = shapely.linestrings(vertices[:, :3], indices=index)
        return built
    return objects([_line(c) for c in coordinates])


def _line(coordinates: Any) -> Any:
    """Return one LineString; heights are dropped unless every vertex has one."""
    if not isinstance(coordinates, list) or not all(isinstance(v, list) for v in coordinates):
        return None
    width = min((len(v) for v in coordinates), default=0)
    vertices = _numbers([v[:width] for v in coordinates])
    return None if vertices is None or len(vertices) < 2 else shapely.LineString(vertices[:, :3])


def _points(coordinates: list[Any]) -> NDArray[np.object_]:
    places = _numbers(coordinates) if coordinates else None
    if places is not None:
        built: NDArray[np.object_] = shapely.points(places[:, :3])
        return built
    each = [_numbers([c]) for c in coordinates]
    return objects([None if place is None else shapely.Point(place[0, :3]) for place in each])


def _numbers(places: list[Any]) -> NDArray[np.float64] | None:
    """Return places as an array of at least two columns, None where they aren't all alike and numbers."""
    try:
        array = np.array(places)
    except (ValueError, TypeError):
        return None
    if array.ndim != 2 or array.shape[1] < 2 or array.dtype.kind not in "fi":
        return None
    return array.astype(np.float64)
