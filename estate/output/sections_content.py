"""What the sections show: shared ways with the cables in them, what is known of their size, and the mains beside."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from estate.output.result import Result

UNDER_COVER = ("indoor", "riser", "aerial")
"""Environments in which a duct is not in the ground."""


@dataclass(frozen=True, slots=True)
class CableInWay:
    """One cable in a way."""

    number: str
    cable: str
    family: str
    od_mm: float | None


@dataclass(frozen=True)
class Section:
    """One section: across the segment of a route that carries most cables."""

    number: str
    segment: str
    route: str
    containment: str
    is_proposed: bool
    environment: str
    facts: Mapping[str, Any]
    """Surface, depth, ways and sizes as the route gives them; None where it doesn't."""
    cables: tuple[CableInWay, ...]
    fill_percent: float | None
    mains: tuple[str, ...]
    """Mains beside the segment, each in words."""
    alike: tuple[str, ...]
    """Other segments of the route with the same cables."""

    @property
    def is_below_ground(self) -> bool:
        """Whether it lies in the ground."""
        return _is_below_ground(self.containment, self.environment)


def sections_of(result: Result) -> list[Section]:
    """Return a section of every route that two cables or more share, in the order of the routes."""
    cables = _cables_by_segment(result)
    facts = {row["segment"]: row for row in result.rows("segment_facts")}
    rows = {row["segment"]: row for row in result.layers["segments"].records() if row["segment"] in facts}
    mains = _mains_by_segment(result)
    busiest: dict[str, str] = {}
    for name, row in rows.items():
        shared = len(cables.get(name, {})) > 1
        if shared and _weight(row, cables) > _weight(rows.get(busiest.get(row["route"], "")), cables):
            busiest[row["route"]] = name
    found = []
    for number, (route, name) in enumerate(sorted(busiest.items()), 1):
        row, own = rows[name], cables[name]
        alike = [
            s for s, other in rows.items() if other["route"] == route and s != name and cables.get(s) == own
        ]
        found.append(
            Section(
                number=f"S{number}",
                segment=name,
                route=route,
                containment=row["containment"] or "unknown",
                is_proposed=bool(row["proposed"]),
                environment=row["environment"] or "",
                facts=facts[name],
                cables=tuple(own.values()),
                fill_percent=row["fill_percent"],
                mains=tuple(mains.get(name, ())),
                alike=tuple(alike),
            )
        )
    return found


def _weight(
    row: Mapping[str, Any] | None, cables: Mapping[str, Mapping[str, CableInWay]]
) -> tuple[int, bool, float]:
    """What makes one segment of a route the one to cut: most cables, then in the ground, then the longest."""
    if row is None:
        return 0, False, 0.0
    below = _is_below_ground(row["containment"] or "", row["environment"] or "")
    return len(cables.get(row["segment"], {})), below, row["length_m"] or 0.0


def _is_below_ground(containment: str, environment: str) -> bool:
    return containment == "buried" or (containment == "duct" and environment not in UNDER_COVER)


def _cables_by_segment(result: Result) -> dict[str, dict[str, CableInWay]]:
    """Return the cables in each segment by their numbers; one that passes twice is there twice."""
    kinds = {row["cable"]: row for row in result.rows("cable_facts")}
    found: dict[str, dict[str, CableInWay]] = {}
    for run in result.rows("runs"):
        kind = kinds.get(run["cable"], {})
        passed: dict[str, int] = {}
        for segment in (run["segments"] or "").split(";"):
            passed[segment] = passed.get(segment, 0) + 1
            again = "" if passed[segment] == 1 else f" (pass {passed[segment]})"
            cable = CableInWay(run["number"] + again, run["cable"], kind.get("family", ""), kind.get("od_mm"))
            found.setdefault(segment, {})[cable.number] = cable
    return found


def _mains_by_segment(result: Result) -> dict[str, list[str]]:
    """Return what runs beside each segment, the nearest first."""
    found: dict[str, list[tuple[float, str]]] = {}
    for row in result.rows("proximity"):
        if row["distance_m"] is None:
            continue
        required = "" if row["required_m"] is None else f", ≥ {row['required_m']:g} m required"
        words = f"{row['mains'] or 'mains'} {row['distance_m']:.2f} m as drawn{required}: {row['verdict']}"
        found.setdefault(row["segment"], []).append((row["distance_m"], words))
    return {segment: [words for _, words in sorted(each)] for segment, each in found.items()}
