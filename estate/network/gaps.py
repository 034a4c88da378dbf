"""What the drawing leaves open: gaps, false crossings, points and cameras that nothing reaches."""

from collections.abc import Iterable

import numpy as np
import shapely

from estate.findings import NAN, Action, Effect, Finding, Severity
from estate.network.lines import DrawnLines, agree, passes_near
from estate.network.network import Floats, Ints
from estate.network.nodes import Nodes
from estate.network.topology import Places, Topology, Unattached
from estate.survey.survey import Layer, Survey

LOOSE_END_M = 5.0
"""A loose end this near to another way is probably meant to join it [m]."""


def drawing_findings(
    survey: Survey, topology: Topology, groups: Ints, kept: Ints, nodes: Nodes
) -> list[Finding]:
    """All that is open in the drawing of routes and of the points that pass cable on."""
    return [
        *_loose_ends(topology, groups, kept, nodes),
        *_false_crossings(topology, groups, kept),
        *_wide_nodes(topology, groups, nodes),
        *_lone_points(survey.points, topology, nodes),
    ]


def _finding(
    severity: Severity, effect: Effect, action: Action, kind: str, subject: str, text: str, **more: object
) -> Finding:
    return Finding(severity, effect, action, kind, subject, text, source="drawing", **more)  # type: ignore[arg-type]


def _loose_ends(t: Topology, groups: Ints, kept: Ints, nodes: Nodes) -> Iterable[Finding]:
    """Ends of routes near another route that they don't join."""
    ends = np.arange(2 * len(t.lines))
    node = nodes.number[groups[len(t.places.id) + ends]]
    pointed = np.zeros(len(nodes.id), dtype=bool)
    pointed[nodes.point_node[nodes.point_node >= 0]] = True
    loose = ends[(nodes.degree[node] == 1) & ~pointed[node]]
    if not len(loose):
        return
    place = t.lines.place(t.lines.ends()[loose])
    found = passes_near(t.lines, place, LOOSE_END_M)
    near = _Neighbours(t, groups, kept)
    best: dict[int, tuple[float, float]] = {}
    for index, chainage, gap in zip(
        loose[found.point].tolist(), found.chainage.tolist(), found.gap_m.tolist(), strict=True
    ):
        if near.may_be_meant(index, chainage, gap) and (gap, chainage) < best.get(index, (np.inf, 0.0)):
            best[index] = (gap, chainage)
    end_chainage = t.lines.ends()
    told: set[tuple[float, float]] = set()
    for end, (gap, chainage) in sorted(best.items()):
        # Two ends that face each other are one gap.
        pair = (round(min(end_chainage[end], chainage), 3), round(max(end_chainage[end], chainage), 3))
        if pair not in told:
            told.add(pair)
            yield _gap(t, end, gap, chainage)


class _Neighbours:
    """Which nodes stand on a line near a chainage."""

    def __init__(self, t: Topology, groups: Ints, kept: Ints) -> None:
        self._t = t
        self._chainage = t.cuts[kept]
        self._group = groups[len(t.places.id) + kept]

    def may_be_meant(self, end: int, chainage: float, gap: float) -> bool:
        """Whether a loose end near a place on another line could be meant to join it, and doesn't."""
        lines = self._t.lines
        line, other = end // 2, int(lines.line_of(np.array([chainage]))[0])
        if line == other:
            return False
        levels = bool(agree(lines.level[[line]], lines.level[[other]])[0])
        here = lines.ends()[end]
        return (levels or gap <= self._t.snap_m) and not self.around(here) & self.around(chainage)

    def around(self, chainage: float, reach_m: float = LOOSE_END_M) -> set[int]:
        """Nodes within reach along the line."""
        low, high = np.searchsorted(self._chainage, [chainage - reach_m, chainage + reach_m])
        return set(self._group[low:high].tolist())

    def nearest(self, chainage: Floats, reach_m: float) -> Ints:
        """The nearest node within reach along the line, -1 for none."""
        right = np.clip(np.searchsorted(self._chainage, chainage), 1, max(len(self._chainage) - 1, 1))
        left = right - 1
        closer = chainage - self._chainage[left] <= self._chainage[right] - chainage
        near = np.where(closer, left, right)
        found = self._group[near]
        return np.where(np.abs(self._chainage[near] - chainage) <= reach_m, found, -1)


