"""The block diagram: recorders on the left, cabinets beside them, cameras on the right, cables between."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from estate.output.block_diagram_content import (
    CableLine,
    CameraRow,
    Diagram,
    Group,
    RecorderBlock,
    StretchLine,
)
from estate.output.ink import frame, letter, lines, stamp
from estate.output.lettering import MEDIUM_MM, SMALL_MM, line_pitch_mm, shortened, wrapped
from estate.output.panel import PAD_MM, Arrangement, Entry, Note
from estate.output.plan_content import PlanContent
from estate.output.scales import Box
from estate.output.sheets_page import (
    BESIDE_MM,
    NOT_TO_SCALE,
    Drawer,
    Page,
    first_notes,
    largest_window,
    places,
    say_beside,
)
from estate.output.symbols import (
    BLACK,
    BLUE,
    GREEN,
    LINE_TYPES,
    MIDDLE,
    NARROW,
    RED,
    THIN,
    Line,
    Mark,
    Symbol,
    point_symbol,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DOCUMENT_TYPE = "Block diagram"
COLUMN_MM = 330.0
"""A window that is twice as wide has two columns."""

BOX_MM = 36.0
CAMERA_MM = 40.0
UPLINK_MM = 72.0
LEAST_BOX_MM = 20.0
ROW_MM, LOW_MM = 6.5, 3.0
"""Height of a row, and what each line of text under its cable adds."""

GAP_MM = 4.0
FAMILY_LINES = {
    "coax": Line(MIDDLE, BLACK),
    "pair": Line(NARROW, BLUE, (), (Mark("tick", 1.8, 9.0),)),
    "fibre": Line(MIDDLE, GREEN, LINE_TYPES["long-dash dot"]),
    "power": Line(NARROW, RED, LINE_TYPES["dashed"]),
}
UNKNOWN_LINE = Line(NARROW, BLACK, LINE_TYPES["dotted"])
_FAMILY_WORDS = {
    "coax": "coaxial cable",
    "pair": "data or video pairs",
    "fibre": "fibre cable",
    "power": "power pair",
}
_STOP = Symbol((("square", 2.4, "full"),))
_TEXTS = (
    "Not to scale. Lengths are those of the cables, with slack and ends as designed or as recorded; waste is not in them.",
    "On each cable: number · type · length · cores. Connectors, joints and surge protectors are not shown: equipment.csv.",
)


@dataclass(frozen=True)
class _Strip:
    """Rows of one group that stand in one column."""

    group: Group
    rows: tuple[CameraRow, ...]
    top: float
    height: float
    is_more: bool


@dataclass
class _Block:
    """One recorder's part of one column."""

    recorder: RecorderBlock
    top: float
    is_more: bool
    strips: list[_Strip] = field(default_factory=list)
    bottom: float = 0.0


@dataclass
class _Column:
    box: Box
    blocks: list[_Block] = field(default_factory=list)
    lists: list[tuple[str, tuple[str, ...], float]] = field(default_factory=list)
    """Heading, lines and upper edge of lists at the end."""


def diagram_pages(content: PlanContent, diagram: Diagram) -> list[Page]:
    """Return the sheets of the block diagram, none where nothing is linked."""
    if not diagram.recorders:
        return []
    legend = (
        *(Entry(words, FAMILY_LINES[f]) for f, words in _FAMILY_WORDS.items() if f in diagram.families),
        *([Entry("cable of unknown type", UNKNOWN_LINE)] if "" in diagram.families else []),
        Entry("equipment on the way", _STOP),
        *(Entry(f"camera: {v}", point_symbol("camera", "", v)) for v in _verdicts(diagram)),
    )
    notes = first_notes(content, _TEXTS)
    place = largest_window(places(content, legend, notes, BESIDE_MM))
    columns = _laid_out(diagram, place.window)
    per_page = _columns_across(place.window)
    beside = say_beside("Block diagram", f"{NOT_TO_SCALE.capitalize()}.")
    return [
        Page(DOCUMENT_TYPE, NOT_TO_SCALE, place, legend, notes, _drawer(columns[n : n + per_page]), beside)
        for n in range(0, len(columns), per_page)
    ]


def _verdicts(diagram: Diagram) -> list[str]:
    rows = (row for block in diagram.recorders for group in block.groups for row in group.rows)
    return sorted({row.verdict for row in rows})


def _drawer(columns: Sequence[_Column]) -> Drawer:
    def draw(axes: "Axes", _place: Arrangement) -> Sequence[Note]:
        for column in columns:
            for block in column.blocks:
                _draw_block(axes, column.box, block)
            for heading, texts, top in column.lists:
                _draw_list(axes, column.box, heading, texts, top)
        return ()

    return draw


