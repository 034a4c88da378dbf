"""Media as layers over the same nodes, and equipment between them: the graph that walks are searched in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CABLE, ARRIVAL = -1, -2
"""What stands in `WalkGraph.equipment` where an arc is no equipment."""


@dataclass(frozen=True)
class Layer:
    """One medium: its one-way arcs, what they cost and use, and the limits that hold on it.

    An arc with a cost or a use that isn't finite is barred. Costs and uses are 0 or more.
    """

    tail: Ints
    head: Ints
    cost: Floats
    uses: Floats
    """Arcs × budgets."""
    limits: Floats
    """One per budget, inf for none: the most that may be used since the budget was last started afresh."""
    node_uses: Floats | None = None
    """Nodes × budgets: used at every passage, at both ends of the walk too."""
    onto: Ints | None = None
    """The layer that each arc leads to; None where all stay on this one."""
    resets: Bools | None = None
    """Arcs × budgets: which start afresh before the arc; None for none."""


@dataclass(frozen=True)
class Equipment:
    """One way of placing equipment: between which layers, where, and what it does to the budgets."""

    before: int
    after: int
    nodes: Ints
    cost: ArrayLike
    """One, or one per node where it can stand."""
    resets: Bools
    """Per budget: whether it starts afresh here."""
    uses: Floats
    """Per budget: used here, after starting afresh; what every new stretch begins with belongs here."""
    at_most: int | None = None
    """How many a walk may have; None for any number."""


@dataclass(frozen=True)
class WalkGraph:
    """Layers and equipment as one graph: a state is a node on a layer, equipment is an arc like any other."""

    nodes: int
    state: Ints
    """Layer × nodes + node of every row; ascending, but for the ends that a search adds."""
    limit: Floats
    """States × budgets."""
    tail: Ints
    head: Ints
    cost: Floats
    uses: Floats
    """Arcs × budgets."""
    resets: Bools
    """Arcs × budgets."""
    equipment: Ints
    """Which equipment an arc is, or CABLE or ARRIVAL."""
    arc: Ints
    """Which arc of its layer a cable arc is."""

    @cached_property
    def begins(self) -> Ints:
        """Where the arcs out of each state begin, and one more; arcs stand in the order of their tails."""
        return np.searchsorted(self.tail, np.arange(len(self.state) + 1))

    @cached_property
    def placed(self) -> Ints:
        """The arcs that are equipment."""
        return np.flatnonzero(self.equipment >= 0)

    @cached_property
    def renewed(self) -> Ints:
        """The budgets that some cable starts afresh: what is left of them is not known from shortest ways."""
        return np.flatnonzero(self.resets[self.equipment < 0].any(axis=0))

    @cached_property
    def nearness(self) -> tuple[int, csr_array] | None:
        """The first budget that is limited everywhere, and what cable arcs use of it; None where there is none."""
        everywhere = np.flatnonzero(np.isfinite(self.limit).all(axis=0))
        if not len(everywhere):
            return None
        budget = int(everywhere[0])
        cable = self.equipment < 0
        begins = np.append(0, np.cumsum(cable))[self.begins]
        size = len(self.state)
        return budget, csr_array((self.uses[cable, budget], self.head[cable], begins), shape=(size, size))


def walk_graph(nodes: int, layers: Sequence[Layer], equipment: Sequence[Equipment] = ()) -> WalkGraph:
    """Return the graph of some layers over the same nodes and of the equipment between them.

    Equipment with `at_most` adds a budget of its own, counted, after the given ones and in the order of `equipment`.
    Raises ValueError where a cost or a use is less than 0.
    """
    budgets = len(layers[0].limits)
    counted = [i for i, item in enumerate(equipment) if item.at_most is not None]
    counts = [float(item.at_most) for item in equipment if item.at_most is not None]
    parts = [_layer_arcs(nodes, layers), *([_equipment_arcs(nodes, equipment)] if equipment else [])]
    tail, head, cost, uses, resets, item, arc = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    if counted:
        count = (item[:, None] == np.array(counted, dtype=np.int64)).astype(float)
        uses = np.hstack([uses, count])
        resets = np.hstack([resets, np.zeros(count.shape, dtype=bool)])
    finite = np.isfinite(cost) & np.isfinite(uses).all(axis=1)
    if (cost[finite] < 0).any() or (uses[finite] < 0).any():
        raise ValueError("costs and uses must be 0 or more")
    place = tail * (nodes * len(layers)) + head
    order = np.lexsort((cost, place))  # stable: cable before equipment, in the order given
    if not finite.all():
        order = order[finite[order]]
    limits = np.array([[*layer.limits, *counts] for layer in layers], dtype=float)
    return WalkGraph(
        nodes=nodes,
        state=np.arange(nodes * len(layers)),
        limit=np.repeat(limits.reshape(len(layers), budgets + len(counts)), nodes, axis=0),
        tail=tail[order],
        head=head[order],
        cost=cost[order],
        uses=uses[order],
        resets=resets[order],
        equipment=item[order],
        arc=arc[order],
    )


Columns = tuple[Ints, Ints, Floats, Floats, Bools, Ints, Ints]


def _layer_arcs(nodes: int, layers: Sequence[Layer]) -> Columns:
    """Columns of all layers' arcs, what the node at the head uses included."""
    counts = [len(layer.tail) for layer in layers]
    number = np.repeat(np.arange(len(layers)), counts)
    onto = [
        np.full(count, k) if layer.onto is None else layer.onto
        for k, (layer, count) in enumerate(zip(layers, counts, strict=True))
    ]
    uses = np.concatenate([_uses(layer) for layer in layers])
    resets = np.zeros(uses.shape, dtype=bool)
    for begin, layer in zip(np.append(0, np.cumsum(counts)).tolist(), layers, strict=False):
        if layer.resets is not None:
            resets[begin : begin + len(layer.tail)] = layer.resets
    return (
        np.concatenate([layer.tail for layer in layers]) + number * nodes,
        np.concatenate([layer.head for layer in layers]) + np.concatenate(onto) * nodes,
        np.concatenate([layer.cost for layer in layers]).astype(float),
        uses,
        resets,
        np.full(len(number), CABLE),
        _counted(counts),
    )


