"""Insets on the plan itself, where a sheet has room to spare beside what it shows."""

from collections.abc import Sequence

import numpy as np
import shapely

from estate.output.plan_content import PlanContent, drawn, on_paper
from estate.output.scales import Box
from estate.output.sheets_clip import clipped
from estate.output.sheets_insets import Inset, SizedPlace, inset_at
from estate.output.sheets_tiles import OVERLAP_MM, Tile, Tiling

CLEAR_MM = 9.0
"""An inset keeps so far from everything that is drawn: labels stand there [mm]."""

_STEP_MM = 5.0
_EDGE_MM = 6.0


def insets_on_plan(
    content: PlanContent, tiles: Tiling, sized: Sequence[SizedPlace]
) -> tuple[list[list[Inset]], list[SizedPlace]]:
    """Set insets on the plan sheets that show their places, as near as can be; return them by sheet, and what is left.

    Numbers run from 1 in the order of `sized`.
    """
    several = len(tiles.tiles) > 1
    taken = [_taken(content, tile, sized) for tile in tiles.tiles]
    found: list[list[Inset]] = [[] for _ in tiles.tiles]
    left, number = [], 1
    for each in sized:
        west, south, east, north = each.place.bounds
        middle = shapely.Point((west + east) / 2, (south + north) / 2)
        n = next((n for n, tile in enumerate(tiles.tiles) if shapely.box(*tile.core).covers(middle)), None)
        if n is None:
            left.append(each)
            continue
        room = tiles.tiles[n].view.window.shrunk(OVERLAP_MM if several else _EDGE_MM)
        outline = _outline(each, tiles.tiles[n])
        cells = ((size, _free_cell(room, taken[n], size, outline)) for size in (each, *each.smaller))
        size, cell = next((c for c in cells if c[1] is not None), (each, None))
        if cell is None:
            left.append(each)
            continue
        taken[n].append(shapely.box(cell.x, cell.y, cell.right, cell.top))
        found[n].append(inset_at(size, number, cell))
        number += 1
    return found, left


def _outline(sized: SizedPlace, tile: Tile) -> shapely.Geometry:
    """Return a place as it lies on the sheet [mm], with the room that its inset shows round it."""
    return shapely.transform(shapely.box(*sized.place.bounds), tile.view.to_paper)


def _taken(content: PlanContent, tile: Tile, sized: Sequence[SizedPlace]) -> list[shapely.Geometry]:
    """Return everything on a sheet that an inset must keep clear of."""
    paper = clipped(on_paper(content, tile.view), tile.view.window)
    layers = (paper.segments.geometry, paper.mains.geometry, paper.buildings.geometry, paper.moved)
    shapes = [geometry[row] for geometry in layers for row in drawn(geometry)]
    spots = [*paper.places(), *((f.x, f.y) for f in paper.findings)]
    return [
        *shapes,
        *(shapely.Point(*s) for s in spots if np.isfinite(s).all()),
        *(_outline(s, tile) for s in sized),
    ]


def _free_cell(
    room: Box, taken: Sequence[shapely.Geometry], sized: SizedPlace, outline: shapely.Geometry
) -> Box | None:
    """Return the place for an inset nearest to what it shows, None where nothing is free."""
    xs = np.arange(room.x, room.right - sized.width + 1e-6, _STEP_MM)
    ys = np.arange(room.y, room.top - sized.height + 1e-6, _STEP_MM)
    if not len(xs) or not len(ys):
        return None
    x, y = (axis.ravel() for axis in np.meshgrid(xs, ys))
    boxes = shapely.box(x, y, x + sized.width, y + sized.height)
    met = shapely.STRtree(taken).query(boxes, predicate="dwithin", distance=CLEAR_MM)[0] if taken else []
    free = np.setdiff1d(np.arange(len(boxes)), met)
    if not len(free):
        return None
    far = np.round(shapely.distance(boxes[free], outline), 3)
    best = free[np.lexsort((x[free], -y[free], far))[0]]
    return Box(float(x[best]), float(y[best]), sized.width, sized.height)
