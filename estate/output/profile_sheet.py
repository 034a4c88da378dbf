"""Sheets of route profiles: length of cable against the share of the limit that is used, and against volts."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from estate.output.ink import frame, letter, stamp, stroke
from estate.output.lettering import MEDIUM_MM, SMALL_MM, shortened, width_mm
from estate.output.panel import PAD_MM, Arrangement, Entry, Note
from estate.output.plan_content import PlanContent
from estate.output.profile_content import Profile, ProfileStretch
from estate.output.scales import Box, round_step
from estate.output.sheets_page import (
    BESIDE_MM,
    NOT_TO_SCALE,
    Drawer,
    Page,
    cells_of,
    first_notes,
    largest_window,
    places,
    say_beside,
)
from estate.output.symbols import BLACK, BLUE, GREY, LINE_TYPES, MIDDLE, NARROW, RED, THIN, Line, Symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DOCUMENT_TYPE = "Route profiles"
CELL_WIDTH_MM, CELL_HEIGHT_MM = 170.0, 84.0
SHARE = Line(MIDDLE, BLUE)
LIMIT = Line(NARROW, BLACK, LINE_TYPES["dashed"])
DAY = Line(NARROW, RED, LINE_TYPES["long-dash dot"])
NIGHT = Line(NARROW, RED, LINE_TYPES["dashed"])
FLOOR = Line(NARROW, RED, LINE_TYPES["dotted"])
BETWEEN = Line(THIN, GREY, LINE_TYPES["dashed"])
ITEM = Symbol((("square", 2.0, "full"),))
_AXIS = Line(THIN, BLACK)
_LEFT_MM, _RIGHT_MM, _LOW_MM, _HIGH_MM = 14.0, 14.0, 19.0, 15.0
_ROW_MM, _NAME_ROWS = 2.9, 4
_TEXTS = (
    "Not to scale. Along: length of cable from the head [m], with slack and ends spread over the way.",
    "Left: what a stretch has used of the limit that it comes nearest to [%]; it starts afresh where the signal does.",
    (
        "Right: volts of the feed with the camera's load at its end, supply at its least voltage. Separation, earths "
        "and throughput are judged beside: budget.csv."
    ),
    "Where a fact of an installed link is not known, the worst that it could be is drawn.",
)


def profile_pages(content: PlanContent, profiles: Sequence[Profile]) -> list[Page]:
    """Return the sheets of all profiles, none where no link has one."""
    if not profiles:
        return []
    legend = (
        Entry("share of the limit used", SHARE),
        Entry("limit, 100 %", LIMIT),
        Entry("volts by day", DAY),
        Entry("volts at night", NIGHT),
        Entry("least volts at the camera", FLOOR),
        Entry("between two stretches", BETWEEN),
        Entry("equipment", ITEM),
    )
    chosen = f"Shown: the six longest links, and the six with the least margin; {len(profiles)} in all (profiles.csv has every link)."
    notes = first_notes(content, (*_TEXTS, chosen))
    place = largest_window(places(content, legend, notes, BESIDE_MM))
    cells = cells_of(place.window, CELL_WIDTH_MM, CELL_HEIGHT_MM)
    beside = say_beside("Route profiles", f"{NOT_TO_SCALE.capitalize()}.")
    return [
        Page(
            DOCUMENT_TYPE,
            NOT_TO_SCALE,
            place,
            legend,
            notes,
            _drawer(profiles[n : n + len(cells)], cells),
            beside,
        )
        for n in range(0, len(profiles), len(cells))
    ]


def _drawer(profiles: Sequence[Profile], cells: Sequence[Box]) -> Drawer:
    def draw(axes: "Axes", _place: Arrangement) -> Sequence[Note]:
        for profile, cell in zip(profiles, cells, strict=False):
            _draw_profile(axes, cell, profile)
        return ()

    return draw


class _Scales:
    """How lengths, shares and volts lie in the plot of one profile."""

    def __init__(self, plot: Box, profile: Profile) -> None:
        points = [point for stretch in profile.stretches for point in stretch.points]
        shares = [p.share_percent for p in points if p.share_percent is not None]
        volts = [v for p in points for v in (p.volts_day, p.volts_night) if v is not None]
        self.plot = plot
        self.longest_m = max([p.at_m for p in points] + [1.0])
        self.most_percent = 20.0 * float(np.ceil(max([100.0, *shares]) * 1.05 / 20.0))
        self.volts: tuple[float, float, float] | None = None
        if volts and profile.volts_min is not None:
            low, high = min([*volts, profile.volts_min]), max(volts)
            step = round_step(max(high - low, 0.5) / 4)
            self.volts = (
                step * (float(np.ceil(low / step)) - 1),
                step * float(np.ceil(high / step + 1e-9)),
                step,
            )

    def x(self, at_m: float) -> float:
        """Place of a length on the sheet [mm]."""
        return self.plot.x + self.plot.width * at_m / self.longest_m

    def share_y(self, percent: float) -> float:
        """Place of a share on the sheet [mm]."""
        return self.plot.y + self.plot.height * percent / self.most_percent

    def volts_y(self, volts: float) -> float:
        """Place of volts on the sheet [mm]."""
        assert self.volts is not None
        low, high, _ = self.volts
        return self.plot.y + self.plot.height * (volts - low) / (high - low)


def _draw_profile(axes: "Axes", cell: Box, profile: Profile) -> None:
    frame(axes, cell, THIN)
    _draw_heads(axes, cell, profile)
    plot = Box(
        cell.x + _LEFT_MM,
        cell.y + _LOW_MM,
        cell.width - _LEFT_MM - _RIGHT_MM,
        cell.height - _LOW_MM - _HIGH_MM,
    )
    scales = _Scales(plot, profile)
    _draw_axes(axes, scales)
    for number, stretch in enumerate(profile.stretches):
        _draw_stretch(axes, scales, stretch, is_first=number == 0)
    if scales.volts is not None and profile.volts_min is not None:
        _draw_volts(axes, scales, profile)
    _draw_nodes(axes, scales, profile)


def _draw_heads(axes: "Axes", cell: Box, profile: Profile) -> None:
    room = cell.width - 2 * PAD_MM
    head = f"{profile.link}: {profile.ends}, {profile.length_m:.1f} m, {profile.verdict}"
    y = cell.top - PAD_MM - MEDIUM_MM
    letter(axes, (cell.x + PAD_MM, y), shortened(head, room, MEDIUM_MM, bold=True), MEDIUM_MM, bold=True)
    said = f"{profile.reason}; governed by {profile.limiting}" if profile.limiting else profile.reason
    letter(axes, (cell.x + PAD_MM, y - 1.5 - SMALL_MM), shortened(said, room, SMALL_MM), SMALL_MM)


def _draw_axes(axes: "Axes", scales: _Scales) -> None:
    plot = scales.plot
    frame(axes, plot, THIN)
    for percent in np.arange(0.0, scales.most_percent + 1, 20.0):
        y = scales.share_y(percent)
        stroke(axes, np.array([[plot.x - 1.0, y], [plot.x, y]]), _AXIS)
        letter(axes, (plot.x - 1.6, y - SMALL_MM / 2), f"{percent:g}", SMALL_MM, align="right")
    letter(
        axes, (plot.x - 10.0, plot.y + plot.height / 2), "% of limit", SMALL_MM, align="center", angle_deg=90
    )
    step = round_step(scales.longest_m / 8)
    for at_m in np.arange(0.0, scales.longest_m + 1e-9, step):
        x = scales.x(at_m)
        stroke(axes, np.array([[x, plot.y], [x, plot.y - 1.0]]), _AXIS)
        letter(axes, (x, plot.y - 1.6 - SMALL_MM), f"{at_m:g}", SMALL_MM, align="center")
    letter(axes, (plot.right + 1.5, plot.y - 1.6 - SMALL_MM), "m", SMALL_MM)
    y = scales.share_y(100.0)
    stroke(axes, np.array([[plot.x, y], [plot.right, y]]), LIMIT)
    if scales.volts is None:
        return
    low, high, step = scales.volts
    for volts in np.arange(low, high + step / 2, step):
        y = scales.volts_y(volts)
        stroke(axes, np.array([[plot.right, y], [plot.right + 1.0, y]]), _AXIS)
        letter(axes, (plot.right + 1.6, y - SMALL_MM / 2), f"{volts:g}", SMALL_MM)
    letter(axes, (plot.right + 11.0, plot.y + plot.height / 2), "V", SMALL_MM, align="center")


def _draw_stretch(axes: "Axes", scales: _Scales, stretch: ProfileStretch, *, is_first: bool) -> None:
    """Draw the share that one stretch uses, and say over the plot what of."""
    plot, points = scales.plot, stretch.points
    start, end = scales.x(points[0].at_m), scales.x(points[-1].at_m)
    if not is_first:
        stroke(axes, np.array([[start, plot.y], [start, plot.top + 3.0]]), BETWEEN)
    known = [
        (scales.x(p.at_m), scales.share_y(p.share_percent)) for p in points if p.share_percent is not None
    ]
    if known:
        stroke(axes, np.array(known), SHARE, zorder=3.0)
    limit = "" if stretch.limit is None else f": {stretch.quantity} of {stretch.limit:.4g} {stretch.unit}"
    text = shortened(f"{stretch.method}{limit}", end - start - 1.0, SMALL_MM)
    if end - start > 8.0:
        letter(axes, ((start + end) / 2, plot.top + 1.2), text, SMALL_MM, align="center")


def _draw_volts(axes: "Axes", scales: _Scales, profile: Profile) -> None:
    points = [point for stretch in profile.stretches for point in stretch.points]
    for name, line in (("volts_day", DAY), ("volts_night", NIGHT)):
        known = [(scales.x(p.at_m), scales.volts_y(v)) for p in points if (v := getattr(p, name)) is not None]
        stroke(axes, np.array(known), line, zorder=3.0)
    assert profile.volts_min is not None
    y = scales.volts_y(profile.volts_min)
    stroke(axes, np.array([[scales.plot.x, y], [scales.plot.right, y]]), FLOOR)


def _draw_nodes(axes: "Axes", scales: _Scales, profile: Profile) -> None:
    """Mark the nodes on the axis and name them below it: ends and equipment first, the others where there is room."""
    plot = scales.plot
    places = {p.node: scales.x(p.at_m) for stretch in profile.stretches for p in stretch.points}
    for x in places.values():
        stroke(axes, np.array([[x, plot.y], [x, plot.y + 1.2]]), _AXIS)
    names = list(places)
    weighty = [node for node in names if node in profile.equipment or node in (names[0], names[-1])]
    rows: list[list[tuple[float, float]]] = [[] for _ in range(_NAME_ROWS)]
    for node in (*weighty, *(node for node in names if node not in weighty)):
        items = profile.equipment.get(node, ())
        if items:
            stamp(axes, np.array([[places[node], plot.y]]), ITEM)
        text = f"{node}: {' + '.join(items)}" if items else node
        half = width_mm(text, SMALL_MM) / 2 + 1.0
        x = min(max(places[node], plot.x - _LEFT_MM + half), plot.right + _RIGHT_MM - half)
        free = (n for n, row in enumerate(rows) if all(x + half <= a or x - half >= b for a, b in row))
        if (row := next(free, None)) is not None:
            rows[row].append((x - half, x + half))
            letter(axes, (x, plot.y - 6.6 - row * _ROW_MM), text, SMALL_MM, align="center")
