"""Coordinates that can't be meant: degrees for metres, metres for degrees, swapped axes, files far apart."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estate.survey.coordinates import Frame, lonlat

FAR_M = 100_000.0
"""Files of one estate are not farther apart than this [m]."""

Bounds = NDArray[np.float64]
"""Least x, least y, greatest x, greatest y."""


@dataclass(frozen=True)
class Doubt:
    """Why a file's coordinates can't be right: what was expected, what was found, and a fix."""

    expected: str
    found: str
    fix: str


def shown(bounds: Bounds) -> str:
    """Print an extent for people."""
    x0, y0, x1, y1 = bounds
    return f"x {x0:.10g} to {x1:.10g}, y {y0:.10g} to {y1:.10g}"


def fits_degrees(bounds: Bounds) -> bool:
    """Whether an extent can be longitude and latitude."""
    x0, y0, x1, y1 = bounds
    return bool(x0 >= -180 and x1 <= 180 and y0 >= -90 and y1 <= 90)


def swapped(bounds: Bounds) -> Bounds:
    """Return an extent with its axes exchanged."""
    return bounds[[1, 0, 3, 2]]


def doubt_of_range(bounds: Bounds, frame: Frame) -> Doubt | None:
    """Doubt an extent whose numbers are those of another kind of CRS; plain coordinates are never doubted."""
    if frame.degrees and not fits_degrees(bounds):
        if fits_degrees(swapped(bounds)):
            return Doubt("longitude before latitude", shown(bounds), "exchange the two")
        fix = "these look projected: write x, y in a CSV with the estate's crs, or a GeoPackage"
        return Doubt("longitude and latitude in degrees", shown(bounds), fix)
    if frame.crs is not None and not frame.degrees and fits_degrees(bounds):
        expected = f"coordinates of {frame.crs.name}"
        fix = "these look like longitude and latitude: name the columns lon, lat or write GeoJSON"
        return Doubt(expected, shown(bounds), fix)
    return None


def doubt_of_area(bounds: Bounds, frame: Frame, estate: Frame | None) -> Doubt | None:
    """Doubt an extent outside the CRS's area of use that lies inside it with its axes exchanged."""
    judge = estate if frame.degrees and estate is not None and estate.crs is not None else frame
    area = judge.crs.area_of_use if judge.crs is not None else None
    if area is None:
        return None

    def inside(box: Bounds) -> bool:
        lon, lat = lonlat(frame, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        wide = area.west <= lon <= area.east
        if area.west > area.east:  # over the date line
            wide = lon >= area.west or lon <= area.east
        return wide and area.south <= lat <= area.north

    if inside(bounds) or not inside(swapped(bounds)):
        return None
    name = judge.crs.name if judge.crs is not None else ""
    first = "longitude before latitude" if frame.degrees else "eastings before northings"
    return Doubt(f"{first}, in the area of {name}", shown(bounds), "exchange the two")


def doubt_of_place(
    here: Bounds, exchanged: Bounds, reference: Bounds, name: str, frame: Frame
) -> Doubt | None:
    """Doubt an extent far from that of the reference file, all in the estate's plane [m].

    `exchanged` is the extent with its axes exchanged before it was brought to the plane.
    """
    away, diagonal = gap(here, reference), float(np.hypot(*(reference[2:] - reference[:2])))
    if away > max(diagonal, 1.0) and gap(exchanged, reference) == 0:
        first = "longitude before latitude" if frame.degrees else "eastings before northings"
        return Doubt(f"{first}, beside {name}", shown(here), f"exchange the two, here or in {name}")
    if away <= FAR_M:
        return None
    distance = f"{away / 1000:.0f} km away" if np.isfinite(away) else "no place in the estate's CRS"
    return Doubt(f"features within {FAR_M / 1000:.0f} km of {name}", distance, "check the crs of both files")


def gap(first: Bounds, second: Bounds) -> float:
    """Return the distance between two extents, infinite where one has no place."""
    if not (np.isfinite(first).all() and np.isfinite(second).all()):
        return np.inf
    apart = np.maximum(np.maximum(first[:2] - second[2:], second[:2] - first[2:]), 0)
    return float(np.hypot(*apart))
