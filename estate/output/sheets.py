"""The pack of drawings: plan sheets, insets, sections, block diagram and profiles of one result."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from estate.output.block_diagram import diagram_pages
from estate.output.block_diagram_content import diagram_of
from estate.output.drawing import plan_content, with_cable_numbers
from estate.output.ink import drawing_settings, save_pages
from estate.output.numbering import with_numbers
from estate.output.plan_content import PlanContent
from estate.output.profile_content import profiles_of
from estate.output.profile_sheet import profile_pages
from estate.output.result import Result
from estate.output.sections_content import sections_of
from estate.output.sections_sheet import section_pages
from estate.output.sheets_marks import SectionMark
from estate.output.sheets_page import Page, page_figure
from estate.output.sheets_plan import plan_pages

if TYPE_CHECKING:
    from matplotlib.figure import Figure

STEM = "sheet"
PACK = "plan.pdf"


def draw_sheets(result: Result, folder: Path) -> list[Path]:
    """Write plan.pdf, one page a sheet, and each sheet as sheet-01.svg and sheet-01.png, into an existing folder.

    Raises InputError where the sheet that is set has no room. Writes nothing where there is nothing to draw.
    """
    result = with_numbers(result)
    content = with_cable_numbers(plan_content(result), result)
    with drawing_settings():
        return write_pages(content, sheet_pages(result, content), folder)


def write_pages(content: PlanContent, pages: Sequence[Page], folder: Path) -> list[Path]:
    """Number the sheets and write them; draw them within `drawing_settings`."""
    if not pages:
        return []
    stems = [f"{STEM}-{number:02}" for number in range(1, len(pages) + 1)]
    subject = f"input {content.input_hash}"
    return save_pages(_figures(content, pages), folder, PACK, stems, content.estate.title, subject)


def sheet_pages(result: Result, content: PlanContent) -> list[Page]:
    """Return all sheets in the order of their numbers."""
    sections = sections_of(result)
    marks = [SectionMark(section.number, section.segment) for section in sections]
    return [
        *plan_pages(content, marks),
        *section_pages(content, sections),
        *diagram_pages(content, diagram_of(result)),
        *profile_pages(content, profiles_of(result)),
    ]


def _figures(content: PlanContent, pages: Sequence[Page]) -> Iterator["Figure"]:
    for number, page in enumerate(pages, 1):
        yield page_figure(content, page, number, len(pages))


def as_drawn(result: Result, sheet: str | None, scale: int | None) -> Result:
    """Return a result with another sheet size or scale in place of those of estate.toml."""
    asked = {"sheet": sheet, "scale": scale}
    return replace(result, drawing={**result.drawing, **{k: v for k, v in asked.items() if v is not None}})
