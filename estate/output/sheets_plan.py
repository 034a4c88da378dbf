"""Plan sheets and sheets of insets: the same layers and labels as the plan on one sheet, spread over several."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.output.ink import frame, letter, lines, stroke
from estate.output.labels import Label
from estate.output.lettering import MEDIUM_MM, SMALL_MM, shortened, width_mm
from estate.output.panel import PAD_MM, Arrangement, Entry, Note, draw_scale, scale_bar
from estate.output.plan import left_out_notes, notes_of, scale_text, scale_texts
from estate.output.plan_content import Bounds, PlanContent, View, on_paper
from estate.output.plan_labels import Mark, draw_labels, set_labels
from estate.output.plan_layers import draw_layers, grid_step_m, legend_of
from estate.output.scales import Box
from estate.output.sheets_clip import clipped
from estate.output.sheets_inset_room import insets_on_plan
from estate.output.sheets_insets import HEAD_MM, Inset, crowded_places, insets, sized_places
from estate.output.sheets_key_plan import Outline, draw_key_plan
from estate.output.sheets_marks import (
    INSET_LINE,
    MATCH_LINE,
    SECTION_SAMPLE,
    SectionMark,
    inset_mark,
    match_label,
    section_mark,
    section_stroke,
)
from estate.output.sheets_page import Page, places
from estate.output.sheets_tiles import OVERLAP_MM, Tiling, tiling
from estate.output.symbols import MIDDLE, THIN

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SCALE_WIDTH_MM = 115.0
KEY_HEIGHT_MM = 32.0
BAR_HEIGHT_MM = 24.0
INSETS = "insets"


@dataclass(frozen=True)
class PlanSheets:
    """How a plan is laid out on sheets; they are the first of the pack."""

    content: PlanContent
    tiles: Tiling
    place: Arrangement
    on_plan: tuple[tuple[Inset, ...], ...]
    """Insets on the plan sheets, sheet by sheet."""
    inset_pages: tuple[tuple[Inset, ...], ...]
    """Insets on sheets of their own, after the plan sheets."""
    marks: tuple[SectionMark, ...]

    @property
    def insets(self) -> dict[int, Inset]:
        """All insets, by the number that their sheet has and in its order."""
        return {i.number: i for page in (*self.on_plan, *self.inset_pages) for i in page}

    def sheet_of_inset(self, number: int) -> int:
        """Return the number of the sheet that shows an inset."""
        pages = enumerate((*self.on_plan, *self.inset_pages), 1)
        return next(n for n, page in pages if any(inset.number == number for inset in page))


def plan_pages(content: PlanContent, marks: Sequence[SectionMark]) -> list[Page]:
    """Return the plan sheets and then the sheets of insets; none where nothing has a place."""
    sheets = _laid_out(content, marks)
    if sheets is None:
        return []
    return [
        *(_plan_page(sheets, n) for n in range(len(sheets.tiles.tiles))),
        *(_inset_page(sheets, page) for page in sheets.inset_pages),
    ]


def _laid_out(content: PlanContent, marks: Sequence[SectionMark]) -> PlanSheets | None:
    """Choose the arrangement that takes the fewest sheets at the largest scale, and set the insets."""
    legend = _legend(
        content, [legend_of(content)], with_insets=True, with_marks=bool(marks), with_matches=True
    )
    options = []
    for beside_mm, one in ((BAR_HEIGHT_MM, True), (KEY_HEIGHT_MM, False)):
        for order, place in enumerate(places(content, legend, notes_of(content), beside_mm)):
            tiles = tiling(content, place.window, content.drawing.scale)
            if tiles is None:
                return None
            if (len(tiles.tiles) == 1) is one:
                options.append(((len(tiles.tiles), tiles.scale, order), tiles, place))
    _, tiles, place = min(options, key=lambda option: option[0])
    sized = sized_places(crowded_places(content, tiles.scale), place.window, tiles.scale)
    on_plan, left = insets_on_plan(content, tiles, sized)
    pages = insets(left, place.window, 1 + len(sized) - len(left))
    return PlanSheets(
        content, tiles, place, tuple(map(tuple, on_plan)), tuple(map(tuple, pages)), tuple(marks)
    )


def _legend(
    content: PlanContent,
    shown: Sequence[Sequence[Entry]],
    *,
    with_insets: bool,
    with_marks: bool,
    with_matches: bool,
) -> tuple[Entry, ...]:
    """Return the legend of what is shown, in the order of the whole estate's."""
    known = {entry for entries in shown for entry in entries}
    own = [entry for entry in legend_of(content) if entry in known]
    if with_matches:
        own.append(Entry("match line between sheets", MATCH_LINE))
    if with_insets:
        own.append(Entry("outline of an inset", INSET_LINE))
    if with_marks:
        own.append(Entry("section, by number", SECTION_SAMPLE))
    return tuple(own)


