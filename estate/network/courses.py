"""The course of a segment as a cable meets it: straights with their slopes, and the bends between them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import shapely

from estate.network.network import Floats, Network
from estate.survey.survey import Survey

RIGHT_ANGLE_DEG = 90.0


@dataclass(frozen=True, slots=True)
class Course:
    """Straights in order, and the bend after each; one more straight than bends.

    A bend is NaN where its angle is not known. Headings are unit vectors, None without a drawing.
    """

    length_m: Floats
    slope_deg: Floats
    """Upwards positive."""
    bend_deg: Floats
    heading_in: Floats | None
    heading_out: Floats | None

    def back(self) -> "Course":
        """Return the same course the other way."""
        heads = [None if h is None else -h for h in (self.heading_out, self.heading_in)]
        return Course(self.length_m[::-1], -self.slope_deg[::-1], self.bend_deg[::-1], heads[0], heads[1])


def course_of(survey: Survey, network: Network, segment: int) -> Course:
    """Return the course of a segment of a route, from its start.

    Bends are the drawn corners; where `bends` says more for the route, the rest is spread evenly along it. A route
    without a drawing has those of `bends`, unknown where that is blank. Slopes are those of drawn heights, else level.
    """
    places = _drawn(survey, network, segment)
    if places is None:
        return _schematic(survey, network, segment)
    step = np.diff(places, axis=0)
    drawn_m = np.linalg.norm(step, axis=1)
    heading = step / drawn_m[:, None]
    corners = turns_deg(heading[:-1], heading[1:])
    length_m = drawn_m * _scale(float(network.segment_length_m[segment]), float(drawn_m.sum()))
    slope = np.degrees(np.arcsin(np.clip(heading[:, 2], -1.0, 1.0)))
    more = _undrawn_deg(survey, network, segment)
    return _with_bends(length_m, slope, corners, more, heading[0], heading[-1])


def turns_deg(before: Floats, after: Floats) -> Floats:
    """Return the angles between headings, row by row [°]."""
    return np.asarray(np.degrees(np.arccos(np.clip((before * after).sum(axis=1), -1.0, 1.0))))


def joined(courses: Sequence[Course]) -> Course:
    """Return several courses one after the other, with the corners where they meet."""
    lengths, slopes, bends = [], [], []
    for number, course in enumerate(courses):
        if number:
            bends.append(np.array([_corner_deg(courses[number - 1], course)]))
        lengths.append(course.length_m)
        slopes.append(course.slope_deg)
        bends.append(course.bend_deg)
    return Course(
        np.concatenate(lengths),
        np.concatenate(slopes),
        np.concatenate(bends),
        courses[0].heading_in,
        courses[-1].heading_out,
    )


def route_bends_deg(survey: Survey, network: Network, segments: Sequence[int]) -> float:
    """Return all bends of a route from its segments in order [°], NaN where they are not known."""
    return float(joined([course_of(survey, network, segment) for segment in segments]).bend_deg.sum())


def _corner_deg(before: Course, after: Course) -> float:
    if before.heading_out is None or after.heading_in is None:
        return 0.0
    return float(turns_deg(before.heading_out[None], after.heading_in[None])[0])


def _drawn(survey: Survey, network: Network, segment: int) -> Floats | None:
    """Return the vertices of a segment, shape (n, 3) [m]; z is 0 where a height is missing on its route."""
    route, line = int(network.segment_route[segment]), network.segment_geometry[segment]
    if line is None:
        return None
    if route < 0:
        plan = shapely.get_coordinates(line)
        return _apart(np.column_stack([plan, np.zeros(len(plan))]))
    xyz = shapely.get_coordinates(survey.routes.geometry[route], include_z=True)
    if not np.isfinite(xyz[:, 2]).all():
        xyz[:, 2] = 0.0
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xyz, axis=0), axis=1))])
    start, end = float(network.segment_start_m[segment]), float(network.segment_end_m[segment])
    inside = along[(along > start) & (along < end)]
    at = np.concatenate([[start], inside, [end]])
    return _apart(np.column_stack([np.interp(at, along, xyz[:, k]) for k in range(3)]))


def _apart(places: Floats) -> Floats | None:
    """Return places without those that repeat the one before; None where that leaves no line."""
    moved = np.append(True, np.linalg.norm(np.diff(places, axis=0), axis=1) > SAME_PLACE_M)
    kept = places[moved]
    return kept if len(kept) > 1 else None


SAME_PLACE_M = 1e-6


def _scale(length_m: float, drawn_m: float) -> float:
    return length_m / drawn_m if np.isfinite(length_m) else 1.0


def _schematic(survey: Survey, network: Network, segment: int) -> Course:
    bends = RIGHT_ANGLE_DEG * _bends(survey, network, segment) * _share(network, segment)
    length_m, level = np.array([float(network.segment_length_m[segment])]), np.zeros(1)
    if np.isnan(bends):
        return Course(np.repeat(length_m / 2, 2), np.zeros(2), np.array([np.nan]), None, None)
    return _with_bends(length_m, level, np.zeros(0), bends, None, None)


def _bends(survey: Survey, network: Network, segment: int) -> float:
    route = int(network.segment_route[segment])
    return float(survey.routes["bends"][route]) if route >= 0 else float("nan")


def _share(network: Network, segment: int) -> float:
    """Return the part of its route's length that a segment is."""
    whole_m = float(network.segment_length_m[network.segment_route == network.segment_route[segment]].sum())
    return float(network.segment_length_m[segment]) / whole_m if whole_m > 0 else 1.0


