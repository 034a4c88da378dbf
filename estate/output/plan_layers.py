"""The layers of a plan, and the legend of what is on it. Coordinates are millimetres of the sheet."""

from collections.abc import Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

from estate.findings import Severity
from estate.output.ink import letter, lines, shade, sleeve, stamp, stroke
from estate.output.lettering import SMALL_MM
from estate.output.panel import Entry
from estate.output.plan_content import PlanContent, View, drawn
from estate.output.scales import Box, round_step
from estate.output.symbols import (
    BALLOONS,
    BUILDING_AREA,
    CAMERA_SYMBOLS,
    CONTAINMENT_TYPES,
    GREY,
    MAINS_MARKS,
    MIDDLE,
    MOVED_LINE,
    PLACEMENT_TYPES,
    ROUTE_STATES,
    STRETCH_AREAS,
    THIN,
    UPLINK_SLEEVES,
    Line,
    containment_line,
    mains_line,
    point_symbol,
    route_line,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_Key = TypeVar("_Key", bound=Hashable)

BAND_MM = 3.0
"""Width of the band along a stretch near mains."""

BACKDROP_LINE = Line(THIN, "#b0b0b0")

GRID_PITCH_MM = 45.0
"""Crosses of the coordinate grid are at least this far apart."""

_CROSS_MM = 1.5
_KIND_WORDS = {
    "mains": "mains",
    "drive": "motor drive",
    "fence": "electric fence",
    "discharge_lamp": "discharge lamps",
    "lightning_protection": "lightning protection",
}
_POINT_WORDS = {"recorder": "recorder", "patch": "patch point", "pit": "draw pit", "junction": "junction"}
_UPLINK_WORDS = {"uplink": "uplink of a cabinet in the route", "standby": "standby uplink only"}
_CABINET_WORDS = {"used": "cabinet with a switch", "passed": "cabinet, uplinks pass through"}
_VERDICT_WORDS = {"": "not judged", "none": "no link"}


def draw_layers(axes: "Axes", content: PlanContent, view: View, covered: Sequence[Box] = ()) -> None:
    """Draw all layers of the content, which is on paper already, from the ground up.

    `covered` are boxes on the sheet where neither crosses of the grid nor the backdrop stand.
    """
    draw_grid(axes, view, covered)
    _draw_backdrop(axes, content, view, covered)
    shade(axes, _rows(content.buildings.geometry, drawn(content.buildings.geometry)), BUILDING_AREA)
    _draw_stretches(axes, content)
    _draw_mains(axes, content)
    _draw_uplinks(axes, content)
    _draw_routes(axes, content)
    if len(drawn(content.moved)):
        lines(axes, _rows(content.moved, drawn(content.moved)), MOVED_LINE, zorder=4.0)
    _draw_points(axes, content)


def _draw_backdrop(axes: "Axes", content: PlanContent, view: View, covered: Sequence[Box]) -> None:
    """Draw what of the backdrop lies in the window and under no covered box, under everything else."""
    window, rows = view.window, drawn(content.backdrop)
    cut = shapely.clip_by_rect(_rows(content.backdrop, rows), window.x, window.y, window.right, window.top)
    if covered:
        cut = shapely.difference(
            cut, shapely.union_all([shapely.box(b.x, b.y, b.right, b.top) for b in covered])
        )
    parts = shapely.get_parts(cut)
    inside = parts[(shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)]
    if len(inside):
        lines(axes, inside, BACKDROP_LINE, zorder=0.5)


def grid_step_m(view: View) -> float:
    """Distance between the crosses of the coordinate grid [m]."""
    return round_step(GRID_PITCH_MM * view.scale / 1000.0)


def draw_grid(axes: "Axes", view: View, covered: Sequence[Box] = ()) -> None:
    """Draw crosses at round coordinates, and their values along the lower and the left edge."""
    step, window = grid_step_m(view), view.window
    west, south, east, north = view.edges_m()
    xs = np.arange(np.ceil(west / step), np.floor(east / step) + 1) * step
    ys = np.arange(np.ceil(south / step), np.floor(north / step) + 1) * step
    across = view.to_paper(np.column_stack([xs, np.full(len(xs), view.middle[1])]))[:, 0]
    up = view.to_paper(np.column_stack([np.full(len(ys), view.middle[0]), ys]))[:, 1]
    spots = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    for box in (each.shrunk(-_CROSS_MM) for each in covered):
        x, y = spots.T
        spots = spots[~((x > box.x) & (x < box.right) & (y > box.y) & (y < box.top))]
    arms = np.array([[-_CROSS_MM, 0], [_CROSS_MM, 0], [np.nan, np.nan], [0, -_CROSS_MM], [0, _CROSS_MM]])
    ticks = [np.array([[x, window.y], [x, window.y + 3.0]]) for x in across]
    ticks += [np.array([[window.x, y], [window.x + 3.0, y]]) for y in up]
    parts = [np.vstack([spot + arms, [[np.nan, np.nan]]]) for spot in spots]
    parts += [np.vstack([tick, [[np.nan, np.nan]]]) for tick in ticks]
    if parts:
        stroke(axes, np.concatenate(parts), Line(THIN, GREY), zorder=1.5)
    for value, x in zip(xs, across, strict=True):
        if x + 1.0 + 20.0 < window.right:
            letter(axes, (x + 0.8, window.y + 1.0), _coordinate(value, "E"), SMALL_MM, colour="#505050")
    for value, y in zip(ys, up, strict=True):
        if y + 1.0 + 20.0 < window.top:
            place = (window.x + 1.0 + SMALL_MM, y + 0.8)
            letter(axes, place, _coordinate(value, "N"), SMALL_MM, angle_deg=90, colour="#505050")


def _coordinate(value: float, axis: str) -> str:
    """Write a coordinate with its thousands apart.

    >>> _coordinate(501200.0, "E"), _coordinate(-0.0, "N")
    ('E 501 200', 'N 0')
    """
    return f"{axis} {value + 0.0:,.0f}".replace(",", " ")


def route_states(content: PlanContent) -> NDArray[np.object_]:
    """What is to become of each segment: a key of ROUTE_STATES."""
    segments = content.segments
    names = {
        (True, True): "proposed, to be built",
        (False, True): "existing, carries links",
        (False, False): "existing, carries no link",
        (True, False): "proposed, not needed",
    }
    pairs = zip(segments.proposed, segments.links, strict=True)
    return np.array([names[bool(proposed), links > 0] for proposed, links in pairs], dtype=np.object_)


def _draw_routes(axes: "Axes", content: PlanContent) -> None:
    """One line per containment and state."""
    geometry, states = content.segments.geometry, route_states(content)
    keys = [
        (_known(c, CONTAINMENT_TYPES), s) for c, s in zip(content.segments.containment, states, strict=True)
    ]
    for (containment, state), rows in _grouped(keys, drawn(geometry)).items():
        gid = f"route {containment} {state}".replace(",", "").replace(" ", "-")
        lines(axes, _rows(geometry, rows), route_line(containment, state), zorder=4.0, gid=gid)


def _draw_uplinks(axes: "Axes", content: PlanContent) -> None:
    """Draw a sleeve along the routes that carry uplinks."""
    for kind, style in UPLINK_SLEEVES.items():
        rows = content.segments.with_uplink(kind)
        if len(rows):
            sleeve(axes, _rows(content.segments.geometry, rows), style, zorder=3.5, gid=f"route with {kind}")


def _draw_mains(axes: "Axes", content: PlanContent) -> None:
    for (kind, placement), rows in _grouped(_mains_keys(content), drawn(content.mains.geometry)).items():
        lines(axes, _rows(content.mains.geometry, rows), mains_line(kind, placement), zorder=3.0)


def _mains_keys(content: PlanContent) -> list[tuple[str, str]]:
    pairs = zip(content.mains.kind, content.mains.placement, strict=True)
    return [(str(kind or "mains"), _known(placement, PLACEMENT_TYPES)) for kind, placement in pairs]


def _draw_stretches(axes: "Axes", content: PlanContent) -> None:
    """A hatched band along each stretch; the graver verdict lies on top."""
    geometry = content.stretches.geometry
    groups = _grouped([str(v) for v in content.stretches.verdict], drawn(geometry))
    for verdict in reversed(STRETCH_AREAS):
        if verdict in groups:
            bands = shapely.buffer(_rows(geometry, groups[verdict]), BAND_MM / 2, cap_style="flat")
            shade(axes, [shapely.union_all(bands)], STRETCH_AREAS[verdict], zorder=2.0)


def _draw_points(axes: "Axes", content: PlanContent) -> None:
    xy = content.places()
    for key, rows in _grouped(point_keys(content), np.flatnonzero(np.isfinite(xy).all(axis=1))).items():
        stamp(axes, xy[rows], point_symbol(*key), zorder=5.0)


def point_keys(content: PlanContent) -> list[tuple[str, str, str]]:
    """Kind, status and verdict of each point, empty where they make no difference to its symbol."""
    points = content.points
    rows = zip(points.kind, points.status, points.verdict, strict=True)
    return [
        (
            str(kind),
            str(status or "") if kind in {"recorder", "patch"} else "",
            str(verdict or "") if kind == "camera" else "",
        )
        for kind, status, verdict in rows
    ]


def legend_of(content: PlanContent) -> tuple[Entry, ...]:
    """Return the legend: only what is on the sheet, in a fixed order."""
    return (*_route_entries(content), *_hazard_entries(content), *_place_entries(content))


def _route_entries(content: PlanContent) -> Iterable[Entry]:
    rows = drawn(content.segments.geometry)
    states = set(route_states(content)[rows])
    for state, line in ROUTE_STATES.items():
        if state in states:
            yield Entry(f"route {state}", line)
    found = {_known(content.segments.containment[row], CONTAINMENT_TYPES) for row in rows}
    for containment in CONTAINMENT_TYPES:
        if containment in found:
            text = "containment not given" if containment == "unknown" else f"line type: {containment}"
            yield Entry(text, containment_line(containment, MIDDLE))
    for kind, style in UPLINK_SLEEVES.items():
        if len(content.segments.with_uplink(kind)):
            yield Entry(_UPLINK_WORDS[kind], style)


def _hazard_entries(content: PlanContent) -> Iterable[Entry]:
    keys = _mains_keys(content)
    found = {keys[row] for row in drawn(content.mains.geometry)}
    for kind, placement in sorted(found, key=lambda k: (_place_in(k[0], MAINS_MARKS), *k)):
        where = "placement not given" if placement == "unknown" else placement
        yield Entry(f"{_KIND_WORDS.get(kind, kind)}, {where}", mains_line(kind, placement))
    verdicts = {str(content.stretches.verdict[row]) for row in drawn(content.stretches.geometry)}
    for verdict, area in STRETCH_AREAS.items():
        if verdict in verdicts:
            yield Entry(f"near mains: {verdict}", area)
    if len(drawn(content.moved)):
        yield Entry("where it would be moved to", MOVED_LINE)


def _place_entries(content: PlanContent) -> Iterable[Entry]:
    if len(drawn(content.buildings.geometry)):
        yield Entry("building", BUILDING_AREA)
    if len(drawn(content.backdrop)):
        yield Entry("backdrop, for orientation only", BACKDROP_LINE)
    keys = point_keys(content)
    shown = np.flatnonzero(np.isfinite(content.places()).all(axis=1))
    order = ["camera", *_POINT_WORDS]
    for key in sorted(
        {keys[row] for row in shown},
        key=lambda k: (_place_in(k[0], order), _place_in(k[2], CAMERA_SYMBOLS), *k),
    ):
        yield Entry(_point_text(*key), point_symbol(*key))
    placed = {f.severity for f in content.findings if np.isfinite([f.x, f.y]).all()}
    for severity in Severity:
        if severity in placed:
            yield Entry(f"finding: {severity.value}", BALLOONS[severity.value])


def _point_text(kind: str, status: str, verdict: str) -> str:
    """Words of the legend for a point.

    >>> _point_text("camera", "", "none"), _point_text("patch", "candidate", "")
    ('camera: no link', 'patch point, candidate')
    >>> _point_text("patch", "used", "")
    'cabinet with a switch'
    """
    if kind == "camera":
        return f"camera: {_VERDICT_WORDS.get(verdict, verdict)}"
    if kind == "patch" and status in _CABINET_WORDS:
        return _CABINET_WORDS[status]
    return _POINT_WORDS.get(kind, kind) + (f", {status}" if status else "")


def _known(word: Any, table: Iterable[str]) -> str:
    """Return the word where the table has it, else unknown."""
    return str(word) if word in table else "unknown"


def _place_in(word: str, order: Iterable[str]) -> int:
    words = list(order)
    return words.index(word) if word in words else len(words)


def _rows(geometry: Any, rows: NDArray[np.int64]) -> NDArray[np.object_]:
    return np.array([geometry[row] for row in rows], dtype=np.object_)


def _grouped(keys: list[_Key], rows: NDArray[np.int64]) -> dict[_Key, NDArray[np.int64]]:
    """Rows by key, keys in sorted order."""
    groups: dict[_Key, list[int]] = {}
    for row in rows:
        groups.setdefault(keys[row], []).append(int(row))
    return {key: np.array(groups[key], dtype=np.int64) for key in sorted(groups, key=str)}