def _plan_page(sheets: PlanSheets, number: int) -> Page:
    """Return one plan sheet; `number` counts from 0."""
    tile, window = sheets.tiles.tiles[number], sheets.place.window
    paper = clipped(on_paper(sheets.content, tile.view), window)
    neighbours = sheets.tiles.neighbours(number)
    inside = [i for i in sheets.insets.values() if _overlap(i.bounds, tile.view.edges_m())]
    drawings = [_InsetDrawing.of(sheets, inset) for inset in sheets.on_plan[number]]
    outlines = [_on_sheet(inset.bounds, tile.view) for inset in inside]
    covered = shapely.union_all(outlines)
    marks = [
        (mark, ends)
        for mark, ends in _marks_on(paper, sheets.marks)
        if not shapely.intersects(covered, shapely.Point(*ends.mean(axis=0)))
    ]
    legend = _legend(
        sheets.content,
        [legend_of(paper), *(legend_of(drawing.paper) for drawing in drawings)],
        with_insets=bool(inside),
        with_marks=bool(marks) or any(drawing.marks for drawing in drawings),
        with_matches=bool(neighbours),
    )

    def draw(axes: "Axes", place: Arrangement) -> Sequence[Note]:
        reserved = _draw_matches(axes, place.window, neighbours)
        texts = [*_draw_marks(axes, marks), *_draw_outlines(axes, tile.view, inside, sheets)]
        cells = [drawing.inset.cell for drawing in drawings]
        draw_layers(axes, paper, tile.view, cells)
        reserved += [Label(c.x + c.width / 2, c.y + c.height / 2, c.width, c.height) for c in cells]
        named = _without_names(paper, outlines)
        barred = list(_match_lines(place.window, neighbours).values())
        lettering = set_labels(named, place.window, reserved, texts, barred)
        spots = paper.places()
        draw_labels(axes, lettering, spots[np.isfinite(spots).all(axis=1)])
        left_out = Counter(lettering.left_out)
        for drawing in drawings:
            left_out += drawing.draw(axes)
        return left_out_notes(left_out)

    return Page(
        document_type=sheets.content.drawing.document_type,
        scale=scale_text(sheets.tiles.scale),
        place=sheets.place,
        legend=legend,
        notes=tuple(notes_of(sheets.content)),
        draw=draw,
        draw_beside=_beside(sheets, tile.view, {number}, ()),
    )


@dataclass(frozen=True)
class _InsetDrawing:
    """One inset, ready to be drawn."""

    inset: Inset
    paper: PlanContent
    marks: list[tuple[SectionMark, NDArray[np.float64]]]

    @classmethod
    def of(cls, sheets: PlanSheets, inset: Inset) -> "_InsetDrawing":
        """Return what an inset shows."""
        paper = clipped(on_paper(sheets.content, inset.view), inset.view.window)
        return cls(inset, paper, _marks_on(paper, sheets.marks))

    def draw(self, axes: "Axes") -> Counter[str]:
        """Draw it, and return what found no room there."""
        texts = _draw_marks(axes, self.marks)
        draw_layers(axes, self.paper, self.inset.view)
        lettering = set_labels(self.paper, self.inset.view.window, (), texts)
        spots = self.paper.places()
        draw_labels(axes, lettering, spots[np.isfinite(spots).all(axis=1)])
        _draw_head(axes, self.inset)
        return lettering.left_out


def _inset_page(sheets: PlanSheets, page: Sequence[Inset]) -> Page:
    """Return one sheet of insets."""
    drawings = [_InsetDrawing.of(sheets, inset) for inset in page]
    legend = _legend(
        sheets.content,
        [legend_of(drawing.paper) for drawing in drawings],
        with_insets=False,
        with_marks=any(drawing.marks for drawing in drawings),
        with_matches=False,
    )

    def draw(axes: "Axes", _place: Arrangement) -> Sequence[Note]:
        left_out: Counter[str] = Counter()
        for drawing in drawings:
            left_out += drawing.draw(axes)
        return left_out_notes(left_out)

    document_type = f"{sheets.content.drawing.document_type}: {INSETS}"
    numbers = {inset.number for inset in page}
    return Page(
        document_type=document_type,
        scale="as shown",
        place=sheets.place,
        legend=legend,
        notes=tuple(notes_of(sheets.content)),
        draw=draw,
        draw_beside=_beside(sheets, None, set(), numbers),
    )


def _beside(
    sheets: PlanSheets, view: View | None, here: set[int], inset_numbers: Sequence[int] | set[int]
) -> Callable[["Axes", Box], None]:
    """Return what draws scale bar, north point and key plan over the title block."""

    def draw(axes: "Axes", box: Box) -> None:
        several = len(sheets.tiles.tiles) > 1
        width = SCALE_WIDTH_MM if several or view is None else box.width
        left = Box(box.x, box.y, width, box.height)
        content = sheets.content
        if view is not None:
            draw_scale(axes, left, view.scale, scale_texts(content, view.scale, grid_step_m(view)))
        else:
            texts = ["Each inset has its own scale and bar.", *scale_texts(content, 1, 1.0)]
            draw_scale(axes, left, None, [texts[0], texts[1].replace("; crosses every 1 m", "")])
        if several or view is None:
            tiles = sheets.tiles.tiles if several else ()
            outlines = [Outline(tile.core, str(n + 1), n in here) for n, tile in enumerate(tiles)]
            if view is None:
                every = sheets.insets.values()
                outlines += [Outline(i.bounds, str(i.number), i.number in inset_numbers) for i in every]
            draw_key_plan(axes, Box(left.right, box.y, box.width - width, box.height), content, outlines)

    return draw


