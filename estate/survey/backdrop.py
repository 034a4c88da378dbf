"""The backdrop: lines and outlines of another drawing, to be drawn lightly under the plans."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.errors import Problem
from estate.settings import Settings
from estate.survey.coordinates import Frame, Plane, declared_frame, moved, parsed, unit_m
from estate.survey.dxf_file import open_drawing
from estate.survey.table import Table, objects

FIELD = "[drawing] backdrop"
BESIDE_SHARE, BESIDE_M = 0.2, 20.0
"""What is kept around the estate: this share of its extent, and these metres."""

SUFFIXES = (".geojson", ".gpkg", ".shp", ".dxf")


@dataclass(frozen=True)
class Backdrop:
    """Geometry in the estate's plane, cut to the estate's surroundings; notes and problems of the file."""

    shapes: tuple[Any, ...] = ()
    notes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def backdrop_files(folder: Path, settings: Settings) -> list[Path]:
    """Return the file of the backdrop, where there is one."""
    path = folder / settings.drawing.backdrop
    return [path] if settings.drawing.backdrop and path.is_file() else []


def read_backdrop(folder: Path, settings: Settings, plane: Plane, tables: Mapping[str, Table]) -> Backdrop:
    """Read the file that estate.toml names as backdrop, in the plane of the estate's layers."""
    name = settings.drawing.backdrop
    if not name:
        return Backdrop()
    path = folder / name
    if not path.is_file() or path.suffix.casefold() not in SUFFIXES:
        expected = f"a file in the estate's folder that ends in {', '.join(SUFFIXES)}"
        return Backdrop(problems=(Problem("estate.toml", expected, field=FIELD, value=name),))
    shapes, frame, problem = (
        _drawing(path, settings) if path.suffix.casefold() == ".dxf" else _layer(path, settings)
    )
    if problem is not None:
        return Backdrop(problems=(problem,))
    if (frame.crs is None) != (plane.crs is None):
        expected = "coordinates in the same way as the estate's: all in a known crs, or all local"
        return Backdrop(problems=(Problem(path.name, expected, field=FIELD),))
    kept = _cut(moved(shapes, frame, plane).geometry, _surroundings(tables))
    notes = () if kept else (f"backdrop {name}: nothing of it lies near the estate",)
    return Backdrop(kept, notes)


def _drawing(path: Path, settings: Settings) -> tuple[NDArray[np.object_], Frame, Problem | None]:
    """Return the lines of a DXF in the estate's own coordinates."""
    frame = declared_frame(settings.estate)[0] or Frame(None)
    unit = frame.unit_m if frame.crs is None else unit_m(frame.crs)
    drawing, problems = open_drawing(path, unit, frozenset())
    if drawing is None:
        return objects([]), frame, problems[0]
    if frame.degrees:
        expected = "a projected crs of the estate, as a DXF has plane coordinates"
        return objects([]), frame, Problem(path.name, expected, field="[estate] crs")
    return objects([shapely.force_2d(each.shape) for each in drawing.objects]), frame, None


def _layer(path: Path, settings: Settings) -> tuple[NDArray[np.object_], Frame, Problem | None]:
    """Return all geometry of a GIS file, in the crs that it has, else in the estate's."""
    import pyogrio  # noqa: PLC0415  slow, and only a backdrop needs it
    from pyogrio.errors import DataLayerError, DataSourceError  # noqa: PLC0415

    shapes: list[Any] = []
    text = None
    try:
        for name, kind in pyogrio.list_layers(path):
            if kind is None:
                continue
            meta, _, found, _ = pyogrio.raw.read(path, layer=str(name), columns=[], force_2d=True)
            text = meta["crs"]
            shapes += [shape for shape in shapely.from_wkb(found) if shape is not None]
    except (DataSourceError, DataLayerError) as error:
        return objects([]), Frame(None), Problem(path.name, f"a readable file ({error})", field=FIELD)
    crs = parsed(text) if text else None
    if text and crs is None:
        return objects([]), Frame(None), Problem(path.name, "a known CRS", field=FIELD, value=text[:80])
    own = declared_frame(settings.estate)[0] or Frame(None)
    return objects(shapes), own if crs is None else Frame(crs), None


def _surroundings(tables: Mapping[str, Table]) -> NDArray[np.float64] | None:
    """Return the box around all layers that is worth drawing [m]; None where nothing is drawn."""
    drawn = [table.geometry[~table.undrawn] for table in tables.values()]
    bounds = shapely.total_bounds(np.concatenate(drawn)) if drawn else np.full(4, np.nan)
    if not np.isfinite(bounds).all():
        return None
    beside = BESIDE_M + BESIDE_SHARE * max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    return np.asarray(bounds + np.array([-beside, -beside, beside, beside]))


def _cut(shapes: NDArray[np.object_], box: NDArray[np.float64] | None) -> tuple[Any, ...]:
    """Return the lines and outlines within a box, each a single line or polygon."""
    if box is None or not len(shapes):
        return ()
    finite = np.isfinite(shapely.bounds(shapes)).all(axis=1)
    cut = shapely.clip_by_rect(shapely.make_valid(shapes[finite]), *box)
    single = shapely.get_parts(shapely.get_parts(cut))
    return tuple(each for each in single if each.geom_type in ("LineString", "Polygon") and not each.is_empty)
