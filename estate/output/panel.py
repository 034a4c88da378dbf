"""What stands beside the plan: where each block goes, legend, notes and cautions, scale bar and north point."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from estate.output.ink import frame, letter, lines, shade, sleeve, stamp, stroke
from estate.output.lettering import LARGE_MM, MEDIUM_MM, SMALL_MM, line_pitch_mm, width_mm, wrapped
from estate.output.scales import Box, Sheet, paper_mm, round_step_below, sheet
from estate.output.sheet import TITLE_HEIGHT_MM, TITLE_WIDTH_MM
from estate.output.symbols import BLACK, THIN, Area, Balloon, Line, Sleeve, Symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Sample = Line | Sleeve | Symbol | Area | Balloon
"""What a line of the legend shows."""

PAD_MM = 2.5
SCALE_HEIGHT_MM = 20.0
_SWATCH_MM = 15.0
_PITCH_MM = 4.4
_HEAD_MM = 5.5
_TEXT_COLUMN_MM = 90.0
_LEAST_TEXT_MM = 60.0
_LEAST_WINDOW_MM = 60.0
_BAR_PART_MM = 7.0
"""Shorter parts of a scale bar are not numbered."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the legend."""

    text: str
    sample: Sample


@dataclass(frozen=True, slots=True)
class Note:
    """One paragraph beside the plan; a heading is bold and has its own line."""

    text: str
    heading: bool = False


