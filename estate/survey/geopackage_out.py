"""Tables of a GeoPackage out, the same bytes for the same content."""

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from estate.survey.survey import Survey
from estate.units import M_PER_FT

FIXED_DATE = "2000-01-01T00:00:00.000Z"
"""Date put into the GeoPackage's contents table, so that the same result gives the same bytes."""


def write_table(path: Path, name: str, frame: Any, geometry_type: str | None) -> None:
    """Add a table to a GeoPackage; `frame` is a GeoDataFrame, or a DataFrame where there is no geometry."""
    import pyogrio  # noqa: PLC0415  slow

    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": FIXED_DATE})
    with warnings.catch_warnings():
        # local coordinates have no system to state
        warnings.filterwarnings("ignore", message="'crs' was not provided")
        pyogrio.write_dataframe(
            frame, path, layer=name, driver="GPKG", append=path.exists(), geometry_type=geometry_type
        )


def in_estate_units(survey: Survey, shapes: Any) -> Any:
    """Return geometry in the units of the estate's own coordinates: feet where those are local and in feet."""
    if survey.crs_wkt or survey.settings.estate.units != "ft":
        return shapes
    flat = shapely.transform(shapes, lambda places: places / M_PER_FT)
    solid = shapely.has_z(shapes)
    flat[solid] = shapely.transform(shapes[solid], lambda places: places / M_PER_FT, include_z=True)
    return flat


def write_backdrop(survey: Survey, path: Path) -> None:
    """Write the backdrop as a GeoPackage of its own."""
    import geopandas as gpd  # noqa: PLC0415  slow

    shapes = np.empty(len(survey.backdrop), dtype=object)
    shapes[:] = survey.backdrop
    frame = gpd.GeoDataFrame({}, geometry=in_estate_units(survey, shapes), crs=survey.crs_wkt or None)
    write_table(path, "backdrop", frame, "Unknown")
