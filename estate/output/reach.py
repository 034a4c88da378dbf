"""What `estate reach` gives: a page of text, CSV, JSON, and a plot of loss and volts against length."""

import csv
import io
import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from estate.errors import InputError, Problem
from estate.formulas.dc_feed import greatest_load_w, loop_resistance_ohm
from estate.links.lines import WHEN
from estate.links.reach import Limit, ReachQuestion, ReachRow, link_lines

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MARKS = "osD^vPX*<>"
"""Marks that tell curves apart without colour."""

PLOT_ENDINGS = (".png", ".svg", ".pdf")
CURVES = 10
"""Curves that one panel of a plot shows at most."""

COLUMNS = ("{:<20}", "{:<23}", "{:<10}", "{:<25}", "{:<25}")

ALIKE = 0.03
"""Cables and feeds whose reach differs by no more than this share, and that stop alike, stand in one line."""


def told_reach(question: ReachQuestion, rows: Sequence[ReachRow]) -> list[str]:
    """Return the page: one line for every method and cables that reach as far, by signal."""
    lines = [_stated(question), _line("method", "cable", "feed", "by day [m]", "at night [m]")]
    for signal in dict.fromkeys(row.signal for row in rows):
        lines.append(f"{question.conditions.catalogue.signals[signal].name} ({signal})")
        own = [row for row in rows if row.signal == signal]
        lines += [_line(*cells) for cells in (_each(own) if question.named else _merged(own, question))]
    return [line.rstrip() for line in [*lines, *_notes(question, rows)]]


def _stated(question: ReachQuestion) -> str:
    """Say for which camera and how the reach is judged."""
    camera, conditions = question.camera, question.conditions
    night = "not known" if math.isnan(camera.load_night_w) else f"{camera.load_night_w:g} W"
    volts = "volts of its feed" if math.isnan(camera.volts) else f"{camera.volts:g} V"
    least = "" if math.isnan(camera.volts_min) else f", at least {camera.volts_min:g} V"
    return (
        f"Camera: {camera.load_w:g} W by day, {night} at night, {volts}{least}; "
        f"{conditions.ambient_c:g} °C; profile {conditions.limits.profile}."
    )


def _line(*cells: str) -> str:
    return " ".join(column.format(cell) for column, cell in zip(COLUMNS, cells, strict=True))


def _cable(row: ReachRow) -> str:
    return " + ".join(row.variant.cables)


def _told(limit: Limit) -> str:
    """Tell a limit: the length rounded down, and what stops it there."""
    if limit.known is not None:
        return f"{f'≤{math.floor(limit.known.length_m + 1e-9)}':>5} {limit.known.stop}?"
    if math.isnan(limit.length_m):
        return f"{'?':>5} {limit.stop}"
    length = "any" if math.isinf(limit.length_m) else f"{math.floor(limit.length_m + 1e-9)}"
    return f"{length:>5} {limit.stop}"


def _each(rows: Sequence[ReachRow]) -> list[tuple[str, ...]]:
    """Return one line of cells per row; feeds that make no difference stand together."""
    feeds: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        cells = (row.variant.method, _cable(row), _told(row.day), _told(row.night))
        feeds.setdefault(cells, []).append(row.variant.feed)
    return [(m, cable, _span(given, given), day, night) for (m, cable, day, night), given in feeds.items()]


def _merged(rows: Sequence[ReachRow], question: ReachQuestion) -> list[tuple[str, ...]]:
    """Return lines of cells with cables, then feeds, that reach alike put together: the least of them is told."""
    groups: list[list[ReachRow]] = []
    for row in rows:
        group = next((g for g in groups if _alike(g[0], row)), None)
        if group is None:
            groups.append([row])
        else:
            group.append(row)
    by_cables: dict[tuple[Any, ...], list[list[ReachRow]]] = {}
    for group in groups:
        key = (group[0].variant.method, tuple(map(_cable, group)), _told_least(group))
        by_cables.setdefault(key, []).append(group)
    told: list[tuple[str, ...]] = []
    for (method, names, (day, night)), same in by_cables.items():
        every = [_cable(row) for row in rows if row.variant.method == method]
        offered = question.conditions.catalogue.methods[method].feeds
        feeds = [group[0].variant.feed for group in same]
        told.append((method, _span(names, list(dict.fromkeys(every))), _span(feeds, offered), day, night))
    return told


