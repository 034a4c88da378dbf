"""The cheapest walks within budgets that add up on the way, past equipment that starts budgets afresh.

Label setting for the shortest path with resource constraints: a label is a walk's end with its cost and what it
has used of every budget. A label that another at the same place beats in cost and in every budget is dropped, and so is
one that can't reach a target within what is left; what remains is exact. Media are layers: each layer has its own
arcs and limits, and equipment leads from a layer to itself or to another at one node. After Desrochers and Soumis,
"A generalized permanent labelling algorithm for the shortest path problem with time windows", INFOR 26 (1988)
191-212; bounds from both ends after Beasley and Christofides, "An algorithm for the resource constrained shortest
path problem", Networks 19 (1989) 379-394 (both from memory).

What isn't a sum can often be made one. A budget of a camera tighter than that of its neighbours is the common limit
with the difference in `Targets.uses`. A layer entered at the first extender, with a budget that only the arcs before
it use, carries the resistance up to that extender.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from operator import add, gt, le

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SLACK = 1e-9
"""Share of a limit, and absolute, by which a sum may pass it: rounding, no more."""
CABLE, ARRIVAL = -1, -2
"""What stands in `WalkGraph.equipment` where an arc is no equipment."""
WORTHWHILE = 0.95
"""Pruning from both ends is repeated while it leaves less than this share of the arcs."""


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
class Start:
    """Where all walks begin, and what is used before the first arc."""

    node: int
    layer: int = 0
    uses: Floats | None = None


@dataclass(frozen=True)
class Targets:
    """Where walks may end; several targets may share a node."""

    node: Ints
    layers: Bools
    """Targets × layers: on which media a walk may arrive."""
    uses: Floats | None = None
    """Targets × budgets: used on arrival."""


@dataclass(frozen=True)
class Walk:
    """A walk from the start to a target."""

    cost: float
    nodes: tuple[int, ...]
    arcs: tuple[tuple[int, int], ...]
    """Layer, and arc in the order that the layer was given; one fewer than nodes."""
    stands: tuple[tuple[int, int], ...]
    """Position in `nodes`, and which equipment stands there."""
    used: tuple[float, ...]
    """Per budget, since it last started afresh; counts of limited equipment come after the given budgets."""


@dataclass(frozen=True)
class Miss:
    """The walk that passes one budget by the least, and by how much."""

    overrun: float
    walk: Walk


Accepts = Callable[[int, Walk], bool]
"""Judges a finished walk to a target.

The search stays exact where this depends only on what is used, and never refuses a walk while accepting one that uses
as much or more of every budget.
"""


@dataclass(frozen=True)
class WalkGraph:
    """Layers and equipment as one graph: a state is a node on a layer, equipment is an arc like any other."""

    nodes: int
    state: Ints
    """Layer × nodes + node of every row; -1 for the ends that a search adds."""
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


# Building


def walk_graph(nodes: int, layers: Sequence[Layer], equipment: Sequence[Equipment] = ()) -> WalkGraph:
    """Return the graph of some layers over the same nodes and of the equipment between them.

    Equipment with `at_most` adds a budget of its own, counted, after the given ones and in the order of `equipment`.
    Raises ValueError where a cost or a use is less than 0.
    """
    budgets = len(layers[0].limits)
    counted = [i for i, item in enumerate(equipment) if item.at_most is not None]
    counts = [float(item.at_most) for item in equipment if item.at_most is not None]
    parts = [_layer_arcs(nodes, number, layer) for number, layer in enumerate(layers)]
    parts += [_equipment_arcs(nodes, number, item) for number, item in enumerate(equipment)]
    tail, head, cost, uses, resets, item, arc = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    count = (item[:, None] == np.array(counted, dtype=np.int64)).astype(float)
    uses = np.hstack([uses, count])
    resets = np.hstack([resets, np.zeros(count.shape, dtype=bool)])
    finite = np.isfinite(cost) & np.isfinite(uses).all(axis=1)
    if (cost[finite] < 0).any() or (uses[finite] < 0).any():
        raise ValueError("costs and uses must be 0 or more")
    order = np.lexsort((arc, item, cost, head, tail))
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


def _layer_arcs(nodes: int, number: int, layer: Layer) -> Columns:
    """Columns of a layer's arcs, what the node at the head uses included."""
    uses = np.asarray(layer.uses, dtype=float).reshape(len(layer.tail), len(layer.limits))
    if layer.node_uses is not None:
        uses = uses + layer.node_uses[layer.head]
    return (
        layer.tail + number * nodes,
        layer.head + number * nodes,
        np.asarray(layer.cost, dtype=float),
        uses,
        np.zeros(uses.shape, dtype=bool),
        np.full(len(layer.tail), CABLE),
        np.arange(len(layer.tail)),
    )


