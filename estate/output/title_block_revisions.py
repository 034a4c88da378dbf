"""The revision table over the title block: newest at the top, its head at the bottom."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from estate.output.ink import frame, letter, stroke
from estate.output.lettering import SMALL_MM, shortened
from estate.output.scales import Box
from estate.output.symbols import BLACK, THIN, Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_MM = 4.5
MOST_ROWS = 6
"""Rows that a sheet shows; older ones are counted."""

_COLUMNS = (
    ("Rev", "revision", 12.0),
    ("Date", "date", 24.0),
    ("Change", "text", 84.0),
    ("Drawn", "drawn", 20.0),
    ("Checked", "checked", 20.0),
    ("Approved", "approved", 20.0),
)
NONE_GIVEN = "no revisions given"
Revisions = Sequence[Mapping[str, str]]


def table_rows(revisions: Revisions) -> list[Mapping[str, str]]:
    """Return the rows that are shown, the oldest first; where there are more, the first says how many."""
    if not revisions:
        return [{"text": NONE_GIVEN}]
    if len(revisions) <= MOST_ROWS:
        return list(revisions)
    kept = list(revisions[-(MOST_ROWS - 1) :])
    return [{"text": f"{len(revisions) - len(kept)} earlier revisions are not shown"}, *kept]


def table_height_mm(revisions: Revisions) -> float:
    """Height of the revision table [mm]."""
    return ROW_MM * (1 + len(table_rows(revisions)))


def draw_revisions(axes: "Axes", box: Box, revisions: Revisions) -> None:
    """Draw the table on the lower edge of a box 180 mm wide."""
    rows = table_rows(revisions)
    frame(axes, Box(box.x, box.y, box.width, ROW_MM * (1 + len(rows))), THIN, face="#ffffff")
    x = box.x
    for caption, key, width in _COLUMNS:
        _cell(axes, x, box.y, width, caption, bold=True)
        for number, row in enumerate(rows, 1):
            _cell(axes, x, box.y + number * ROW_MM, width, row.get(key, ""), bold=False)
        if x > box.x:
            _line(axes, (x, box.y), (x, box.y + ROW_MM * (1 + len(rows))))
        x += width
    for number in range(1, len(rows) + 1):
        y = box.y + number * ROW_MM
        _line(axes, (box.x, y), (box.right, y))


def unlisted(revisions: Revisions, revision: str) -> str:
    """Say where the revision of the sheet is not in its table, empty where it is.

    >>> unlisted([{"revision": "A"}], "B")
    'Revision B is not in the revision table.'
    """
    if not revision or not revisions or revision in {row.get("revision") for row in revisions}:
        return ""
    return f"Revision {revision} is not in the revision table."


def _cell(axes: "Axes", x: float, y: float, width: float, text: str, *, bold: bool) -> None:
    if text.strip():
        shown = shortened(text, width - 2.0, SMALL_MM, bold=bold)
        letter(axes, (x + 1.0, y + (ROW_MM - SMALL_MM) / 2), shown, SMALL_MM, bold=bold)


def _line(axes: "Axes", start: tuple[float, float], end: tuple[float, float]) -> None:
    stroke(axes, np.array([start, end]), Line(THIN, BLACK), zorder=3.0)
