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

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from operator import add, gt, le

import numpy as np

from estate.links.walk_bounds import Ways, ceiling, least_used, neighbourhood, still_needed
from estate.links.walk_graph import ARRIVAL, CABLE, Bools, Floats, Ints, WalkGraph, part, with_arcs

WORTHWHILE = 0.95
"""Pruning from both ends is repeated while it leaves less than this share of the arcs."""


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
    """Layer that it leaves from, and arc in the order that the layer was given; one fewer than nodes."""
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


def cheapest_walks(
    graph: WalkGraph,
    start: Start,
    targets: Targets,
    accepts: Accepts | None = None,
    below: Floats | None = None,
) -> tuple[Walk | None, ...]:
    """Return the cheapest walk within every limit to each target, or None as the proof that there is none.

    Where the plain cheapest walk keeps the limits it is taken; labels serve the other targets, all in one search.
    With `below`, one cost per target, None says as well that no walk costs less than that.
    """
    walks: list[Walk | None] = [None] * len(targets.node)
    task = _task(graph, start, targets)
    if task is None:
        return tuple(walks)
    found: dict[int, Walk] = {}
    for narrowed in (lambda given: given, _within_limits):
        # Most walks are found, or can't be worth it, before anything has to be known of the limits.
        task, least_cost = _worthwhile(narrowed(task), below)
        found |= _plain_walks(task, accepts, least_cost)
        rest = {sink: target for sink, target in task.sinks.items() if target not in found}
        task = replace(task, sinks=rest)
        if not rest:
            break
    else:
        search = _Search(_tightened(task), accepts)
        found |= {target: walk for target, (_, walk) in search.run().items()}
    for target, walk in found.items():
        walks[target] = walk
    return tuple(walks)


def least_overruns(
    graph: WalkGraph, start: Start, targets: Targets, budget: int, *, others: bool = True
) -> tuple[Miss | None, ...]:
    """Return for each target the walk that passes one budget by the least, 0 where it needn't be passed.

    With equipment the overrun is that of the worst stretch. `others` says whether the other budgets, counts of
    equipment among them, are kept. None where there is no way all the same.
    """
    misses: list[Miss | None] = [None] * len(targets.node)
    limit = graph.limit.copy() if others else np.full_like(graph.limit, np.inf)
    limit[:, budget] = np.inf
    task = _task(replace(graph, limit=limit), start, targets)
    if task is not None:
        search = _OverrunSearch(_tightened(_within_limits(task)), budget, graph.limit[:, budget])
        for target, (overrun, walk) in search.run().items():
            misses[target] = Miss(overrun, walk)
    return tuple(misses)


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
    graph = part(graph, neighbourhood(graph, state))
    position = int(np.searchsorted(graph.state, state))
    if (first > ceiling(graph.limit[position])).any():
        return None
    ended, sinks = _with_ends(graph, targets)
    return _Task(ended, position, first, sinks)


def _within_limits(task: _Task) -> _Task:
    """Leave out the states that no walk from the start reaches within the limits."""
    graph, start = task.graph, task.start
    for budget in _bounded(graph):
        inside = np.isfinite(least_used(graph, budget, start, task.first[budget]))
        graph = part(graph, np.flatnonzero(inside))
        place = np.cumsum(inside) - 1
        start = int(place[start])
        sinks = {int(place[sink]): target for sink, target in task.sinks.items() if inside[sink]}
        task = replace(task, graph=graph, start=start, sinks=sinks)
    return task


def _limited(graph: WalkGraph) -> list[int]:
    """Return the budgets that have a limit anywhere."""
    return np.flatnonzero(np.isfinite(graph.limit).any(axis=0)).tolist()


def _bounded(graph: WalkGraph) -> list[int]:
    """Return the limited budgets of which shortest ways tell what is used at least."""
    return [budget for budget in _limited(graph) if budget not in graph.renewed]


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
        state=np.concatenate([graph.state, graph.state[position]]),
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


def _tightened(task: _Task) -> _Task:
    """Drop the arcs that no walk to an end can use within the limit of some budget."""
    while True:
        count = len(task.graph.tail)
        for budget in _bounded(task.graph):
            graph = task.graph
            limit = graph.limit[:, budget]
            used = least_used(graph, budget, task.start, task.first[budget])[graph.tail]
            need = still_needed(graph, budget, list(task.sinks))[graph.head]
            kept = np.isfinite(used) & np.isfinite(need)
            carried = np.where(graph.resets[:, budget] | ~kept, 0.0, used)
            total = carried + graph.uses[:, budget] + np.where(kept, need, 0.0)
            kept &= total <= ceiling(ceiling(limit))[graph.head]
            task = replace(task, graph=with_arcs(graph, kept))
        if len(task.graph.tail) >= WORTHWHILE * count:
            return task


