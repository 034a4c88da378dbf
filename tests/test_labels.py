"""The search for the cheapest walk within budgets: against brute force, reference libraries and hand-made cases."""

from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from estate.links.labels import Start, Targets, Walk, cheapest_walks, least_overruns
from estate.links.walk_graph import Equipment, Layer, WalkGraph, walk_graph

LENGTH, LOSS, TOTAL = range(3)
INF = float("inf")

# Random small estates. Whole numbers keep every sum exact, so that a limit is met or passed without doubt.


@dataclass(frozen=True)
class Estate:
    """A small estate in its plainest form: segments both ways, two media, equipment at some nodes."""

    nodes: int
    segments: list[tuple[int, int, tuple[float, ...], list[tuple[float, ...]]]]
    """End, end, cost per medium, uses per medium."""
    limits: list[list[float]]
    """Per medium, per budget."""
    equipment: list[Equipment]
    cameras: list[tuple[int, tuple[int, ...], tuple[float, ...]]]
    """Node, media, uses on arrival."""

    def graph(self) -> WalkGraph:
        layers = []
        for medium, limits in enumerate(self.limits):
            arcs = [(a, b, c[medium], u[medium]) for a, b, c, u in self.segments]
            arcs += [(b, a, cost, uses) for a, b, cost, uses in arcs]
            layers.append(
                Layer(
                    tail=np.array([arc[0] for arc in arcs]),
                    head=np.array([arc[1] for arc in arcs]),
                    cost=np.array([arc[2] for arc in arcs]),
                    uses=np.array([arc[3] for arc in arcs]),
                    limits=np.array(limits),
                )
            )
        return walk_graph(self.nodes, layers, self.equipment)

    def targets(self) -> Targets:
        layers = np.array([[m in media for m in range(len(self.limits))] for _, media, _ in self.cameras])
        return Targets(
            np.array([c[0] for c in self.cameras]), layers, np.array([c[2] for c in self.cameras])
        )

    def search(self) -> tuple[Walk | None, ...]:
        return cheapest_walks(self.graph(), Start(0), self.targets())


def random_estate(seed: int) -> Estate:
    """A tree with a few more segments; cameras may hang on spurs, repeaters stand at some nodes."""
    rng = np.random.default_rng(seed)
    nodes = int(rng.integers(4, 8))
    pairs = [(int(rng.integers(max(0, i - 3), i)), i) for i in range(1, nodes)]
    for _ in range(int(rng.integers(0, 4))):
        a, b = rng.choice(nodes, 2, replace=False)
        pairs.append((int(a), int(b)))
    segments = []
    for a, b in pairs:
        length = 0 if rng.random() < 0.1 else 10 * int(rng.integers(1, 7))
        loss, dug = int(rng.integers(0, 4)), int(rng.integers(0, 120)) * int(rng.random() < 0.4)
        first = INF if rng.random() < 0.05 else float(length + dug)
        second = INF if rng.random() < 0.3 else float(2 * length + dug)
        segments.append(
            (a, b, (first, second), [(length, loss, length), (length, int(rng.integers(0, 3)), length)])
        )
    limits = [
        [10.0 * rng.integers(3, 10), float(rng.choice([INF, 5, 8])), float(rng.choice([INF, INF, 150]))],
        [120.0, float(rng.integers(3, 7)), INF],
    ]
    limits[1][TOTAL] = limits[0][TOTAL]
    if limits[0][LOSS] == INF:
        limits[1][LOSS] = INF
    equipment = []
    for before, after in [(0, 0), (0, 1), (1, 0)][: int(rng.integers(1, 4))]:
        where = np.flatnonzero(rng.random(nodes) < 0.4)
        equipment.append(
            Equipment(
                before=before,
                after=after,
                nodes=where,
                cost=rng.integers(5, 80, len(where)).astype(float),
                resets=np.array([rng.random() < 0.9, rng.random() < 0.7, False]),
                uses=np.array([10.0 * rng.integers(0, 2), rng.integers(0, 3), 0.0]),
                at_most=int(rng.integers(1, 3)),
            )
        )
    media = [(0,), (0,), (1,), (0, 1)]
    cameras = [
        (int(node), media[rng.integers(0, 4)], (10.0 * rng.integers(0, 3), 0.0, 0.0))
        for node in rng.choice(np.arange(1, nodes), 3)
    ]
    return Estate(nodes, segments, limits, equipment, cameras)


