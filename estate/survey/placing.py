"""All layers brought to one plane in metres, file by file, with what was done and what can't be right."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.errors import Problem
from estate.settings import EstateSection
from estate.survey.coordinates import Frame, Plane, choose_plane, declared_frame, lonlat, moved, parsed
from estate.survey.plausible import (
    Bounds,
    Doubt,
    doubt_of_area,
    doubt_of_place,
    doubt_of_range,
    fits_degrees,
    swapped,
)
from estate.survey.table import ESTATE_FRAME, Table


@dataclass
class _Patch:
    """Features of one file in one frame."""

    table: Table
    file: str
    rows: NDArray[np.int64]
    frame: Frame
    bounds: Bounds

    @property
    def middle(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.bounds.tolist()
        return (x0 + x1) / 2, (y0 + y1) / 2

    def doubt(self, doubt: Doubt) -> None:
        self.table.refuse_geometry(
            self.file, doubt.expected, field="coordinates", value=doubt.found, fix=doubt.fix
        )


def place_layers(
    tables: Mapping[str, Table], section: EstateSection
) -> tuple[Plane, list[str], list[Problem]]:
    """Bring every geometry to the estate's plane, in place.

    Returns the plane, notes for people, and problems of estate.toml; problems of files go to their tables.
    """
    estate, complaint = declared_frame(section)
    problems = [complaint] if complaint else []
    for table in tables.values():
        _reject_not_finite(table)
    patches = [p for table in tables.values() for p in _patches(table, estate, known=complaint is None)]
    patches = [p for p in patches if not _doubted(p, estate)]
    if not patches or patches[0].frame.crs is None:
        plane, notes = Plane(None, None), _local_notes(estate)
    else:
        plane, notes = _plane_of(patches, estate)
    shifts = _move_all(patches, plane) if patches else []
    return plane, [*notes, *shifts], problems


def _local_notes(estate: Frame | None) -> list[str]:
    if estate is not None and estate.crs is None and estate.unit_m != 1.0:
        return ["plain coordinates in feet: converted to metres, heights as well"]
    return []


def _reject_not_finite(table: Table) -> None:
    """Reject geometry with a coordinate that is no finite number; an unknown height is none of these."""
    places, index = shapely.get_coordinates(table.geometry, include_z=True, return_index=True)
    bad = ~np.isfinite(places[:, :2]).all(axis=1) | np.isinf(places[:, 2])
    for row in np.unique(index[bad]).tolist():
        table.undrawn[row] = True
        table.reject(row, "finite coordinates", field="geometry")


def _patches(table: Table, estate: Frame | None, *, known: bool) -> Iterator[_Patch]:
    """Yield a layer's features by file and frame, rejecting files whose frame can't be used."""
    sound = ~table.undrawn & ~shapely.is_empty(table.geometry) & (table.geometry != None)  # noqa: E711  elementwise
    for file in dict.fromkeys(table.file.tolist()):
        for text in dict.fromkeys(table.frame[(table.file == file) & sound].tolist()):
            rows = np.flatnonzero(sound & (table.file == file) & (table.frame == text))
            bounds = shapely.total_bounds(table.geometry[rows])
            if text == ESTATE_FRAME and not known:
                table.undrawn[rows] = True  # the estate's crs has a problem of its own
                continue
            frame = _frame(table, file, text, estate, bounds)
            if frame is not None:
                yield _Patch(table, file, rows, frame, bounds)


def _frame(table: Table, file: str, text: str, estate: Frame | None, bounds: Bounds) -> Frame | None:
    """Return the frame that a file's coordinates are in; None, with a problem, where there is none."""
    if text == ESTATE_FRAME:
        if estate is None:
            near = "; if these are degrees, name the columns lon, lat" if fits_degrees(bounds) else ""
            fix = f'write crs = "EPSG:…" or crs = "local" under [estate]{near}'
            table.refuse_geometry(file, "a crs in estate.toml, as coordinates need one", field="crs", fix=fix)
        return estate
    if estate is not None and estate.crs is None:
        fix = "give x, y or wkt in a CSV, or set the estate's crs to a code"
        table.refuse_geometry(file, "plain coordinates, as the estate's crs is local", field="crs", fix=fix)
        return None
    crs = parsed(text)
    if crs is None:
        table.refuse_geometry(file, "a known projected or geographic CRS", field="crs", value=text[:80])
        return None
    return Frame(crs)


def _doubted(patch: _Patch, estate: Frame | None) -> bool:
    doubt = doubt_of_range(patch.bounds, patch.frame) or doubt_of_area(patch.bounds, patch.frame, estate)
    if doubt is not None:
        patch.doubt(doubt)
    return doubt is not None


def _reference(patches: list[_Patch]) -> _Patch:
    """Return the file that others are held against: of the first layer present, the one with most features."""
    first = patches[0].table
    return max((p for p in patches if p.table is first), key=lambda p: len(p.rows))


def _plane_of(patches: list[_Patch], estate: Frame | None) -> tuple[Plane, list[str]]:
    """Choose the plane: the estate's crs, else the projected one that files bring, else a UTM zone."""
    reference = _reference(patches)
    brought = [p.frame.crs for p in (reference, *patches) if not p.frame.degrees]
    candidate = estate.crs if estate is not None else next(iter(brought), None)
    lon, lat = lonlat(reference.frame, *reference.middle)
    if np.isnan(lon):
        expected = f"coordinates within {reference.frame.crs.name if reference.frame.crs else 'the CRS'}"
        reference.doubt(Doubt(expected, str(reference.middle), "check the crs"))
        return Plane(candidate, None), []
    plane = choose_plane(candidate, lon, lat)
    return plane, list(plane.notes)


def _move_all(patches: list[_Patch], plane: Plane) -> list[str]:
    """Transform every file's geometry, doubting files that end up far from the reference."""
    reference = _reference(patches)
    home = _moved_bounds(reference.bounds, reference.frame, plane)
    notes = []
    for patch in patches:
        result = moved(patch.table.geometry[patch.rows], patch.frame, plane)
        patch.table.geometry[patch.rows] = result.geometry
        if result.accuracy_m:
            notes.append(
                f"{patch.file}: the datum shift to {plane.code} is good to about {result.accuracy_m:.0f} m"
            )
        if patch is reference:
            continue
        here = _moved_bounds(patch.bounds, patch.frame, plane)
        exchanged = _moved_bounds(swapped(patch.bounds), patch.frame, plane)
        doubt = doubt_of_place(here, exchanged, home, reference.file, patch.frame)
        if doubt is not None:
            patch.doubt(doubt)
    return notes


def _moved_bounds(bounds: Bounds, frame: Frame, plane: Plane) -> Bounds:
    """Return the extent of an extent's corners in the plane, infinite where they have no place there."""
    corners = shapely.multipoints(
        [[bounds[0], bounds[1]], [bounds[0], bounds[3]], [bounds[2], bounds[1]], [bounds[2], bounds[3]]]
    )
    places = shapely.get_coordinates(moved(np.array([corners]), frame, plane).geometry)
    if not np.isfinite(places).all():
        return np.full(4, np.inf)
    return np.concatenate([places.min(axis=0), places.max(axis=0)])
