"""network.gpkg in the estate's CRS and network.geojson in WGS 84."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from estate.output.result import Result, Table
from estate.survey.geopackage_out import write_table

WGS84 = "OGC:CRS84"
GEOJSON_DIGITS = 7
"""Decimals of a degree: about a centimetre (RFC 7946 advises against more)."""

LAYERS = ("segments", "links", "points", "findings", "proximity", "cures")


def write_geopackage(path: Path, result: Result) -> None:
    """Write the layers of a result as a GeoPackage."""
    import geopandas as gpd  # noqa: PLC0415  slow

    for name in LAYERS:
        layer = result.layers[name]
        columns = {c: _column(layer.column(c)) for c in layer.columns}
        frame = gpd.GeoDataFrame(columns, geometry=_shapes(layer), crs=result.crs_wkt or None)
        write_table(path, name, frame, _geometry_type(layer))


def _column(values: list[Any]) -> Any:
    """Return a column as numbers where it holds only numbers and blanks, else as texts."""
    if values and all(v is None or (isinstance(v, int | float) and not isinstance(v, bool)) for v in values):
        return np.array([np.nan if v is None else v for v in values], dtype=float)
    return np.array([None if v is None else str(v) for v in values], dtype=object)


def _shapes(layer: Table) -> Any:
    return shapely.from_wkt(np.array(layer.geometry or (), dtype=object))


def _geometry_type(layer: Table) -> str:
    kinds = {text.split(" ", 1)[0].title() for text in layer.geometry or () if text}
    names = {"Point": "Point", "Linestring": "LineString", "Multilinestring": "MultiLineString"}
    return names[kinds.pop()] if len(kinds) == 1 else "Unknown"


def write_geojson(path: Path, result: Result) -> bool:
    """Write the layers as one RFC 7946 collection in WGS 84; False where the coordinates are local."""
    if not result.crs_wkt:
        return False
    from pyproj import Transformer  # noqa: PLC0415  slow

    to_wgs84 = Transformer.from_crs(result.crs_wkt, WGS84, always_xy=True)
    features = []
    for name in LAYERS:
        layer = result.layers[name]
        shapes = shapely.transform(_shapes(layer), lambda xy: np.column_stack(to_wgs84.transform(*xy.T)))
        for row, shape in zip(layer.records(), shapes, strict=True):
            features.append(
                {"type": "Feature", "properties": {"layer": name, **row}, "geometry": _geojson(shape)}
            )
    with path.open("w", encoding="utf-8") as stream:
        stream.write('{"type": "FeatureCollection", "features": [\n')
        stream.write(",\n".join(json.dumps(f, ensure_ascii=False, allow_nan=False) for f in features))
        stream.write("\n]}\n")
    return True


def _geojson(shape: Any) -> Any:
    if shape is None or shape.is_empty:
        return None
    plain = json.loads(shapely.to_geojson(shape))
    return {"type": plain["type"], "coordinates": _rounded(plain["coordinates"])}


def _rounded(value: Any) -> Any:
    return [_rounded(v) for v in value] if isinstance(value, list) else round(value, GEOJSON_DIGITS)