def brute_force(estate: Estate, *, limited: bool = True) -> list[float]:
    """Cheapest cost to each camera over every walk and every choice of equipment; inf where there is none.

    Every different (node, medium, uses so far, counts so far) is visited: nothing is dropped for being worse. A use
    without a limit on any medium isn't counted.
    """
    seen = set()
    bound = np.min(estate.limits, axis=0)
    best = [INF] * len(estate.cameras)
    queue = [(0.0, 0, 0, (0.0,) * 3, (0,) * len(estate.equipment))]
    while queue:
        cost, node, medium, used, counts = heappop(queue)
        if cost > max(best):
            break
        key = (node, medium, used, counts) if limited else (node, medium)
        if key in seen:
            continue
        seen.add(key)
        for i, (place, media, extra) in enumerate(estate.cameras):
            fits = keeps(estate, medium, tuple(np.add(used, extra))) or not limited
            if place == node and medium in media and fits:
                best[i] = min(best[i], cost)
        for step in steps(estate, node, medium, used, counts):
            total = tuple(u if least < INF else 0.0 for u, least in zip(step[3], bound, strict=True))
            if not limited or (
                keeps(estate, step[2], step[3])
                and all(
                    e.at_most is None or n <= e.at_most
                    for e, n in zip(estate.equipment, step[4], strict=True)
                )
            ):
                heappush(queue, (cost + step[0], *step[1:3], total, step[4]))
    return best


def keeps(estate: Estate, medium: int, used: tuple[float, ...]) -> bool:
    return all(u <= limit for u, limit in zip(used, estate.limits[medium], strict=True))


def steps(estate: Estate, node: int, medium: int, used: tuple, counts: tuple):
    """Every next step of a walk: cost, node, medium, uses, counts."""
    for a, b, cost, uses in estate.segments:
        for here, there in ((a, b), (b, a)):
            if here == node and cost[medium] < INF:
                total = tuple(u + more for u, more in zip(used, uses[medium], strict=True))
                yield cost[medium], there, medium, total, counts
    for i, item in enumerate(estate.equipment):
        if item.before == medium and node in item.nodes:
            fresh = tuple(
                (0.0 if afresh else u) + more
                for u, more, afresh in zip(used, item.uses, item.resets, strict=True)
            )
            price = float(np.broadcast_to(item.cost, item.nodes.shape)[list(item.nodes).index(node)])
            yield price, node, item.after, fresh, tuple(n + (j == i) for j, n in enumerate(counts))


def check_walk(estate: Estate, camera: int, walk: Walk) -> None:
    """Follow a walk step by step over the estate as given: it must hang together, add up and keep every limit."""
    place, media, extra = estate.cameras[camera]
    arcs = 2 * [(c, u) for _, _, c, u in estate.segments]
    ways = [(a, b) for a, b, _, _ in estate.segments] + [(b, a) for a, b, _, _ in estate.segments]
    cost, medium, used = 0.0, 0, np.zeros(3)
    standing = list(walk.stands)
    assert walk.nodes[0] == 0
    for position in range(len(walk.nodes)):
        while standing and standing[0][0] == position:
            item = estate.equipment[standing.pop(0)[1]]
            assert item.before == medium
            where = list(item.nodes).index(walk.nodes[position])
            cost += float(np.broadcast_to(item.cost, item.nodes.shape)[where])
            medium, used = item.after, np.where(item.resets, 0.0, used) + item.uses
            assert keeps(estate, medium, tuple(used))
        if position < len(walk.arcs):
            layer, arc = walk.arcs[position]
            assert layer == medium
            assert ways[arc] == (walk.nodes[position], walk.nodes[position + 1])
            cost, used = cost + arcs[arc][0][medium], used + arcs[arc][1][medium]
            assert keeps(estate, medium, tuple(used))
    assert not standing
    assert walk.nodes[-1] == place
    assert medium in media
    assert keeps(estate, medium, tuple(used + extra))
    assert walk.cost == pytest.approx(cost, abs=1e-9)
    assert walk.used[:3] == pytest.approx(tuple(used + extra), abs=1e-9)
    for i, item in enumerate(estate.equipment):
        if item.at_most is not None:
            assert sum(which == i for _, which in walk.stands) <= item.at_most
