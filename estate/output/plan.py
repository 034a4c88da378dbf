"""The plan: one true-to-scale sheet as PDF, SVG and PNG."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from estate.errors import InputError, Problem
from estate.output.ink import blank, drawing_settings, frame, letter, save
from estate.output.lettering import MEDIUM_MM, MISSING, printable, width_mm
from estate.output.panel import Arrangement, Note, Panel, arrangements, draw_legend, draw_notes, draw_scale
from estate.output.plan_content import Bounds, PlanContent, View, drawn, on_paper
from estate.output.plan_labels import Lettering, draw_labels, separations, set_labels
from estate.output.plan_layers import draw_layers, grid_step_m, legend_of
from estate.output.scales import Box, fits, largest_scale
from estate.output.sheet import TitleBlock, draw_frame, draw_title_block, draw_window
from estate.output.sheets_north import north_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["PlanContent", "draw_plan", "plan_figure"]

MARGIN_MM = 9.0
"""Room between the estate and the edge of the window, for labels and coordinates."""

SPARE_LINES = 6
"""Lines kept beside the plan for what found no room on it."""

OVERVIEW = "At 1 : {} the plan takes several sheets: those of plan.pdf (estate draw)."
NOTHING_DRAWN = "No drawn routes: nothing to draw to scale."


def draw_plan(content: PlanContent, folder: Path) -> list[Path]:
    """Write map.pdf, map.svg and map.png into an existing folder.

    Raises InputError where the estate doesn't fit the sheet at any usual scale.
    """
    with drawing_settings():
        return save(plan_figure(content), folder, "map", content.estate.title)


def plan_figure(content: PlanContent) -> "Figure":
    """Return the plan as a figure of the sheet's size; draw it within `drawing_settings`."""
    bounds = content.bounds()
    panel = Panel(legend_of(content), (*notes_of(content), *cautions_of(content)), SPARE_LINES)
    place, scale = choose_arrangement(content, panel, bounds)
    figure, axes = blank(place.sheet)
    lettering = Lettering()
    step = None
    wanted = content.drawing.scale
    overview = [Note(OVERVIEW.format(wanted))] if wanted not in (None, scale) else []
    if bounds is not None and scale is not None:
        middle = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
        view = View(scale, middle, place.window)
        lettering, step = _draw_window(axes, content, view), grid_step_m(view)
    if not content.has_routes:
        _say_nothing_drawn(axes, place.window)
    draw_window(axes, place.window)
    draw_legend(axes, place.legend, panel.legend)
    draw_notes(
        axes,
        place.notes,
        (*notes_of(content), *left_out_notes(lettering.left_out), *overview, *cautions_of(content)),
    )
    draw_scale(axes, place.scale, scale, scale_texts(content, scale, step))
    draw_title_block(axes, place.title, title_block_of(content, place.sheet.name, scale_text(scale)))
    draw_frame(axes, place.sheet)
    return figure


def choose_arrangement(
    content: PlanContent, panel: Panel, bounds: Bounds | None
) -> tuple[Arrangement, int | None]:
    """Choose how the sheet is arranged, and its scale: the one that is set where it fits, else the largest that does.

    The scale is None where nothing has a place. Raises InputError where no usual scale fits.
    """
    name, wanted = content.drawing.sheet, content.drawing.scale
    options = arrangements(name, panel)
    if not options:
        raise InputError([_too_small(name, "legend and cautions")])
    if bounds is None:
        return options[0], None
    extent = _extent(bounds)
    if wanted is not None:
        fitting = [o for o in options if fits(extent, _room(o), wanted)]
        if fitting:
            return fitting[0], wanted
    scaled = [(scale, n) for n, o in enumerate(options) if (scale := largest_scale(extent, _room(o)))]
    if not scaled:
        raise InputError([_too_small(name, "the estate at any usual scale")])
    scale, chosen = min(scaled)
    return options[chosen], scale


def _extent(bounds: Bounds) -> tuple[float, float]:
    return bounds[2] - bounds[0], bounds[3] - bounds[1]


def _room(place: Arrangement) -> tuple[float, float]:
    """Width and height [mm] that the estate may take."""
    inner = place.window.shrunk(MARGIN_MM)
    return inner.width, inner.height


def _too_small(name: str, what: str) -> Problem:
    return Problem(
        "estate.toml",
        f"a sheet that holds {what}",
        field="[drawing] sheet",
        value=name,
        fix="take a larger sheet",
    )


def _draw_window(axes: "Axes", content: PlanContent, view: View) -> Lettering:
    """Draw layers and labels into the plan window."""
    sheet_content = on_paper(content, view)
    draw_layers(axes, sheet_content, view)
    lettering = set_labels(sheet_content, view.window)
    places = sheet_content.places()
    draw_labels(axes, lettering, places[np.isfinite(places).all(axis=1)])
    return lettering


