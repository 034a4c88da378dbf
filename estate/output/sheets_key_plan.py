"""The key plan: the whole estate in small, with the sheets that it is spread over."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from estate.output.ink import frame, letter, shade, stroke
from estate.output.lettering import SMALL_MM
from estate.output.plan_content import Bounds, Floats, PlanContent, drawn
from estate.output.scales import Box
from estate.output.symbols import BLACK, GREY, NARROW, THIN, Area, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_PAD_MM = 1.5
_HEAD_MM = 4.0
_THIS = Area("////", "#606060", NARROW, "#e4e4e4")


@dataclass(frozen=True, slots=True)
class Outline:
    """One sheet or inset on the key plan."""

    bounds: Bounds
    text: str
    is_here: bool = False
    """Whether it is shown on this sheet."""


def draw_key_plan(axes: "Axes", box: Box, content: PlanContent, outlines: Sequence[Outline]) -> None:
    """Draw buildings and routes into a box, not to scale, with outlines; those of this sheet are hatched."""
    frame(axes, box, THIN)
    letter(axes, (box.x + _PAD_MM, box.top - _PAD_MM - SMALL_MM), "Key plan", SMALL_MM, bold=True)
    room = Box(
        box.x + _PAD_MM, box.y + _PAD_MM, box.width - 2 * _PAD_MM, box.height - _PAD_MM - _HEAD_MM - _PAD_MM
    )
    own = content.bounds()
    if own is None:
        return
    every = np.array([*(outline.bounds for outline in outlines), own])
    low, high = every[:, :2].min(axis=0), every[:, 2:].max(axis=0)
    per_m = float(np.min(np.array([room.width, room.height]) / np.maximum(high - low, 1e-9)))
    centre = np.array([room.x + room.width / 2, room.y + room.height / 2])

    def to_paper(xy: Floats) -> Floats:
        return np.asarray((xy - (low + high) / 2) * per_m + centre)

    for outline in (o for o in outlines if o.is_here):
        shade(axes, [shapely.transform(shapely.box(*outline.bounds), to_paper)], _THIS, zorder=2.2)
    buildings, segments = content.buildings.geometry, content.segments.geometry
    for geometry, line in ((buildings, Line(THIN, GREY)), (segments, Line(THIN, BLACK))):
        inside = [shapely.clip_by_rect(geometry[row], *low, *high) for row in drawn(geometry)]
        for shape in shapely.transform(np.array(inside, dtype=object), to_paper):
            for part in shapely.get_parts(shape):
                ring = part.exterior if part.geom_type == "Polygon" else part
                stroke(axes, shapely.get_coordinates(ring), line, zorder=2.4)
    for outline in outlines:
        _draw_outline(axes, shapely.transform(shapely.box(*outline.bounds), to_paper), outline)


def _draw_outline(axes: "Axes", shape: shapely.Polygon, outline: Outline) -> None:
    stroke(axes, shapely.get_coordinates(shape.exterior), Line(NARROW, BLACK), zorder=2.6)
    west, south, _, north = shape.bounds
    if north - south >= SMALL_MM + 1.0:
        at = (west + 0.7, north - 0.7 - SMALL_MM)
        letter(axes, at, outline.text, SMALL_MM, bold=outline.is_here)
