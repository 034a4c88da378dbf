"""The records of an estate held against each other: what doesn't fit, what is missing, what could be one."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from estate.audit.completeness import missing_facts
from estate.audit.spellings import nearest, spelt_alike
from estate.findings import NAN
from estate.installed.fill import Containment
from estate.installed.lying import LyingCable
from estate.survey.survey import Layer

TRACE = "trace it with a tone"
IN_USE = "in_use"
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Record:
    """One thing that records say and that can't be so, or that they don't say."""

    kind: str
    """What it is about: cable, point, route, mains, building or supply."""
    subject: str
    """Its id; several with ; between where they could be one."""
    about: str
    """One of ABOUT."""
    problem: str
    suggestion: str
    x: float = NAN
    y: float = NAN
    cameras: tuple[str, ...] = ()


ABOUT = ("end", "camera", "route", "way", "spelling", "double", "unreached", "unused", "dead", "facts")
"""What records are about, in the order in which they are told."""


def records(containment: Containment) -> tuple[Record, ...]:
    """Return everything in which the records of an estate don't fit, in a fixed order."""
    found = [
        *_names(containment),
        *_ways(containment),
        *_spellings(containment),
        *_doubles(containment),
        *_unreached(containment),
        *_unused(containment),
        *_dead(containment),
        *_facts(containment),
    ]
    return tuple(sorted(found, key=lambda r: (ABOUT.index(r.about), r.kind, r.subject, r.problem)))


# Names that are not there


def _names(containment: Containment) -> Iterator[Record]:
    """Yield cables whose ends, camera, routes or equipment are called by names that nothing has."""
    survey = containment.survey
    cables, points = survey.cables, survey.points.ids
    cameras = [name for name, kind in zip(points, survey.points["kind"], strict=True) if kind == "camera"]
    for row, cable in enumerate(cables.ids):
        served = _camera(cables, row)
        for end in ("from", "to"):
            yield from _not_there(cable, "end", f"its {end}", cables[end][row], points, served)
        yield from _not_there(cable, "camera", "its camera", cables["camera"][row], cameras, served)
        for route in cables["routes"][row]:
            yield from _not_there(cable, "route", "a route of it", route, survey.routes.ids, served)
        for item in cables["equipment"][row]:
            node = item.partition("@")[2]
            yield from _not_there(cable, "end", f"the place of its {item}", node, points, served)


def _camera(cables: Layer, row: int) -> tuple[str, ...]:
    return tuple(filter(None, (cables["camera"][row],)))


def _not_there(
    cable: str, about: str, what: str, name: str | None, known: Sequence[str], served: tuple[str, ...]
) -> Iterator[Record]:
    if name is None or name in set(known):
        return
    near = None if name.casefold() == UNKNOWN else nearest(name, known)
    told = f"{what} isn't known" if name.casefold() == UNKNOWN else f"{what}, {name}, isn't there"
    yield Record("cable", cable, about, told, TRACE if near is None else f"is {near} meant?", cameras=served)


# Ways that don't go


def _ways(containment: Containment) -> Iterator[Record]:
    """Yield cables whose ends are there but which no way joins, or not the routes given."""
    cables, points = containment.survey.cables, set(containment.survey.points.ids)
    for cable in containment.lying:
        ends = [cables[end][cable.row] for end in ("from", "to")]
        if cable.basis in ("way", "inferred") or not points.issuperset(ends):
            continue
        if ends[0] == ends[1]:
            problem = f"it starts and ends at {ends[0]}"
        elif cable.basis == "routes":
            problem = f"its routes don't join {ends[0]} and {ends[1]}"
        else:
            problem = f"no existing way joins {ends[0]} and {ends[1]}"
        yield Record("cable", cable.id, "way", problem, TRACE, cameras=_camera(cables, cable.row))


# Ids spelt two ways


def _spellings(containment: Containment) -> Iterator[Record]:
    """Yield ids of one layer that differ only in spelling."""
    survey = containment.survey
    layers = {
        "point": survey.points, "route": survey.routes, "cable": survey.cables, "mains": survey.mains,
        "building": survey.buildings, "supply": survey.supplies,
    }  # fmt: skip
    for kind, layer in layers.items():
        for group in spelt_alike(layer.ids):
            yield Record(
                kind,
                "; ".join(group),
                "spelling",
                f"{' and '.join(group)} differ only in spelling",
                "one thing under two names, or two? Name them apart",
            )