def _say_nothing_drawn(axes: "Axes", window: Box) -> None:
    x, y = window.x + window.width / 2, window.top - 12.0
    half = width_mm(NOTHING_DRAWN, MEDIUM_MM) / 2 + 2.0
    frame(axes, Box(x - half, y - 2.0, 2 * half, MEDIUM_MM + 4.0), 0.0, face="#ffffff", zorder=7.0)
    letter(axes, (x, y), NOTHING_DRAWN, MEDIUM_MM, align="center")


def notes_of(content: PlanContent) -> list[Note]:
    """Notes that are known before anything is drawn."""
    texts = [*content.notes]
    if content.counts:
        counted = "; ".join(f"{what} {number}" for what, number in content.counts)
        texts.append(counted[0].upper() + counted[1:] + ".")
    texts += _reading_notes(content)
    texts += _missing_notes(content)
    if content.input_hash:
        texts.append(f"Drawn from input {content.input_hash}.")
    return [Note("Notes", heading=True), *(Note(text) for text in texts)]


def _reading_notes(content: PlanContent) -> list[str]:
    """How to read what is written on the plan."""
    texts = ["Set out from dimensions and schedules, not by scaling off this sheet."]
    if content.findings:
        texts.append("Numbers F1, F2, … are those of the register of findings (findings.csv).")
    if content.has_routes:
        cables = " or its cables by number" if len(content.segments.cables) else ""
        texts.append(f"Along a route: segment id · number of links in it{cables} (segments.csv, runs.csv).")
    if len(separations(content)):
        texts.append(
            "“≥ … to mains”: build this proposed segment at least so far from mains cables; ×3: so three segments here."
        )
    if "junction" in set(content.points.kind):
        texts.append("Ids of junctions are in segments.csv.")
    return texts


def _missing_notes(content: PlanContent) -> list[str]:
    """What can't be shown, so that nothing is left out in silence."""
    texts = []
    schematic = len(content.segments.geometry) - len(drawn(content.segments.geometry))
    if schematic and content.has_routes:
        texts.append(f"Segments without drawn geometry, not shown: {schematic}.")
    unplaced = int((~np.isfinite(content.places()).all(axis=1)).sum())
    if unplaced:
        texts.append(f"Points without coordinates, not shown: {unplaced}.")
    nowhere = [f.id for f in content.findings if not np.isfinite([f.x, f.y]).all()]
    if nowhere:
        texts.append(f"Findings that have no one place: {len(nowhere)} ({', '.join(nowhere[:12])}"
                     + (", …)." if len(nowhere) > 12 else ")."))  # fmt: skip
    names = (*content.points.id, *content.segments.id, *content.buildings.name, content.estate.title)
    if any(MISSING in printable(str(name or "")) for name in names):
        texts.append(f"{MISSING} stands for a character that the lettering hasn't got.")
    return texts


def left_out_notes(left_out: Mapping[str, int]) -> list[Note]:
    """Say how many texts of each sort found no room."""
    if not left_out:
        return []
    parts = ", ".join(f"{what} {count}" for what, count in sorted(left_out.items()))
    return [Note(f"Not written for want of room: {parts}. The schedules have them all.")]


def cautions_of(content: PlanContent) -> list[Note]:
    """Return the cautions, which stand on every sheet."""
    if not content.cautions:
        return []
    return [Note("Cautions", heading=True), *(Note(text) for text in content.cautions)]


def scale_texts(content: PlanContent, scale: int | None, step: float | None) -> list[str]:
    """Return the lines beside the scale bar."""
    if scale is None or step is None:
        return [NOTHING_DRAWN]
    crs = content.crs or "local coordinates of the survey"
    north = north_text(content.true_north_deg, content.crs)
    return [f"Coordinates: {crs}, in metres; crosses every {step:g} m. {north}"]


def scale_text(scale: int | None) -> str:
    """Write a scale.

    >>> scale_text(500), scale_text(None)
    ('1 : 500', 'none')
    """
    return "none" if scale is None else f"1 : {scale}"


def title_block_of(
    content: PlanContent, sheet_size: str, scale: str, document_type: str = "", sheet_number: str = "1 / 1"
) -> TitleBlock:
    """Return the title block of a sheet; without `document_type` that of estate.toml."""
    estate, drawing = content.estate, content.drawing
    return TitleBlock(
        owner=drawing.owner,
        client=estate.client,
        status=estate.status,
        title=estate.title,
        document_type=document_type or drawing.document_type,
        creator=drawing.creator,
        approved_by=drawing.approved_by,
        date=estate.date,
        scale=scale,
        sheet_size=sheet_size,
        number=estate.number,
        revision=estate.revision,
        crs=content.crs or "local",
        sheet_number=sheet_number,
    )
