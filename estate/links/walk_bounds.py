"""What a walk has used of a budget at least, and what it still needs at least, one budget at a time."""

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from estate.links.walk_graph import Floats, Ints, WalkGraph

SLACK = 1e-9
"""Share of a limit, and absolute, by which a sum may pass it: rounding, no more."""


def ceiling(limit: Floats) -> Floats:
    """Return limits with room for rounding."""
    return limit + SLACK * (1.0 + np.where(np.isfinite(limit), limit, 0.0))


class Ways:
    """One-way arcs between states, ready for least distances from any seeds."""

    def __init__(self, tail: Ints, head: Ints, weight: Floats, size: int) -> None:
        """Sort the arcs by their tails."""
        in_order = not len(tail) or bool((tail[1:] >= tail[:-1]).all())
        order = slice(None) if in_order else np.argsort(tail, kind="stable")
        self.head, self.weight, self.size = head[order], weight[order], size
        self.begins = np.append(0, np.cumsum(np.bincount(tail, minlength=size)))

    def least(self, seeds: Floats, limit: float = np.inf) -> Floats:
        """Return the least distances from seeds, inf without a way or where none is within a limit.

        A seed is the distance at which its state begins, inf where none does.
        """
        distance: Floats = dijkstra(self._matrix(seeds), indices=self.size, limit=limit)[: self.size]
        return distance

    def tree(self, seeds: Floats) -> tuple[Floats, Ints]:
        """Return the same and the state before each; before a seed stands the number of states."""
        distance, before = dijkstra(self._matrix(seeds), indices=self.size, return_predecessors=True)
        return distance[: self.size], before[: self.size].astype(np.int64)

    def _matrix(self, seeds: Floats) -> csr_array:
        """Return the arcs with one more state, from which the seeds are reached at their distances."""
        begun = np.flatnonzero(np.isfinite(seeds))
        columns = np.append(self.head, begun), np.append(self.begins, len(self.head) + len(begun))
        shape = (self.size + 1, self.size + 1)
        return csr_array((np.append(self.weight, seeds[begun]), *columns), shape=shape)


def neighbourhood(graph: WalkGraph, start: int) -> Ints:
    """Return the states that a walk from a start may reach, and perhaps some more, in ascending order.

    Every stretch is taken to begin with nothing used. Looks at no more of a large graph than lies within a limit.
    """
    if graph.nearness is None:
        return np.arange(len(graph.state))
    budget, matrix = graph.nearness
    most = float(ceiling(graph.limit[:, budget]).max(initial=0.0))
    tail, head = graph.tail[graph.placed], graph.head[graph.placed]
    begun = np.zeros(len(graph.state), dtype=bool)
    reached = begun.copy()
    beginnings = np.array([start])
    while len(beginnings):
        begun[beginnings] = True
        reached |= np.isfinite(dijkstra(matrix, indices=beginnings, limit=most, min_only=True))
        beginnings = np.unique(head[reached[tail] & ~begun[head]])
    return np.flatnonzero(reached)


def least_used(graph: WalkGraph, budget: int, start: int, first: float) -> Floats:
    """Return the least that a walk can have used of a budget at every state, inf where it can't keep the limit.

    Cable arcs are searched together; equipment then gives new beginnings, until none is better.
    """
    most = ceiling(graph.limit[:, budget])
    cable = graph.equipment < 0
    tail, head = graph.tail[~cable], graph.head[~cable]
    uses, resets = graph.uses[~cable, budget], graph.resets[~cable, budget]
    seeds = np.full(len(most), np.inf)
    seeds[start] = first
    ways = Ways(graph.tail[cable], graph.head[cable], graph.uses[cable, budget], len(most))
    while True:
        used = ways.least(seeds, most.max(initial=0.0))
        used[used > most] = np.inf
        behind = np.where(np.isfinite(used[tail]), np.where(resets, 0.0, used[tail]) + uses, np.inf)
        behind[behind > most[head]] = np.inf
        better = behind < used[head] - SLACK
        if not better.any():
            return used
        np.minimum.at(seeds, head[better], behind[better])


def still_needed(graph: WalkGraph, budget: int, ends: Sequence[int]) -> Floats:
    """Return how far below its limit a budget must be at every state to reach an end; inf where none can be.

    Where the budget has no limit at a state the need is 0, or inf where no end can be reached.
    """
    limit = graph.limit[:, budget]
    most = ceiling(limit)
    cable = graph.equipment < 0
    tail, head = graph.tail[~cable], graph.head[~cable]
    uses, resets = graph.uses[~cable, budget], graph.resets[~cable, budget]
    free = resets | ~np.isfinite(limit[tail]) | ~np.isfinite(limit[head])
    shift = limit[tail[~free]] - limit[head[~free]]
    seeds = np.full(len(limit), np.inf)
    seeds[list(ends)] = 0.0
    ways = Ways(graph.head[cable], graph.tail[cable], graph.uses[cable, budget], len(most))
    while True:
        need = ways.least(seeds, most.max(initial=0.0))
        need[need > most] = np.inf
        onward = need[head] + uses
        ahead = np.where(onward <= most[head], onward, np.inf)
        ahead[free & np.isfinite(ahead)] = 0.0
        # What is short of a limit is counted from the limit at hand, which may differ from the one beyond.
        ahead[~free] = np.maximum(ahead[~free] + shift, 0.0)
        ahead[ahead > most[tail]] = np.inf
        better = ahead < need[tail] - SLACK
        if not better.any():
            return need
        np.minimum.at(seeds, tail[better], ahead[better])
