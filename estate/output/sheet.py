"""The sheet itself: frame, reference grid and centring marks of ISO 5457, title block with the fields of ISO 7200."""

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from estate.output.ink import frame, letter, stroke
from estate.output.lettering import LARGE_MM, MEDIUM_MM, SMALL_MM, shortened
from estate.output.scales import Box, Sheet, field_letters, grid_marks_mm
from estate.output.symbols import BLACK, MIDDLE, THIN, WIDE, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TITLE_WIDTH_MM = 180.0
"""Width of a title block (ISO 7200:2004)."""

TITLE_HEIGHT_MM = 40.0
_ROW_MM = 10.0
_GRID_MM = 5.0
"""Width of the reference grid outside the frame (ISO 5457:1999)."""

LANGUAGE = "en"
NOT_GIVEN = "not given"


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What stands in the title block; an empty text is printed as not given."""

    owner: str
    client: str
    status: str
    title: str
    document_type: str
    creator: str
    approved_by: str
    date: str
    scale: str
    sheet_size: str
    number: str
    revision: str
    crs: str
    sheet_number: str = "1 / 1"

    def rows(self) -> tuple[tuple[tuple[str, str, float], ...], ...]:
        """Cells from top to bottom: caption, value, width [mm]; each row is 180 mm wide."""
        return (
            (("Legal owner", self.owner, 70), ("Client", self.client, 65), ("Status", self.status, 45)),
            (("Title", self.title, 120), ("Document type", self.document_type, 60)),
            (
                ("Creator", self.creator, 50),
                ("Approved by", self.approved_by, 50),
                ("Date of issue", self.date, 30),
                ("Scale", self.scale, 30),
                ("Sheet size", self.sheet_size, 20),
            ),
            (
                ("Identification number", self.number, 55),
                ("Revision", self.revision, 20),
                ("Language", LANGUAGE, 20),
                ("Sheet", self.sheet_number, 20),
                ("Coordinates", self.crs, 65),
            ),
        )


def draw_frame(axes: "Axes", sheet: Sheet) -> None:
    """Draw frame, reference grid and centring marks."""
    space = sheet.space
    outer = Box(
        space.x - _GRID_MM, space.y - _GRID_MM, space.width + 2 * _GRID_MM, space.height + 2 * _GRID_MM
    )
    frame(axes, outer, THIN)
    frame(axes, space, WIDE)
    _grid_across(axes, sheet, space, outer)
    _grid_down(axes, sheet, space, outer)
    _centring_marks(axes, sheet, space)


def _grid_across(axes: "Axes", sheet: Sheet, space: Box, outer: Box) -> None:
    """Numbers from left to right, above and below."""
    marks = grid_marks_mm(sheet.width)
    edges = [space.x, *marks, space.right]
    for low, high in ((outer.y, space.y), (space.top, outer.top)):
        for mark in marks:
            _line(axes, (mark, low), (mark, high), THIN)
        for number, (left, right) in enumerate(pairwise(edges), 1):
            _grid_letter(axes, (left + right) / 2, (low + high) / 2, str(number))


def _grid_down(axes: "Axes", sheet: Sheet, space: Box, outer: Box) -> None:
    """Letters from top to bottom, left and right."""
    marks = grid_marks_mm(sheet.height)
    edges = [space.top, *reversed(marks), space.y]
    letters = field_letters(len(edges) - 1)
    for low, high in ((outer.x, space.x), (space.right, outer.right)):
        for mark in marks:
            _line(axes, (low, mark), (high, mark), THIN)
        for text, upper, lower in zip(letters, edges[:-1], edges[1:], strict=True):
            _grid_letter(axes, (low + high) / 2, (upper + lower) / 2, text)


def _grid_letter(axes: "Axes", x: float, y: float, text: str) -> None:
    letter(axes, (x, y - MEDIUM_MM / 2), text, MEDIUM_MM, align="center")


def _centring_marks(axes: "Axes", sheet: Sheet, space: Box) -> None:
    """Four marks at the middle of the sides, 10 mm long, up to the frame."""
    across, up, length = sheet.width / 2, sheet.height / 2, 2 * _GRID_MM
    _line(axes, (across, space.y - length), (across, space.y), WIDE)
    _line(axes, (across, space.top), (across, space.top + length), WIDE)
    _line(axes, (space.x - length, up), (space.x, up), WIDE)
    _line(axes, (space.right, up), (space.right + length, up), WIDE)


def draw_title_block(axes: "Axes", box: Box, block: TitleBlock) -> None:
    """Draw the title block into its box, 180 mm by 40 mm."""
    frame(axes, box, WIDE, face="#ffffff")
    for number, row in enumerate(block.rows()):
        x, y = box.x, box.top - (number + 1) * _ROW_MM
        if number:
            _line(axes, (box.x, y + _ROW_MM), (box.right, y + _ROW_MM), THIN)
        for caption, value, width in row:
            if x > box.x:
                _line(axes, (x, y), (x, y + _ROW_MM), THIN)
            _cell(axes, Box(x, y, width, _ROW_MM), caption, value)
            x += width


def _cell(axes: "Axes", box: Box, caption: str, value: str) -> None:
    """Write one field: its caption above, its value below as large as fits."""
    large = caption in {"Title", "Scale", "Status"}
    letter(axes, (box.x + 1.2, box.top - 1.0 - SMALL_MM), caption, SMALL_MM, colour="#404040")
    room = box.width - 2.4
    if not value.strip():
        letter(axes, (box.x + 1.2, box.y + 1.8), NOT_GIVEN, SMALL_MM, colour="#606060")
        return
    heights = (LARGE_MM, MEDIUM_MM, SMALL_MM) if large else (MEDIUM_MM, SMALL_MM)
    fitting = (h for h in heights if not shortened(value, room, h, bold=large).endswith("…"))
    height = next(fitting, SMALL_MM)
    letter(axes, (box.x + 1.2, box.y + 1.6), shortened(value, room, height, bold=large), height, bold=large)


def _line(axes: "Axes", start: tuple[float, float], end: tuple[float, float], pen_mm: float) -> None:
    stroke(axes, np.array([start, end]), Line(pen_mm, BLACK), zorder=3.0)


def draw_window(axes: "Axes", window: Box) -> None:
    """Draw the edge of the plan window."""
    frame(axes, window, MIDDLE, zorder=6.5)
