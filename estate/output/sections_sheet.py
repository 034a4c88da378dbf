"""Sheets of sections: trench, duct, tray or wall with the cables in it, true to scale."""

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from estate.output.ink import frame, letter, shade, stroke
from estate.output.lettering import MEDIUM_MM, SMALL_MM, line_pitch_mm, shortened, wrapped
from estate.output.panel import PAD_MM, Arrangement, Entry, Note
from estate.output.plan_content import PlanContent
from estate.output.scales import Box
from estate.output.sections_content import CableInWay, Section
from estate.output.sections_packing import Bore, Circle, Trough, packed
from estate.output.sheets_page import (
    BESIDE_MM,
    Page,
    cells_of,
    first_notes,
    largest_window,
    places,
    say_beside,
)
from estate.output.symbols import BLACK, GREY, MIDDLE, NARROW, THIN, Area, Line, Symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DOCUMENT_TYPE = "Sections"
CELL_WIDTH_MM, CELL_HEIGHT_MM = 95.0, 80.0
DETAIL_SCALES = (1, 2, 5, 10, 20)
TRENCH_SCALES = (20, 50, 100)
"""1 : n. 1 : 10 and 1 : 20 are usual for trenches (common practice, no source)."""

TRENCH_MM = 36.0
"""Room for the trench."""

FAMILY_SYMBOLS = {
    "coax": Symbol((("circle", 2.4, "none"), ("dot", 0.9, "full"))),
    "pair": Symbol((("circle", 2.4, "none"), ("x", 1.5, "none"))),
    "fibre": Symbol((("circle", 2.4, "full"),)),
    "power": Symbol((("circle", 2.4, "lower"),), GREY),
}
_FAMILY_WORDS = {
    "coax": "coaxial cable",
    "pair": "data or video pairs",
    "fibre": "fibre cable",
    "power": "power pair",
}
_GROUND = Area("////", GREY, 0.0, "none")
_WALL = Line(MIDDLE, BLACK)
_TEXTS = (
    "S1, S2, …: where a section is cut is marked on the plan with its number.",
    (
        "Details are to the scale that they bear; cables lie as low as they can. In several ways they are spread in the "
        "order of their numbers, each way up to its fill: how they are parted is chosen on site."
    ),
    "Other cables that lie there are not drawn; their share of the room is told.",
    (
        "Get service plans, locate with a detector, dig trial holes by hand; no machine within 0.5 m of a service. Cover, "
        "bed, tape and reinstatement by local rules."
    ),
)


def section_pages(content: PlanContent, sections: Sequence[Section]) -> list[Page]:
    """Return the sheets of all sections, none where no route is shared."""
    if not sections:
        return []
    legend = tuple(
        Entry(words, FAMILY_SYMBOLS[family])
        for family, words in _FAMILY_WORDS.items()
        if any(cable.family == family for section in sections for cable in section.cables)
    )
    notes = first_notes(content, _TEXTS)
    place = largest_window(places(content, legend, notes, BESIDE_MM))
    cells = cells_of(place.window, CELL_WIDTH_MM, CELL_HEIGHT_MM)
    return [
        _page(sections[n : n + len(cells)], cells, place, legend, notes)
        for n in range(0, len(sections), len(cells))
    ]


def _page(
    sections: Sequence[Section],
    cells: Sequence[Box],
    place: Arrangement,
    legend: tuple[Entry, ...],
    notes: tuple[Note, ...],
) -> Page:
    def draw(axes: "Axes", _place: Arrangement) -> Sequence[Note]:
        for section, cell in zip(sections, cells, strict=False):
            _draw_section(axes, cell, section)
        return ()

    beside = say_beside("Sections of shared ways", "Each detail bears its scale.")
    return Page(DOCUMENT_TYPE, "as shown", place, legend, notes, draw, beside)