def _equipment_arcs(nodes: int, number: int, item: Equipment) -> Columns:
    """Columns of the arcs that a piece of equipment makes where it can stand."""
    places = np.asarray(item.nodes, dtype=np.int64)
    return (
        places + item.before * nodes,
        places + item.after * nodes,
        np.broadcast_to(np.asarray(item.cost, dtype=float), places.shape),
        np.tile(np.asarray(item.uses, dtype=float), (len(places), 1)),
        np.tile(np.asarray(item.resets, dtype=bool), (len(places), 1)),
        np.full(len(places), number),
        np.arange(len(places)),
    )


# Searching


def cheapest_walks(
    graph: WalkGraph, start: Start, targets: Targets, accepts: Accepts | None = None
) -> tuple[Walk | None, ...]:
    """Return the cheapest walk within every limit to each target, or None as the proof that there is none.

    Where the plain cheapest walk keeps the limits it is taken; labels serve the other targets, all in one search.
    """
    task = _task(graph, start, targets)
    found: dict[int, Walk] = {}
    if task is not None:
        found = _plain_walks(task, accepts)
        rest = {sink: target for sink, target in task.sinks.items() if target not in found}
        if rest:
            search = _Search(_tightened(replace(task, sinks=rest)), accepts)
            found |= search.run()
    return tuple(found.get(target) for target in range(len(targets.node)))


def least_overruns(
    graph: WalkGraph, start: Start, targets: Targets, budget: int, *, others: bool = True
) -> tuple[Miss | None, ...]:
    """Return for each target the walk that passes one budget by the least, 0 where it needn't be passed.

    With equipment the overrun is that of the worst stretch. `others` says whether the other budgets are kept; None
    where there is no way all the same.
    """
    limit = graph.limit.copy() if others else np.full_like(graph.limit, np.inf)
    limit[:, budget] = np.inf
    task = _task(replace(graph, limit=limit), start, targets)
    if task is None:
        return (None,) * len(targets.node)
    search = _OverrunSearch(_tightened(task), budget, graph.limit[:, budget])
    walks = search.run()
    return tuple(
        Miss(search.overrun[target], walks[target]) if target in walks else None
        for target in range(len(targets.node))
    )


@dataclass(frozen=True)
class _Task:
    """What one search works on: the part of the graph in reach of the start, with an end for every target."""

    graph: WalkGraph
    start: int
    first: Floats
    """Used at the start, per budget."""
    sinks: dict[int, int]
    """The target of every end; a target has one on each medium where it may be arrived at."""


def _task(graph: WalkGraph, start: Start, targets: Targets) -> _Task | None:
    """Return the search from a start, or None where the start itself passes a limit."""
    first = np.zeros(graph.limit.shape[1])
    if start.uses is not None:
        first[: len(start.uses)] = start.uses
    state = start.layer * graph.nodes + start.node
    for budget in range(len(first)):
        if np.isfinite(graph.limit[:, budget]).any() or budget == 0:
            position = int(np.searchsorted(graph.state, state))
            inside = np.isfinite(_least_used(graph, budget, position, first[budget]))
            if not inside[position]:
                return None
            graph = _part(graph, inside)
    ended, sinks = _with_ends(graph, targets)
    return _Task(ended, int(np.searchsorted(graph.state, state)), first, sinks)


def _part(graph: WalkGraph, keep: Bools) -> WalkGraph:
    """Return the graph of some of its states."""
    number = np.cumsum(keep) - 1
    arcs = keep[graph.tail] & keep[graph.head]
    part = _with_arcs(graph, arcs)
    return replace(
        part,
        state=graph.state[keep],
        limit=graph.limit[keep],
        tail=number[part.tail],
        head=number[part.head],
    )


def _with_arcs(graph: WalkGraph, keep: Bools) -> WalkGraph:
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


