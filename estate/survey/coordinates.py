"""The plane of an estate: which projected CRS in metres its coordinates are brought to, and how."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Geod, Transformer
from pyproj.exceptions import CRSError, ProjError

from estate.errors import Problem
from estate.settings import EstateSection
from estate.survey.table import WGS84_FRAME
from estate.units import M_PER_FT

LOCAL = "local"
SCALE_OFF = 0.001
"""A projection whose scale at the site is off by more than this is not computed in."""
ROUGH_M = 1.0
"""A datum shift less accurate than this is said [m]."""


@dataclass(frozen=True)
class Frame:
    """One set of coordinates: its CRS, or None with the metres of a plain unit."""

    crs: CRS | None
    unit_m: float = 1.0

    @property
    def degrees(self) -> bool:
        """Whether coordinates are longitude and latitude."""
        return self.crs is not None and self.crs.is_geographic


@dataclass(frozen=True)
class Plane:
    """Where all geometry ends up: a projected CRS in metres, or none for plain coordinates."""

    crs: CRS | None
    code: str | None
    notes: tuple[str, ...] = field(default=())


def declared_frame(section: EstateSection, file: str = "estate.toml") -> tuple[Frame | None, Problem | None]:
    """Return the frame of the estate's own coordinates; None where no crs is given or it isn't known."""
    text = section.crs.strip()
    if not text:
        return None, None
    if text.casefold() == LOCAL:
        return Frame(None, M_PER_FT if section.units == "ft" else 1.0), None
    crs = parsed(text)
    if crs is None:
        fix = "a code such as EPSG:32630, or local for plain coordinates"
        return None, Problem(
            file, "a known projected or geographic CRS", field="[estate] crs", value=text, fix=fix
        )
    return Frame(crs), None


def parsed(text: str) -> CRS | None:
    """Return a CRS's horizontal part from a code or WKT, None where it is none that maps the ground."""
    try:
        crs = CRS.from_user_input(f"EPSG:{text}" if text.isdecimal() else text)
    except CRSError:
        return None
    while crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    return crs.to_2d() if crs.is_projected or crs.is_geographic else None


def code_of(crs: CRS) -> str:
    """Return authority and code, else the name."""
    found = crs.to_authority(min_confidence=100)
    return ":".join(found) if found else crs.name


def unit_m(crs: CRS) -> float:
    """Return the metres of one unit of a projected CRS; 1 for longitude and latitude, whose heights are in metres."""
    return 1.0 if crs.is_geographic else float(crs.axis_info[0].unit_conversion_factor)


def in_metres(crs: CRS) -> CRS:
    """Return the same projection with its coordinates in metres."""
    if unit_m(crs) == 1.0:
        return crs
    body: dict[str, Any] = crs.to_json_dict()
    for axis in body["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    body.pop("id", None)
    body["name"] += " in metres"
    return CRS.from_json_dict(body)


def utm_at(lon: float, lat: float) -> CRS:
    """Return the WGS 84 / UTM zone of a place [°]."""
    zone = int((lon + 180) % 360 // 6) + 1
    return CRS.from_epsg((32600 if lat >= 0 else 32700) + zone)


def scale_error(crs: CRS, lon: float, lat: float) -> float:
    """Return how far a projection's scale is from 1 at a place, the worst of four directions.

    Compares 100 m along the geodesic of WGS 84 with the same in the plane.
    """
    azimuths = np.array([0.0, 45.0, 90.0, 135.0])
    here, there = np.full(4, lon), np.full(4, lat)
    geod = Geod(ellps="WGS84")
    lon1, lat1, _ = geod.fwd(here, there, azimuths, np.full(4, 50.0))
    lon2, lat2, _ = geod.fwd(here, there, azimuths + 180, np.full(4, 50.0))
    to_plane = Transformer.from_crs(WGS84_FRAME, crs, always_xy=True)
    x1, y1 = to_plane.transform(lon1, lat1)
    x2, y2 = to_plane.transform(lon2, lat2)
    drawn = np.hypot(np.subtract(x2, x1), np.subtract(y2, y1)) * unit_m(crs)
    return float(np.max(np.abs(drawn / 100.0 - 1)))


def lonlat(frame: Frame, x: float, y: float) -> tuple[float, float]:
    """Return longitude and latitude of a place, NaN where the frame has none there."""
    if frame.crs is None:
        return np.nan, np.nan
    with np.errstate(all="ignore"):
        lon, lat = Transformer.from_crs(frame.crs, WGS84_FRAME, always_xy=True).transform(x, y)
    return (float(lon), float(lat)) if np.isfinite([lon, lat]).all() else (np.nan, np.nan)


def choose_plane(candidate: CRS | None, lon: float, lat: float) -> Plane:
    """Return the plane of an estate at a place: the candidate's in metres if its scale holds there, else UTM."""
    zone = utm_at(lon, lat)
    if candidate is None or candidate.is_geographic:
        note = f"coordinates are longitude and latitude: computed in {code_of(zone)} ({zone.name})"
        return Plane(zone, code_of(zone), (note,))
    off = scale_error(candidate, lon, lat)
    if not off <= SCALE_OFF:
        said = f"scale of {code_of(candidate)} is off by {off * 100:.3g} % at the site"
        return Plane(zone, code_of(zone), (f"{said}: reprojected to {code_of(zone)} ({zone.name})",))
    metric = in_metres(candidate)
    if metric is candidate:
        return Plane(candidate, code_of(candidate))
    code = f"{code_of(candidate)} in metres"
    note = (
        f"{code_of(candidate)} is in {candidate.axis_info[0].unit_name}: converted to metres, heights as well"
    )
    return Plane(metric, code, (note,))


@dataclass(frozen=True)
class Moved:
    """Geometries brought to the plane, and the accuracy of the datum shift [m] where it is rough."""

    geometry: NDArray[np.object_]
    accuracy_m: float = 0.0


def moved(geometry: NDArray[np.object_], frame: Frame, plane: Plane) -> Moved:
    """Bring geometries from a frame to the plane; places that can't be projected become infinite."""
    if frame.crs is None or plane.crs is None:
        if frame.unit_m == 1.0:
            return Moved(geometry)
        return Moved(_scaled(geometry, frame.unit_m, frame.unit_m))
    height = unit_m(frame.crs)
    if frame.crs == plane.crs:
        return Moved(geometry)
    transformer = Transformer.from_crs(frame.crs, plane.crs, always_xy=True)

    def project(places: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = transformer.transform(places[:, 0], places[:, 1])
        return np.column_stack([x, y, *(places[:, 2:] * height).T])

    found = _each_dimension(geometry, project)
    return Moved(found, _accuracy(transformer))


def _scaled(geometry: NDArray[np.object_], plan: float, height: float) -> NDArray[np.object_]:
    return _each_dimension(geometry, lambda places: places * [plan, plan, height][: places.shape[1]])


def _each_dimension(geometry: NDArray[np.object_], change: Any) -> NDArray[np.object_]:
    """Apply a change to the coordinates, flat geometries and those with heights apart."""
    result = geometry.copy()
    high = shapely.has_z(geometry)
    for solid in (False, True):
        mine = high == solid
        result[mine] = shapely.transform(geometry[mine], change, include_z=solid)
    return result


def _accuracy(transformer: Transformer) -> float:
    """Return the accuracy of the datum shift last used [m], 0 where it is good or not given."""
    try:
        found = float(transformer.get_last_used_operation().accuracy)
    except ProjError:
        found = float(transformer.accuracy)
    return found if found > ROUGH_M else 0.0
