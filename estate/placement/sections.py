"""Sections that trunk cables could be laid in: ways of fibre between recorders and cabinets."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from estate.links.conditions import cable_length_m
from estate.links.search import LinkSearch
from estate.links.variants import usable_cables
from estate.network.paths import matrix, tree, way
from estate.placement.channels import CORES_PER_UPLINK
from estate.placement.room import areas
from estate.placement.task import Section, SectionSize

UPLINK = "ethernet-fibre"
"""The method of uplinks."""

NEIGHBOURS = 6
"""To how many other cabinets, the nearest first, sections lead from each; to recorders they all lead."""


def sections(
    search: LinkSearch, searches: Sequence[LinkSearch], rooms: Mapping[int, float]
) -> tuple[Section, ...]:
    """Return the sections between places, on the cheapest ways that each of `searches` finds; every way once.

    Money and works are those of `search`. Places are numbered as its sites: recorders, then cabinets. One section
    has the cables that may lie on its way as sizes.
    """
    ways: dict[tuple[int, int, tuple[int, ...]], set[str]] = defaultdict(set)
    if search.recorders == len(search.sites) or UPLINK not in _methods(search):
        return ()
    for each in searches:
        for cable in _cables(each):
            for tail, head, segments in _ways(each, cable):
                ways[tail, head, segments].add(cable)
    return tuple(_section(search, *key, sorted(cables), rooms) for key, cables in sorted(ways.items()))


def _methods(search: LinkSearch) -> tuple[str, ...]:
    return search.settings.design.methods or tuple(search.catalogue.methods)


def _cables(search: LinkSearch) -> list[str]:
    """Return the fibre cables that uplinks may use: single-mode, else one multimode type, as they are spliced."""
    method = search.catalogue.methods[UPLINK]
    usable = usable_cables(method.signal_cables, search.catalogue, search.settings.design)
    found = [cable for cable in usable if search.catalogue.cables[cable].cores > CORES_PER_UPLINK]
    single_mode = [cable for cable in found if not _is_multimode(search, cable)]
    return single_mode or found[:1]


def _is_multimode(search: LinkSearch, cable: str) -> bool:
    return "modal_mhz_km_850" in search.catalogue.cables[cable].figures


def _ways(search: LinkSearch, cable: str) -> Iterator[tuple[int, int, tuple[int, ...]]]:
    """Yield the cheapest ways of a cable from each cabinet to every recorder, and to its nearest cabinets."""
    rules = search.rules((cable,))
    weight = np.where(search.open((cable,), with_verify=False), rules.weight, np.inf)
    graph = matrix(search.network, weight)
    recorders = search.recorders
    for cabinet in range(recorders, len(search.sites)):
        start = search.sites[cabinet]
        found = tree(graph, start.node)
        distance = [float(found.distance[site.node]) if site.node >= 0 else np.inf for site in search.sites]
        others = [k for k in range(recorders, len(search.sites)) if k != cabinet]
        near = sorted(others, key=lambda k, by=distance: (by[k], k))[:NEIGHBOURS]  # type: ignore[misc]
        for place in (*range(recorders), *near):
            end = search.sites[place]
            if not np.isfinite(distance[place]) or not _may_join(search, cable, cabinet, place):
                continue
            _, segments = way(graph, found, end.node)
            tail, head = sorted((cabinet, place))
            yield tail, head, segments if tail == cabinet else segments[::-1]
            if search.settings.design.diverse_uplinks:
                other = _apart(search, weight, start.node, end.node, segments)
                if other:
                    yield tail, head, other if tail == cabinet else other[::-1]


def _apart(
    search: LinkSearch, weight: NDArray[np.float64], start: int, end: int, segments: tuple[int, ...]
) -> tuple[int, ...]:
    """Return the cheapest way that shares no route with another; empty where there is none."""
    routes = search.network.segment_route[list(segments)]
    shared = np.isin(search.network.segment_route, routes[routes >= 0])
    shared[list(segments)] = True
    graph = matrix(search.network, np.where(shared, np.inf, weight))
    found = tree(graph, start)
    return way(graph, found, end)[1] if np.isfinite(found.distance[end]) else ()


def _may_join(search: LinkSearch, cable: str, one: int, other: int) -> bool:
    """Whether the earths of two places let a cable join them."""
    rows = search.sites[one].row, search.sites[other].row
    places = [search.earths.places[row] for row in rows]
    return search.earths.settled((cable,), "local", places[0], places[1], "ethernet-1g") == (True, ())


def _section(
    search: LinkSearch,
    tail: int,
    head: int,
    segments: tuple[int, ...],
    cables: Sequence[str],
    rooms: Mapping[int, float],
) -> Section:
    """Return one section with every cable that may lie there; discouraged ones only where there is no other."""
    wished = [cable for cable in cables if not search.is_discouraged(UPLINK, (cable,))]
    network = search.network
    way_m = float(network.segment_length_m[list(segments)].sum()) if segments else 0.0
    heights_m = search.sites[tail].height_m + search.sites[head].height_m
    length_m = cable_length_m(way_m, heights_m, search.settings.lengths)
    return Section(
        tail=tail,
        head=head,
        sizes=tuple(_size(search, cable, segments, length_m, rooms) for cable in wished or cables),
        cable_m=length_m,
        segments=segments,
        works=tuple(sorted({s for s in segments if search.works[s] > 0})),
        routes=tuple(sorted({_route(search, s) for s in segments})),
        discouraged=not wished,
    )


def _route(search: LinkSearch, segment: int) -> str:
    """Return what two cables share that fail together: the route, or the segment itself where it is of none."""
    route = int(search.network.segment_route[segment])
    return (
        str(search.survey.routes["id"][route]) if route >= 0 else f"spur {search.network.segment_id[segment]}"
    )


def _size(
    search: LinkSearch, cable: str, segments: tuple[int, ...], length_m: float, rooms: Mapping[int, float]
) -> SectionSize:
    """Return one cable in a section with its money: cable with waste, pulling, both ends made off."""
    prices, bought = search.prices, 1 + search.settings.lengths.waste_percent / 100
    along = list(segments)
    pulled = float((search.network.segment_length_m[along] * search.pull[along]).sum()) if along else 0.0
    money = length_m * bought * prices.rate("cable_m", cable).value + pulled
    money += 2 * prices.rate("termination", "fibre").value
    fill = areas(((cable, s) for s in segments), search.catalogue, rooms)
    return SectionSize(search.catalogue.cables[cable].cores, money, fill, cable)
