"""One sheet of the pack: what stands in its window, and what every sheet has round it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from estate.errors import InputError, Problem
from estate.output.ink import blank, frame, letter
from estate.output.lettering import LARGE_MM, SMALL_MM
from estate.output.panel import (
    PAD_MM,
    SCALE_HEIGHT_MM,
    Arrangement,
    Entry,
    Note,
    Panel,
    arrangements,
    draw_legend,
    draw_notes,
)
from estate.output.plan import cautions_of, title_block_of
from estate.output.plan_content import PlanContent
from estate.output.scales import Box
from estate.output.sheet import draw_frame, draw_title_block, draw_window
from estate.output.symbols import THIN
from estate.output.title_block_revisions import draw_revisions, table_height_mm, unlisted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SPARE_LINES = 6
"""Lines kept on every sheet for what found no room on it."""

BESIDE_MM = 14.0
"""Room over the revision table of a sheet that has neither scale bar nor key plan [mm]."""

NOT_TO_SCALE = "not to scale"

Drawer = Callable[["Axes", Arrangement], Sequence[Note]]
"""Draws a window, and returns notes on what found no room there."""


@dataclass(frozen=True)
class Page:
    """One sheet before it is numbered."""

    document_type: str
    scale: str
    place: Arrangement
    legend: tuple[Entry, ...]
    notes: tuple[Note, ...]
    draw: Drawer
    draw_beside: Callable[["Axes", Box], None]
    """Draws what stands over the revision table: scale bar, north point, key plan."""


def stack_height_mm(content: PlanContent, beside_mm: float) -> float:
    """Height of what stands over the title block [mm]: revision table, and `beside_mm` above it."""
    return max(table_height_mm(content.drawing.revisions) + beside_mm, SCALE_HEIGHT_MM)


def places(
    content: PlanContent, legend: Sequence[Entry], notes: Sequence[Note], beside_mm: float
) -> list[Arrangement]:
    """Return the ways to arrange a sheet; InputError where none leaves room for a window."""
    panel = Panel(tuple(legend), (*notes, *sheet_notes(content)), SPARE_LINES)
    name = content.drawing.sheet
    found = arrangements(name, panel, stack_height_mm(content, beside_mm))
    if not found:
        problem = Problem(
            "estate.toml",
            "a sheet that holds legend, notes and cautions beside a drawing",
            field="[drawing] sheet",
            value=name,
            fix="take a larger sheet, here or with --sheet",
        )  # fmt: skip
        raise InputError([problem])
    return found


def largest_window(found: Sequence[Arrangement]) -> Arrangement:
    """Return the arrangement that leaves the largest window; a sheet lies where it can, as plans mostly do."""
    lying = [place for place in found if place.sheet.width > place.sheet.height]
    return max(lying or found, key=lambda place: place.window.width * place.window.height)


def cells_of(window: Box, width_mm: float, height_mm: float) -> list[Box]:
    """Return a window cut into equal cells, none smaller than asked where it has room, row by row from the top."""
    columns = max(1, int(window.width // width_mm))
    rows = max(1, int(window.height // height_mm))
    width, height = window.width / columns, window.height / rows
    return [
        Box(window.x + c * width, window.top - (r + 1) * height, width, height)
        for r in range(rows)
        for c in range(columns)
    ]


def sheet_notes(content: PlanContent) -> list[Note]:
    """Return what stands last on every sheet: a revision that the table lacks, cautions."""
    text = unlisted(content.drawing.revisions, content.estate.revision)
    return [*([Note(text)] if text else []), *cautions_of(content)]


def first_notes(content: PlanContent, texts: Sequence[str]) -> tuple[Note, ...]:
    """Return the notes of a sheet that is no plan: what must be stamped on it, `texts`, and where it comes from."""
    said = [*content.notes, *texts, f"Drawn from input {content.input_hash}."]
    return (Note("Notes", heading=True), *(Note(text) for text in said))


def page_figure(content: PlanContent, page: Page, number: int, count: int) -> "Figure":
    """Return a sheet as a figure; draw it within `drawing_settings`."""
    place = page.place
    figure, axes = blank(place.sheet)
    left_out = page.draw(axes, place)
    draw_window(axes, place.window)
    draw_legend(axes, place.legend, page.legend)
    draw_notes(axes, place.notes, (*page.notes, *left_out, *sheet_notes(content)))
    revisions = content.drawing.revisions
    draw_revisions(axes, place.scale, revisions)
    table_mm = table_height_mm(revisions)
    page.draw_beside(
        axes, Box(place.scale.x, place.scale.y + table_mm, place.scale.width, place.scale.height - table_mm)
    )
    block = title_block_of(
        content, place.sheet.name, page.scale, page.document_type, sheet_number=f"{number} / {count}"
    )
    draw_title_block(axes, place.title, block)
    draw_frame(axes, place.sheet)
    return figure


def say_beside(title: str, text: str) -> Callable[["Axes", Box], None]:
    """Return a drawer that writes what a sheet without a scale is."""

    def draw(axes: "Axes", box: Box) -> None:
        if box.height < LARGE_MM + PAD_MM:
            return
        frame(axes, box, THIN)
        letter(axes, (box.x + PAD_MM, box.top - PAD_MM - LARGE_MM), title, LARGE_MM, bold=True)
        if box.height >= LARGE_MM + SMALL_MM + 3 * PAD_MM:
            letter(axes, (box.x + PAD_MM, box.top - 2 * PAD_MM - LARGE_MM - SMALL_MM), text, SMALL_MM)

    return draw
