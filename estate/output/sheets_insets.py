"""Insets: crowded places once more at a larger scale, numbered and outlined on the plan."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.plan_content import Bounds, PlanContent, View, drawn
from estate.output.scales import SCALES, Box, paper_mm

CROWDED_FROM = 4
"""Fewest points of a crowded place."""

CROWDED_MM = 9.0
"""Points are crowded where half of them have another nearer than this on the plan: about the width of an id [mm]."""

CLEAR_MM = 14.0
"""As far apart are points in an inset, where a scale gives that [mm]."""

BESIDE_M = 5.0
"""Points so near a building belong to it [m]."""

CLUSTER_MM = 12.0
"""Points outside buildings that are nearer than this on the plan may be one place [mm]."""

AROUND_M = 3.0
"""Shown around the points of an inset [m]."""

LEAST_WIDTH_MM = 85.0
"""Least width of an inset: its head holds number, name, scale and bar."""

HEAD_MM = 8.0
ROOM_MM = 10.0
"""Room for labels round what an inset shows."""

GAP_MM = 4.0
"""Between insets."""


@dataclass(frozen=True, slots=True)
class Place:
    """A crowded place."""

    name: str
    bounds: Bounds
    apart_m: float
    """Distance from a point of it to its nearest, the median [m]."""


@dataclass(frozen=True, slots=True)
class SizedPlace:
    """A crowded place with scale, width and height of its inset [mm]."""

    place: Place
    scale: int
    width: float
    height: float
    smaller: tuple["SizedPlace", ...] = ()
    """The same at smaller scales at which it is crowded no more, the largest first."""


@dataclass(frozen=True, slots=True)
class Inset:
    """One inset on its sheet."""

    number: int
    name: str
    bounds: Bounds
    cell: Box
    view: View


def crowded_places(content: PlanContent, scale: int) -> list[Place]:
    """Return the places that are crowded on a plan at 1 : `scale`, building by building, then outdoors."""
    xy = content.places()
    rows = np.flatnonzero(
        np.isfinite(xy).all(axis=1)
        & np.isin(np.array(content.points.kind, dtype=object), ("camera", "recorder", "patch"))
    )
    building = _building_of(content, xy[rows])
    found = []
    for place in drawn(content.buildings.geometry):
        own = xy[rows[building == place]]
        name = str(content.buildings.name[place] or content.buildings.id[place])
        shapes = [content.buildings.geometry[place], shapely.MultiPoint(own)]
        found.append(Place(name, _around(shapely.union_all(shapes).bounds), _apart_m(own)))
    found += [
        Place("outdoors", _around(shapely.MultiPoint(own).bounds), _apart_m(own))
        for own in _clusters(xy[rows[building < 0]], CLUSTER_MM * scale / 1000.0)
    ]
    return [place for place in found if _is_crowded(place, scale)]


def sized_places(places: Sequence[Place], window: Box, scale: int) -> list[SizedPlace]:
    """Return crowded places with the room that their insets take, the tallest first.

    Each has the smallest scale at which its points are well apart, else the largest that fits, at least twice that of the
    plan; a place that doesn't fit so is left out.
    """
    window = window.shrunk(GAP_MM)
    sized = [found for place in places if (found := _sized(place, window, scale)) is not None]
    return sorted(sized, key=lambda each: (-each.height, each.place.name, each.place.bounds))


def insets(sized: Sequence[SizedPlace], window: Box, first: int = 1) -> list[list[Inset]]:
    """Set insets on sheets with one window, row by row, numbered from `first` on."""
    window = window.shrunk(GAP_MM)
    pages: list[list[Inset]] = []
    x, top, row_mm = window.x, window.y, 0.0
    for number, each in enumerate(sized, first):
        if x + each.width > window.right + 1e-6:
            x, top, row_mm = window.x, top - row_mm - GAP_MM, 0.0
        if not pages or top - each.height < window.y - 1e-6:
            pages.append([])
            x, top, row_mm = window.x, window.top, 0.0
        cell = Box(x, top - each.height, each.width, each.height)
        x, row_mm = x + each.width + GAP_MM, max(row_mm, each.height)
        pages[-1].append(inset_at(each, number, cell))
    return pages


def inset_at(sized: SizedPlace, number: int, cell: Box) -> Inset:
    """Return the inset of a place in its cell."""
    west, south, east, north = sized.place.bounds
    inner = Box(cell.x, cell.y, cell.width, cell.height - HEAD_MM)
    view = View(sized.scale, ((west + east) / 2, (south + north) / 2), inner)
    return Inset(number, sized.place.name, view.edges_m(), cell, view)


def _sized(place: Place, window: Box, scale: int) -> SizedPlace | None:
    """Return the room of an inset with its head, None where no scale is large enough and fits."""
    west, south, east, north = place.bounds
    fitting = []
    for own_scale in (s for s in SCALES if 2 * s <= scale):
        width = max(paper_mm(east - west, own_scale) + 2 * ROOM_MM, LEAST_WIDTH_MM)
        height = paper_mm(north - south, own_scale) + 2 * ROOM_MM + HEAD_MM
        if width <= window.width and height <= window.height:
            fitting.append(SizedPlace(place, own_scale, width, height))
    if not fitting:
        return None
    clear = [each for each in fitting if paper_mm(place.apart_m, each.scale) >= CLEAR_MM]
    best = clear[-1] if clear else fitting[0]
    smaller = (each for each in fitting if each.scale > best.scale and not _is_crowded(place, each.scale))
    return replace(best, smaller=tuple(smaller))


def _building_of(content: PlanContent, xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the row of the nearest building within `BESIDE_M` of each point, -1 where there is none."""
    rows = drawn(content.buildings.geometry)
    found = np.full(len(xy), -1, dtype=np.int64)
    if not len(rows) or not len(xy):
        return found
    tree = shapely.STRtree([content.buildings.geometry[row] for row in rows])
    points, near = tree.query_nearest(shapely.points(xy), max_distance=BESIDE_M, all_matches=False)
    found[points] = rows[near]
    return found


def _is_crowded(place: Place, scale: int) -> bool:
    return paper_mm(place.apart_m, scale) < CROWDED_MM


def _apart_m(xy: NDArray[np.float64]) -> float:
    """Return the median distance from a point to its nearest [m]; infinite for too few points."""
    if len(xy) < CROWDED_FROM:
        return float("inf")
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return float(np.median(apart.min(axis=1)))


def _clusters(xy: NDArray[np.float64], within_m: float) -> list[NDArray[np.float64]]:
    """Group points that hang together over steps of at most `within_m` [m]."""
    if not len(xy):
        return []
    parts = shapely.get_parts(shapely.union_all(shapely.buffer(shapely.points(xy), within_m / 2)))
    own = shapely.STRtree(parts).query(shapely.points(xy), predicate="intersects")
    return [xy[own[0][own[1] == part]] for part in range(len(parts))]


def _around(bounds: Bounds) -> Bounds:
    west, south, east, north = bounds
    return west - AROUND_M, south - AROUND_M, east + AROUND_M, north + AROUND_M
