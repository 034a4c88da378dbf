"""Ways that trunks could take between recorders and cabinets, within the reach of an uplink."""

from collections.abc import Iterator

import numpy as np

from estate.links.conditions import cable_length_m
from estate.links.search import LinkSearch
from estate.network.network import Floats
from estate.network.paths import PathGraph, Tree, matrix, tree, way
from estate.placement.two_ways import two_ways
from estate.placement.uplink_reach import shares

NEIGHBOURS = 6
"""To how many other cabinets, the nearest first, ways lead from each; to recorders they all lead."""

Segments = tuple[int, ...]


def trunk_ways(search: LinkSearch, cable: str) -> Iterator[tuple[int, int, Segments]]:
    """Yield ways of a cable from each cabinet to every recorder, and to its nearest cabinets, as (tail, head, segments).

    The cheapest way, and the shortest where that one is too long; with diverse uplinks two that share no route as well.
    """
    open_ = search.open((cable,), with_verify=False)
    weights = (
        np.where(open_, search.rules((cable,)).weight, np.inf),
        np.where(open_, search.network.segment_length_m, np.inf),
    )
    graphs = [matrix(search.network, weight) for weight in weights]
    for cabinet in range(search.recorders, len(search.sites)):
        trees = [tree(graph, search.sites[cabinet].node) for graph in graphs]
        for place in _aims(search, cabinet, trees[0]):
            if not _may_join(search, cable, cabinet, place):
                continue
            tail, head = sorted((cabinet, place))
            for segments in _between(
                search, cable, (cabinet, place), weights, list(zip(graphs, trees, strict=True))
            ):
                yield tail, head, segments if tail == cabinet else segments[::-1]


def _aims(search: LinkSearch, cabinet: int, found: Tree) -> list[int]:
    """Return the places that ways lead to from a cabinet."""
    away = [float(found.distance[site.node]) if site.node >= 0 else np.inf for site in search.sites]
    cabinets = [k for k in range(search.recorders, len(search.sites)) if k != cabinet]
    near = sorted(cabinets, key=lambda k: (away[k], k))[:NEIGHBOURS]
    return [place for place in (*range(search.recorders), *near) if np.isfinite(away[place])]


def _between(
    search: LinkSearch,
    cable: str,
    ends: tuple[int, int],
    weights: tuple[Floats, Floats],
    trees: list[tuple[PathGraph, Tree]],
) -> Iterator[Segments]:
    """Yield the ways between two places that an uplink can run through: by money, else by length."""
    start, end = (search.sites[place].node for place in ends)

    def in_reach(segments: Segments) -> bool:
        length_m = trunk_length_m(search, *ends, segments)
        return all(share <= 1 for share in shares(search, cable, length_m))

    for graph, found in trees:
        segments = way(graph, found, end)[1]
        if in_reach(segments):
            yield segments
            break
    for weight in weights if search.settings.design.diverse_uplinks else ():
        pair = two_ways(search.network, weight, start, end)
        if pair is None:
            break
        if all(map(in_reach, pair)):
            yield from pair
            break


def _may_join(search: LinkSearch, cable: str, one: int, other: int) -> bool:
    """Whether the earths of two places let a cable join them."""
    rows = search.sites[one].row, search.sites[other].row
    places = [search.earths.places[row] for row in rows]
    return search.earths.settled((cable,), "local", places[0], places[1], "ethernet-1g") == (True, ())


def way_m(search: LinkSearch, segments: Segments) -> float:
    """Return the length of a way [m]."""
    return float(search.network.segment_length_m[list(segments)].sum()) if segments else 0.0


def trunk_length_m(search: LinkSearch, tail: int, head: int, segments: Segments) -> float:
    """Return the design length of a trunk: its way and the mounting heights of its ends, with slack, and both ends [m]."""
    heights_m = search.sites[tail].height_m + search.sites[head].height_m
    return cable_length_m(way_m(search, segments), heights_m, search.settings.lengths)
