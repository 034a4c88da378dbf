"""The cheapest trenches that join every terminal to some site: a Steiner tree with directed cuts.

It is the whole answer for an estate where only works decide: the links' own money, their limits and the room at
recorders don't depend on the way or never bind, and existing routes cost nothing. Elsewhere it is part of a bound: no
design that links these cameras can spend less on works than the cheapest trenches do.

Sets        A  arcs: every edge both ways, and a free arc from a root to every site;  T  terminals
Variables   y_a  arc a is in the tree, binary
Objective   least Σ cost_a y_a
Constraints (1) Σ_{a enters X} y_a ≥ 1        X without the root, with a terminal      joined
            (2) Σ_{a enters v} y_a = 1        v ∈ T;  ≤ 1 elsewhere                    a tree
            (3) Σ_{a enters v} y_a ≤ Σ_{a leaves v} y_a      v ∉ T                     no bare ends
            (4) y_a ≤ Σ_{b enters tail(a), b not turned a} y_b                          a goes on from somewhere

(1) are too many to write down: those that dual ascent and the linear program break are found by maximum flow. The
directed form is far stronger than rows per shared edge: on an undirected graph half an edge each way joins nothing.
References: Koch, T., Martin, A. (1998), Solving Steiner tree problems in graphs to optimality, Networks 32, 207-232
(from memory).
"""

from dataclasses import dataclass
from time import monotonic

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from estate.placement.ascent import Arcs, dual_ascent, short_tree, useful
from estate.placement.rows import TIES, Floats, Rows, at_most, stacked
from estate.placement.solver import linear, optimise
from estate.placement.task import Ints

SCALE = 10**6
"""Maximum flow wants whole numbers."""
VIOLATED = 1e-4
ROUNDS = 200
ABSOLUTE_GAP = 1e-6


@dataclass(frozen=True)
class Trenches:
    """Edges that join every terminal to some site, what they cost, and the least that any could cost."""

    edges: tuple[int, ...]
    cost: float
    bound: float

    @property
    def proven(self) -> bool:
        """Whether nothing is cheaper."""
        return self.cost - self.bound <= ABSOLUTE_GAP * max(1.0, abs(self.cost))


def cheapest_trenches(
    ends: Ints, cost: Floats, sites: Ints, terminals: Ints, *, seconds: float = np.inf
) -> Trenches:
    """Choose edges, of which `ends` has both nodes and `cost` the money (none below 0), shapes (m, 2) and (m,).

    Out of time or interrupted, the best found stands with the bound proven so far. ValueError where a terminal cannot be joined.
    """
    deadline = monotonic() + seconds
    arcs = _arcs(np.asarray(ends).reshape(-1, 2), np.asarray(cost, dtype=float), sites, terminals)
    if not len(arcs.terminals):
        return Trenches((), 0.0, 0.0)
    ascent = dual_ascent(arcs)
    trees = [short_tree(arcs, arcs.cost), short_tree(arcs, ascent.reduced)]
    best = min(trees, key=lambda tree: float(arcs.cost[tree].sum()))
    found = _found(arcs, best, ascent.bound)
    if found.proven or monotonic() > deadline:
        return found
    kept = useful(arcs, ascent, found.cost)
    place = np.cumsum(kept) - 1
    cuts = [place[cut[kept[cut]]] for cut in ascent.cuts]
    return _cut_loop(arcs.kept(kept), found, cuts, deadline)


def _arcs(ends: Ints, cost: Floats, sites: Ints, terminals: Ints) -> Arcs:
    if np.any(cost < 0):
        raise ValueError("a trench costs less than nothing")
    sites, terminals = (
        np.unique(np.asarray(sites, dtype=np.int64)),
        np.unique(np.asarray(terminals, np.int64)),
    )
    nodes = 1 + max((int(part.max()) for part in (ends, sites, terminals) if part.size), default=-1)
    edges = np.arange(len(ends), dtype=np.int64)
    loops = ends[:, 0] == ends[:, 1]
    arcs = Arcs(
        nodes=nodes + 1,
        tail=np.concatenate([ends[:, 0], ends[:, 1], np.full(len(sites), nodes)]).astype(np.int64),
        head=np.concatenate([ends[:, 1], ends[:, 0], sites]).astype(np.int64),
        cost=np.concatenate([cost, cost, np.zeros(len(sites))]),
        edge=np.concatenate([edges, edges, np.full(len(sites), -1)]),
        terminals=np.setdiff1d(terminals, sites),
    )
    return arcs.kept(~np.concatenate([loops, loops, np.zeros(len(sites), dtype=bool)]))


def _found(arcs: Arcs, tree: Ints, bound: float) -> Trenches:
    edges = np.unique(arcs.edge[tree])
    value = float(arcs.cost[tree].sum())
    return Trenches(tuple(int(e) for e in edges if e >= 0), value, min(bound, value))


