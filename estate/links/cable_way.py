"""The way of an installed cable: in its routes where they are given, else the shortest."""

from dataclasses import dataclass

import numpy as np

from estate.network.network import Network
from estate.network.paths import matrix, tree, way
from estate.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class CableWay:
    """The nodes and segments that an installed cable passes, from its `from` to its `to`."""

    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    inferred: bool
    """Whether it is the shortest, for want of routes."""


def cable_way(survey: Survey, network: Network, row: int) -> CableWay | None:
    """Return the way of one row of `cables` over what is built; None where an end is unknown or nothing joins them."""
    ends = cable_ends(survey, network, row)
    if min(ends) < 0 or ends[0] == ends[1]:
        return None
    routes = named_routes(survey, row)
    inside = np.isin(network.segment_route, routes) | (network.segment_route < 0)
    weight = np.where(inside | (not survey.cables["routes"][row]), network.segment_length_m, np.inf)
    weight[network.segment_proposed & (network.segment_route >= 0)] = np.inf
    graph = matrix(network, weight)
    nodes, segments = way(graph, tree(graph, ends[0]), ends[1])
    return CableWay(nodes, segments, inferred=not survey.cables["routes"][row]) if segments else None


def cable_ends(survey: Survey, network: Network, row: int) -> tuple[int, int]:
    """Return the nodes of a cable's ends, -1 for one that is no point or not connected."""
    points = survey.points.row_of()
    rows = [points.get(survey.cables[end][row], -1) for end in ("from", "to")]
    start, end = (int(network.point_node[point]) if point >= 0 else -1 for point in rows)
    return start, end


def named_routes(survey: Survey, row: int) -> list[int]:
    """Return the rows of the routes that a cable is said to lie in, those that there are."""
    known = survey.routes.row_of()
    return [known[route] for route in survey.cables["routes"][row] if route in known]