def _with_ends(graph: WalkGraph, targets: Targets) -> tuple[WalkGraph, dict[int, int]]:
    """Return the graph with an end for every target and medium, and the target of each end."""
    target, layer = np.nonzero(targets.layers)
    wanted = layer * graph.nodes + targets.node[target]
    position = np.minimum(np.searchsorted(graph.state, wanted), len(graph.state) - 1)
    there = graph.state[position] == wanted
    target, position = target[there], position[there]
    sinks = len(graph.state) + np.arange(len(target))
    uses = np.zeros((len(target), graph.limit.shape[1]))
    if targets.uses is not None:
        uses[:, : targets.uses.shape[1]] = targets.uses[target]
    nothing = np.zeros(len(target))
    tail = np.concatenate([graph.tail, position])
    order = np.argsort(tail, kind="stable")
    ended = WalkGraph(
        nodes=graph.nodes,
        state=np.concatenate([graph.state, np.full(len(target), -1)]),
        limit=np.concatenate([graph.limit, graph.limit[position]]),
        tail=tail[order],
        head=np.concatenate([graph.head, sinks])[order],
        cost=np.concatenate([graph.cost, nothing])[order],
        uses=np.concatenate([graph.uses, uses])[order],
        resets=np.concatenate([graph.resets, np.zeros(uses.shape, dtype=bool)])[order],
        equipment=np.concatenate([graph.equipment, np.full(len(target), ARRIVAL)])[order],
        arc=np.concatenate([graph.arc, np.full(len(target), -1)])[order],
    )
    return ended, dict(zip(sinks.tolist(), target.tolist(), strict=True))


# Bounds, one budget at a time


def _ceiling(limit: Floats) -> Floats:
    """Limits with room for rounding."""
    return limit + SLACK * (1.0 + np.where(np.isfinite(limit), limit, 0.0))


def _least(
    tail: Ints, head: Ints, weight: Floats, seeds: Floats, limit: float = np.inf
) -> tuple[Floats, Ints]:
    """Return the least distances from seeds, each with the distance it begins with, and the state before each."""
    size = len(seeds)
    order = np.argsort(tail, kind="stable")
    first = np.flatnonzero(np.isfinite(seeds))
    pointer = np.append(np.searchsorted(tail, np.arange(size + 1), sorter=order), len(tail) + len(first))
    matrix = csr_array(
        (np.append(weight[order], seeds[first]), np.append(head[order], first), pointer),
        shape=(size + 1, size + 1),
    )
    distance, before = dijkstra(matrix, indices=size, limit=limit, return_predecessors=True)
    return distance[:size], before[:size].astype(np.int64)


def _least_used(graph: WalkGraph, budget: int, start: int, first: float) -> Floats:
    """Return the least that a walk can have used of a budget at every state, inf where it can't keep the limit."""
    ceiling = _ceiling(graph.limit[:, budget])
    cable = graph.equipment < 0
    tail, head = graph.tail[~cable], graph.head[~cable]
    uses, resets = graph.uses[~cable, budget], graph.resets[~cable, budget]
    seeds = np.full(len(ceiling), np.inf)
    seeds[start] = first
    while True:
        used, _ = _least(
            graph.tail[cable], graph.head[cable], graph.uses[cable, budget], seeds, ceiling.max(initial=0.0)
        )
        used[used > ceiling] = np.inf
        behind = np.where(np.isfinite(used[tail]), np.where(resets, 0.0, used[tail]) + uses, np.inf)
        behind[behind > ceiling[head]] = np.inf
        better = behind < used[head] - SLACK
        if not better.any():
            return used
        np.minimum.at(seeds, head[better], behind[better])


def _still_needed(graph: WalkGraph, budget: int, sinks: Sequence[int]) -> Floats:
    """Return how far below its limit a budget must be at every state to reach an end; inf where none can be."""
    limit = graph.limit[:, budget]
    ceiling = _ceiling(limit)
    cable = graph.equipment < 0
    tail, head = graph.tail[~cable], graph.head[~cable]
    uses, resets = graph.uses[~cable, budget], graph.resets[~cable, budget]
    unlimited = ~np.isfinite(limit[tail])
    seeds = np.full(len(limit), np.inf)
    seeds[list(sinks)] = 0.0
    while True:
        need, _ = _least(
            graph.head[cable], graph.tail[cable], graph.uses[cable, budget], seeds, ceiling.max(initial=0.0)
        )
        need[need > ceiling] = np.inf
        onward = np.isfinite(need[head])
        room = np.where(onward, limit[head], 0.0) - np.where(onward, need[head] + uses, np.inf)
        onward &= room >= limit[head] - ceiling[head] if False else room >= -SLACK * (1.0 + uses)
        short = np.maximum(np.where(unlimited, 0.0, limit[tail]) - np.where(onward, room, 0.0), 0.0)
        ahead = np.where(onward, np.where(resets | unlimited, 0.0, short), np.inf)
        better = ahead < need[tail] - SLACK
        if not better.any():
            return need
        np.minimum.at(seeds, tail[better], ahead[better])