def _worthwhile(task: _Task, below: Floats | None) -> tuple[_Task, tuple[Floats, Ints]]:
    """Drop the ends that can't be reached for less than is known; return the plain least costs too."""
    graph = task.graph
    seeds = np.full(len(graph.state), np.inf)
    seeds[task.start] = 0.0
    plain = Ways(graph.tail, graph.head, graph.cost, len(seeds)).tree(seeds)
    if below is None:
        return task, plain
    kept = {sink: target for sink, target in task.sinks.items() if plain[0][sink] < below[target]}
    return replace(task, sinks=kept), plain


def _plain_walks(task: _Task, accepts: Accepts | None, plain: tuple[Floats, Ints]) -> dict[int, Walk]:
    """Return the cheapest walks without regard to limits, of those targets where they keep the limits."""
    distance, before = plain
    best: dict[int, int] = {}
    for sink, target in task.sinks.items():
        if np.isfinite(distance[sink]) and (target not in best or distance[sink] < distance[best[target]]):
            best[target] = sink
    tree = _Tree(task, before)
    found = {}
    for target, sink in best.items():
        if tree.used(sink) is not None:
            walk = _walk(task, tree.arcs(sink))
            if accepts is None or accepts(target, walk):
                found[target] = walk
    return found


class _Tree:
    """The cheapest walks to all states, and what they use; judged state by state, as far as asked."""

    def __init__(self, task: _Task, before: Ints) -> None:
        self.graph, self.start = task.graph, task.start
        self.before: list[int] = before.tolist()
        self.pointer: list[int] = task.graph.begins.tolist()
        self.known: dict[int, tuple[float, ...] | None] = {task.start: tuple(task.first.tolist())}
        self.most = ceiling(task.graph.limit)

    def arc(self, state: int) -> int:
        """Return the arc by which the tree comes to a state: of parallel arcs the cheapest, which is the first."""
        tail = self.before[state]
        low, high = self.pointer[tail], self.pointer[tail + 1]
        return low + int(np.argmax(self.graph.head[low:high] == state))

    def arcs(self, state: int) -> list[int]:
        """Return the arcs from the start to a state."""
        arcs = []
        while state != self.start:
            arcs.append(self.arc(state))
            state = self.before[state]
        return arcs[::-1]

    def used(self, state: int) -> tuple[float, ...] | None:
        """Return what the walk to a state has used, or None where it passes a limit."""
        ahead = []
        while state not in self.known:
            ahead.append(state)
            state = self.before[state]
        used = self.known[state]
        for each in reversed(ahead):
            if used is not None:
                arc = self.arc(each)
                here = np.where(self.graph.resets[arc], 0.0, used) + self.graph.uses[arc]
                used = tuple(here.tolist()) if (here <= self.most[each]).all() else None
            self.known[each] = used
        return used


def _walk(task: _Task, arcs: Sequence[int]) -> Walk:
    """Put a walk into the caller's nodes, arcs and equipment."""
    graph, rows = task.graph, np.array(arcs, dtype=np.int64)
    used = task.first.tolist()
    for uses, resets in zip(graph.uses[rows].tolist(), graph.resets[rows].tolist(), strict=True):
        used = [more + (0.0 if afresh else u) for u, more, afresh in zip(used, uses, resets, strict=True)]
    items = graph.equipment[rows]
    laid = rows[items == CABLE]
    layers, nodes = graph.state[graph.tail[laid]] // graph.nodes, graph.state[graph.head[laid]] % graph.nodes
    position = np.cumsum(items == CABLE)
    placed = items >= 0
    return Walk(
        cost=float(sum(graph.cost[rows].tolist())),
        nodes=(int(graph.state[task.start]) % graph.nodes, *nodes.tolist()),
        arcs=tuple(zip(layers.tolist(), graph.arc[laid].tolist(), strict=True)),
        stands=tuple(zip(position[placed].tolist(), items[placed].tolist(), strict=True)),
        used=tuple(used),
    )


Values = tuple[float, ...]
Onward = tuple[int, float, Values, tuple[int, ...], int]
"""Head, cost, uses, budgets that start afresh, arc."""


