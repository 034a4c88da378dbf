"""Where a stretch too near mains would run if it were moved: along the edge of what has to be kept clear."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import substring

from estate.network.network import Network

ARC_SEGMENTS = 32
"""Straight pieces per quarter circle of an edge."""

SPARE = 1.003
"""Share by which distances are kept larger, so that an edge made of straight pieces never falls short."""

SPARE_M = 0.005
LONGEST_DETOUR = 3.0
"""A moved stretch longer than this many times the old one and the clear distance is no cure."""


@dataclass(frozen=True)
class Shifted:
    """A moved line: the whole segment, the moved part of it, and the leads within the distance at its ends [m]."""

    line: LineString
    moved: LineString
    leads_m: float

    @property
    def moved_m(self) -> float:
        """Length of the new part [m]."""
        return float(self.moved.length)


def keep_out(runs: Sequence[LineString], clear_m: Sequence[float]) -> Polygon:
    """Return what lies within its clear distance of any run, as one shape [m]."""
    shapes = [
        run.buffer(metres * SPARE + SPARE_M, quad_segs=ARC_SEGMENTS)
        for run, metres in zip(runs, clear_m, strict=True)
    ]
    return shapely.union_all(shapes)


def shifted_line(
    line: LineString,
    zone: Polygon,
    barred: Sequence[Polygon] = (),
    within: Polygon | None = None,
) -> Shifted | None:
    """Return a segment's line moved out of a zone, None where there is no such line.

    The stretch from where the line first enters the zone to where it last leaves it goes along the zone's edge, on
    the side that is shorter. Where an end of the line lies inside, a straight lead joins it to the edge: ends stay
    where they are.

    Parameters
    ----------
    line : LineString
        The segment as drawn [m]
    zone : Polygon or MultiPolygon
        What must be kept clear
    barred : sequence of Polygon
        Buildings that the moved part must not enter
    within : Polygon
        The building that it must not leave; None outdoors

    """
    inside = shapely.intersection(line, zone)
    if inside.is_empty or inside.length == 0:
        return None
    places = [line.project(Point(xy)) for xy in shapely.get_coordinates(inside)]
    low, high = min(places), max(places)
    part = _piece_around(zone, inside)
    if part is None:
        return None
    ring = _ring(part)
    off_edge = [ring.distance(line.interpolate(at)) > SPARE_M for at in (low, high)]
    if any(
        off and SPARE_M < at < line.length - SPARE_M for off, at in zip(off_edge, (low, high), strict=True)
    ):
        return None  # the line leaves into a gap that the zone encloses
    leads = [
        _lead(line.interpolate(at), ring) if off else None
        for off, at in zip(off_edge, (low, high), strict=True)
    ]
    ends = [
        Point(lead.coords[-1]) if lead is not None else line.interpolate(at)
        for lead, at in zip(leads, (low, high), strict=True)
    ]
    whole = [_joined(line, low, high, leads, way) for way in _both_ways(ring, *ends)]
    longest_m = LONGEST_DETOUR * ((high - low) + sum(lead.length for lead in leads if lead is not None))
    fit = [w for w in whole if w is not None and w.moved_m <= longest_m and _is_free(w.moved, barred, within)]
    return min(fit, key=lambda w: (round(w.moved_m, 6), w.moved.wkt), default=None)


def _piece_around(zone: Polygon, inside: shapely.Geometry) -> Polygon | None:
    """Return the one piece of the zone that the line runs through; None where it runs through several."""
    pieces = [piece for piece in shapely.get_parts(zone) if piece.intersection(inside).length > 0]
    return pieces[0] if len(pieces) == 1 else None


def _ring(part: Polygon) -> LineString:
    """Return the edge of a piece, without pieces too short to measure along."""
    return LineString(_distinct(part.exterior.coords))


def _lead(place: Point, ring: LineString) -> LineString:
    """Return the shortest way from a place inside to the edge."""
    return LineString([place, ring.interpolate(ring.project(place))])


def _both_ways(ring: LineString, start: Point, end: Point) -> list[LineString]:
    """Return both ways along a closed ring between two places on it."""
    a, b = ring.project(start), ring.project(end)
    low, high = sorted((a, b))
    if high - low <= SPARE_M:
        return []
    forth = _coords(substring(ring, low, high))
    back = [*_coords(substring(ring, high, ring.length)), *_coords(substring(ring, 0.0, low))]
    ways = [LineString(c) for c in (_distinct(forth), _distinct(back)) if len(c) > 1]
    return [
        way
        if Point(way.coords[0]).distance(start) <= Point(way.coords[-1]).distance(start)
        else way.reverse()
        for way in ways
    ]


def _joined(
    line: LineString, low: float, high: float, leads: Sequence[LineString | None], way: LineString
) -> Shifted:
    """Return the line with its stretch replaced by leads and a way along the edge."""
    first, last = leads
    moved = [
        *(first.coords if first is not None else ()),
        *way.coords,
        *(reversed(last.coords) if last is not None else ()),
    ]
    before, after = substring(line, 0.0, low), substring(line, high, line.length)
    coords = _distinct([*_coords(before), *moved, *_coords(after)])
    coords[-1] = _coords(line)[-1]
    return Shifted(
        LineString(coords),
        LineString(_distinct(moved)),
        sum(float(lead.length) for lead in leads if lead is not None),
    )


def _coords(line: shapely.Geometry) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(line)] if line.length > 0 else []


def _distinct(coords: Sequence[tuple[float, ...]]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for x, y in ((float(c[0]), float(c[1])) for c in coords):
        if not found or np.hypot(x - found[-1][0], y - found[-1][1]) > 1e-6:
            found.append((x, y))
    return found


def _is_free(moved: LineString, barred: Sequence[Polygon], within: Polygon | None) -> bool:
    """Whether a line enters no building it must not, and leaves none it must stay in."""
    if any(building.intersection(moved).length > SPARE_M for building in barred):
        return False
    return within is None or within.buffer(SPARE_M).covers(moved)


def one_segment(
    network: Network, segment: int, line: LineString | None = None, barrier: str | None = None
) -> Network:
    """Return the network of one segment alone, on another line or behind another barrier."""
    chosen = {
        f.name: getattr(network, f.name)[[segment]] for f in fields(Network) if f.name.startswith("segment_")
    }
    for name, value in (("segment_geometry", line), ("segment_barrier", barrier)):
        if value is not None:
            chosen[name] = np.empty(1, dtype=object)
            chosen[name][0] = value
    return replace(network, **chosen, joins=(), findings=())