def _tightened(task: _Task) -> _Task:
    """Drop the arcs that no walk to an end can use within the limit of some budget."""
    while True:
        count = len(task.graph.tail)
        for budget in range(len(task.first)):
            graph = task.graph
            limit = graph.limit[:, budget]
            used = _least_used(graph, budget, task.start, task.first[budget])[graph.tail]
            need = _still_needed(graph, budget, list(task.sinks))[graph.head]
            kept = np.isfinite(used) & np.isfinite(need)
            carried = np.where(graph.resets[:, budget] | ~kept, 0.0, used)
            total = carried + graph.uses[:, budget] + np.where(kept, need, 0.0)
            kept &= total <= _ceiling(_ceiling(limit))[graph.head]
            task = replace(task, graph=_with_arcs(graph, kept))
        if len(task.graph.tail) >= WORTHWHILE * count:
            return task


# The plain cheapest walks


def _plain_walks(task: _Task, accepts: Accepts | None) -> dict[int, Walk]:
    """Return the cheapest walks without regard to limits, of those targets where they keep the limits."""
    graph = task.graph
    seeds = np.full(len(graph.state), np.inf)
    seeds[task.start] = 0.0
    distance, before = _least(graph.tail, graph.head, graph.cost, seeds)
    best: dict[int, int] = {}
    for sink, target in task.sinks.items():
        if np.isfinite(distance[sink]) and (target not in best or distance[sink] < distance[best[target]]):
            best[target] = sink
    pointer = np.searchsorted(graph.tail, np.arange(len(graph.state) + 1))
    found = {}
    for target, sink in best.items():
        arcs = _arcs_back(graph, pointer, before, task.start, sink)
        if _keeps(task, arcs):
            walk = _walk(task, arcs)
            if accepts is None or accepts(target, walk):
                found[target] = walk
    return found


def _arcs_back(graph: WalkGraph, pointer: Ints, before: Ints, start: int, sink: int) -> list[int]:
    """Return the arcs of a tree from its start to a state; of parallel arcs the cheapest."""
    arcs = []
    head = sink
    while head != start:
        tail = int(before[head])
        low, high = int(pointer[tail]), int(pointer[tail + 1])
        parallel = low + np.flatnonzero(graph.head[low:high] == head)
        arcs.append(int(parallel[np.argmin(graph.cost[parallel])]))
        head = tail
    return arcs[::-1]


def _keeps(task: _Task, arcs: Sequence[int]) -> bool:
    """Whether a walk keeps every limit."""
    graph, used = task.graph, task.first
    for arc in arcs:
        used = np.where(graph.resets[arc], 0.0, used) + graph.uses[arc]
        if (used > _ceiling(graph.limit[graph.head[arc]])).any():
            return False
    return True


def _walk(task: _Task, arcs: Sequence[int]) -> Walk:
    """Put a walk into the caller's nodes, arcs and equipment."""
    graph, used, cost = task.graph, task.first, 0.0
    nodes = [int(graph.state[task.start]) % graph.nodes]
    passed, stands = [], []
    for arc in arcs:
        used = np.where(graph.resets[arc], 0.0, used) + graph.uses[arc]
        cost += float(graph.cost[arc])
        item = int(graph.equipment[arc])
        if item == CABLE:
            layer, node = divmod(int(graph.state[graph.head[arc]]), graph.nodes)
            nodes.append(node)
            passed.append((layer, int(graph.arc[arc])))
        elif item != ARRIVAL:
            stands.append((len(nodes) - 1, item))
    return Walk(cost, tuple(nodes), tuple(passed), tuple(stands), tuple(used.tolist()))


# Labels

Values = tuple[float, ...]
Onward = tuple[int, float, Values, tuple[int, ...], int]
"""Head, cost, uses, budgets that start afresh, arc."""


