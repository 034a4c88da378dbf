"""Directed Steiner graphs: a bound by dual ascent, a tree by shortest paths, and arcs that no cheaper tree has.

References: Wong, R. T. (1984), A dual ascent approach for Steiner tree problems on a directed graph, Mathematical
Programming 28, 271-287; Takahashi, H., Matsuyama, A. (1980), An approximate solution for the Steiner problem in
graphs, Mathematica Japonica 24, 573-577; Polzin, T., Vahdati Daneshmand, S. (2001), Improved algorithms for the
Steiner problem in networks, Discrete Applied Mathematics 112, 263-300 (all three from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import breadth_first_order, dijkstra, minimum_spanning_tree

from estate.placement.rows import Floats
from estate.placement.task import Ints

Bools = NDArray[np.bool_]
NOTHING = 1e-9
"""Reduced costs below this count as zero: sums of money carry binary fractions."""
FREE = 1e-12
"""Stands for a cost of zero in sparse matrices, which drop zeros."""


@dataclass(frozen=True)
class Arcs:
    """A graph with every edge as two arcs, and a root with free arcs to every site.

    `edge` is -1 for the root's arcs. Nothing enters the root.
    """

    nodes: int
    """With the root, which comes last."""
    tail: Ints
    head: Ints
    cost: Floats
    edge: Ints
    terminals: Ints

    @property
    def root(self) -> int:
        """The root's number."""
        return self.nodes - 1

    def kept(self, arcs: Bools) -> "Arcs":
        """Return the graph with some of its arcs only."""
        return Arcs(
            self.nodes, self.tail[arcs], self.head[arcs], self.cost[arcs], self.edge[arcs], self.terminals
        )


def matrix(arcs: Arcs, weight: Floats, *, turned: bool = False) -> sparse.csr_array:
    """Return the least weight between nodes as a sparse matrix; every arc stands the other way where `turned`."""
    order = np.lexsort((-weight, arcs.head, arcs.tail))
    first, second = (arcs.head, arcs.tail) if turned else (arcs.tail, arcs.head)
    # the last of equal entries wins: the cheapest of parallel arcs
    pair = arcs.tail[order] * arcs.nodes + arcs.head[order]
    last = order[np.flatnonzero(np.append(pair[1:] != pair[:-1], True))] if len(order) else order
    return sparse.csr_array(
        (np.maximum(weight[last], FREE), (first[last], second[last])), shape=(arcs.nodes, arcs.nodes)
    )


@dataclass(frozen=True)
class Ascent:
    """A valid bound, the reduced costs it leaves, and the cuts (arcs that enter a set) that prove it."""

    bound: float
    reduced: Floats
    cuts: list[Ints]


def dual_ascent(arcs: Arcs) -> Ascent:
    """Raise the price of cuts around terminals until each is joined to the root by arcs of no reduced cost."""
    reduced, bound, cuts = arcs.cost.astype(float).copy(), 0.0, []
    waiting = arcs.terminals.tolist()
    while waiting:
        inside = [(_joined_to(arcs, reduced, t), t) for t in waiting]
        inside = [(side, t) for side, t in inside if not side[arcs.root]]
        waiting = [t for _, t in inside]
        if not inside:
            break
        side, _ = min(inside, key=lambda pair: (int(pair[0].sum()), pair[1]))
        entering = np.flatnonzero(side[arcs.head] & ~side[arcs.tail])
        if not len(entering):
            raise ValueError("a terminal cannot be joined to any site")
        step = float(reduced[entering].min())
        reduced[entering] -= step
        bound += step
        cuts.append(entering)
    return Ascent(bound, np.maximum(reduced, 0.0), cuts)


def _joined_to(arcs: Arcs, reduced: Floats, terminal: int) -> Bools:
    """Return the nodes from which a terminal can be reached over arcs of no reduced cost."""
    free = reduced <= NOTHING
    ones = np.ones(int(free.sum()))
    back = sparse.csr_array((ones, (arcs.head[free], arcs.tail[free])), shape=(arcs.nodes, arcs.nodes))
    side = np.zeros(arcs.nodes, dtype=bool)
    side[breadth_first_order(back, terminal, return_predecessors=False)] = True
    return side


def short_tree(arcs: Arcs, weight: Floats) -> Ints:
    """Return the arcs of a tree from the root to all terminals: the nearest terminal by weight is joined next.

    The tree is then made the cheapest on its nodes, and bare branches are cut.
    """
    graph = matrix(arcs, weight)
    reached = np.zeros(arcs.nodes, dtype=bool)
    reached[arcs.root] = True
    left = [t for t in arcs.terminals.tolist() if t != arcs.root]
    while left:
        away, before, _ = dijkstra(
            graph, indices=np.flatnonzero(reached), min_only=True, return_predecessors=True
        )
        nearest = min(left, key=lambda t: (away[t], t))
        if not np.isfinite(away[nearest]):
            raise ValueError("a terminal cannot be joined to any site")
        node = nearest
        while not reached[node]:
            reached[node] = True
            node = int(before[node])
        left = [t for t in left if not reached[t]]
    return _pruned(arcs, reached)


def _pruned(arcs: Arcs, nodes: Bools) -> Ints:
    """Return the arcs of the cheapest tree on some nodes, less its branches without terminals."""
    own = np.flatnonzero(nodes[arcs.tail] & nodes[arcs.head])
    tree = minimum_spanning_tree(matrix(arcs.kept(_mask(arcs, own)), arcs.cost[own]))
    _, before = breadth_first_order(tree, arcs.root, directed=False)
    needed = np.zeros(arcs.nodes, dtype=bool)
    for terminal in arcs.terminals.tolist():
        node = terminal
        while node != arcs.root and not needed[node]:
            needed[node] = True
            node = int(before[node])
    steps = {(int(before[node]), node) for node in np.flatnonzero(needed).tolist()}
    cheapest: dict[tuple[int, int], int] = {}
    for a in own[np.argsort(arcs.cost[own], kind="stable")].tolist():
        cheapest.setdefault((int(arcs.tail[a]), int(arcs.head[a])), a)
    return np.array(sorted(cheapest[step] for step in steps), dtype=np.int64)


def _mask(arcs: Arcs, own: Ints) -> Bools:
    mask = np.zeros(len(arcs.tail), dtype=bool)
    mask[own] = True
    return mask


def useful(arcs: Arcs, ascent: Ascent, value: float) -> Bools:
    """Return the arcs that a tree cheaper than `value` could have.

    Every tree with an arc costs at least the bound, and the reduced costs of the way from the root to the arc, of
    the arc, and of the way from it to the nearest terminal.
    """
    there = dijkstra(matrix(arcs, ascent.reduced), indices=arcs.root)
    on = dijkstra(matrix(arcs, ascent.reduced, turned=True), indices=arcs.terminals, min_only=True)
    least = ascent.bound + there[arcs.tail] + ascent.reduced + on[arcs.head]
    return np.asarray(least <= value + NOTHING * max(1.0, abs(value)), dtype=bool)