def _gap(t: Topology, end: int, gap: float, chainage: float) -> Finding:
    line, other = end // 2, int(t.lines.line_of(np.array([chainage]))[0])
    route, near = t.route_id[line], t.route_id[other]
    x, y = t.lines.place(t.lines.ends()[[end]])[0].tolist()
    side = "start" if end % 2 == 0 else "end"
    level, near_level = t.lines.level[line], t.lines.level[other]
    if agree(np.array([level]), np.array([near_level]))[0]:
        reason = f"they don't join (snap {t.snap_m:g} m)"
        remedy = "draw them to meet, or put a junction where they do; leave it if they are truly apart"
    else:
        reason = f"they don't join: levels {level:g} and {near_level:g} meet only at a point"
        remedy = "put a junction or pit where the levels are joined"
    text = f"{side} of route {route} at ({x:.2f}, {y:.2f}) is {gap:.2f} m from route {near}; {reason}"
    return _finding(
        Severity.WATCH, Effect.PICTURE, Action.CONNECT, "route", str(route), text,
        x=x, y=y, measured=gap, limit=t.snap_m, unit="m", remedy=remedy,
    )  # fmt: skip


def _false_crossings(t: Topology, groups: Ints, kept: Ints) -> Iterable[Finding]:
    """Crossings of two routes where no node joins them."""
    first, second = t.crossed
    line, other = t.lines.line_of(first), t.lines.line_of(second)
    reach = 2 * t.snap_m
    near = _Neighbours(t, groups, kept)
    here, there = near.nearest(first, reach), near.nearest(second, reach)
    order = np.lexsort((second, first, other, line))
    open_ones = (line != other) & ((here != there) | (here < 0))
    place = t.lines.place(first)
    told: set[tuple[int, int, float, float]] = set()
    for k in order[open_ones[order]].tolist():
        # Pieces that meet at a vertex, and lines that fold back, cross several times at one place.
        x, y = place[k].tolist()
        key = (int(line[k]), int(other[k]), round(x, 3), round(y, 3))
        if key in told or near.around(float(first[k]), reach) & near.around(float(second[k]), reach):
            continue
        told.add(key)
        a, b = t.route_id[line[k]], t.route_id[other[k]]
        yield _finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "route", str(a),
            f"routes {a} and {b} cross at ({x:.2f}, {y:.2f}) without joining",
            x=x, y=y, remedy="put a junction or pit there if cable can pass from one to the other",
        )  # fmt: skip


def _wide_nodes(t: Topology, groups: Ints, nodes: Nodes) -> Iterable[Finding]:
    """Nodes drawn together from places farther apart than 2 × snap."""
    xy = t.socket_xy()
    joins = np.flatnonzero(np.isfinite(xy).all(axis=1) & (nodes.number[groups] >= 0))
    node = nodes.number[groups[joins]]
    low, high = np.full((len(nodes.id), 2), np.inf), np.full((len(nodes.id), 2), -np.inf)
    np.minimum.at(low, node, xy[joins])
    np.maximum.at(high, node, xy[joins])
    wide = np.hypot(*(high - low).T) > 2 * t.snap_m + 1e-6
    for one in np.flatnonzero(wide & np.isfinite(low[:, 0])).tolist():
        hull = shapely.convex_hull(shapely.multipoints(xy[joins[node == one]]))
        corners = shapely.get_coordinates(hull)
        width = float(np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1)).max())
        if width <= 2 * t.snap_m + 1e-6:
            continue
        x, y = nodes.xy[one].tolist()
        yield _finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "node", str(nodes.id[one]),
            f"node {nodes.id[one]} was drawn together from places up to {width:.2f} m apart "
            f"(snap {t.snap_m:g} m)",
            x=x, y=y, measured=width, limit=2 * t.snap_m, unit="m",
            remedy="draw these ends to meet, or use a smaller snap_m",
        )  # fmt: skip