def _alike(one: ReachRow, other: ReachRow) -> bool:
    """Whether two rows of one method and feed reach alike and stop alike by day and at night."""
    same = (one.variant.method, one.variant.feed) == (other.variant.method, other.variant.feed)
    return same and all(
        a.stop == b.stop and (a.length_m == b.length_m or math.isclose(a.length_m, b.length_m, rel_tol=ALIKE))
        for a, b in ((one.day, other.day), (one.night, other.night))
    )


def _told_least(rows: Sequence[ReachRow]) -> tuple[str, str]:
    """Tell the least reach of several that are alike, by day and at night."""
    day, night = (
        min(limits, key=lambda limit: limit.length_m)
        for limits in ([row.day for row in rows], [row.night for row in rows])
    )
    return _told(day), _told(night)


def _span(names: Iterable[str], every: Sequence[str]) -> str:
    """Name a few, or the first and the last of several that stand in a row in `every`.

    >>> _span(["poe1", "poe2", "poe3"], ["local", "poe1", "poe2", "poe3", "poe4"])
    'poe1…poe3'
    """
    given = list(dict.fromkeys(names))
    if len(given) == 1 or (len(given) == 2 and sum(map(len, given)) < 22):
        return ", ".join(given)
    start = list(every).index(given[0])
    if given == list(every[start : start + len(given)]):
        return f"{given[0]}…{given[-1]}"
    return f"{given[0]} +{len(given) - 1}"


def _notes(question: ReachQuestion, rows: Sequence[ReachRow]) -> list[str]:
    """Return what has to be said with the table."""
    catalogue = question.conditions.catalogue
    notes = ["Lengths of cable, slack and ends included; what follows a length is the limit it stops at."]
    if any(limit.known is not None for row in rows for limit in (row.day, row.night)):
        notes.append("≤…?: what decides is not known (trade reach, load); no farther than that in any case.")
    if not question.named:
        used = {cable for row in rows for cable in row.variant.cables}
        families = {catalogue.cables[cable].family for cable in used}
        legacy = [c.id for c in catalogue.cables.values() if c.legacy and c.family in families]
        notes.append(
            "a…b: the method's from a to b reach alike, the least is told. Extender: half-way. Radio: no cable."
        )
        notes.append(f"Legacy, told with --cable or --method: {', '.join(legacy)}.")
        if any(row.variant.power_cable for row in rows):
            beside = next(row.variant.signal_cable for row in rows if row.variant.power_cable)
            notes.append(f"Power pairs beside {beside}; another coax: --cable, and its line of coax-local.")
        notes += thumb_notes(question)
    notes.append("Calculated, not a declaration of safety: local codes and licensed practice govern.")
    return notes


def thumb_notes(question: ReachQuestion) -> list[str]:
    """Say what rules of thumb quote, and what physics leaves of the first of them."""
    catalogue = question.conditions.catalogue
    thumb = {name: float(figure.value) for name, figure in catalogue.rules["thumb"].items()}
    method, feed = catalogue.methods["pair-video-power"], catalogue.feeds["dc12"]
    at_m, volts = thumb["pair_video_power_m"], feed.number("source_volts")
    least_v = volts * float(catalogue.rules["camera"]["volts_min_factor"].value)
    ohm = catalogue.cables["cat5e-utp"].number("conductor_ohm_per_km")
    loop = loop_resistance_ohm(ohm, at_m, method.power_out, method.power_back)
    quoted = (
        f"Trade says (common practice, no source): pair-video-power {at_m:g} to "
        f"{thumb['pair_video_power_quoted_m']:g} m, coax-powered {thumb['coax_powered_m']:g} m,"
    )
    physics = (
        f"12 V beside coax {thumb['coax_power_pair_12v_m']:g} m. Physics: {at_m:g} m at {volts:g} V delivers "
        f"{float(greatest_load_w(volts, loop, least_v)):.2f} W at {least_v:g} V over {method.power_out} + "
        f"{method.power_back} conductors."
    )
    return [quoted, physics]