class _Search:
    """One search by labels, cheapest first by the cost so far and the least cost ahead."""

    def __init__(self, task: _Task, accepts: Accepts | None) -> None:
        self.task = task
        self.accepts = accepts
        # A budget without a limit matters only to a caller who judges by it.
        self.budgets = np.array(
            _limited(task.graph) if accepts is None else range(len(task.first)), dtype=int
        )
        self.sinks = task.sinks
        self.ends: dict[int, list[int]] = defaultdict(list)
        for sink, target in task.sinks.items():
            self.ends[target].append(sink)
        self.state: list[int] = []
        self.cost: list[float] = []
        self.used: list[Values] = []
        self.parent: list[int] = []
        self.arc: list[int] = []
        self.queue: list[tuple[float, Values, int]] = []
        self.settled: dict[int, list[Values]] = {}
        self.onward: dict[int, list[Onward]] = {}
        self.pointer: list[int] = task.graph.begins.tolist()
        self.room: list[list[float]] = []
        self.ahead: list[float] = []

    def run(self) -> dict[int, tuple[float, Walk]]:
        """Return what was made least, and the walk, of the targets that have one."""
        found: dict[int, tuple[float, Walk]] = {}
        self._look_ahead()
        self._push(self.task.start, self._first_cost(), tuple(self.task.first[self.budgets].tolist()), -1, -1)
        enough = len(self.ends) // 2
        while self.queue and self.ends:
            key, _, label = heappop(self.queue)
            state = self.state[label]
            later = self.cost[label] + self.ahead[state]
            if later > key:
                # The targets that were nearest have been found since; the walk waits its turn, or goes.
                if self._hopeful(state, self.used[label]):
                    heappush(self.queue, (later, self.used[label], label))
                continue
            if self._settle(state, self.used[label]):
                if state in self.sinks:
                    self._arrive(label, found)
                else:
                    self._extend(label)
            if self.ends and len(self.ends) <= enough:
                self._look_ahead()
                enough //= 2
        return found

    def _look_ahead(self) -> None:
        """Bound what lies ahead of every state, to the nearest end that is still wanted."""
        graph, sinks = self.task.graph, [sink for each in self.ends.values() for sink in each]
        room = np.empty((len(graph.state), len(self.budgets)))
        for column, budget in enumerate(self.budgets):
            if budget in graph.renewed:
                room[:, column] = ceiling(ceiling(graph.limit[:, budget]))
                continue
            need = still_needed(graph, int(budget), sinks)
            limit = np.where(np.isfinite(need), ceiling(ceiling(graph.limit[:, budget])), 0.0)
            room[:, column] = limit - need
        self.room = room.tolist()
        self.ahead = self._costs_ahead(sinks).tolist()

    def _costs_ahead(self, sinks: list[int]) -> Floats:
        """Return the least cost from every state to an end, limits disregarded."""
        graph = self.task.graph
        seeds = np.full(len(graph.state), np.inf)
        seeds[sinks] = 0.0
        return Ways(graph.head, graph.tail, graph.cost, len(seeds)).least(seeds)

    def _first_cost(self) -> float:
        return 0.0

    def _price(self, cost: float, arc_cost: float, _used: Values, _head: int) -> float:
        """Return what a walk costs after one more arc."""
        return cost + arc_cost

    def _hopeful(self, state: int, used: Values) -> bool:
        """Whether an end can be reached within what is left, and no settled label is as good."""
        if any(map(gt, used, self.room[state])) or self.ahead[state] == np.inf:
            return False
        return not any(all(map(le, other, used)) for other in self.settled.get(state, ()))

    def _push(self, state: int, cost: float, used: Values, parent: int, arc: int) -> None:
        if not self._hopeful(state, used):
            return
        heappush(self.queue, (cost + self.ahead[state], used, len(self.state)))
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
            low, high = self.pointer[state], self.pointer[state + 1]
            columns = zip(
                graph.head[low:high].tolist(),
                graph.cost[low:high].tolist(),
                graph.uses[low:high, self.budgets].tolist(),
                graph.resets[low:high, self.budgets].tolist(),
                range(low, high),
                strict=True,
            )
            self.onward[state] = [
                (head, cost, tuple(uses), tuple(i for i, afresh in enumerate(resets) if afresh), arc)
                for head, cost, uses, resets, arc in columns
            ]
        return self.onward[state]

    def _arrive(self, label: int, found: dict[int, tuple[float, Walk]]) -> None:
        """Take a walk to a target, unless the caller refuses it."""
        target = self.sinks[self.state[label]]
        if target not in self.ends:
            return
        walk = _walk(self.task, self._arcs_of(label))
        if self.accepts is None or self.accepts(target, walk):
            found[target] = (self.cost[label], walk)
            del self.ends[target]

    def _arcs_of(self, label: int) -> list[int]:
        arcs = []
        while self.parent[label] >= 0:
            arcs.append(self.arc[label])
            label = self.parent[label]
        return arcs[::-1]


class _OverrunSearch(_Search):
    """The same search, making least by how much one budget is passed instead of the cost."""

    def __init__(self, task: _Task, budget: int, limit: Floats) -> None:
        super().__init__(task, None)
        self.budgets = np.union1d(self.budgets, [budget])
        self.column = int(np.searchsorted(self.budgets, budget))
        self.limits: list[float] = limit[task.graph.state].tolist()

    def _costs_ahead(self, sinks: list[int]) -> Floats:
        return np.where(np.isfinite(super()._costs_ahead(sinks)), 0.0, np.inf)

    def _first_cost(self) -> float:
        first = float(self.task.first[self.budgets[self.column]])
        return max(0.0, first - self.limits[self.task.start])

    def _price(self, cost: float, _arc_cost: float, used: Values, head: int) -> float:
        return max(cost, used[self.column] - self.limits[head])