# Layout


def _columns_across(window: Box) -> int:
    return max(1, int(window.width // COLUMN_MM))


def _column_boxes(window: Box) -> Iterator[Box]:
    """Yield the columns of one sheet after another."""
    count = _columns_across(window)
    width = window.width / count
    while True:
        for n in range(count):
            yield Box(window.x + n * width, window.y, width, window.height).shrunk(PAD_MM)


def row_mm(row: CameraRow) -> float:
    """Height of a camera's row [mm]."""
    lines_below = max((len(s.power) for s in row.stretches), default=0) + (1 if row.stops else 0)
    lines_above = max((len(s.signal) for s in row.stretches), default=1) - 1
    return ROW_MM + (lines_below + lines_above) * LOW_MM


def _laid_out(diagram: Diagram, window: Box) -> list[_Column]:
    """Set recorder after recorder from the top, splitting a group between rows where a column ends."""
    boxes = _column_boxes(window)
    columns = [_Column(next(boxes))]
    y = columns[-1].box.top
    for recorder in diagram.recorders:
        y = _set_recorder(recorder, columns, boxes, y)
    for heading, texts in (("Without a link", diagram.without), ("Cables by type", diagram.totals)):
        if not texts:
            continue
        width = columns[-1].box.width - 2 * PAD_MM
        rows = tuple(row for text in texts for row in wrapped(text, width, SMALL_MM))
        height = len(rows) * line_pitch_mm(SMALL_MM) + MEDIUM_MM + 3 * PAD_MM
        if y - height < columns[-1].box.y:
            columns.append(_Column(next(boxes)))
            y = columns[-1].box.top
        columns[-1].lists.append((heading, rows, y))
        y -= height + GAP_MM
    return columns


def _set_recorder(recorder: RecorderBlock, columns: list[_Column], boxes: Iterator[Box], y: float) -> float:
    """Set one recorder below `y`, and return what is left [mm]."""

    def begin(*, is_more: bool) -> _Block:
        block = _Block(recorder, y, is_more)
        columns[-1].blocks.append(block)
        return block

    if y - LEAST_BOX_MM < columns[-1].box.y:
        columns.append(_Column(next(boxes)))
        y = columns[-1].box.top
    block = begin(is_more=False)
    for group in recorder.groups:
        rows, is_more = list(group.rows), False
        least = LEAST_BOX_MM if group.cabinet else ROW_MM
        while rows or not is_more:
            taken = _fitting(rows, y - columns[-1].box.y)
            if (rows and not taken) or y - least < columns[-1].box.y:
                block.bottom = y
                columns.append(_Column(next(boxes)))
                y = columns[-1].box.top
                block = begin(is_more=True)
                taken = _fitting(rows, y - columns[-1].box.y) or rows[:1]
            height = max(sum(map(row_mm, taken)), least)
            block.strips.append(_Strip(group, tuple(taken), y, height, is_more))
            y -= height + (1.5 if group.cabinet else 0.0)
            rows, is_more = rows[len(taken) :], True
    y = min(y, block.top - LEAST_BOX_MM)
    block.bottom = y
    return y - GAP_MM


def _fitting(rows: Sequence[CameraRow], room_mm: float) -> list[CameraRow]:
    """Return as many of the first rows as the room holds."""
    taken: list[CameraRow] = []
    for row in rows:
        room_mm -= row_mm(row)
        if room_mm < 0:
            break
        taken.append(row)
    return taken


# Drawing


def _draw_block(axes: "Axes", column: Box, block: _Block) -> None:
    box = Box(column.x, block.bottom, BOX_MM, block.top - block.bottom)
    more = " (continued)" if block.is_more else ""
    _draw_box(
        axes, box, block.recorder.recorder + more, () if block.is_more else block.recorder.words, MIDDLE
    )
    camera_x = column.right - CAMERA_MM
    for strip in block.strips:
        start = box.right
        if strip.group.cabinet:
            start = _draw_cabinet(axes, box.right, strip)
        y = strip.top
        for row in strip.rows:
            height = row_mm(row)
            above = max((len(s.signal) for s in row.stretches), default=1)
            _draw_row(axes, start, camera_x, y - above * LOW_MM - 0.6, row)
            y -= height


def _draw_cabinet(axes: "Axes", recorder_right: float, strip: _Strip) -> float:
    """Draw a cabinet with its uplinks, and return its right edge [mm]."""
    x = recorder_right + UPLINK_MM
    box = Box(x, strip.top - strip.height + 0.75, BOX_MM, strip.height - 1.5)
    more = " (continued)" if strip.is_more else ""
    _draw_box(axes, box, strip.group.cabinet + more, () if strip.is_more else strip.group.words, NARROW)
    if not strip.is_more:
        count = len(strip.group.uplinks)
        for number, uplink in enumerate(strip.group.uplinks):
            y = box.top - (number + 0.6) * box.height / max(count, 1)
            _draw_stretch(axes, recorder_right, x, y, uplink)
    return box.right


def _draw_box(axes: "Axes", box: Box, head: str, words: Sequence[str], pen_mm: float) -> None:
    frame(axes, box, pen_mm, face="#ffffff", zorder=3.0)
    room = box.width - 2.0
    letter(
        axes,
        (box.x + 1.0, box.top - 1.2 - MEDIUM_MM),
        shortened(head, room, MEDIUM_MM, bold=True),
        MEDIUM_MM,
        bold=True,
    )
    pitch = line_pitch_mm(SMALL_MM)
    for number, text in enumerate(words):
        y = box.top - 2.4 - MEDIUM_MM - SMALL_MM - number * pitch
        if y < box.y + 0.5:
            break
        letter(axes, (box.x + 1.0, y), shortened(text, room, SMALL_MM), SMALL_MM)


def _draw_row(axes: "Axes", start: float, end: float, y: float, row: CameraRow) -> None:
    """Draw a camera's link from its head to the camera at the height `y` [mm]."""
    count = max(len(row.stretches), 1)
    part = (end - start) / count
    deepest = max((len(s.power) for s in row.stretches), default=0)
    for number, stretch in enumerate(row.stretches):
        _draw_stretch(axes, start + number * part, start + (number + 1) * part, y, stretch)
    for number, stop in enumerate(row.stops, 1):
        x = start + number * part
        stamp(axes, np.array([[x, y]]), _STOP)
        text = shortened(stop, part * 0.9, SMALL_MM)
        letter(axes, (x, y - 1.6 - SMALL_MM - deepest * LOW_MM), text, SMALL_MM, align="center")
    stamp(axes, np.array([[end + 1.6, y]]), point_symbol("camera", "", row.verdict))
    letter(
        axes,
        (end + 4.0, y - MEDIUM_MM / 2),
        shortened(row.camera, 14.0, MEDIUM_MM, bold=True),
        MEDIUM_MM,
        bold=True,
    )
    room = CAMERA_MM - 19.0
    methods = wrapped(row.method.replace("+", "+ "), room, SMALL_MM)[:2]
    pitch = line_pitch_mm(SMALL_MM)
    for place, text in enumerate(methods):
        at = (end + 18.5, y - SMALL_MM / 2 + ((len(methods) - 1) / 2 - place) * pitch)
        letter(axes, at, text, SMALL_MM)


def _draw_stretch(axes: "Axes", start: float, end: float, y: float, stretch: StretchLine) -> None:
    """Draw the cables of one stretch: signal on the line, power below it, each with its text."""
    room = end - start - 5.0
    _draw_cable(axes, start, end, y, stretch.signal[0].family if stretch.signal else "")
    for place, cable in enumerate(reversed(stretch.signal)):
        _write_cable(axes, start + 2.5, y + 1.3 + place * LOW_MM, cable, room)
    for place, cable in enumerate(stretch.power):
        below = y - 1.2 - place * LOW_MM
        _draw_cable(axes, start, end, below, cable.family)
        _write_cable(axes, start + 2.5, below - 0.9 - SMALL_MM, cable, room)


def _draw_cable(axes: "Axes", start: float, end: float, y: float, family: str) -> None:
    lines(
        axes, [shapely.LineString([(start, y), (end, y)])], FAMILY_LINES.get(family, UNKNOWN_LINE), zorder=2.5
    )


def _write_cable(axes: "Axes", x: float, y: float, cable: CableLine, room: float) -> None:
    letter(axes, (x, y), shortened(cable.text, room, SMALL_MM), SMALL_MM)


def _draw_list(axes: "Axes", column: Box, heading: str, texts: Sequence[str], top: float) -> None:
    pitch = line_pitch_mm(SMALL_MM)
    height = len(texts) * pitch + MEDIUM_MM + 3 * PAD_MM
    frame(axes, Box(column.x, top - height, column.width, height), THIN)
    letter(axes, (column.x + PAD_MM, top - PAD_MM - MEDIUM_MM), heading, MEDIUM_MM, bold=True)
    first = top - 2 * PAD_MM - MEDIUM_MM - SMALL_MM
    for number, text in enumerate(texts):
        letter(axes, (column.x + PAD_MM, first - number * pitch), text, SMALL_MM)