def _cut_loop(arcs: Arcs, found: Trenches, cuts: list[Ints], deadline: float) -> Trenches:
    """Add broken cuts to the linear program until there are none, then solve it in whole numbers, and again."""
    ties = _ties(arcs)
    bound, whole = found.bound, False
    for _ in range(ROUNDS):
        left = deadline - monotonic()
        if left <= 0:
            break
        rows = stacked([ties, _cut_rows(arcs, cuts)], len(arcs.tail))
        try:
            values, lower = _solved(rows, arcs.cost, left, whole=whole)
        except KeyboardInterrupt:
            break
        bound = max(bound, lower)
        if values is None or found.cost - bound <= ABSOLUTE_GAP:
            break
        new = _broken_cuts(arcs, values)
        if not new and (whole or np.all(np.abs(values - np.round(values)) < ABSOLUTE_GAP)):
            tree = np.flatnonzero(values > 0.5)
            if float(arcs.cost[tree].sum()) < found.cost:
                found = _found(arcs, tree, bound)
            break
        rounded = _found(arcs, short_tree(arcs, arcs.cost * (1 - np.minimum(values, 1.0))), bound)
        found = min(found, rounded, key=lambda each: each.cost)
        whole |= not new
        cuts += new
    return Trenches(found.edges, found.cost, min(bound, found.cost))


def _solved(rows: Rows, cost: Floats, seconds: float, *, whole: bool) -> tuple[Floats | None, float]:
    """Return values and a valid bound of the program, or of its linear relaxation."""
    upper = np.ones(len(cost))
    if not whole:
        outcome = linear(rows, upper, cost, seconds)
        return (None, -np.inf) if outcome is None else (outcome.values, outcome.bound)
    result = optimise(
        rows, upper, cost, gaps=(0.0, ABSOLUTE_GAP), seconds=seconds, report=lambda _value, _bound: None
    )
    if result.interrupted:
        raise KeyboardInterrupt
    bound = -np.inf if np.isnan(result.bound) else result.bound
    return (result.values if result.proven else None), bound


def _ties(arcs: Arcs) -> Rows:
    """Constraints (2) to (4)."""
    count, column = len(arcs.tail), np.arange(len(arcs.tail), dtype=np.int64)
    enters = sparse.csr_array((np.ones(count), (arcs.head, column)), shape=(arcs.nodes, count))
    leaves = sparse.csr_array((np.ones(count), (arcs.tail, column)), shape=(arcs.nodes, count))
    terminal = np.isin(np.arange(arcs.nodes), arcs.terminals)
    others = np.flatnonzero(~terminal & (np.arange(arcs.nodes) != arcs.root))
    one = enters[arcs.terminals]
    ones = np.ones(len(arcs.terminals))
    onward = np.flatnonzero((arcs.tail != arcs.root) & ~terminal[arcs.tail])
    goes_on = sparse.csr_array(
        (np.ones(len(onward)), (np.arange(len(onward)), onward)), shape=(len(onward), count)
    )
    turned = _turned(arcs, onward)
    parts = [
        Rows(one, ones, ones, (TIES,) * len(ones)),
        at_most(enters[others], 1.0),
        at_most(enters[others] - leaves[others]),
        at_most(goes_on - enters[arcs.tail[onward]] + turned),
    ]
    return stacked(parts, count)


def _turned(arcs: Arcs, some: Ints) -> sparse.csr_array:
    """Return the same edge the other way, as rows, one for each of some arcs."""
    other = {(int(e), int(t)): a for a, (e, t) in enumerate(zip(arcs.edge, arcs.tail, strict=True))}
    pairs = [(n, other.get((int(arcs.edge[a]), int(arcs.head[a])), -1)) for n, a in enumerate(some)]
    row, column = np.array([p for p in pairs if p[1] >= 0], dtype=np.int64).reshape(-1, 2).T
    return sparse.csr_array((np.ones(len(row)), (row, column)), shape=(len(some), len(arcs.tail)))


def _cut_rows(arcs: Arcs, cuts: list[Ints]) -> Rows:
    row = np.repeat(np.arange(len(cuts)), [len(cut) for cut in cuts])
    column = np.concatenate([np.empty(0, dtype=np.int64), *cuts])
    matrix = sparse.csr_array((-np.ones(len(row)), (row, column)), shape=(len(cuts), len(arcs.tail)))
    return at_most(matrix, -1.0)


def _broken_cuts(arcs: Arcs, values: Floats) -> list[Ints]:
    """Return cuts (1) that the values break: for each terminal those nearest to it and nearest to the root."""
    capacity = np.round(np.clip(values, 0.0, 1.0) * SCALE).astype(np.int32)
    graph = sparse.csr_array((capacity, (arcs.tail, arcs.head)), shape=(arcs.nodes, arcs.nodes))
    graph.sum_duplicates()
    graph.eliminate_zeros()
    found: dict[bytes, Ints] = {}
    for terminal in arcs.terminals.tolist():
        flow = maximum_flow(graph, arcs.root, terminal)
        if flow.flow_value >= SCALE * (1 - VIOLATED):
            continue
        left = sparse.csr_array(graph - flow.flow)
        left.eliminate_zeros()
        near_root = np.zeros(arcs.nodes, dtype=bool)
        near_root[breadth_first_order(left, arcs.root, return_predecessors=False)] = True
        near_terminal = np.zeros(arcs.nodes, dtype=bool)
        near_terminal[breadth_first_order(left.T.tocsr(), terminal, return_predecessors=False)] = True
        for inside in (~near_root, near_terminal):
            cut = np.flatnonzero(inside[arcs.head] & ~inside[arcs.tail])
            found.setdefault(cut.tobytes(), cut)
    return list(found.values())
