"""What is written on a plan: numbers of findings, ids and names, set where there is room."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.findings import Finding, Severity
from estate.output.ink import Floats, letter, shade, sleeve_lines, stroke
from estate.output.labels import Label, Occupancy, clusters, corners, place_along, place_around
from estate.output.lettering import MEDIUM_MM, SMALL_MM, line_pitch_mm, printable, width_mm
from estate.output.panel import balloon_size, draw_balloon
from estate.output.plan_content import PlanContent, drawn
from estate.output.plan_layers import point_keys
from estate.output.scales import Box
from estate.output.symbols import BALLOONS, BLACK, THIN, UPLINK_SLEEVES, Area, Line, point_symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SHARED_BALLOON_MM = 5.0
"""Findings nearer than this share one balloon."""

SHARED_NOTE_MM = 12.0
"""Segments nearer than this share one note of the same separation."""

NUMBERS_PER_ROW, NUMBERS_PER_BALLOON = 4, 16
CABLES_ALONG = 2
"""As many cable numbers are written along a segment; of more, only how many links it carries."""

EDGE_TEXT_MM = 4.0
"""Edge of the window where the coordinates stand."""

_BALLOON_RINGS = (5.0, 8.0, 12.0, 17.0, 23.0, 30.0, 40.0, 55.0)
_LABEL_RINGS = (0.6, 3.5, 6.0, 9.0, 13.0, 18.0)
_RECORDER_RINGS = (0.6, 3.5, 6.0, 9.0, 13.0, 18.0, 25.0, 35.0)
_NOTE_RINGS = (3.0, 6.0, 10.0, 16.0, 24.0, 34.0, 46.0)
_BUILDING_RINGS = (-2.0, 0.0, 3.0, 6.0, 10.0, 15.0, 22.0, 30.0, 40.0)
_MARK_RINGS = (0.4, 1.5, 3.5, 6.0, 9.0, 13.0, 18.0)
_LEADER_FROM_MM = 2.0
_ARROW_MM = 1.6


@dataclass(frozen=True, slots=True)
class Lettered:
    """One text on the plan where it was set."""

    label: Label
    rows: tuple[str, ...]
    height_mm: float = SMALL_MM
    bold: bool = False
    arrow: bool = False
    balloon: str = ""
    """Severity, where the text is the number of findings."""


@dataclass(frozen=True)
class Lettering:
    """All texts of a plan, and how many found no room."""

    texts: list[Lettered] = field(default_factory=list)
    left_out: Counter[str] = field(default_factory=Counter)

    def keep(self, what: str, label: Label | None, text: Lettered | None = None, count: int = 1) -> None:
        """Keep a text that was set, count one that was not."""
        if label is None or text is None:
            self.left_out[what] += count
        else:
            self.texts.append(text)


@dataclass(frozen=True, slots=True)
class Mark:
    """A text that a sheet of several has beside its plan, at a place [mm]: the number of a section or of an inset."""

    x: float
    y: float
    text: str
    bold: bool = False


def set_labels(
    content: PlanContent,
    window: Box,
    reserved: Sequence[Label] = (),
    marks: Sequence[Mark] = (),
    barred: Sequence[Floats] = (),
) -> Lettering:
    """Find room for every text of a plan that is on paper already, the weightiest first.

    `reserved` is room that is taken by something else, `marks` are more texts, `barred` are lines [mm] that no text may
    cross. Points and segments with an empty id are not named.
    """
    occupancy = Occupancy(window.shrunk(EDGE_TEXT_MM))
    _occupy(occupancy, content)
    for label in reserved:
        occupancy.take(label)
    for line in barred:
        along = shapely.segmentize(shapely.LineString(line), 0.3)
        occupancy.take_symbols(shapely.get_coordinates(along), 0.3)
    lettering = Lettering()
    _set_marks(occupancy, marks, lettering)
    _set_findings(occupancy, content.findings, lettering)
    _set_points(occupancy, content, lettering, ("recorder", "patch"))
    _set_buildings(occupancy, content, lettering)
    _set_separations(occupancy, content, lettering)
    _set_points(occupancy, content, lettering, ("camera", "pit"))
    _set_segments(occupancy, content, lettering)
    return lettering


def _occupy(occupancy: Occupancy, content: PlanContent) -> None:
    """Mark what is drawn already."""
    for geometry in (content.segments.geometry, content.mains.geometry, content.buildings.geometry):
        shapes = [geometry[row] for row in drawn(geometry)]
        occupancy.draw_lines(shapely.get_coordinates(shapely.segmentize(shapes, 0.4)))
    for kind, style in UPLINK_SLEEVES.items():
        shapes = [content.segments.geometry[row] for row in content.segments.with_uplink(kind)]
        if shapes:
            ring = shapely.segmentize(sleeve_lines(shapes, style), 0.4)
            occupancy.draw_lines(shapely.get_coordinates(ring))
    xy = content.places()
    for spot, key in zip(xy, point_keys(content), strict=True):
        if np.isfinite(spot).all():
            occupancy.take_symbols(spot[None], point_symbol(*key).size_mm)


def _set_marks(occupancy: Occupancy, marks: Sequence[Mark], lettering: Lettering) -> None:
    for mark in marks:
        text = printable(mark.text)
        size = _size(text, SMALL_MM, bold=mark.bold)
        label = place_around(occupancy, (mark.x, mark.y), size, _MARK_RINGS, leader_from_mm=_LEADER_FROM_MM)
        done = Lettered(label, (text,), bold=mark.bold) if label else None
        lettering.keep("numbers of sections and insets", label, done)


def _set_findings(occupancy: Occupancy, findings: Sequence[Finding], lettering: Lettering) -> None:
    placed = [f for f in findings if np.isfinite([f.x, f.y]).all()]
    xy = np.array([(f.x, f.y) for f in placed], dtype=np.float64).reshape(-1, 2)
    for group in clusters(xy, SHARED_BALLOON_MM):
        members = [placed[row] for row in group]
        rows, shown = balloon_rows([f.id for f in members])
        label = place_around(
            occupancy,
            (members[0].x, members[0].y),
            balloon_size(rows),
            _BALLOON_RINGS,
            leader_from_mm=0.0,
        )
        worst = min(members, key=lambda f: list(Severity).index(f.severity)).severity.value
        text = Lettered(label, tuple(rows), bold=True, arrow=True, balloon=worst) if label else None
        lettering.keep("numbers of findings", label, text, len(members))
        if label is not None and shown < len(members):
            lettering.left_out["numbers of findings"] += len(members) - shown


def balloon_rows(numbers: Sequence[str]) -> tuple[list[str], int]:
    """Set the numbers of one balloon in rows, and say how many of them are shown.

    >>> balloon_rows(["F3", "F7"])
    (['F3, F7'], 2)
    """
    shown = list(numbers[:NUMBERS_PER_BALLOON])
    rows = [shown[n : n + NUMBERS_PER_ROW] for n in range(0, len(shown), NUMBERS_PER_ROW)]
    texts = [", ".join(row) for row in rows]
    if len(shown) < len(numbers):
        texts[-1] += f" + {len(numbers) - len(shown)}"
    return texts, len(shown)


def separations(content: PlanContent) -> list[int]:
    """Rows of drawn segments that are to be built and must keep a separation."""
    segments = content.segments
    return [
        int(row)
        for row in drawn(segments.geometry)
        if segments.proposed[row] and segments.links[row] > 0 and float(segments.separation_mm[row]) > 0
    ]


def _set_separations(occupancy: Occupancy, content: PlanContent, lettering: Lettering) -> None:
    """Write the separation to be built at each proposed segment that needs one, the longest segment first."""
    required, geometry = content.segments.separation_mm, list(content.segments.geometry)
    rows = sorted(
        separations(content), key=lambda row: (-geometry[row].length, str(content.segments.id[row]))
    )
    texts = [separation_text(float(required[row])) for row in rows]
    for text in sorted(set(texts)):
        alike = [geometry[row] for row, own in zip(rows, texts, strict=True) if own == text]
        middles = shapely.get_coordinates(shapely.line_interpolate_point(alike, 0.5, normalized=True))
        for group in clusters(middles, SHARED_NOTE_MM):
            _set_separation(occupancy, alike[group[0]], text, len(group), lettering)


def _set_separation(
    occupancy: Occupancy, line: shapely.LineString, text: str, count: int, lettering: Lettering
) -> None:
    """Write one note along the line, else beside its middle."""
    text += f" ×{count}" if count > 1 else ""
    size = _size(text, SMALL_MM, bold=True)
    label = place_along(occupancy, shapely.get_coordinates(line), size, 0.6)
    if label is None:
        middle = line.interpolate(0.5, normalized=True)
        label = place_around(occupancy, (middle.x, middle.y), size, _NOTE_RINGS, leader_from_mm=0.0)
    done = Lettered(label, (text,), bold=True, arrow=True) if label else None
    lettering.keep("separations to be built", label, done, count)


def separation_text(required_mm: float) -> str:
    """Words for a separation to be built, rounded up to whole millimetres, from 1 m on to centimetres.

    >>> separation_text(49.2), separation_text(1800.0)
    ('≥ 50 mm to mains', '≥ 1.8 m to mains')
    """
    if required_mm < 1000.0:
        return f"≥ {np.ceil(required_mm - 1e-9):.0f} mm to mains"
    return f"≥ {np.ceil(required_mm / 10.0 - 1e-9) / 100.0:g} m to mains"


def _set_buildings(occupancy: Occupancy, content: PlanContent, lettering: Lettering) -> None:
    """Write names in the middle of the buildings where they fit, else beside the middle."""
    for row in drawn(content.buildings.geometry):
        text = printable(content.buildings.name[row] or content.buildings.id[row])
        middle = content.buildings.geometry[row].representative_point()
        for height in (MEDIUM_MM, SMALL_MM):
            label = place_around(
                occupancy, (middle.x, middle.y), _size(text, height), _BUILDING_RINGS, leader_from_mm=15.0
            )
            if label is not None:
                break
        lettering.keep("names of buildings", label, Lettered(label, (text,), height) if label else None)


def _set_points(
    occupancy: Occupancy, content: PlanContent, lettering: Lettering, kinds: Sequence[str]
) -> None:
    """Write the ids of points of some kinds beside them, kind by kind."""
    xy, keys = content.places(), point_keys(content)
    for kind in kinds:
        for row in (
            r
            for r, key in enumerate(keys)
            if key[0] == kind and content.points.id[r] and np.isfinite(xy[r]).all()
        ):
            text, bold = printable(content.points.id[row]), kind == "recorder"
            height = MEDIUM_MM if bold else SMALL_MM
            radius = point_symbol(*keys[row]).size_mm / 2
            cables = (
                [printable(number) for number in content.points.cables[row]]
                if len(content.points.cables)
                else []
            )
            for rows in ((text, *cables), (text,)) if cables else ((text,),):
                label = place_around(
                    occupancy,
                    (float(xy[row, 0]), float(xy[row, 1])),
                    _size_of_rows(rows, height, bold=bold),
                    [radius + ring for ring in (_RECORDER_RINGS if bold else _LABEL_RINGS)],
                    leader_from_mm=radius + _LEADER_FROM_MM,
                )
                if label is not None:
                    break
            lettering.keep(f"{kind} ids", label, Lettered(label, rows, height, bold) if label else None)
            if label is not None and len(rows) <= len(cables):
                lettering.left_out["cable numbers"] += len(cables)


def _set_segments(occupancy: Occupancy, content: PlanContent, lettering: Lettering) -> None:
    """Write id and number of links along segments that are long enough, busy ones first."""
    segments = content.segments
    rows = drawn(segments.geometry)
    named = [row for row in rows if segments.id[row]]
    order = sorted(named, key=lambda r: (-int(segments.links[r]), str(segments.id[r])))
    beside = {
        row: style.width_mm / 2
        for kind, style in UPLINK_SLEEVES.items()
        for row in segments.with_uplink(kind).tolist()
    }
    for row in order:
        coordinates = shapely.get_coordinates(_longest_part(segments.geometry[row]))
        off_mm = 0.6 + beside.get(int(row), 0.0)
        label = None
        for text in segment_texts(content, int(row)):
            label = place_along(occupancy, coordinates, _size(text, SMALL_MM), off_mm)
            if label is not None:
                break
        lettering.keep("segment ids", label, Lettered(label, (text,)) if label else None)


def segment_texts(content: PlanContent, row: int) -> list[str]:
    """Return what may be written along a segment, the fullest first: its cables where they are few, else how many links."""
    segments = content.segments
    plain = printable(f"{segments.id[row]} · {int(segments.links[row])}")
    cables = segments.cables[row] if len(segments.cables) else ()
    if not 0 < len(cables) <= CABLES_ALONG:
        return [plain]
    return [printable(f"{segments.id[row]}: {', '.join(cables)}"), plain]


def _longest_part(line: Any) -> Any:
    """Return the longest part of a line that an edge of the window has cut into several."""
    return max(shapely.get_parts(line), key=lambda part: part.length)


def _size_of_rows(rows: Sequence[str], height_mm: float, *, bold: bool = False) -> tuple[float, float]:
    """Room that rows of text take [mm], one below the other."""
    widths, heights = zip(*(_size(row, height_mm, bold=bold) for row in rows), strict=True)
    return max(widths), heights[0] + (len(rows) - 1) * line_pitch_mm(height_mm)


def _size(text: str, height_mm: float, *, bold: bool = False) -> tuple[float, float]:
    """Room that a text takes [mm], descenders and accents included."""
    return width_mm(text, height_mm, bold=bold) + 0.6, 1.55 * height_mm


def draw_labels(axes: "Axes", lettering: Lettering, symbols: Floats) -> None:
    """Draw what `set_labels` found room for; `symbols` are the places of point symbols [mm]."""
    plain = [text for text in lettering.texts if not text.balloon]
    if plain:
        masks = [shapely.Polygon(corners(text.label)) for text in plain]
        shade(axes, masks, Area("", "none", 0.0, "#ffffff"), zorder=4.5)
    _draw_leaders(axes, lettering.texts, symbols)
    for text in lettering.texts:
        label = text.label
        if text.balloon:
            size = (label.width, label.height)
            draw_balloon(axes, (label.x, label.y), size, text.rows, BALLOONS[text.balloon])
        else:
            _write(axes, text)


def _write(axes: "Axes", text: Lettered) -> None:
    """Write the rows of a plain label into the middle of its box."""
    label, turn = text.label, np.radians(text.label.angle_deg)
    pitch = line_pitch_mm(text.height_mm)
    for number, row in enumerate(text.rows):
        down = text.height_mm / 2 + (number - (len(text.rows) - 1) / 2) * pitch
        at = (label.x + float(np.sin(turn)) * down, label.y - float(np.cos(turn)) * down)
        letter(
            axes,
            at,
            row,
            text.height_mm,
            bold=text.bold,
            align="center",
            angle_deg=label.angle_deg,
        )


def _draw_leaders(axes: "Axes", texts: Sequence[Lettered], symbols: Floats) -> None:
    """Draw leaders; those of findings and notes end in an arrow that stops short of a symbol."""
    parts, arrows = [], []
    for text in texts:
        if text.label.leader is None:
            continue
        start, end = (np.asarray(spot) for spot in text.label.leader)
        along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
        tip = start + along * (2.0 if _on_symbol(start, symbols) else 0.0)
        parts += [tip, end, np.array([np.nan, np.nan])]
        if text.arrow:
            arrows.append(_arrow(tip, along))
    if parts:
        stroke(axes, np.array(parts), Line(THIN, BLACK), zorder=6.0)
    if arrows:
        shade(axes, arrows, Area("", BLACK, 0.0, BLACK), zorder=6.0)


def _on_symbol(spot: NDArray[np.float64], symbols: Floats) -> bool:
    return bool(len(symbols)) and float(np.nanmin(np.hypot(*(symbols - spot).T), initial=np.inf)) < 1.5


def _arrow(tip: NDArray[np.float64], along: NDArray[np.float64]) -> shapely.Polygon:
    """Return a slim arrow head whose tip stands at a place."""
    across = np.array([-along[1], along[0]])
    back = tip + along * _ARROW_MM
    return shapely.Polygon([tip, back + across * 0.3, back - across * 0.3])
