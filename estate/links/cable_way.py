"""The way of an installed cable: in its routes where they are given, else the shortest."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from estate.network.network import Network
from estate.network.paths import PathGraph, matrix, tree, way
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
    return cable_ways(survey, network, [row])[row]


def cable_ways(survey: Survey, network: Network, rows: Sequence[int]) -> dict[int, CableWay | None]:
    """Return the ways of rows of `cables`, by row."""
    points, routes = survey.points.row_of(), survey.routes.row_of()
    by_routes: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for row in rows:
        by_routes[survey.cables["routes"][row]].append(row)
    ways: dict[int, CableWay | None] = {}
    for names, group in by_routes.items():
        graph = _graph(network, [routes[name] for name in names if name in routes], everywhere=not names)
        for row in group:
            start, end = _ends(survey, network, points, row)
            nodes, segments = ((), ()) if min(start, end) < 0 else way(graph, tree(graph, start), end)
            ways[row] = CableWay(nodes, segments, inferred=not names) if segments else None
    return ways


def _graph(network: Network, routes: Sequence[int], *, everywhere: bool) -> PathGraph:
    """Return what is built, of these routes or everywhere, as a graph; spurs belong to all."""
    inside = np.isin(network.segment_route, routes) | (network.segment_route < 0)
    weight = np.where(inside | everywhere, network.segment_length_m, np.inf)
    weight[network.segment_proposed & (network.segment_route >= 0)] = np.inf
    return matrix(network, weight)


def cable_ends(survey: Survey, network: Network, row: int) -> tuple[int, int]:
    """Return the nodes of a cable's ends, -1 for one that is no point or not connected."""
    return _ends(survey, network, survey.points.row_of(), row)


def _ends(survey: Survey, network: Network, points: Mapping[str, int], row: int) -> tuple[int, int]:
    rows = [points.get(survey.cables[end][row], -1) for end in ("from", "to")]
    start, end = (int(network.point_node[point]) if point >= 0 else -1 for point in rows)
    return start, end


def named_routes(survey: Survey, row: int) -> list[int]:
    """Return the rows of the routes that a cable is said to lie in, those that there are."""
    known = survey.routes.row_of()
    return [known[route] for route in survey.cables["routes"][row] if route in known]
