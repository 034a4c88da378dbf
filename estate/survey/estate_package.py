"""The whole survey as one GeoPackage, a table for each layer: beside estate.toml it is an estate that can be read."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estate.survey.fields import LAYERS
from estate.survey.geopackage_out import in_estate_units, write_table
from estate.survey.layers_out import layer_columns
from estate.survey.survey import Layer, Survey
from estate.survey.template import spelt

KINDS = {"line": "LineString", "point": "Point", "polygon": "Unknown"}


def write_estate_geopackage(survey: Survey, path: Path) -> None:
    """Write every layer that has rows, in the estate's CRS; blanks, defaults and assumed values stay blank."""
    import geopandas as gpd  # noqa: PLC0415  slow
    import pandas as pd  # noqa: PLC0415

    for name, schema in LAYERS.items():
        layer: Layer = getattr(survey, name)
        if not len(layer):
            continue
        columns = {column: _values(values) for column, values in layer_columns(layer).items()}
        if schema.geometry == "none":
            write_table(path, name, pd.DataFrame(columns), None)
            continue
        shapes = in_estate_units(survey, layer.geometry)
        frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=survey.crs_wkt or None)
        solid = any(shape is not None and shape.has_z for shape in shapes)
        write_table(path, name, frame, "Unknown" if solid else KINDS[schema.geometry])


def _values(values: list[Any]) -> NDArray[Any]:
    """Return a column as numbers where it holds only numbers and blanks, else as texts."""
    if all(v is None or (isinstance(v, int | float) and not isinstance(v, bool)) for v in values):
        return np.array([np.nan if v is None else v for v in values], dtype=float)
    return np.array([None if v is None else spelt(v) for v in values], dtype=object)
