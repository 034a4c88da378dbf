"""What of a plan lies in a window: everything else is cut off."""

from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.findings import NAN
from estate.output.plan_content import Column, PlanContent
from estate.output.scales import Box

SYMBOL_MM = 2.6
"""A symbol is drawn where all of it lies in the window."""


def clipped(content: PlanContent, window: Box) -> PlanContent:
    """Return a content that is on paper already with only what lies in the window [mm].

    Rows stay where they are: what lies outside has no geometry or no coordinates.
    """
    edge = shapely.box(window.x, window.y, window.right, window.top)
    inner = window.shrunk(SYMBOL_MM)
    x, y = content.places().T
    inside = (x >= inner.x) & (x <= inner.right) & (y >= inner.y) & (y <= inner.top)
    return replace(
        content,
        segments=replace(content.segments, geometry=_cut(content.segments.geometry, edge, 1)),
        mains=replace(content.mains, geometry=_cut(content.mains.geometry, edge, 1)),
        buildings=replace(content.buildings, geometry=_cut(content.buildings.geometry, edge, 2)),
        stretches=replace(content.stretches, geometry=_cut(content.stretches.geometry, edge, 1)),
        moved=_cut(content.moved, edge, 1),
        points=replace(content.points, x=np.where(inside, x, NAN), y=np.where(inside, y, NAN)),
        findings=tuple(
            f if inner.x <= f.x <= inner.right and inner.y <= f.y <= inner.top else replace(f, x=NAN, y=NAN)
            for f in content.findings
        ),
    )


def _cut(geometry: Column, edge: shapely.Polygon, dimension: int) -> NDArray[np.object_]:
    """Cut geometries at the edge; those outside become None, as does what only touches it."""
    cut = np.empty(len(geometry), dtype=np.object_)
    for row, shape in enumerate(geometry):
        cut[row] = None if shape is None else _inside(shape, edge, dimension)
    return cut


def _inside(shape: Any, edge: shapely.Polygon, dimension: int) -> Any:
    if shapely.contains_properly(edge, shape):
        return shape
    parts = shapely.get_parts(shapely.intersection(shape, edge))
    kept = [part for part in parts if shapely.get_dimensions(part) == dimension and not part.is_empty]
    if not kept:
        return None
    return (
        kept[0]
        if len(kept) == 1
        else (shapely.MultiLineString if dimension == 1 else shapely.MultiPolygon)(kept)
    )
