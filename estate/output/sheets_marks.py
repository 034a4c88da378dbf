"""What is drawn on plan sheets beside the plan itself: match lines, outlines of insets, marks of sections."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.ink import letter, stroke
from estate.output.labels import Label
from estate.output.lettering import MEDIUM_MM, SMALL_MM, width_mm
from estate.output.scales import Box
from estate.output.symbols import BLACK, MIDDLE, NARROW, THIN, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MATCH_LINE = Line(MIDDLE, BLACK, (6.0, 0.9, 0.4, 0.9, 0.4, 0.9))
"""Long-dash double-dot, which ISO 128-2 has for what lies beyond."""

INSET_LINE = Line(NARROW, BLACK, (3.0, 0.9))
SECTION_LINE = Line(MIDDLE, BLACK)
SECTION_MM = 6.0
_OFF_MM = 1.2
_SIDE = {"west": (-1, 0), "east": (1, 0), "south": (0, -1), "north": (0, 1)}


@dataclass(frozen=True, slots=True)
class SectionMark:
    """Where a section is cut: across a segment."""

    number: str
    segment: str

    def across(self, line: Any) -> NDArray[np.float64] | None:
        """Return the ends of the stroke across the middle of a line [mm], None where the line is too short to mark."""
        part = max(shapely.get_parts(line), key=lambda each: each.length)
        if part.length < 1.0:
            return None
        middle = part.length / 2
        before, after = (np.array(part.interpolate(at).coords[0]) for at in (middle - 0.2, middle + 0.2))
        along = (after - before) / np.hypot(*(after - before))
        across = np.array([-along[1], along[0]])
        spot = (before + after) / 2
        return np.array([spot - across * SECTION_MM / 2, spot + across * SECTION_MM / 2])


def match_label(axes: "Axes", window: Box, side: str, sheet: int) -> Label:
    """Write the sheet beyond a match line, in the strip between it and the edge."""
    text = f"match line · sheet {sheet}"
    dx, dy = _SIDE[side]
    x = window.x + window.width / 2 + dx * (window.width / 2 - 6.0)
    y = window.y + window.height / 2 + dy * (window.height / 2 - 6.0)
    angle = 90.0 if dx else 0.0
    label = Label(x, y, width_mm(text, MEDIUM_MM) + 2.0, 1.6 * MEDIUM_MM, angle)
    at = (x + MEDIUM_MM / 2, y) if dx else (x, y - MEDIUM_MM / 2)
    letter(axes, at, text, MEDIUM_MM, align="center", angle_deg=angle)
    return label


def inset_label(axes: "Axes", window: Box, shape: shapely.Polygon, text: str) -> Label | None:
    """Write an inset's number over the upper left corner of its outline, or under the lower one."""
    west, south, _, north = shape.bounds
    width, height = width_mm(text, SMALL_MM) + 0.6, 1.6 * SMALL_MM
    x = min(max(west + width / 2, window.x + 5.0 + width / 2), window.right - 2.0 - width / 2)
    for y in (north + height / 2 + 0.2, south - height / 2 - 0.2):
        if window.y + 5.0 <= y - height / 2 and y + height / 2 <= window.top - 2.0:
            letter(axes, (x, y - SMALL_MM / 2), text, SMALL_MM, align="center")
            return Label(x, y, width, height)
    return None


def section_stroke(axes: "Axes", ends: NDArray[np.float64]) -> None:
    """Draw the stroke of a section: thin across the route, thick at both ends."""
    along = (ends[1] - ends[0]) / SECTION_MM
    stroke(axes, ends, Line(THIN, BLACK), zorder=4.4)
    for end, sense in ((ends[0], 1.0), (ends[1], -1.0)):
        stroke(axes, np.array([end, end + sense * along * 1.8]), SECTION_LINE, zorder=4.4)


def section_label(axes: "Axes", ends: NDArray[np.float64], number: str) -> Label:
    """Write the number of a section beyond the upper end of its stroke."""
    upper, lower = (ends[1], ends[0]) if ends[1][1] >= ends[0][1] else (ends[0], ends[1])
    along = (upper - lower) / SECTION_MM
    width, height = width_mm(number, SMALL_MM, bold=True) + 0.6, 1.6 * SMALL_MM
    spot = upper + along * (_OFF_MM + max(width, height) / 2 * 0.8)
    letter(axes, (float(spot[0]), float(spot[1]) - SMALL_MM / 2), number, SMALL_MM, bold=True, align="center")
    return Label(float(spot[0]), float(spot[1]), width, height)
