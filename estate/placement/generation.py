"""Placement where the ways are not given in advance: links are found as the program asks for them.

The program of model.py is solved as a linear program over the links known so far. Its prices say what each proposed
segment is worth to each camera; by them the cheapest way of every link is sought again, and joins the program where
it makes it cheaper (column generation). At last the program is solved in whole numbers over every link found.

Bound. With prices λ of the rows, Σ_c π_cw ≤ cost_w for works, no answer that serves every camera costs less than

    λ · sides + Σ_{not links} min(0, reduced) · ceiling + Σ_c min_k reduced_k

with the last minimum over every link there could be: the priced ones have it. It holds at any prices, hence also
where the search is stopped early. What is left of a work's cost beyond its prices is shared among all cameras, which
only raises the bound. Rows on fill and spare cables are counted as nothing in reduced_k: valid, as they only add.
References: Lasdon, L. S. (1970), Optimization theory for large systems; Desaulniers, G., Desrosiers, J.,
Solomon, M. M. (2005), Column generation, chapter 1 (both from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from time import monotonic

import numpy as np
from scipy import sparse

from estate.placement import model
from estate.placement.large import LARGE
from estate.placement.model import Program
from estate.placement.rows import WORKS, Floats, Rows
from estate.placement.solve import gap_percent, solve_placement
from estate.placement.solver import linear, proper
from estate.placement.task import Candidate, PlacementAnswer, PlacementTask

Price = Callable[[dict[int, Floats]], Sequence[Candidate]]
"""Given money per camera for each proposed segment, return for every kind of link the one of least own cost and
prices. Links are of one kind where camera, head, port, Mb/s and watts are the same; a kind that is left out has no
cheaper way than those known."""
Kind = tuple[object, ...]
ROUNDS = 500
CHEAPER = 1e-7
"""Relative to the penalty-free cost: reduced costs nearer to zero than this count as zero."""
SHARE_OF_TIME = 0.5
"""For the search of ways; the rest is for whole numbers."""


@dataclass(frozen=True)
class _Round:
    """One solution of the linear program: what works are worth to cameras, and what a link of a kind is worth."""

    prices: dict[int, Floats]
    worth: dict[Kind, float]
    """Reduced cost of a link of a kind, less its own cost and its works at their prices."""
    rest: float
    """The bound, less the part of the cameras."""


def solve_with_ways(
    task: PlacementTask, price: Price, progress: Callable[[str], None] = lambda _: None
) -> PlacementAnswer:
    """Choose as `solve_placement` does, for the objective `cost`, among all ways that `price` can find.

    The task must hold at least one link of every kind that there is. `bound` holds for every way there is; it is
    NaN where not every camera with a link is served. `status` is optimal where the answer is proven within
    `gap_percent` of it, else best_found, time_limit or interrupted. A first interrupt ends the search for ways, a
    second one the choice among those found.
    """
    deadline = monotonic() + task.time_limit_s
    search_until = monotonic() + task.time_limit_s * SHARE_OF_TIME
    search = _Search(task, price, progress)
    try:
        for _ in range(ROUNDS):
            if monotonic() > search_until or not search.improved(search_until - monotonic()):
                break
    except KeyboardInterrupt:
        search.interrupted = True
    task = replace(search.task, time_limit_s=max(0.0, deadline - monotonic()))
    answer = solve_placement(task, progress)
    if search.interrupted:
        answer = replace(answer, status="interrupted")
    return _judged(task, answer, search.bound)


@dataclass
class _Search:
    """The links known so far, and what is proven of all that there are."""

    task: PlacementTask
    price: Price
    progress: Callable[[str], None]
    bound: float = -np.inf
    interrupted: bool = False

    def improved(self, seconds: float) -> bool:
        """Price once more, and take the links that make the linear program cheaper; return whether there are any."""
        solved = _priced(self.task, seconds)
        if solved is None:
            return False
        offered = self.price(solved.prices)
        self.bound = max(self.bound, _bound(self.task, solved, offered))
        known, least = set(map(_way, self.task.candidates)), _least(self.task)
        new = [k for k in offered if _way(k) not in known and _reduced(solved, k) < -least]
        self.task = replace(self.task, candidates=(*self.task.candidates, *new))
        self.progress(f"ways: {len(self.task.candidates)} links, bound {self.bound:.10g}")
        return bool(new)


def _judged(task: PlacementTask, answer: PlacementAnswer, bound: float) -> PlacementAnswer:
    """Return the answer with the bound that holds for every way."""
    served = int((answer.choice >= 0).sum()) == int(_linked(model.build(task)).sum())
    bound = min(bound, answer.objective_value) if served and np.isfinite(bound) else np.nan
    gap = gap_percent(answer.objective_value, bound)
    status = answer.status
    if status == "optimal" and not gap <= task.gap_percent:
        status = "best_found"
    return replace(answer, bound=bound, gap_percent=gap, status=status)


def _way(link: Candidate) -> tuple[object, ...]:
    return (*_kind(link), link.cost, link.works, link.fill, link.spares)


def _kind(link: Candidate) -> Kind:
    return link.camera, link.site, link.cabinet, link.port, link.mbps, link.poe_w, link.draw_w


def _least(task: PlacementTask) -> float:
    return CHEAPER * max(1.0, *(link.cost for link in task.candidates))


def _priced(task: PlacementTask, seconds: float) -> _Round | None:
    """Solve the linear program in which every camera with a link is served, at a penalty where it cannot be."""
    program = model.build(task)
    cost, slack = model.money(program), np.full(len(task.cameras), _penalty(task))
    rows = model.serving(program, _linked(program)).rows
    outcome = linear(
        _elastic(rows, len(slack)),
        np.concatenate([program.column_upper, np.ones(len(slack))]),
        np.concatenate([cost, slack]),
        seconds,
        interior=program.columns.count > LARGE,
    )
    if outcome is None:
        return None
    duals = proper(rows, outcome.duals)
    return _Round(_prices(program, duals), _worth(program, duals), _rest(program, rows, duals, cost))


def _linked(program: Program) -> model.Bools:
    linked = np.zeros(len(program.task.cameras), dtype=bool)
    linked[program.camera[program.column_upper[: program.links] > 0]] = True
    return linked


def _penalty(task: PlacementTask) -> float:
    """Return more than any camera could cost: the dearest link, every device, every work."""
    devices = [cost for place in task.sites for _, cost, _ in place.sizes]
    devices += [place.cost + place.power_cost for place in task.cabinets]
    devices += [switch.cost for place in task.cabinets for switch in place.switches]
    devices += [size.cost for section in task.sections for size in section.sizes]
    links = max((link.cost for link in task.candidates), default=0.0)
    return 1.0 + links + sum(devices) + sum(task.works_cost.values())


def _elastic(rows: Rows, cameras: int) -> Rows:
    """Return the rows with one more column per camera, that stands for a camera left without a link."""
    each = np.arange(cameras)
    slack = sparse.csr_array((np.ones(cameras), (each, each)), shape=(len(rows.names), cameras))
    return replace(rows, matrix=sparse.csr_array(sparse.hstack([rows.matrix, slack], format="csr")))


def _prices(program: Program, duals: Floats) -> dict[int, Floats]:
    """Return what each work is worth to each camera; what is left of its cost is shared among all."""
    task, rows = program.task, program.rows
    prices = {w: np.zeros(len(task.cameras)) for w in sorted(task.works_cost)}
    taken = dict.fromkeys(prices, 0.0)
    of_links = rows.matrix[:, : program.links]
    for row in np.flatnonzero(duals):
        limit, work = rows.names[row]
        if limit != WORKS:
            continue
        taken[work] -= float(duals[row])
        own = of_links.indices[of_links.indptr[row] : of_links.indptr[row + 1]]
        if len(own):
            prices[work][program.camera[own[0]]] -= duals[row]
    cameras = max(1, len(task.cameras))
    left = {work: max(0.0, task.works_cost[work] - taken[work]) / cameras for work in prices}
    return {work: price + left[work] for work, price in prices.items()}


def _worth(program: Program, duals: Floats) -> dict[Kind, float]:
    """Return the least reduced cost of each kind of link without its own cost, works, room and spare cables."""
    counted = np.array([name[0] not in (WORKS, "fill", "spare") for name in program.rows.names], dtype=bool)
    values = -(np.where(counted, duals, 0.0) @ program.rows.matrix)[: program.links]
    worth: dict[Kind, float] = {}
    for x in np.flatnonzero(program.column_upper[: program.links] > 0):
        kind = _kind(program.task.candidates[program.columns.links[x]])
        worth[kind] = min(worth.get(kind, np.inf), float(values[x]))
    return worth


def _rest(program: Program, rows: Rows, duals: Floats, cost: Floats) -> float:
    """Return the bound less the part of the cameras: sides at their prices, and every variable but links."""
    sides = np.where(duals > 0, rows.lower, np.where(duals < 0, rows.upper, 0.0))
    reduced = (cost - duals @ rows.matrix)[program.links :]
    ceiling = program.column_upper[program.links :]
    return float(duals @ sides + np.minimum(reduced, 0.0) @ ceiling)


def _reduced(solved: _Round, link: Candidate) -> float:
    """Return the reduced cost of a link; infinite where its head is closed."""
    works = sum(float(solved.prices[w][link.camera]) for w in sorted(set(link.works)))
    return solved.worth.get(_kind(link), np.inf) + link.cost + works


def _bound(task: PlacementTask, solved: _Round, offered: Sequence[Candidate]) -> float:
    """Return what every answer costs at least that serves all cameras with a link."""
    least: dict[int, float] = {}
    for link in (*task.candidates, *offered):
        least[link.camera] = min(least.get(link.camera, np.inf), _reduced(solved, link))
    return solved.rest + sum(value for value in least.values() if np.isfinite(value))
