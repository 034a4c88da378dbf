"""Two ways between two nodes that share no route, the least in sum: a shortest way, and one that may push parts of it aside.

A route is a place where cables fail together, so it holds one of the two. The second way may take over a route of the
first from where it enters it on, or let the first leave it earlier; what the first had there is freed. With routes of
one segment each this is Suurballe's method, and exact; over longer ones what both do on one route is weighed apart.
References: Suurballe, J. W. (1974), Disjoint paths in a network, Networks 4, 125-145; Suurballe, J. W., Tarjan, R. E.
(1984), A quick method for finding shortest pairs of disjoint paths, Networks 14, 325-336 (both from memory).
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from estate.network.network import Floats, Network
from estate.network.paths import matrix, tree, way

Way = tuple[int, ...]
"""Segments from the start to the end."""
_Labels = tuple[Floats, dict[int, tuple[int, int]]]


@dataclass(frozen=True, slots=True)
class _Leg:
    """What a way does on one route, from a node to a node."""

    route: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class _Arc:
    """A step of the second way: along a segment; or along none, by a leg of the first that it changes.

    `takes_over`: it goes on along the leg from the arc's start, and the first way is free where the leg began. Else the
    first way leaves the leg where the arc ends, and the second goes on in its place.
    """

    start: int
    end: int
    weight: float
    segment: int = -1
    leg: int = -1
    takes_over: bool = False


def two_ways(network: Network, weight: Floats, start: int, end: int) -> tuple[Way, Way] | None:
    """Return two ways that share no route and no segment; None where none are found.

    `weight` per segment is 0 or more; inf or NaN bars a segment. A segment of no route is one of its own.
    """
    graph = matrix(network, weight)
    shortest = tree(graph, start)
    nodes, segments = way(graph, shortest, end)
    if not segments:
        return None
    pair = _Pair(network, weight, shortest.distance, nodes, segments)
    arcs = pair.second_way(start, end)
    if arcs is None:
        return None
    first, second = pair.parted(arcs, start, end)
    apart = not {pair.route(s) for s in first} & {pair.route(s) for s in second}
    return (first, second) if first and second and apart else None


class _Pair:
    """The network as the second way sees it, with the first way laid."""

    def __init__(self, network: Network, weight: Floats, distance: Floats, nodes: Way, segments: Way) -> None:
        self.network, self.weight, self.distance = network, weight, distance
        self.on_route: dict[int, list[int]] = defaultdict(list)
        for s in np.flatnonzero(np.isfinite(weight)).tolist():
            self.on_route[self.route(s)].append(s)
        self.legs = list(self._legs(nodes, segments))
        self.away = {
            (k, node): self._along(leg.route, node)
            for k, leg in enumerate(self.legs)
            for node in (leg.start, leg.end)
        }

    def route(self, segment: int) -> int:
        """Return the route of a segment; one of its own for a segment of none."""
        route = int(self.network.segment_route[segment])
        return route if route >= 0 else -1 - segment

    def _ends(self, segment: int) -> tuple[int, int]:
        return int(self.network.segment_from[segment]), int(self.network.segment_to[segment])

    def _legs(self, nodes: Way, segments: Way) -> Iterator[_Leg]:
        begin = 0
        for k in range(1, len(segments) + 1):
            if k == len(segments) or self.route(segments[k]) != self.route(segments[begin]):
                yield _Leg(self.route(segments[begin]), nodes[begin], nodes[k])
                begin = k

    def _along(self, route: int, start: int) -> _Labels:
        """Return distances along one route from a node, and the segment and node before each."""
        steps: dict[int, list[tuple[int, float, int]]] = defaultdict(list)
        for s in self.on_route[route]:
            one, other = self._ends(s)
            steps[one].append((other, float(self.weight[s]), s))
            steps[other].append((one, float(self.weight[s]), s))
        distance = np.full(self.network.nodes, np.inf)
        before: dict[int, tuple[int, int]] = {}
        distance[start] = 0.0
        front = [(0.0, start)]
        while front:
            far, node = heappop(front)
            if far > distance[node] or not (node == start or self.network.node_passes[node]):
                continue
            for to, step, s in steps[node]:
                if far + step < distance[to]:
                    distance[to], before[to] = far + step, (s, node)
                    heappush(front, (far + step, to))
        return distance, before

    # The second way

    def _arcs(self) -> dict[int, list[_Arc]]:
        """Return the steps from each node, with what each adds to the weight of both ways."""
        found: dict[int, list[_Arc]] = defaultdict(list)
        used = Counter(leg.route for leg in self.legs)
        for route, segments in self.on_route.items():
            for s in segments if route not in used else ():
                one, other = self._ends(s)
                found[one].append(_Arc(one, other, float(self.weight[s]), s))
                found[other].append(_Arc(other, one, float(self.weight[s]), s))
        for k, leg in enumerate(self.legs):
            there, back = self.away[k, leg.start][0], self.away[k, leg.end][0]
            whole = float(there[leg.end])
            # a route that the first way takes twice is given up leg by leg, or not at all
            nodes = np.flatnonzero(np.isfinite(there)).tolist() if used[leg.route] == 1 else [leg.start]
            for node in nodes:
                if node != leg.end:
                    found[leg.end].append(_Arc(leg.end, node, float(there[node]) - whole, leg=k))
                if node not in (leg.start, leg.end):
                    gain = float(back[node]) - whole
                    found[node].append(_Arc(node, leg.start, gain, leg=k, takes_over=True))
        return found

    def second_way(self, start: int, end: int) -> list[_Arc] | None:
        """Return the steps of the least second way, by weights reduced by the distances from the start."""
        arcs, passes = self._arcs(), self.network.node_passes
        best, before = {start: 0.0}, dict[int, _Arc]()
        front, done = [(0.0, start)], set[int]()
        while front:
            far, node = heappop(front)
            if node == end:
                break
            if node in done or not (node == start or passes[node]):
                continue
            done.add(node)
            for arc in arcs[node]:
                if not np.isfinite(self.distance[arc.end]):
                    continue
                step = max(0.0, arc.weight + float(self.distance[node] - self.distance[arc.end]))
                if far + step < best.get(arc.end, np.inf):
                    best[arc.end], before[arc.end] = far + step, arc
                    heappush(front, (far + step, arc.end))
        if end not in before:
            return None
        taken = [before[end]]
        while taken[-1].start != start:
            taken.append(before[taken[-1].start])
        return taken[::-1]

    # Both ways

    def parted(self, arcs: Iterable[_Arc], start: int, end: int) -> tuple[Way, Way]:
        """Return the two ways that are left when the second has changed legs of the first."""
        begins = [leg.start for leg in self.legs]
        ends = [leg.end for leg in self.legs]
        pieces: list[tuple[int, int, Way]] = []
        for arc in arcs:
            if arc.leg >= 0 and arc.takes_over:
                begins[arc.leg] = arc.start
            elif arc.leg >= 0:
                ends[arc.leg] = arc.end
            elif pieces and pieces[-1][1] == arc.start and self._goes_on(pieces[-1], arc):
                pieces[-1] = (pieces[-1][0], arc.end, (*pieces[-1][2], arc.segment))
            else:
                pieces.append((arc.start, arc.end, (arc.segment,)))
        for k, (begin, finish) in enumerate(zip(begins, ends, strict=True)):
            if begin != finish:
                pieces.append((begin, finish, self._on_leg(k, begin, finish)))
        onward: dict[int, list[tuple[int, Way]]] = defaultdict(list)
        for begin, finish, segments in pieces:
            onward[begin].append((finish, segments))
        return self._walk(onward, start, end), self._walk(onward, start, end)

    def _goes_on(self, piece: tuple[int, int, Way], arc: _Arc) -> bool:
        return self.route(piece[2][-1]) == self.route(arc.segment)

    def _on_leg(self, k: int, begin: int, finish: int) -> Way:
        """Return the segments along the route of a leg."""
        known = self.away.get((k, begin))
        _, before = known if known is not None else self._along(self.legs[k].route, begin)
        found: list[int] = []
        node = finish
        while node != begin:
            segment, node = before[node]
            found.append(segment)
        return tuple(found[::-1])

    def _walk(self, onward: Mapping[int, list[tuple[int, Way]]], start: int, end: int) -> Way:
        """Take pieces from the start to the end, loops left out; empty where they don't lead there."""
        node, found = start, list[int]()
        while node != end:
            if not onward[node]:
                return ()
            node, segments = onward[node].pop()
            found += segments
        return self._without_loops(found, start)

    def _without_loops(self, segments: list[int], start: int) -> Way:
        kept: list[int] = []
        nodes = [start]
        for segment in segments:
            one, other = self._ends(segment)
            to = other if nodes[-1] == one else one
            if to in nodes:
                first = nodes.index(to)
                kept, nodes = kept[:first], nodes[: first + 1]
            else:
                kept.append(segment)
                nodes.append(to)
        return tuple(kept)