# Cables twice


def _doubles(containment: Containment) -> Iterator[Record]:
    """Yield cables alike in ends, camera, type, status and length: one may be noted twice."""
    cables = containment.survey.cables
    groups: dict[tuple[tuple[str, ...], tuple[object, ...]], list[int]] = defaultdict(list)
    for row in range(len(cables)):
        ends = tuple(sorted(str(cables[end][row]) for end in ("from", "to")))
        length_m = float(cables["length_m"][row])
        facts = [cables[name][row] for name in ("camera", "cable", "status")]
        groups[ends, (*facts, None if np.isnan(length_m) else length_m)].append(row)
    for (ends, _), rows in groups.items():
        if len(rows) > 1:
            names = [str(cables["id"][row]) for row in rows]
            yield Record(
                "cable",
                "; ".join(names),
                "double",
                f"{' and '.join(names)} are alike, between {' and '.join(ends)}",
                "count the cables at both ends: one may be noted twice",
                cameras=_camera(cables, rows[0]),
            )


# Points that no cable reaches, routes that none uses


def _unreached(containment: Containment) -> Iterator[Record]:
    """Yield cameras, recorders and patch points in place that no cable in use reaches; nothing without any cable."""
    points, cables = containment.survey.points, containment.survey.cables
    if not len(cables):
        return
    used, left = _reached(cables)
    for row, name in enumerate(points.ids):
        kind = points["kind"][row]
        there = points["status"][row] != "candidate"
        if kind not in ("camera", "recorder", "patch") or not there or name in used:
            continue
        problem = f"no cable reaches {kind} {name}"
        if name in left:
            problem = f"only spare or dead cables reach {kind} {name}"
        shape = points.geometry[row]
        x, y = (NAN, NAN) if shape is None else (float(shape.x), float(shape.y))
        served = (name,) if kind == "camera" else ()
        yield Record("point", name, "unreached", problem, "is it in use, and over what?", x, y, served)


def _reached(cables: Layer) -> tuple[set[str], set[str]]:
    """Return what cables in use reach, or ones that don't say, and what spare and dead ones do."""
    used: set[str] = set()
    left: set[str] = set()
    for row in range(len(cables)):
        names = {cables[column][row] for column in ("from", "to", "camera")} - {None}
        (used if cables["status"][row] in (IN_USE, None) else left).update(names)
    return used, left


def _unused(containment: Containment) -> Iterator[Record]:
    """Yield existing routes that no listed cable lies in and that aren't said to hold others; nothing without any cable."""
    routes, network = containment.survey.routes, containment.network
    if not containment.lying:
        return
    taken = {int(network.segment_route[segment]) for segment in containment.within}
    for row, name in enumerate(routes.ids):
        others = float(routes["fill_percent"][row])
        if row in taken or routes["status"][row] == "proposed" or others > 0:
            continue
        told = "and none are said to lie there beside those listed" if others == 0 else "as far as is known"
        yield Record(
            "route",
            name,
            "unused",
            f"no listed cable uses route {name}, {told}",
            "look into it: spare, or cables not listed?",
        )


# Dead cables


def _dead(containment: Containment) -> Iterator[Record]:
    """Yield dead cables that still lie in routes."""
    for cable in (each for each in containment.lying if each.is_dead):
        yield Record(
            "cable",
            cable.id,
            "dead",
            f"it is dead and lies in {_routes(containment, cable)}",
            "recover it, or label it",
        )


def _routes(containment: Containment, cable: LyingCable) -> str:
    ids = containment.survey.routes["id"]
    rows = dict.fromkeys(containment.route(segment) for segment in cable.segments)
    return ", ".join(str(ids[row]) for row in rows if row >= 0) or "an unknown place"


# Points without facts


def _facts(containment: Containment) -> Iterator[Record]:
    """Yield points that lack facts that judging needs of their kind."""
    points = containment.survey.points
    kinds = dict(zip(points.ids, points["kind"], strict=True))
    for layer, name, facts in missing_facts(containment.survey):
        if layer == "points":
            served = (name,) if kinds[name] == "camera" else ()
            told = f"{kinds[name]} without {', '.join(facts)}"
            yield Record(
                "point", name, "facts", told, "establish on site, or give it in [assume]", cameras=served
            )