# Data


def reach_records(question: ReachQuestion, rows: Sequence[ReachRow]) -> list[dict[str, Any]]:
    """Return the rows as plain records; None where unknown or without limit."""
    return [
        {
            "method": row.variant.method,
            "signal": row.signal,
            "feed": row.variant.feed,
            "signal_cable": row.variant.signal_cable,
            "power_cable": row.variant.power_cable,
            "legacy": row.legacy,
            "profile": question.conditions.limits.profile,
            "ambient_c": question.conditions.ambient_c,
            "load_w": _finite(question.camera.load_w),
            "load_night_w": _finite(question.camera.load_night_w),
            **_record("day", row.day),
            **_record("night", row.night),
        }
        for row in rows
    ]


def _record(state: str, limit: Limit) -> dict[str, Any]:
    return {
        f"reach_{state}_m": _finite(limit.length_m),
        f"stop_{state}": limit.stop,
        f"source_{state}": limit.line.source if limit.line is not None else "",
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def reach_csv(question: ReachQuestion, rows: Sequence[ReachRow]) -> str:
    """Return the rows as CSV with a header; blank where unknown."""
    records = reach_records(question, rows)
    stream = io.StringIO()
    writer = csv.DictWriter(stream, list(records[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(records)
    return stream.getvalue()


def reach_json(question: ReachQuestion, rows: Sequence[ReachRow]) -> str:
    """Return the rows as a JSON list of records; null where unknown."""
    return json.dumps(reach_records(question, rows), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def reach_text(question: ReachQuestion, rows: Sequence[ReachRow]) -> str:
    """Return the page as one text."""
    return "\n".join(told_reach(question, rows)) + "\n"


FORMS = {"text": reach_text, "csv": reach_csv, "json": reach_json}
"""What writes the answer, by the name of its form."""

# Plot


def check_plot(path: Path) -> None:
    """Refuse a plot whose ending names no format, or whose folder isn't there."""
    if path.suffix.lower() not in PLOT_ENDINGS:
        expected = f"a file that ends in {', '.join(PLOT_ENDINGS)}"
        raise InputError([Problem("command line", expected, field="--plot", value=str(path))])
    if not path.parent.is_dir():
        raise InputError(
            [Problem("command line", "a file in a folder that exists", field="--plot", value=str(path))]
        )


def plot_reach(path: Path, question: ReachQuestion, rows: Sequence[ReachRow]) -> None:
    """Draw loss and volts against length, with their limits dashed, to a PNG, SVG or PDF."""
    from matplotlib import rc_context  # noqa: PLC0415  slow
    from matplotlib.figure import Figure  # noqa: PLC0415

    check_plot(path)
    fixed: Any = {"svg.hashsalt": "estate", "svg.fonttype": "none", "pdf.fonttype": 42, "font.size": 8}
    with rc_context(fixed):
        figure = Figure(figsize=(8.3, 8.3), layout="constrained")
        above, below = figure.subplots(2, 1)
        by_loss: dict[tuple[str, ...], ReachRow] = {
            (row.signal, row.variant.method, row.variant.signal_cable): row for row in rows
        }
        _panel(
            above,
            "Loss [dB]",
            question,
            by_loss,
            lambda key, _: f"{key[2]}, {key[1]}, {key[0]}",
            ("loss", "fibre loss"),
        )
        by_feed: dict[tuple[str, ...], ReachRow] = {
            (row.variant.method, row.variant.feed, row.variant.power_cable or row.variant.signal_cable): row
            for row in reversed(rows)
        }
        by_feed = dict(reversed(by_feed.items()))
        _panel(below, "Volts at the camera [V]", question, by_feed, lambda key, _: f"{key[2]}, {key[1]}, {key[0]}",
               ("volts",))  # fmt: skip
        figure.suptitle(_stated(question), fontsize=9)
        dates = {
            "PNG": {"Software": None},
            "SVG": {"Date": None, "Creator": None},
            "PDF": {"CreationDate": None},
        }
        kind = path.suffix.lower().lstrip(".")
        figure.savefig(path, format=kind, dpi=150, metadata=dates[kind.upper()])


def _panel(
    axes: "Axes",
    title: str,
    question: ReachQuestion,
    rows: dict[tuple[str, ...], ReachRow],
    name: Callable[[tuple[str, ...], ReachRow], str],
    quantities: tuple[str, ...],
) -> None:
    """Draw one quantity for the rows that have it: by day full, at night dotted, limits dashed."""
    curves = {key: _samples(question, row, quantities) for key, row in rows.items()}
    curves = {key: found for key, found in curves.items() if found}
    for number, (key, found) in enumerate(list(curves.items())[:CURVES]):
        for state, (length_m, values, limit) in found.items():
            style = ":" if state == "night" else "-"
            limit_of = rows[key].night if state == "night" else rows[key].day
            label = _legend(name(key, rows[key]), rows[key]) if state != "night" else None
            mark = MARKS[number % len(MARKS)]
            axes.plot(length_m, values, style, color=f"C{number}", linewidth=1.2)
            axes.plot([], [], style, color=f"C{number}", marker=mark, markersize=4, label=label)
            stop = limit_of.length_m
            if length_m[0] <= stop <= length_m[-1]:
                height = np.interp(stop, length_m, values)
                axes.plot(stop, height, mark, color=f"C{number}", markersize=5)
                if math.isnan(limit):  # the reach itself is the limit
                    axes.plot([stop, stop], [0, height], "--", color=f"C{number}", linewidth=0.6)
            if not math.isnan(limit):
                axes.axhline(limit, color=f"C{number}", linestyle="--", linewidth=0.6)
    left_out = len(curves) - CURVES
    more = f" ({CURVES} of {len(curves)}; narrow down with --method, --cable, --feed)" if left_out > 0 else ""
    axes.set_title(f"{title}{more}", fontsize=8, loc="left")
    axes.set_xlabel(
        "Cable length [m]; full: by day or always, dotted: at night, mark: where it stops, dashed: limit"
    )
    axes.grid(visible=True, linewidth=0.3)
    if curves:
        axes.set_xscale("log" if _far_apart(rows, curves) else "linear")
        axes.legend(fontsize=6)
    else:
        axes.text(0.5, 0.5, "nothing of this kind in what was asked", transform=axes.transAxes, ha="center")


def _legend(name: str, row: ReachRow) -> str:
    """Return a curve's name with how far it goes by day and by night, and what stops it."""
    told = [
        f"{math.floor(limit.length_m)} m {limit.stop}"
        for limit in (row.day, row.night)
        if math.isfinite(limit.length_m)
    ]
    return f"{name}: {' / '.join(dict.fromkeys(told))}" if told else name


def _far_apart(rows: dict[tuple[str, ...], ReachRow], curves: Iterable[tuple[str, ...]]) -> bool:
    """Whether the shown reaches need a logarithmic axis."""
    tops = [_top_m(rows[key]) for key in list(curves)[:CURVES]]
    return max(tops) > 10 * min(tops)


def _top_m(row: ReachRow) -> float:
    """Return how far a curve is drawn: somewhat beyond its reach [m]."""
    lengths = [x.length_m for x in (row.day, row.night) if math.isfinite(x.length_m) and x.length_m > 1]
    return 1.15 * max(lengths, default=100.0)


def _samples(
    question: ReachQuestion, row: ReachRow, quantities: tuple[str, ...]
) -> dict[str, tuple[Any, list[float], float]]:
    """Return length, values and limit by state for a row; nothing where it has no such line."""
    camera = replace(question.camera, signal=row.signal)
    grid = np.unique(np.concatenate([np.linspace(1.0, _top_m(row), 60), np.geomspace(1.0, _top_m(row), 60)]))
    found: dict[str, tuple[Any, list[float], float]] = {}
    for length_m in grid:
        for line in link_lines(row.variant, camera, float(length_m), question.conditions):
            if line.quantity in quantities and (line.state in ("", *WHEN)):
                _, values, _ = found.setdefault(line.state, (grid, [], line.limit))
                values.append(line.value)
    return {
        state: (lengths[: len(values)], values, limit)
        for state, (lengths, values, limit) in found.items()
        if not np.isnan(values).all()
    }
