"""Shortest ways over the network, one source at a time."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from estate.network.network import Floats, Ints, Network


@dataclass(frozen=True)
class PathGraph:
    """A network with weights, ready for searching.

    Where cable can't pass a node, ways may end there or start there, never go through. Such a node has a second
    row that only leads away, used where it is the source.
    """

    matrix: csr_array
    arc_segment: Ints
    """The segment behind each stored arc of the matrix."""
    nodes: int
    source_row: Ints
    """Row of the matrix to start from, for each node."""


@dataclass(frozen=True)
class Tree:
    """Least distances from a source to every node (inf where there is no way) and the node before each."""

    source: int
    distance: Floats
    predecessor: Ints
    """-1 at the source and where there is no way."""


def matrix(network: Network, weight: Floats) -> PathGraph:
    """Return the graph of a network for one weight per segment, 0 or more; inf and NaN bar a segment.

    Of parallel segments the one of least weight counts, the first of equals. Zero weights are kept.
    """
    usable = np.isfinite(weight) & (network.segment_from != network.segment_to)
    segment = np.flatnonzero(usable)
    start, end = network.segment_from[segment], network.segment_to[segment]
    tail, head = np.concatenate([start, end]), np.concatenate([end, start])
    behind = np.tile(segment, 2)
    blocked = np.flatnonzero(~network.node_passes)
    source_row = np.arange(network.nodes)
    source_row[blocked] = network.nodes + np.arange(len(blocked))
    tail = source_row[tail]
    order = np.lexsort((behind, weight[behind], head, tail))
    tail, head, behind = tail[order], head[order], behind[order]
    first = np.append(True, (np.diff(tail) != 0) | (np.diff(head) != 0))[: len(tail)]
    tail, head, behind = tail[first], head[first], behind[first]
    size = network.nodes + len(blocked)
    pointer = np.searchsorted(tail, np.arange(size + 1))
    return PathGraph(
        matrix=csr_array((weight[behind].astype(float), head, pointer), shape=(size, size)),
        arc_segment=behind,
        nodes=network.nodes,
        source_row=source_row,
    )


def with_leaps(graph: PathGraph, ends: Sequence[tuple[int, int]], weight: Floats) -> PathGraph:
    """Return the graph with ways of their own between some nodes, for distances alone: no segment lies behind them."""
    if not ends:
        return graph
    both = [*ends, *((b, a) for a, b in ends)]
    tail = graph.source_row[[a for a, _ in both]]
    head = np.array([b for _, b in both], dtype=np.int64)
    old = graph.matrix.tocoo()
    rows, columns = np.append(old.row, tail), np.append(old.col, head)
    values = np.concatenate([old.data, weight, weight])
    order = np.lexsort((values, columns, rows))
    rows, columns, values = rows[order], columns[order], values[order]
    first = np.append(True, (np.diff(rows) != 0) | (np.diff(columns) != 0))
    rows, columns, values = rows[first], columns[first], values[first]
    pointer = np.searchsorted(rows, np.arange(graph.matrix.shape[0] + 1))
    leaping = csr_array((values, columns, pointer), shape=graph.matrix.shape)
    return replace(graph, matrix=leaping, arc_segment=np.full(len(values), -1))


def tree(graph: PathGraph, source: int, limit: float = np.inf) -> Tree:
    """Return the least ways from one node to all others no farther than `limit`, in the unit of the weights."""
    row = int(graph.source_row[source])
    distance, before = dijkstra(
        graph.matrix, directed=True, indices=row, return_predecessors=True, limit=limit
    )
    before = np.where(before == row, source, np.maximum(before, -1))[: graph.nodes].astype(np.int64)
    distance = distance[: graph.nodes].copy()
    distance[source], before[source] = 0.0, -1
    return Tree(source, distance, before)


def way(graph: PathGraph, found: Tree, node: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the nodes and the segments from the source to a node; both empty where there is no way."""
    if not np.isfinite(found.distance[node]):
        return (), ()
    nodes = [node]
    while nodes[-1] != found.source:
        nodes.append(int(found.predecessor[nodes[-1]]))
    nodes.reverse()
    segments = tuple(_segment(graph, a, b) for a, b in pairwise(nodes))
    return tuple(nodes), segments


def _segment(graph: PathGraph, tail: int, head: int) -> int:
    """Segment of the arc between two neighbouring nodes."""
    row = graph.source_row[tail]
    low, high = graph.matrix.indptr[row], graph.matrix.indptr[row + 1]
    arc = low + np.searchsorted(graph.matrix.indices[low:high], head)
    return int(graph.arc_segment[arc])