@dataclass(frozen=True, slots=True)
class Panel:
    """What is to be set beside the plan; `spare_lines` are kept for notes that are known only later."""

    legend: tuple[Entry, ...]
    notes: tuple[Note, ...]
    spare_lines: int

    def legend_column(self) -> float:
        """Width of one column of the legend [mm]."""
        widest = max((width_mm(entry.text, SMALL_MM) for entry in self.legend), default=20.0)
        return _SWATCH_MM + widest + PAD_MM

    def legend_height(self, columns: int) -> float:
        """Height of the legend [mm] in this number of columns."""
        return _HEAD_MM + -(-len(self.legend) // columns) * _PITCH_MM + 2 * PAD_MM

    def note_lines(self, width: float) -> int:
        """Lines that notes and cautions take in a column of this width [mm]."""
        return len(_set(self.notes, width)) + self.spare_lines


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Where everything stands on a sheet. Notes flow through columns of one width."""

    sheet: Sheet
    window: Box
    legend: Box
    notes: tuple[Box, ...]
    scale: Box
    title: Box


def arrangements(
    sheet_name: str, panel: Panel, scale_height_mm: float = SCALE_HEIGHT_MM
) -> list[Arrangement]:
    """Return the ways to arrange a sheet, best looking first, without those that leave no room for the plan.

    `scale_height_mm` is the least height of what stands over the title block [mm].
    """
    lying, standing = sheet(sheet_name), sheet(sheet_name, portrait=True)
    found = [
        _strip(lying, panel, scale_height_mm),
        _column(lying, panel, scale_height_mm),
        _strip(standing, panel, scale_height_mm),
    ]
    return [a for a in found if a.window.width >= _LEAST_WINDOW_MM and a.window.height >= _LEAST_WINDOW_MM]


def _strip(paper: Sheet, panel: Panel, scale_height_mm: float) -> Arrangement:
    """Arrange the plan above, everything else in a strip below."""
    space = paper.space
    title = Box(space.right - TITLE_WIDTH_MM, space.y, TITLE_WIDTH_MM, TITLE_HEIGHT_MM)
    beside = space.width - TITLE_WIDTH_MM
    if beside >= panel.legend_column() + 2 * PAD_MM:
        left = Box(space.x, space.y, beside, 0.0)
        over_title = Box(title.x, title.top + scale_height_mm, TITLE_WIDTH_MM, 0.0)
        scale = Box(title.x, title.top, TITLE_WIDTH_MM, scale_height_mm)
        top, legend, notes = _fill(panel, left, over_title)
        if not any(column.x >= title.x for column in notes):
            scale = Box(title.x, title.top, TITLE_WIDTH_MM, top - title.top)
    else:
        base = title.top + scale_height_mm
        scale = Box(space.x, title.top, space.width, scale_height_mm)
        top, legend, notes = _fill(panel, Box(space.x, base, space.width, 0.0), None)
    window = Box(space.x, top, space.width, space.top - top)
    return Arrangement(paper, window, legend, notes, scale, title)


def _column(paper: Sheet, panel: Panel, scale_height_mm: float) -> Arrangement:
    """Arrange the plan on the left, everything else in a column as wide as the title block."""
    space = paper.space
    title = Box(space.right - TITLE_WIDTH_MM, space.y, TITLE_WIDTH_MM, TITLE_HEIGHT_MM)
    scale = Box(title.x, title.top, TITLE_WIDTH_MM, scale_height_mm)
    top, legend, notes = _fill(panel, Box(title.x, scale.top, TITLE_WIDTH_MM, 0.0), None)
    width = space.width - TITLE_WIDTH_MM if top <= space.top else 0.0
    _, legend, notes = _raised(top, legend, notes, space.top)
    return Arrangement(paper, Box(space.x, space.y, width, space.height), legend, notes, scale, title)


def _fill(panel: Panel, base: Box, over_title: Box | None) -> tuple[float, Box, tuple[Box, ...]]:
    """Set legend and notes on a base, as low as can be: top edge [mm], box of the legend, columns of the notes.

    Notes stand beside the legend and over the title block, or under the legend.
    """
    column = panel.legend_column()
    most = max(1, int((base.width - PAD_MM) // column))
    options = [_side_by_side(panel, base, over_title, columns) for columns in range(1, most + 1)]
    options.append(_stacked(panel, base, most))
    top, legend, notes = min(options, key=lambda option: option[0])
    return _raised(top, legend, notes, base.y if over_title is None else over_title.y)


def _raised(
    top: float, legend: Box, notes: tuple[Box, ...], least: float
) -> tuple[float, Box, tuple[Box, ...]]:
    """Raise the upper edge to `least` [mm], and with it every box that reaches to it."""
    if top >= least:
        return top, legend, notes
    legend, *boxes = (
        Box(box.x, box.y, box.width, least - box.y) if box.top > top - 1e-6 else box
        for box in (legend, *notes)
    )
    return least, legend, tuple(boxes)


def _side_by_side(
    panel: Panel, base: Box, over_title: Box | None, columns: int
) -> tuple[float, Box, tuple[Box, ...]]:
    """Set the notes beside the legend, and over the title block where there is room."""
    wide = base.width - columns * panel.legend_column() - PAD_MM
    half = TITLE_WIDTH_MM / 2
    left = int(wide // _LEAST_TEXT_MM) if wide < _TEXT_COLUMN_MM else round(wide / _TEXT_COLUMN_MM)
    over = 2 if over_title is not None else 0
    if left + over == 0:
        return float("inf"), base, ()
    width = min(wide / left if left else half, half if over else wide)
    lines, pitch = panel.note_lines(width - 2 * PAD_MM), line_pitch_mm(SMALL_MM)
    legend_width = base.width - left * width
    top = base.y + panel.legend_height(columns)
    starts = [base.y] * left + [over_title.y if over_title is not None else base.y] * over
    top = max(top, *starts)
    while sum(max(0, _capacity(top - start)) for start in starts) < lines:
        top += pitch / 2
    boxes = [Box(base.x + legend_width + n * width, base.y, width, top - base.y) for n in range(left)]
    if over_title is not None and sum(_capacity(box.height) for box in boxes) < lines:
        boxes += [Box(over_title.x + n * half, over_title.y, half, top - over_title.y) for n in range(over)]
    return top, Box(base.x, base.y, legend_width, top - base.y), tuple(boxes)


def _stacked(panel: Panel, base: Box, columns: int) -> tuple[float, Box, tuple[Box, ...]]:
    """Set the notes under the legend."""
    count = max(1, round(base.width / _TEXT_COLUMN_MM))
    width = base.width / count
    lines = -(-panel.note_lines(width - 2 * PAD_MM) // count)
    height = lines * line_pitch_mm(SMALL_MM) + 2 * PAD_MM
    boxes = tuple(Box(base.x + n * width, base.y, width, height) for n in range(count))
    legend = Box(base.x, base.y + height, base.width, panel.legend_height(columns))
    return legend.top, legend, boxes


def _capacity(height: float) -> int:
    """Lines of text that a column of this height [mm] holds."""
    return int((height - 2 * PAD_MM + 1e-6) // line_pitch_mm(SMALL_MM))


def draw_legend(axes: "Axes", box: Box, entries: Sequence[Entry]) -> None:
    """Draw the legend of what is on the sheet, column by column."""
    frame(axes, box, THIN)
    if not entries:
        return
    letter(axes, (box.x + PAD_MM, box.top - PAD_MM - MEDIUM_MM), "Legend", MEDIUM_MM, bold=True)
    columns = max(1, int((box.width - PAD_MM) // Panel(tuple(entries), (), 0).legend_column()))
    rows = -(-len(entries) // columns)
    for number, entry in enumerate(entries):
        column, row = divmod(number, rows)
        x = box.x + PAD_MM + column * (box.width - PAD_MM) / columns
        y = box.top - PAD_MM - _HEAD_MM - (row + 0.5) * _PITCH_MM
        _draw_sample(axes, x, y, entry.sample)
        letter(axes, (x + _SWATCH_MM, y - SMALL_MM / 2), entry.text, SMALL_MM)


def _draw_sample(axes: "Axes", x: float, y: float, sample: Sample) -> None:
    """Draw one sample of the legend, 13 mm wide about the height y."""
    wide = _SWATCH_MM - 2.0
    if isinstance(sample, Line):
        lines(axes, [shapely.LineString([(x, y), (x + wide, y)])], sample)
    elif isinstance(sample, Sleeve):
        route = [shapely.LineString([(x, y), (x + wide, y)])]
        sleeve(axes, route, sample)
        lines(axes, route, Line(THIN, BLACK))
    elif isinstance(sample, Symbol):
        stamp(axes, np.array([[x + wide / 2, y]]), sample)
    elif isinstance(sample, Area):
        shade(axes, [shapely.box(x, y - 1.6, x + wide, y + 1.6)], sample)
    else:
        size = balloon_size(["F1"])
        draw_balloon(axes, (x + wide / 2, y), size, ["F1"], sample)


def balloon_size(rows: Sequence[str]) -> tuple[float, float]:
    """Width and height of a balloon [mm] round rows of text."""
    widest = max(width_mm(row, SMALL_MM, bold=True) for row in rows)
    return widest + 2.4, (len(rows) - 1) * line_pitch_mm(SMALL_MM) + SMALL_MM + 1.8


def draw_balloon(
    axes: "Axes",
    middle: tuple[float, float],
    size: tuple[float, float],
    rows: Sequence[str],
    style: Balloon,
) -> None:
    """Draw the numbers of findings in a box with round ends."""
    round_mm = min(size[1] / 2, 2.0) - 0.05
    half = np.array(size) / 2 - round_mm
    x, y = middle
    outline = shapely.box(x - half[0], y - half[1], x + half[0], y + half[1]).buffer(round_mm, quad_segs=6)
    shade(axes, [outline], Area("", style.face, 0.0, style.face), zorder=7.0)
    ring = shapely.get_coordinates(outline.exterior)
    stroke(axes, ring, Line(style.pen_mm, BLACK, style.dashes_mm), zorder=7.1)
    first = y + (len(rows) - 1) / 2 * line_pitch_mm(SMALL_MM) - SMALL_MM / 2
    for number, row in enumerate(rows):
        base = first - number * line_pitch_mm(SMALL_MM)
        letter(axes, (x, base), row, SMALL_MM, bold=True, align="center", colour=style.ink)


def _set(notes: Iterable[Note], width: float) -> list[tuple[str, bool]]:
    """Break notes into lines: (text, whether it is a heading)."""
    return [(row, note.heading) for note in notes for row in wrapped(note.text, width, SMALL_MM)]


def draw_notes(axes: "Axes", columns: Sequence[Box], notes: Sequence[Note]) -> int:
    """Write notes and cautions from column to column, evenly; a later heading begins a column if it can.

    Returns how many lines found no room.
    """
    rows = _set(notes, min(box.width for box in columns) - 2 * PAD_MM)
    for number, box in enumerate(columns):
        later = [_capacity(other.height) for other in columns[number + 1 :]]
        count = _share(rows, _capacity(box.height), later)
        if count:
            frame(axes, box, THIN)
        for line, (text, bold) in enumerate(rows[:count]):
            y = box.top - PAD_MM - SMALL_MM - line * line_pitch_mm(SMALL_MM)
            letter(axes, (box.x + PAD_MM, y), text, SMALL_MM, bold=bold)
        rows = rows[count:]
    return len(rows)


def _share(rows: Sequence[tuple[str, bool]], room: int, later: Sequence[int]) -> int:
    """How many of the rows stand in this column, given the room in it and in those after it.

    >>> _share([("Notes", True), ("one", False), ("Cautions", True), ("two", False)], 4, [4])
    2
    """
    heading = next((n for n, row in enumerate(rows[: room + 1]) if n and row[1]), None)
    if heading is not None and len(rows) - heading <= sum(later):
        return heading
    even = -(-len(rows) // (len(later) + 1))
    return min(room, max(even, len(rows) - sum(later)))


def draw_scale(axes: "Axes", box: Box, scale: int | None, texts: Sequence[str]) -> None:
    """Draw scale bar, north point and what the coordinates are."""
    frame(axes, box, THIN)
    if scale is not None:
        _north_point(axes, box.right - 9.0, box.top - 18.0)
        scale_bar(axes, box.x + 6.0, box.top - 8.5, box.width - 38.0, scale)
    pitch = line_pitch_mm(SMALL_MM)
    room = box.width - 2 * PAD_MM - (16.0 if scale is not None else 0.0)
    rows = [row for text in texts for row in wrapped(text, room, SMALL_MM)]
    top = box.top - (15.0 if scale is not None else PAD_MM + SMALL_MM)
    for number, row in enumerate(rows):
        letter(axes, (box.x + PAD_MM, top - number * pitch), row, SMALL_MM)


def scale_bar(axes: "Axes", x: float, y: float, room_mm: float, scale: int) -> None:
    """Draw the bar, true to scale, black and white by turns, with its metres above."""
    total_m = round_step_below(room_mm * scale / 1000.0)
    parts = 4 if f"{total_m:e}"[0] == "2" else 5
    length, height = paper_mm(total_m, scale), 1.8
    for part in range(parts):
        piece = Box(x + part * length / parts, y, length / parts, height)
        frame(axes, piece, 0.0, face=BLACK if part % 2 == 0 else "#ffffff")
    outline = Box(x, y, length, height)
    ring = [(outline.x, y), (outline.right, y), (outline.right, outline.top), (outline.x, outline.top)]
    stroke(axes, np.array([*ring, ring[0]]), Line(THIN, BLACK), zorder=3.0, gid="scale-bar")
    for part in range(parts + 1) if length / parts >= _BAR_PART_MM else (0, parts):
        metres = total_m * part / parts
        text = f"{metres:g}" + (" m" if part == parts else "")
        at = x + part * length / parts
        letter(axes, (at, y + height + 1.2), text, SMALL_MM, align="center")


def _north_point(axes: "Axes", x: float, y: float) -> None:
    """Draw an arrow up the grid, one half black."""
    tip, tail = y + 12.0, y
    shade(axes, [shapely.Polygon([(x, tip), (x - 2.6, tail), (x, tail + 2.6)])], Area("", BLACK, THIN, BLACK))
    shade(axes, [shapely.Polygon([(x, tip), (x + 2.6, tail), (x, tail + 2.6)])], Area("", BLACK, THIN))
    letter(axes, (x, tip + 1.0), "N", LARGE_MM, bold=True, align="center")
