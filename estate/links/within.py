"""The cheapest ways that keep a length, exact where the plain cheapest way is too long."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from estate.links.labels import Start, Targets, cheapest_walks
from estate.links.walk_graph import Layer, walk_graph
from estate.network.network import Network

Way = tuple[tuple[int, ...], tuple[int, ...]]
"""Node and segment indices from the head to the camera."""


def cheapest_within(
    network: Network,
    weight: NDArray[np.float64],
    source: int,
    nodes: Sequence[int],
    limits_m: Sequence[float],
) -> list[Way | None]:
    """Return the way of least weight from a source to each node that is no longer than the node's limit.

    `weight` has one value per segment, inf where it is barred. None is the proof that no way keeps the limit. A node
    may be asked for several times, with several limits; nodes where cable can't pass are only ends.
    """
    segments = np.flatnonzero(np.isfinite(weight))
    tail = np.concatenate([network.segment_from[segments], network.segment_to[segments]])
    head = np.concatenate([network.segment_to[segments], network.segment_from[segments]])
    passes = network.node_passes[tail] | (tail == source)
    owner = np.tile(segments, 2)[passes]
    longest_m = max(limits_m)
    layer = Layer(
        tail=tail[passes],
        head=head[passes],
        cost=weight[owner],
        uses=network.segment_length_m[owner][:, None],
        limits=np.array([longest_m]),
    )
    targets = Targets(
        node=np.asarray(nodes, dtype=np.int64),
        layers=np.ones((len(nodes), 1), dtype=bool),
        uses=longest_m - np.asarray(limits_m, dtype=float)[:, None],
    )
    walks = cheapest_walks(walk_graph(network.nodes, [layer]), Start(source), targets)
    return [
        None if walk is None else (walk.nodes, tuple(int(owner[arc]) for _, arc in walk.arcs))
        for walk in walks
    ]
