"""Where true north lies from grid north."""

from pyproj import CRS, Geod, Transformer

STEP_M = 100.0


def true_north_deg(crs_wkt: str, x: float, y: float) -> float | None:
    """Return how far true north lies clockwise of grid north at a place [°]; None for local coordinates.

    Measured: the geodesic azimuth of a step up the grid, on the ellipsoid of the coordinate system.
    """
    if not crs_wkt:
        return None
    crs = CRS.from_wkt(crs_wkt)
    ellipsoid = crs.ellipsoid
    if crs.geodetic_crs is None or ellipsoid is None:
        return None
    to_ground = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    lon, lat = to_ground.transform([x, x], [y - STEP_M / 2, y + STEP_M / 2])
    geod = Geod(a=ellipsoid.semi_major_metre, b=ellipsoid.semi_minor_metre)
    azimuth, _, _ = geod.inv(lon[0], lat[0], lon[1], lat[1])
    return -float(azimuth)


def north_text(deviation_deg: float | None, crs: str) -> str:
    """Say what the north point shows.

    >>> north_text(-1.234, "EPSG:32630")
    'N: grid north; true north is 1.23° west of it here.'
    >>> north_text(None, "")
    'N: direction of the y axis; true north is not given.'
    """
    if not crs:
        return "N: direction of the y axis; true north is not given."
    if deviation_deg is None:
        return "N: grid north."
    if abs(deviation_deg) < 0.005:
        return "N: grid north, which is true north here."
    side = "east" if deviation_deg > 0 else "west"
    return f"N: grid north; true north is {abs(deviation_deg):.2f}° {side} of it here."
