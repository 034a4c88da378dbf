"""What is drawn on plan sheets beside the plan itself: match lines, outlines of insets, marks of sections."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.ink import letter, stroke
from estate.output.labels import Label
from estate.output.lettering import MEDIUM_MM, width_mm
from estate.output.plan_labels import Mark
from estate.output.scales import Box
from estate.output.symbols import BLACK, MIDDLE, NARROW, THIN, Line, Symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MATCH_LINE = Line(MIDDLE, BLACK, (6.0, 0.9, 0.4, 0.9, 0.4, 0.9))
"""Long-dash double-dot, which ISO 128-2 has for what lies beyond."""

INSET_LINE = Line(NARROW, BLACK, (3.0, 0.9))
SECTION_LINE = Line(MIDDLE, BLACK)
SECTION_SAMPLE = Symbol((("bar", 6.0, "none"),), BLACK, MIDDLE)
SECTION_MM = 6.0
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


def inset_mark(window: Box, shape: shapely.Polygon, text: str) -> Mark:
    """Return the text of an inset at the upper left corner of its outline, or where that leaves the window."""
    west, _, _, north = shape.bounds
    x, y = max(west, window.x + 5.0), min(north, window.top - 5.0)
    return Mark(x, y, text)


def section_stroke(axes: "Axes", ends: NDArray[np.float64]) -> None:
    """Draw the stroke of a section: thin across the route, thick at both ends."""
    along = (ends[1] - ends[0]) / SECTION_MM
    stroke(axes, ends, Line(THIN, BLACK), zorder=4.4)
    for end, sense in ((ends[0], 1.0), (ends[1], -1.0)):
        stroke(axes, np.array([end, end + sense * along * 1.8]), SECTION_LINE, zorder=4.4)


def section_mark(ends: NDArray[np.float64], number: str) -> Mark:
    """Return the number of a section at the upper end of its stroke."""
    x, y = ends[1] if ends[1][1] >= ends[0][1] else ends[0]
    return Mark(float(x), float(y), number, bold=True)
