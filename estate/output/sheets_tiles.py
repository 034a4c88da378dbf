"""How an estate is spread over plan sheets: scale, columns and rows, which sheets are empty, what adjoins what."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.plan_content import Bounds, PlanContent, View, drawn
from estate.output.scales import SCALES, Box, fits

OVERLAP_MM = 12.0
"""How far a sheet shows what is beyond its match line."""

MARGIN_MM = 9.0
"""Room between the estate and the edge of the window where one sheet holds all of it."""

SMALLEST_SCALE = 2500
"""No plan of several sheets is at a smaller scale; 1 : 200 to 1 : 1250 are usual (common practice, no source)."""

_TOUCH_M = 1e-6
"""What lies so near a match line is on both sides of it [m]."""

_SHIFTS = 7
"""Places tried for the grid of sheets, each way."""

SIDES = {"west": (-1, 0), "east": (1, 0), "south": (0, -1), "north": (0, 1)}


@dataclass(frozen=True, slots=True)
class Tile:
    """One plan sheet: its place in the grid (column from the west, row from the south) and what it shows."""

    column: int
    row: int
    view: View
    core: Bounds
    """What the sheet shows up to its match lines [m]."""


@dataclass(frozen=True, slots=True)
class Tiling:
    """All plan sheets at one scale, from the north-west on, row by row."""

    scale: int
    tiles: tuple[Tile, ...]

    def neighbours(self, number: int) -> dict[str, int]:
        """Return the sheets that adjoin one, by side; sheets are counted from 0."""
        places = {(tile.column, tile.row): n for n, tile in enumerate(self.tiles)}
        tile = self.tiles[number]
        found = {side: places.get((tile.column + dx, tile.row + dy)) for side, (dx, dy) in SIDES.items()}
        return {side: n for side, n in found.items() if n is not None}


def tiling(content: PlanContent, window: Box, scale: int | None) -> Tiling | None:
    """Spread an estate over sheets with one plan window [mm]: at a scale, else at the best one.

    The best is the largest usual scale at which one sheet holds it, down to 1 : 2500; beyond that several sheets at
    1 : 2500. None where nothing has a place.
    """
    bounds = content.bounds()
    if bounds is None:
        return None
    if scale is None:
        scale = next(s for s in SCALES if _fits_one(bounds, window, s) or s >= SMALLEST_SCALE)
    if _fits_one(bounds, window, scale):
        middle = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
        view = View(scale, middle, window)
        return Tiling(scale, (Tile(0, 0, view, view.edges_m()),))
    return Tiling(scale, _tiles(content, bounds, window, scale))


def _fits_one(bounds: Bounds, window: Box, scale: int) -> bool:
    inner = window.shrunk(MARGIN_MM)
    return fits((bounds[2] - bounds[0], bounds[3] - bounds[1]), (inner.width, inner.height), scale)


def _tiles(content: PlanContent, bounds: Bounds, window: Box, scale: int) -> tuple[Tile, ...]:
    """Lay the grid where it takes the fewest sheets; of equals, as near the middle as can be."""
    pitch = np.array([window.width - 2 * OVERLAP_MM, window.height - 2 * OVERLAP_MM]) * scale / 1000.0
    low, high = np.array(bounds[:2]), np.array(bounds[2:])
    counts = np.maximum(1, np.ceil((high - low) / pitch - 1e-9)).astype(np.int64)
    slack = counts * pitch - (high - low)
    shown = _shown(content)
    tree = shapely.STRtree(shown)
    middle = (_SHIFTS - 1) / 2
    tries = sorted(
        ((i, j) for i in range(_SHIFTS) for j in range(_SHIFTS)),
        key=lambda t: (abs(t[0] - middle) + abs(t[1] - middle), t),
    )
    best: list[tuple[int, int]] = []
    corner = low
    for shift in tries:
        start = low - slack * (0.02 + 0.96 * np.array(shift) / (_SHIFTS - 1))
        used = _used(tree, start, pitch, counts)
        if not best or len(used) < len(best):
            best, corner = used, start
    return tuple(_tile(place, corner, pitch, window, scale) for place in best)


def _tile(
    place: tuple[int, int], corner: NDArray[np.float64], pitch: NDArray[np.float64], window: Box, scale: int
) -> Tile:
    west_south = corner + pitch * np.array(place)
    (west, south), (east, north) = west_south.tolist(), (west_south + pitch).tolist()
    view = View(scale, ((west + east) / 2, (south + north) / 2), window)
    return Tile(place[0], place[1], view, (west, south, east, north))


def _used(
    tree: shapely.STRtree, start: NDArray[np.float64], pitch: NDArray[np.float64], counts: NDArray[np.int64]
) -> list[tuple[int, int]]:
    """Return the sheets of a grid on which something is, by column and row, from the north-west on."""
    places = [(c, r) for r in range(int(counts[1]) - 1, -1, -1) for c in range(int(counts[0]))]
    corners = start + pitch * np.array(places, dtype=np.float64)
    cores = shapely.box(*(corners - _TOUCH_M).T, *(corners + pitch + _TOUCH_M).T)
    found = np.unique(tree.query(cores, predicate="intersects")[0])
    return [places[n] for n in found.tolist()]


def _shown(content: PlanContent) -> Sequence[shapely.Geometry]:
    """Return what a sheet is drawn for: routes, buildings, points and findings; not ground with nothing but mains."""
    layers = (content.segments.geometry, content.buildings.geometry)
    shapes = [geometry[row] for geometry in layers for row in drawn(geometry)]
    spots = [*content.places(), *((f.x, f.y) for f in content.findings)]
    points = [shapely.Point(*spot) for spot in spots if np.isfinite(spot).all()]
    return [*shapes, *points] or [shapely.box(*(content.bounds() or (0, 0, 0, 0)))]
