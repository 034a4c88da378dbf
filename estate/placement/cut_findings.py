"""The worst single cuts as findings, each with what would help."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree

from estate.findings import NAN, Action, Effect, Finding, Severity
from estate.links.link import Link
from estate.links.prices import PriceBook
from estate.network.network import Bools, Ints, Network
from estate.placement.cuts import Cut, made_segments, node_reached
from estate.placement.places import middle

MOST = 3
"""Cuts told as findings; all of them are in cuts.csv."""

LEAST_LOST = 2
"""Cameras that a cut must take to be told: every camera's own tail takes one."""

SECOND = "cable a second uplink, or the links, over the other way that is there; no new route is needed"

OVER_IT = "a second uplink or the links over it"


def cut_findings(
    network: Network,
    prices: PriceBook,
    cuts: Sequence[Cut],
    links: Sequence[Link],
    recorder_nodes: Sequence[int],
) -> list[Finding]:
    """Return the worst cuts of ways: not of a node where a recorder, cabinet or camera stands.

    Of cuts that take the same cameras, or some of them, only the first is told. Watch where cameras have no
    other way, note where they have.
    """
    served = len({link.camera for link in links if link.camera and link.nodes})
    made = made_segments(network, links)
    found = []
    for cut in list(_apart(cuts, links))[:MOST]:
        x, y = _place(network, cut)
        remedy, cost = (
            (SECOND, NAN) if not cut.stranded else _added_route(network, prices, cut, made, recorder_nodes)
        )
        stranded = f"{len(cut.stranded)} without another way"
        other = stranded if cut.stranded else "another way is there for each of them"
        found.append(
            Finding(
                Severity.WATCH if cut.stranded else Severity.NOTE,
                Effect.DEGRADED, Action.CONNECT, cut.subject_kind, cut.subject,
                f"a cut of {cut.subject_kind} {cut.subject} loses {len(cut.lost)} of {served} cameras; {other}",
                x=x, y=y, measured=float(len(cut.lost)), unit="cameras", remedy=remedy, cost=cost, cameras=cut.lost,
            )
        )  # fmt: skip
    return found


def _apart(cuts: Sequence[Cut], links: Sequence[Link]) -> Iterator[Cut]:
    """Yield the cuts that take enough cameras, and some that no cut before took."""
    equipped = {node for link in links if link.nodes for node in (link.nodes[0], link.nodes[-1])}
    told: list[set[str]] = []
    for cut in cuts:
        lost = set(cut.lost)
        at_equipment = cut.subject_kind == "node" and cut.index in equipped
        whole = cut.subject_kind == "route"
        if len(lost) < LEAST_LOST or whole or at_equipment or any(lost <= before for before in told):
            continue
        told.append(lost)
        yield cut


def _place(network: Network, cut: Cut) -> tuple[float, float]:
    if cut.subject_kind == "segment":
        return middle(network, cut.index)
    return float(network.node_x[cut.index]), float(network.node_y[cut.index])


def _added_route(
    network: Network, prices: PriceBook, cut: Cut, made: Bools, recorder_nodes: Sequence[int]
) -> tuple[str, float]:
    """Return the remedy of a cut that strands cameras, and the money of the route in it [currency]."""
    if _indoors(network, cut):
        return f"a second way through the building, kept apart from this one, with {OVER_IT}", NAN
    needed = f"a second way on other ground, with {OVER_IT}"
    line = added_line(network, cut, made, recorder_nodes)
    if line is None:
        return f"{needed}; no straight line keeps clear of this one", NAN
    here, there, length_m = line
    rates = prices.rate("trench_m", "other"), prices.rate("containment_m", "duct")
    invented = ", at invented rates" if any(rate.invented for rate in rates) else ""
    return (
        f"{needed}: shortest straight from {network.node_id[here]} to {network.node_id[there]}, {length_m:.0f} m of "
        f"trench and duct (indicative: not surveyed, services not located{invented})"
    ), length_m * sum(rate.value for rate in rates)


def _indoors(network: Network, cut: Cut) -> bool:
    buildings = network.segment_building if cut.subject_kind == "segment" else network.node_building
    return bool(buildings[cut.index] >= 0)


def added_line(
    network: Network, cut: Cut, made: Bools, recorder_nodes: Sequence[int]
) -> tuple[int, int, float] | None:
    """Return the shortest straight line between the two parts that a cut leaves, as nodes and length [m].

    From a node cut off to one that is not; not at the ends of what is cut where there are others, and clear of
    it. None where there is no such line, as in an estate without a drawing.
    """
    whole = node_reached(network, made, recorder_nodes)
    left, without = made.copy(), -1
    if cut.subject_kind == "segment":
        left[cut.index] = False
    else:
        without = cut.index
    reached = node_reached(network, left, recorder_nodes, without)
    ends = _ends(network, cut)
    off, on = (_starts(network, part, ends) for part in (whole & ~reached, reached))
    off = off[off != without]
    if not len(off) or not len(on):
        return None
    xy = np.column_stack([network.node_x, network.node_y])
    distance, nearest = cKDTree(xy[on]).query(xy[off])
    barrier = _shape(network, cut)
    for k in np.argsort(distance, kind="stable").tolist():
        line = shapely.LineString([xy[off[k]], xy[on[nearest[k]]]])
        if barrier is None or _clear(line, barrier):
            return int(off[k]), int(on[nearest[k]]), float(distance[k])
    return None


def _ends(network: Network, cut: Cut) -> list[int]:
    if cut.subject_kind == "node":
        return [cut.index]
    return [int(network.segment_from[cut.index]), int(network.segment_to[cut.index])]


def _starts(network: Network, part: Bools, ends: list[int]) -> Ints:
    """Return the drawn nodes of a part that a route can start from, the ends of the cut only for want of others."""
    drawn = part & np.isfinite(network.node_x) & np.isfinite(network.node_y)
    joins = np.flatnonzero(drawn & network.node_passes.astype(bool) & (network.node_kind != "camera"))
    candidates = joins if len(joins) else np.flatnonzero(drawn)
    others = candidates[~np.isin(candidates, ends)]
    return others if len(others) else candidates


def _shape(network: Network, cut: Cut) -> shapely.Geometry | None:
    if cut.subject_kind == "node":
        return shapely.Point(network.node_x[cut.index], network.node_y[cut.index])
    line: shapely.Geometry | None = network.segment_geometry[cut.index]
    return line


def _clear(line: shapely.LineString, barrier: shapely.Geometry) -> bool:
    """Whether a line meets what is cut nowhere but at an end of its own."""
    shared = line.intersection(barrier)
    return bool(shared.is_empty or (shared.geom_type == "Point" and shared.distance(line.boundary) == 0))
