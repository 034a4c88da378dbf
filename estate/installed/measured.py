"""What was measured on an installed link: it governs where it disagrees with what was calculated."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from estate.catalogue.tables import Catalogue, Figure
from estate.findings import NAN, Verdict
from estate.installed.rows import CableRow
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions
from estate.links.judging import TOGETHER
from estate.links.lines import TOLERANCE, ceiling, graded, passes
from estate.links.link import BudgetLine
from estate.links.power import supply_volts, volts_limit
from estate.links.variants import Variant

STATES = ("day", "night")
SIGNAL = frozenset({
    "reach", "loss", "fixed part", "channel", "fibre loss", "fibre reach", "material", "joints", "throughput", "tees", TOGETHER,
})  # fmt: skip
"""Quantities on how far the signal goes: a good picture shows that it does."""

FEED = frozenset({"volts", "volts max", "PoE power", "PoE port power", "supply power"})

PICTURE = "picture"
GOOD, POOR, DARK = "good", "poor", "dark"
WORDS = {
    DARK: ("none", "no", "dark", "black", "dead", "lost", "off"),
    POOR: ("poor", "bad", "bars", "hum", "noisy", "noise", "snow", "ghost", "ghosts", "flicker", "flickers", "rolling", "soft", "weak", "faint",
           "intermittent", "drops", "freezes"),
    GOOD: ("good", "ok", "fine", "clear", "sharp"),
}  # fmt: skip
"""Words for a picture that are understood."""

SINGLE = ("no", "off")
"""Words that mean something only when they stand alone, or before "picture"."""


def picture_word(told: str) -> str:
    """Return good, poor or dark for a picture in words; empty where they say nothing or several things.

    >>> picture_word("Hum bars"), picture_word("no picture"), picture_word("as ordered")
    ('poor', 'dark', '')
    """
    words = told.lower().replace(",", " ").split()
    alone = [word for word in words if word != "picture"]
    if "not" in alone:
        return ""
    found = {
        kind
        for kind, known in WORDS.items()
        for word in alone
        if word in known and (word not in SINGLE or len(alone) == 1)
    }
    return found.pop() if len(found) == 1 else ""


def pictures(rows: Iterable[CableRow]) -> dict[str, str]:
    """Return the picture by state, the worst that any cable of a link says."""
    found = {}
    for state in STATES:
        words = {picture_word(row.picture[state]) for row in rows}
        found[state] = next((word for word in (DARK, POOR, GOOD) if word in words), "")
    return found


def measurement(rows: Iterable[CableRow], column: str, *, least: bool = True) -> float:
    """Return the least, or greatest, value that was measured on the cables of a link; NaN where none was."""
    values = [row.measured[column] for row in rows if not np.isnan(row.measured[column])]
    return (min(values) if least else max(values)) if values else NAN


def with_measurements(
    lines: Sequence[BudgetLine],
    rows: Sequence[CableRow],
    camera: CameraFacts,
    variant: Variant,
    conditions: Conditions,
) -> tuple[BudgetLine, ...]:
    """Return the lines of a link with what was measured on its cables.

    Measured volts stand in the place of calculated ones. A good picture shows that the signal arrives, and in its
    state that the power does: what calculates as outside, or can't be calculated, then only informs, and the link is
    marginal by measurement. A dark or poor picture is outside whatever is calculated. Separation and earths stay.
    """
    found = list(lines)
    for state in STATES:
        found = _with_volts(found, rows, state, camera, variant, conditions)
    seen = pictures(rows)
    level = _video_level(rows, conditions.catalogue)
    found = _beaten(found, seen, level)
    beaten = sum(line.informs for line in found) > sum(line.informs for line in lines)
    return (*found, *_others(rows, conditions), *level, *_picture_lines(rows, seen, beaten=beaten))


def _with_volts(
    lines: list[BudgetLine],
    rows: Sequence[CableRow],
    state: str,
    camera: CameraFacts,
    variant: Variant,
    conditions: Conditions,
) -> list[BudgetLine]:
    """Return the lines with the volts that were measured in one state instead of those calculated."""
    volts = measurement(rows, f"volts_{state}")
    if np.isnan(volts):
        return lines
    before = next((line for line in lines if (line.quantity, line.state) == ("volts", state)), None)
    entry = conditions.catalogue.feeds[variant.feed]
    if before is not None:
        least_v, source = before.limit, before.source
    elif entry.kind == "local" and np.isnan(camera.volts) and np.isnan(camera.volts_min):
        return lines
    else:
        limit = volts_limit(camera, variant, conditions, "volts_min")
        least_v, source = limit.volts, limit.source
    room = (
        supply_volts(variant, camera, conditions).least - least_v
        if entry.kind in ("dc", "ac", "coax")
        else NAN
    )
    margin = 100 * (volts - least_v) / room if room > 0 else NAN
    verdict = graded(volts >= least_v - TOLERANCE, margin, conditions.limits.margin_percent["volts"])
    told = "" if before is None or np.isnan(before.value) else f"measured; calculated {before.value:.2f} V"
    line = BudgetLine(
        "volts", state, volts, least_v, "V", margin, verdict, "measured", source, text=told or "measured"
    )
    return [line if each is before else each for each in lines] if before is not None else [*lines, line]


def _others(rows: Sequence[CableRow], conditions: Conditions) -> Iterator[BudgetLine]:
    """Yield what was measured between screens and of the insulation."""
    rules = conditions.catalogue.rules
    screen_mv = measurement(rows, "screen_mv", least=False)
    if not np.isnan(screen_mv):
        figure = rules["earths"]["screen_mv"]
        line = ceiling("screen voltage", screen_mv, float(figure.value), "mV", 0.0, source=_source(figure))
        yield replace(line, basis="measured", text="measured between the screens of its ends")
    insulation_mohm = measurement(rows, "insulation_mohm")
    if not np.isnan(insulation_mohm):
        yield _floor("insulation", insulation_mohm, rules["measured"]["insulation_mohm_min"], "MΩ")


def _video_level(rows: Sequence[CableRow], catalogue: Catalogue) -> list[BudgetLine]:
    """Return the level of the video that was measured, too low or too high outside."""
    vpp, rules = measurement(rows, "video_vpp"), catalogue.rules["measured"]
    if np.isnan(vpp):
        return []
    if vpp <= float(rules["video_vpp_max"].value):
        return [_floor("video level", vpp, rules["video_vpp_min"], "V")]
    figure = rules["video_vpp_max"]
    line = ceiling("video level", vpp, float(figure.value), "V", 0.0, source=_source(figure))
    return [replace(line, basis="measured", text="measured; too high: is it terminated in 75 Ω?")]


def _floor(quantity: str, value: float, figure: Figure, unit: str) -> BudgetLine:
    least = float(figure.value)
    verdict = Verdict.WITHIN if value >= least - TOLERANCE else Verdict.OUTSIDE
    margin = 100 * (value - least) / least
    return BudgetLine(
        quantity, "", value, least, unit, margin, verdict, "measured", _source(figure), text="measured"
    )


def _source(figure: Figure) -> str:
    return f"{figure.source} ({figure.status.replace('_', ' ')})"


# The picture


def _beaten(
    lines: Sequence[BudgetLine], seen: dict[str, str], level: Sequence[BudgetLine]
) -> list[BudgetLine]:
    """Return the lines with those that a good picture, or a good level of video, contradicts as information."""
    arrives = GOOD in seen.values() or (bool(level) and all(passes(line) for line in level))
    found = []
    for line in lines:
        fed = line.quantity in FEED and line.basis != "measured" and _good_in(line.state, seen)
        shown = (line.quantity in SIGNAL and arrives) or fed
        if shown and not line.informs and not passes(line):
            text = "; ".join(filter(None, (line.text, "the measurement governs")))
            found.append(replace(line, informs=True, text=text))
        else:
            found.append(line)
    return found


def _good_in(state: str, seen: dict[str, str]) -> bool:
    return seen[state] == GOOD if state else set(seen.values()) == {GOOD}


def _picture_lines(rows: Sequence[CableRow], seen: dict[str, str], *, beaten: bool) -> Iterator[BudgetLine]:
    """Yield one line for each state in which somebody looked at the picture."""
    verdicts = {
        DARK: Verdict.OUTSIDE,
        POOR: Verdict.OUTSIDE,
        GOOD: Verdict.MARGINAL if beaten else Verdict.WITHIN,
    }
    for state, word in seen.items():
        if word:
            told = next(row.picture[state] for row in rows if picture_word(row.picture[state]) == word)
            when = "by day" if state == "day" else "at night"
            yield BudgetLine(
                PICTURE, state, NAN, NAN, "", NAN, verdicts[word], "measured", "the survey of the pictures",
                text=f"{told} {when}",
            )  # fmt: skip
    if beaten and not any(seen.values()):
        yield BudgetLine(
            PICTURE, "", NAN, NAN, "", NAN, Verdict.MARGINAL, "measured", "the measured video level",
            text="the level of the video is good; fine detail was not looked at",
        )  # fmt: skip