def _undrawn_deg(survey: Survey, network: Network, segment: int) -> float:
    """Return the angle that `bends` of a route gives beyond its drawn corners, this segment's share of it [°]."""
    bends, route = _bends(survey, network, segment), int(network.segment_route[segment])
    if np.isnan(bends):
        return 0.0
    plan = _apart(
        np.column_stack([shapely.get_coordinates(survey.routes.geometry[route]), _zeros(survey, route)])
    )
    if plan is None:
        return 0.0
    step = np.diff(plan, axis=0)
    heading = step / np.linalg.norm(step, axis=1)[:, None]
    drawn = float(turns_deg(heading[:-1], heading[1:]).sum())
    return max(RIGHT_ANGLE_DEG * bends - drawn, 0.0) * _share(network, segment)


def _zeros(survey: Survey, route: int) -> Floats:
    return np.zeros(len(shapely.get_coordinates(survey.routes.geometry[route])))


def _with_bends(
    length_m: Floats,
    slope_deg: Floats,
    corners_deg: Floats,
    more_deg: float,
    heading_in: Floats | None,
    heading_out: Floats | None,
) -> Course:
    """Return a course with `more_deg` spread evenly over its length, no bend of it above a right angle."""
    whole_m = float(length_m.sum())
    lengths: list[float] = []
    slopes: list[float] = []
    bends: list[float] = []
    for k, (straight_m, slope) in enumerate(zip(length_m.tolist(), slope_deg.tolist(), strict=True)):
        own_deg = more_deg * straight_m / whole_m if whole_m > 0 else 0.0
        count = ceil(own_deg / RIGHT_ANGLE_DEG - TOLERANCE)
        # Each bend in the middle of its part, so the pieces are 1, 2, … 2 and 1 halves long.
        parts = [1.0, *[2.0] * (count - 1), 1.0] if count else [2.0]
        lengths += [straight_m * part / sum(parts) for part in parts]
        slopes += [slope] * len(parts)
        bends += [own_deg / count] * count if count else []
        bends += corners_deg[k : k + 1].tolist()
    return Course(np.array(lengths), np.array(slopes), np.array(bends), heading_in, heading_out)


TOLERANCE = 1e-9