def _lone_points(points: Layer, t: Topology, nodes: Nodes) -> Iterable[Finding]:
    """Points that pass cable on, with no way to them."""
    alone = [
        row
        for row in np.flatnonzero(~t.places.is_camera).tolist()
        if nodes.degree[nodes.point_node[row]] == 0
    ]
    if not alone:
        return
    gap_m = _distance_to_lines(t.lines, t.places.xy[alone])
    for row, gap in zip(alone, gap_m.tolist(), strict=True):
        name, kind = points["id"][row], points["kind"][row]
        far = f"; the nearest is {gap:.2f} m away" if np.isfinite(gap) else ""
        yield _finding(
            Severity.FAULT if kind == "recorder" else Severity.WATCH,
            Effect.PICTURE, Action.CONNECT, "point", str(name), f"no route reaches {kind} {name}{far}",
            x=float(t.places.xy[row, 0]), y=float(t.places.xy[row, 1]),
            measured=gap, limit=t.snap_m, unit="m", remedy="draw a route to it",
        )  # fmt: skip


def _distance_to_lines(lines: DrawnLines, xy: Floats) -> Floats:
    """Distance from each place to the nearest line [m], NaN where either is missing."""
    found = np.full(len(xy), NAN)
    placed = np.flatnonzero(np.isfinite(xy).all(axis=1))
    if len(lines) and len(placed):
        (index, _), gap = lines.tree.query_nearest(
            shapely.points(xy[placed]), return_distance=True, all_matches=False
        )
        found[placed[index]] = gap
    return found


def unattached_findings(
    points: Layer, places: Places, alone: Iterable[Unattached], unplaced: Ints, spur_max_m: float
) -> list[Finding]:
    """Cameras that no way reaches."""
    missing = [*alone, *(Unattached(camera, NAN) for camera in unplaced.tolist())]
    return [
        _unattached(str(points["id"][one.camera]), places.xy[one.camera], one.gap_m, spur_max_m)
        for one in sorted(missing, key=lambda u: u.camera)
    ]


def _unattached(name: str, xy: Floats, gap_m: float, spur_max_m: float) -> Finding:
    x, y = xy.tolist()
    if np.isfinite(gap_m):
        text = f"camera {name} is {gap_m:.2f} m from the nearest route (spur_max_m {spur_max_m:g})"
    elif np.isfinite(x):
        text = f"camera {name} has no route on its level"
    else:
        text = f"camera {name} has neither a place nor a route in the list"
    return _finding(
        Severity.FAULT, Effect.PICTURE, Action.CONNECT, "point", name, text,
        x=x, y=y, measured=gap_m, limit=spur_max_m, unit="m", cameras=(name,),
        remedy="draw a route to it",
    )  # fmt: skip


def schematic_findings(routes: Layer) -> list[Finding]:
    """Rows without a drawing that lead nowhere or have no length."""
    findings = []
    for row in range(len(routes)):
        name, start, end = routes["id"][row], routes["from"][row], routes["to"][row]
        if routes.geometry[row] is not None or start is None:
            continue
        if start == end:
            text = f"route {name} leads from {start} back to {start}"
            found = (Severity.NOTE, Effect.RECORDS, Action.SURVEY, "route", str(name), text)
            findings.append(_finding(*found, remedy="check its ends"))
        if np.isnan(float(routes["length_m"][row])):
            text = f"route {name} from {start} to {end} has neither a drawing nor a length: no cable uses it"
            found = (Severity.FAULT, Effect.PICTURE, Action.SURVEY, "route", str(name), text)
            findings.append(_finding(*found, remedy="measure it"))
    return findings