class _Search:
    """One search by labels, cheapest first by the cost so far and the least cost ahead."""

    def __init__(self, task: _Task, accepts: Accepts | None) -> None:
        self.task = task
        self.accepts = accepts
        # A budget without a limit matters only to a caller who judges by it.
        limited = np.isfinite(task.graph.limit).any(axis=0)
        self.budgets = self._carried(limited if accepts is None else np.ones_like(limited))
        self.sinks = dict(task.sinks)
        self.state: list[int] = []
        self.cost: list[float] = []
        self.used: list[Values] = []
        self.parent: list[int] = []
        self.arc: list[int] = []
        self.queue: list[tuple[float, int]] = []
        self.settled: dict[int, list[Values]] = {}
        self.onward: dict[int, list[Onward]] = {}
        self.pointer = np.searchsorted(task.graph.tail, np.arange(len(task.graph.state) + 1)).tolist()

    def _carried(self, wanted: Bools) -> Ints:
        return np.flatnonzero(wanted)

    def run(self) -> dict[int, Walk]:
        """Return the walks of the targets that have one."""
        found: dict[int, Walk] = {}
        self._look_ahead()
        self._push(self.task.start, self._first_cost(), tuple(self.task.first[self.budgets].tolist()), -1, -1)
        enough = len(set(self.sinks.values())) // 2
        while self.queue and self.sinks:
            key, label = heappop(self.queue)
            state = self.state[label]
            later = self.cost[label] + self.ahead[state]
            if later > key:
                # The targets that were nearest have been found since; the walk waits its turn, or goes.
                if self._hopeful(state, self.used[label]):
                    heappush(self.queue, (later, label))
                continue
            if self._settle(state, self.used[label]):
                if state in self.sinks:
                    self._arrive(label, found)
                else:
                    self._extend(label)
            if len(set(self.sinks.values())) <= enough and self.sinks:
                self._look_ahead()
                enough //= 2
        return found

    def _look_ahead(self) -> None:
        """Bound what lies ahead of every state, to the nearest end that is still wanted."""
        graph, sinks = self.task.graph, list(self.sinks)
        room = np.empty((len(graph.state), len(self.budgets)))
        for column, budget in enumerate(self.budgets):
            need = _still_needed(graph, int(budget), sinks)
            limit = np.where(np.isfinite(need), _ceiling(_ceiling(graph.limit[:, budget])), 0.0)
            room[:, column] = limit - need
        self.room = room.tolist()
        self.ahead = self._costs_ahead(sinks).tolist()

    def _costs_ahead(self, sinks: list[int]) -> Floats:
        graph = self.task.graph
        seeds = np.full(len(graph.state), np.inf)
        seeds[sinks] = 0.0
        ahead, _ = _least(graph.head, graph.tail, graph.cost, seeds)
        # A whisker less, so that rounding can't turn the order about.
        return ahead * (1.0 - 1e-12)

    def _first_cost(self) -> float:
        return 0.0

    def _price(self, cost: float, arc_cost: float, _used: Values, _head: int) -> float:
        return cost + arc_cost

    def _hopeful(self, state: int, used: Values) -> bool:
        """Whether an end can be reached within what is left, and no settled label is as good."""
        if any(map(gt, used, self.room[state])) or self.ahead[state] == np.inf:
            return False
        return not any(all(map(le, other, used)) for other in self.settled.get(state, ()))

    def _push(self, state: int, cost: float, used: Values, parent: int, arc: int) -> None:
        if not self._hopeful(state, used):
            return
        heappush(self.queue, (cost + self.ahead[state], len(self.state)))
        self.state.append(state)
        self.cost.append(cost)
        self.used.append(used)
        self.parent.append(parent)
        self.arc.append(arc)

    def _settle(self, state: int, used: Values) -> bool:
        """Enter a label, unless one as good stands; all that stand here are no dearer."""
        if not self._hopeful(state, used):
            return False
        front = self.settled.setdefault(state, [])
        front[:] = [other for other in front if not all(map(le, used, other))]
        front.append(used)
        return True

    def _extend(self, label: int) -> None:
        cost, used = self.cost[label], self.used[label]
        for head, arc_cost, uses, resets, arc in self._arcs_from(self.state[label]):
            carried = used
            if resets:
                carried = tuple(0.0 if i in resets else value for i, value in enumerate(used))
            reached = tuple(map(add, carried, uses))
            self._push(head, self._price(cost, arc_cost, reached, head), reached, label, arc)

    def _arcs_from(self, state: int) -> list[Onward]:
        """Return the arcs out of a state as plain numbers, made when first needed."""
        if state not in self.onward:
            graph = self.task.graph
            self.onward[state] = [
                (
                    int(graph.head[arc]),
                    float(graph.cost[arc]),
                    tuple(graph.uses[arc, self.budgets].tolist()),
                    tuple(np.flatnonzero(graph.resets[arc, self.budgets]).tolist()),
                    arc,
                )
                for arc in range(self.pointer[state], self.pointer[state + 1])
            ]
        return self.onward[state]

    def _arrive(self, label: int, found: dict[int, Walk]) -> None:
        """Take a walk to a target, unless the caller refuses it."""
        target = self.sinks[self.state[label]]
        walk = _walk(self.task, self._arcs_of(label))
        if self.accepts is None or self.accepts(target, walk):
            found[target] = walk
            self._note(target, label)
            self.sinks = {sink: other for sink, other in self.sinks.items() if other != target}

    def _note(self, target: int, label: int) -> None:
        pass

    def _arcs_of(self, label: int) -> list[int]:
        arcs = []
        while self.parent[label] >= 0:
            arcs.append(self.arc[label])
            label = self.parent[label]
        return arcs[::-1]