def _uses(layer: Layer) -> Floats:
    uses = np.asarray(layer.uses, dtype=float).reshape(len(layer.tail), len(layer.limits))
    return uses if layer.node_uses is None else uses + layer.node_uses[layer.head]


def _equipment_arcs(nodes: int, equipment: Sequence[Equipment]) -> Columns:
    """Columns of the arcs that equipment makes where it can stand."""
    places = [np.asarray(item.nodes, dtype=np.int64) for item in equipment]
    counts = [len(at) for at in places]
    costs = [np.broadcast_to(item.cost, count) for item, count in zip(equipment, counts, strict=True)]
    before, after = (np.repeat([getattr(i, end) for i in equipment], counts) for end in ("before", "after"))
    at = np.concatenate(places)
    return (
        at + before * nodes,
        at + after * nodes,
        np.concatenate(costs).astype(float),
        np.repeat(np.array([item.uses for item in equipment], dtype=float), counts, axis=0),
        np.repeat(np.array([item.resets for item in equipment], dtype=bool), counts, axis=0),
        np.repeat(np.arange(len(equipment)), counts),
        _counted(counts),
    )


def _counted(counts: Sequence[int]) -> Ints:
    """Return 0, 1, … for each of several lengths."""
    begins = np.cumsum(counts) - counts
    return np.arange(sum(counts)) - np.repeat(begins, counts)


def part(graph: WalkGraph, states: Ints) -> WalkGraph:
    """Return the graph of some of its states, given in ascending order; costs no more than their arcs."""
    begin = graph.begins[states]
    count = graph.begins[states + 1] - begin
    rows = np.arange(count.sum()) + np.repeat(begin - (np.cumsum(count) - count), count)
    head = np.minimum(np.searchsorted(states, graph.head[rows]), len(states) - 1)
    inside = states[head] == graph.head[rows]
    kept = with_arcs(graph, rows[inside])
    return replace(
        kept,
        state=graph.state[states],
        limit=graph.limit[states],
        tail=np.repeat(np.arange(len(states)), count)[inside],
        head=head[inside],
    )


def with_arcs(graph: WalkGraph, keep: Ints | Bools) -> WalkGraph:
    """Return the graph of all its states and some of its arcs."""
    return replace(
        graph,
        tail=graph.tail[keep],
        head=graph.head[keep],
        cost=graph.cost[keep],
        uses=graph.uses[keep],
        resets=graph.resets[keep],
        equipment=graph.equipment[keep],
        arc=graph.arc[keep],
    )
