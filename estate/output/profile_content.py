"""What the route profiles show: of which links, and how their budgets fill up along their cables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from estate.output.block_diagram_content import PASSIVE
from estate.output.result import Result

BY_LENGTH, BY_MARGIN = 6, 6
"""So many of the longest links have a profile, and so many of those with the least margin."""


@dataclass(frozen=True, slots=True)
class Point:
    """One node: cable from the head [m], share of the limit used [%], volts of the feed (None where none runs)."""

    node: str
    at_m: float
    share_percent: float | None
    volts_day: float | None
    volts_night: float | None


@dataclass(frozen=True, slots=True)
class ProfileStretch:
    """One stretch with what limits it by length."""

    method: str
    quantity: str
    limit: float | None
    unit: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Profile:
    """One link from head to camera."""

    link: str
    ends: str
    length_m: float
    verdict: str
    limiting: str
    reason: str
    """Why it is shown: length, margin, or both."""
    stretches: tuple[ProfileStretch, ...]
    volts_min: float | None
    equipment: Mapping[str, tuple[str, ...]]
    """Items by node."""


def profiles_of(result: Result) -> list[Profile]:
    """Return the profiles of the longest links and of those with the least margin, in the order of the links."""
    points: dict[str, list[dict[str, Any]]] = {}
    for row in result.rows("profiles"):
        points.setdefault(row["link"], []).append(row)
    links = [row for row in result.rows("links") if row["link"] in points]
    longest = sorted(links, key=lambda row: (-(row["cable_length_m"] or 0.0), row["link"]))[:BY_LENGTH]
    judged = [row for row in links if row["margin_percent"] is not None]
    nearest = sorted(judged, key=lambda row: (row["margin_percent"], row["link"]))[:BY_MARGIN]
    reasons: dict[str, list[str]] = {}
    for chosen, reason in ((longest, "among the longest"), (nearest, "among the least margins")):
        for row in chosen:
            reasons.setdefault(row["link"], []).append(reason)
    methods = {(row["link"], row["stretch"]): row["method"] for row in result.rows("runs")}
    equipment = _equipment(result)
    return [
        _profile(row, points[row["link"]], reasons[row["link"]], methods, equipment.get(row["link"], {}))
        for row in links
        if row["link"] in reasons
    ]


def _profile(
    link: Mapping[str, Any],
    rows: Sequence[Mapping[str, Any]],
    reasons: Sequence[str],
    methods: Mapping[tuple[str, int], str],
    equipment: Mapping[str, tuple[str, ...]],
) -> Profile:
    stretches = []
    for number in sorted({row["stretch"] for row in rows}):
        own = [row for row in rows if row["stretch"] == number]
        told = next((row for row in own if row["quantity"]), own[0])
        stretches.append(
            ProfileStretch(
                method=methods.get((link["link"], number), ""),
                quantity=told["quantity"] or "",
                limit=told["limit"],
                unit=told["unit"] or "",
                points=tuple(
                    Point(r["node"], r["at_m"], r["share_percent"], r["volts_day"], r["volts_night"])
                    for r in own
                ),
            )
        )
    fed = [row["volts_min"] for row in rows if row["volts_day"] is not None]
    return Profile(
        link=link["link"],
        ends=f"{link['head']} to {link['camera'] or rows[-1]['node']}",
        length_m=link["cable_length_m"],
        verdict=link["verdict"],
        limiting=link["limiting"] or "",
        reason=" and ".join(reasons),
        stretches=tuple(stretches),
        volts_min=fed[0] if fed else None,
        equipment=equipment,
    )


def _equipment(result: Result) -> dict[str, dict[str, tuple[str, ...]]]:
    """Return what stands at the nodes of each link, without connectors and the like."""
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for row in result.rows("equipment"):
        if row["item"].startswith(PASSIVE):
            continue
        at = found.setdefault(row["link"], {})
        at[row["node"]] = tuple(dict.fromkeys((*at.get(row["node"], ()), row["item"])))
    return found