def _draw_section(axes: "Axes", cell: Box, section: Section) -> None:
    """Draw one section: head, detail, trench where it lies in the ground, and words."""
    frame(axes, cell, THIN)
    state = "to be built" if section.is_proposed else "existing"
    head = f"{section.number}: {section.segment}, {section.containment}, {state}"
    at = (cell.x + PAD_MM, cell.top - PAD_MM - MEDIUM_MM)
    letter(axes, at, shortened(head, cell.width - 2 * PAD_MM, MEDIUM_MM, bold=True), MEDIUM_MM, bold=True)
    top = cell.top - 2 * PAD_MM - MEDIUM_MM
    rows = section_words(section)
    lines = [row for text in rows for row in wrapped(text, cell.width - 2 * PAD_MM, SMALL_MM)]
    pitch = line_pitch_mm(SMALL_MM)
    most = int((cell.height - 3 * PAD_MM - MEDIUM_MM - 24.0) // pitch)
    if len(lines) > most:
        lines = [*lines[: most - 1], "… the rest is in runs.csv and segments.csv"]
    room = Box(cell.x + PAD_MM, cell.y + PAD_MM + len(lines) * pitch, cell.width - 2 * PAD_MM, 0.0)
    room = Box(room.x, room.y, room.width, top - room.y)
    unfit = _draw_detail(axes, room, section)
    if section.is_below_ground:
        _draw_trench(axes, Box(room.right - TRENCH_MM, room.y, TRENCH_MM, room.height), section)
    if unfit:
        lines = [*lines[:-1], f"{unfit} cables find no room as drawn: {lines[-1]}"] if lines else lines
    for number, text in enumerate(lines):
        y = cell.y + PAD_MM + (len(lines) - 1 - number) * pitch
        letter(axes, (cell.x + PAD_MM, y), text, SMALL_MM)


def section_words(section: Section) -> list[str]:
    """Return what is written under a section: size and fill, mains beside, cables by type with their numbers."""
    facts = section.facts
    words = [_size_words(section)]
    if section.is_below_ground:
        depth = "depth not given" if facts["depth_mm"] is None else f"depth {facts['depth_mm']:g} mm"
        words.append(f"{depth}; surface {facts['surface'] or 'not given'}")
    words.append(_fill_words(section))
    words += [f"mains beside: {each}" for each in section.mains[:2]]
    if len(section.mains) > 2:
        words.append(f"and {len(section.mains) - 2} more mains runs beside (proximity.csv)")
    by_type: dict[str, list[CableInWay]] = {}
    for cable in section.cables:
        by_type.setdefault(cable.cable, []).append(cable)
    for name, cables in by_type.items():
        size = " (size not known, not drawn)" if cables[0].od_mm is None else f" ⌀ {cables[0].od_mm:g} mm"
        words.append(f"{len(cables)} × {name}{size}: {', '.join(cable.number for cable in cables)}")
    if section.alike:
        words.append(f"the same in {', '.join(section.alike)}")
    return words


def _size_words(section: Section) -> str:
    facts = section.facts
    parts = []
    if facts["bore_mm"] is not None:
        parts.append(f"{facts['ways'] or 1:g} × bore {facts['bore_mm']:g} mm")
    if facts["area_mm2"] is not None:
        parts.append(f"{facts['area_mm2']:g} mm² inside, drawn square")
    if facts["width_mm"] is not None:
        parts.append(f"width {facts['width_mm']:g} mm")
    return "; ".join(parts) or "size not given"


def _fill_words(section: Section) -> str:
    facts = section.facts
    taken = facts["taken_percent"]
    there = "what else lies there is not known" if taken is None else f"other cables {taken:.1f} % of it"
    if section.fill_percent is None:
        return f"fill not known: {there}" if taken is None else "fill not known"
    limit = facts["fill_limit_percent"]
    allowed = "" if limit is None else f" of {limit:g} % allowed"
    return f"fill {section.fill_percent:.1f} %{allowed}, {there}"


def _draw_detail(axes: "Axes", room: Box, section: Section) -> int:
    """Draw the containment with its cables, and say how many find no room."""
    shapes = _laid(section)
    width = sum(shape.width for shape in shapes) + 4.0 * (len(shapes) - 1)
    height = max(shape.height for shape in shapes)
    across = room.width - (TRENCH_MM + PAD_MM if section.is_below_ground else 0.0)
    fitting = (s for s in DETAIL_SCALES if width / s <= across and height / s <= room.height - 4.0)
    scale = next(fitting, DETAIL_SCALES[-1])
    x = room.x + (across - width / scale) / 2
    base = room.y + 4.0 + (room.height - 4.0 - height / scale) / 2
    unfit = 0
    for shape in shapes:
        middle = (x + shape.width / scale / 2, base + (shape.below / scale))
        shape.draw(axes, middle, scale)
        unfit += shape.unfit
        x += (shape.width + 4.0) / scale
    letter(axes, (room.x + across / 2, room.y), f"1 : {scale}", SMALL_MM, align="center")
    return unfit


class _Shape:
    """One way with the cables in it; sizes in millimetres of the thing itself."""

    def __init__(self, inside: Bore | Trough | None, cables: Sequence[CableInWay], kind: str) -> None:
        self.inside, self.cables, self.kind = inside, cables, kind
        diameters = [cable.od_mm or 0.0 for cable in cables]
        space = inside if inside is not None else Trough(sum(diameters) + 4.0)
        self.circles = packed(diameters, space)
        self.unfit = sum(circle is None for circle in self.circles)
        tops = [c.y + c.r for c in self.circles if c is not None]
        if isinstance(space, Bore):
            self.width = self.height = 2 * space.radius + 4.0
            self.below = space.radius + 2.0
        else:
            rim = space.height if math.isfinite(space.height) else 25.0 if kind in ("tray", "basket") else 0.0
            self.width = space.width + 2.0
            self.height = max([rim, *tops]) + 4.0
            self.below = 3.0
        self.space = space

    def draw(self, axes: "Axes", origin: tuple[float, float], scale: float) -> None:
        """Draw walls and cables about an origin on the sheet [mm]."""
        for part in self._walls():
            stroke(axes, np.asarray(origin) + np.asarray(part) / scale, _WALL, zorder=2.5)
        for cable, circle in zip(self.cables, self.circles, strict=True):
            if circle is not None:
                draw_cable(axes, cable.family, circle, origin, scale)

    def _walls(self) -> Iterable[list[tuple[float, float]]]:
        if isinstance(self.space, Bore):
            turns = np.linspace(0.0, 2 * math.pi, 73)
            yield [(self.space.radius * math.cos(t), self.space.radius * math.sin(t)) for t in turns]
            return
        half, rim = self.space.width / 2, self.space.height
        if math.isfinite(rim):
            yield [(-half, 0.0), (half, 0.0), (half, rim), (-half, rim), (-half, 0.0)]
        elif self.kind in ("tray", "basket"):
            yield [(-half, 25.0), (-half, 0.0), (half, 0.0), (half, 25.0)]
        elif self.kind == "surface":
            yield [(-half, 0.0), (half, 0.0)]


def _laid(section: Section) -> list[_Shape]:
    """Spread the cables of a section whose size is known over its ways."""
    facts, kind = section.facts, section.containment
    cables = [cable for cable in section.cables if cable.od_mm is not None]
    if facts["bore_mm"] is not None:
        bore = Bore(facts["bore_mm"] / 2)
        ways = int(facts["ways"] or 1)
        parts = _spread(cables, bore, ways, facts["fill_limit_percent"])
        return [_Shape(bore, part, kind) for part in parts]
    if facts["area_mm2"] is not None:
        side = math.sqrt(facts["area_mm2"])
        return [_Shape(Trough(side, side), cables, kind)]
    if facts["width_mm"] is not None:
        return [_Shape(Trough(facts["width_mm"]), cables, kind)]
    return [_Shape(None, cables, kind)]


def _spread(
    cables: Sequence[CableInWay], bore: Bore, ways: int, limit_percent: float | None
) -> list[list[CableInWay]]:
    """Fill the ways one after another, each up to its fill; what is left over goes into the last."""
    parts: list[list[CableInWay]] = [[]]
    room = (limit_percent or 100.0) / 100 * bore.radius**2
    taken = 0.0
    for cable in cables:
        own = ((cable.od_mm or 0.0) / 2) ** 2
        if parts[-1] and taken + own > room and len(parts) < ways:
            parts.append([])
            taken = 0.0
        parts[-1].append(cable)
        taken += own
    return [*parts, *([] for _ in range(ways - len(parts)))]


def draw_cable(axes: "Axes", family: str, circle: Circle, origin: tuple[float, float], scale: float) -> None:
    """Draw one cable's cross-section with the figure of its family."""
    x, y, r = origin[0] + circle.x / scale, origin[1] + circle.y / scale, circle.r / scale
    disc = shapely.Point(x, y).buffer(r, quad_segs=12)
    fibre = family == "fibre"
    shade(
        axes, [disc], Area("", BLACK, NARROW if r > 0.8 else THIN, BLACK if fibre else "#ffffff"), zorder=3.0
    )
    if family == "coax":
        shade(axes, [shapely.Point(x, y).buffer(0.35 * r)], Area("", BLACK, 0.0, BLACK), zorder=3.1)
    elif family == "pair":
        arm = 0.6 * r
        cross = np.array(
            [[x - arm, y - arm], [x + arm, y + arm], [np.nan, np.nan], [x - arm, y + arm], [x + arm, y - arm]]
        )
        stroke(axes, cross, Line(THIN, BLACK), zorder=3.1)
    elif family == "power":
        lower = disc.intersection(shapely.box(x - r, y - r, x + r, y))
        shade(axes, [lower], Area("", BLACK, THIN, GREY), zorder=3.1)


def _draw_trench(axes: "Axes", room: Box, section: Section) -> None:
    """Draw the ground with the way in it: depth to its top, and what the surface is."""
    facts = section.facts
    depth, bore = facts["depth_mm"], facts["bore_mm"]
    shown = depth if depth is not None else 600.0
    size = bore or 50.0
    below = shown + size + 100.0
    scale = next((s for s in TRENCH_SCALES if below / s <= room.height - 9.0), TRENCH_SCALES[-1])
    ground = room.top - 4.0
    bottom = max(ground - below / scale, room.y + 4.0)
    half = min(150.0 / scale * 2, room.width / 2 - 8.0)
    x = room.x + room.width / 2 - 3.0
    soil = shapely.box(x - half - 4.0, bottom - 2.0, x + half + 4.0, ground)
    trench = shapely.box(x - half, bottom, x + half, ground)
    shade(axes, [shapely.difference(soil, trench)], _GROUND, zorder=1.2)
    stroke(axes, np.array([[x - half - 6.0, ground], [x + half + 6.0, ground]]), _WALL)
    edge = [[x - half, ground], [x - half, bottom], [x + half, bottom], [x + half, ground]]
    stroke(axes, np.array(edge), Line(THIN, BLACK))
    ways = int(facts["ways"] or 1)
    pitch = (size + 20.0) / scale
    top = ground - shown / scale
    for way in range(ways):
        at = x + (way - (ways - 1) / 2) * pitch
        ring = shapely.Point(at, top - size / 2 / scale).buffer(size / 2 / scale)
        shade(axes, [ring], Area("", BLACK, NARROW, "#ffffff"), zorder=2.6)
    mark = x + half + 2.0
    stroke(axes, np.array([[mark, ground], [mark, top]]), Line(THIN, BLACK))
    for y in (ground, top):
        stroke(axes, np.array([[mark - 1.0, y - 0.6], [mark + 1.0, y + 0.6]]), Line(THIN, BLACK))
    text = "depth ?" if depth is None else f"{depth:g}"
    letter(axes, (mark + 2.2, (ground + top) / 2 - SMALL_MM), text, SMALL_MM, angle_deg=90)
    letter(axes, (x, ground + 1.2), str(facts["surface"] or "surface ?"), SMALL_MM, align="center")
    note = f"1 : {scale}" if depth is not None else "not to scale"
    letter(axes, (x, room.y), note, SMALL_MM, align="center")