def _match_lines(window: Box, neighbours: Mapping[str, int]) -> dict[str, NDArray[np.float64]]:
    """Return the match lines of a sheet [mm] by side."""
    core = window.shrunk(OVERLAP_MM)
    ends = {
        "west": ((core.x, window.y), (core.x, window.top)),
        "east": ((core.right, window.y), (core.right, window.top)),
        "south": ((window.x, core.y), (window.right, core.y)),
        "north": ((window.x, core.top), (window.right, core.top)),
    }
    return {side: np.array(ends[side]) for side in neighbours}


def _draw_matches(axes: "Axes", window: Box, neighbours: Mapping[str, int]) -> list[Label]:
    """Draw the match lines of a sheet, each with the number of the sheet beyond it."""
    labels = []
    for side, ends in _match_lines(window, neighbours).items():
        stroke(axes, ends, MATCH_LINE, zorder=6.0)
        labels.append(match_label(axes, window, side, neighbours[side] + 1))
    return labels


def _draw_outlines(axes: "Axes", view: View, inside: Sequence[Inset], sheets: PlanSheets) -> list[Mark]:
    """Outline the insets on a plan sheet, and return their numbers and sheets, to be written."""
    texts, edge = [], view.window
    window = shapely.box(edge.x, edge.y, edge.right, edge.top)
    for inset in inside:
        shape = _on_sheet(inset.bounds, view)
        lines(axes, [shapely.intersection(shape.exterior, window)], INSET_LINE, zorder=3.2)
        text = f"inset {inset.number}, sheet {sheets.sheet_of_inset(inset.number)}"
        texts.append(inset_mark(edge, shape, text))
    return texts


def _draw_marks(axes: "Axes", marks: Sequence[tuple[SectionMark, NDArray[np.float64]]]) -> list[Mark]:
    """Draw the strokes of sections, and return their numbers, to be written."""
    for _, ends in marks:
        section_stroke(axes, ends)
    return [section_mark(ends, mark.number) for mark, ends in marks]


def _marks_on(
    paper: PlanContent, marks: Sequence[SectionMark]
) -> list[tuple[SectionMark, NDArray[np.float64]]]:
    """Return the sections cut on a sheet, with the ends of their strokes [mm]."""
    rows = {str(name): row for row, name in enumerate(paper.segments.id)}
    found = []
    for mark in marks:
        line = paper.segments.geometry[rows[mark.segment]] if mark.segment in rows else None
        if line is not None and (ends := mark.across(line)) is not None:
            found.append((mark, ends))
    return found


def _draw_head(axes: "Axes", inset: Inset) -> None:
    """Write number, name and scale over an inset, with a bar of its own."""
    cell = inset.cell
    frame(axes, cell, MIDDLE, zorder=6.4)
    head = Box(cell.x, cell.top - HEAD_MM, cell.width, HEAD_MM)
    frame(axes, head, THIN)
    bar_mm = min(50.0, cell.width / 3)
    scale_bar(axes, head.right - bar_mm - 8.0, head.y + 1.2, bar_mm, inset.view.scale)
    text = f"Inset {inset.number}: {inset.name}, {scale_text(inset.view.scale)}"
    room = head.width - bar_mm - 14.0
    height = MEDIUM_MM if width_mm(text, MEDIUM_MM, bold=True) <= room else SMALL_MM
    at = (head.x + PAD_MM, head.y + (HEAD_MM - height) / 2)
    letter(axes, at, shortened(text, room, height, bold=True), height, bold=True)


def _without_names(paper: PlanContent, outlines: Sequence[shapely.Polygon]) -> PlanContent:
    """Take the ids of what an inset shows: they are written there. Recorders keep theirs."""
    if not outlines:
        return paper
    area = shapely.union_all(outlines)
    xy = np.nan_to_num(paper.places(), nan=-1.0)
    covered = shapely.contains_xy(area, xy[:, 0], xy[:, 1])
    ids = [
        "" if hidden and kind != "recorder" else name
        for name, kind, hidden in zip(paper.points.id, paper.points.kind, covered, strict=True)
    ]
    names = [
        "" if line is not None and shapely.contains(area, line) else name
        for name, line in zip(paper.segments.id, paper.segments.geometry, strict=True)
    ]
    return replace(paper, points=replace(paper.points, id=ids), segments=replace(paper.segments, id=names))


def _on_sheet(bounds: Bounds, view: View) -> shapely.Polygon:
    return shapely.transform(shapely.box(*bounds), view.to_paper)


def _overlap(first: Bounds, second: Bounds) -> bool:
    return bool(shapely.box(*first).intersects(shapely.box(*second)))
