"""Solve the placement program stage by stage, and hand back no answer that breaks a rule."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from time import monotonic

import numpy as np

from estate.placement import model
from estate.placement.fitted import fitted
from estate.placement.greedy import first_answer, nothing
from estate.placement.large import LARGE, improve
from estate.placement.model import Program
from estate.placement.refusal import refuse
from estate.placement.rows import Floats
from estate.placement.solver import Outcome, optimise
from estate.placement.task import Choices, PlacementAnswer, PlacementTask
from estate.placement.verify import violations

ABSOLUTE_GAP = 1e-6
HALF = 0.5
"""Whole numbers less than one half from their bound are optimal."""


@dataclass(frozen=True)
class Stage:
    """One objective: `vector` · v is made least and cannot pass `floor`.

    `whole`: it takes whole numbers only, and is solved exactly, in a share of the time left.
    """

    name: str
    vector: Floats
    floor: float
    whole: bool = True


@dataclass
class Search:
    """The best answer so far, the program with every earlier stage held, and what was proven of it.

    `bound` is of the objective, NaN until its stage has run after proven ones.
    """

    program: Program
    best: Floats
    deadline: float
    progress: Callable[[str], None]
    proven: bool = True
    interrupted: bool = False
    bound: float = np.nan


def solve_placement(task: PlacementTask, progress: Callable[[str], None] = lambda _: None) -> PlacementAnswer:
    """Choose recorders with their sizes, cabinets with their switches and uplinks, and one link per camera.

    Most cameras of priority 1, then of 2 and so on; then the fewest links that rest on an unverified fact; then the
    fewest discouraged ones; then the least objective, within `gap_percent`; for `cable_length`, ties by cost. Counts
    are exact; each counting stage takes half of the time left at most, so that the objective has its turn.

    `bound` and `gap_percent` are of the objective. They are NaN where an earlier stage was not proven or no bound was
    found in time: unknown. Large programs are solved in steps (large.py), with a bound from the first. `status` is optimal only where every stage was proven, else time_limit. Interrupted, the
    best found so far is handed back. Infeasible where no choice of recorders meets the settings; RuntimeError where
    the answer breaks a rule, a defect of the program.
    """
    refuse(task)
    if not task.candidates and not task.recorders_exactly and not any(site.keep for site in task.sites):
        return _stated(nothing(task), value=0.0, bound=0.0, status="none")
    program = model.build(task)
    start = model.write(program, first_answer(task))
    search = Search(program, start, monotonic() + task.time_limit_s, progress)
    try:
        _serve(search)
        _avoid(search, model.unverified(program), "links that rest on an unverified fact")
        _avoid(search, model.discouraged(program), "discouraged links")
        _objective(search)
    except KeyboardInterrupt:
        search.interrupted = True
    answer = _answer(search)
    broken = violations(task, answer)
    if broken:
        raise RuntimeError("the solver's answer breaks a rule: " + "; ".join(broken))
    return answer


def _serve(search: Search) -> None:
    """Serve the most cameras: all at once where that can be, else priority by priority."""
    program = search.program
    priorities = np.array(program.task.priorities, dtype=np.int64)
    reachable = np.zeros(len(priorities), dtype=bool)
    reachable[program.camera[program.column_upper[: program.links] > 0]] = True
    levels = [int(level) for level in np.unique(priorities[reachable])]
    if len(levels) > 1 and _served(search, reachable, "all"):
        return
    for level in levels:
        _served(search, reachable & (priorities == level), f"priority {level}")


def _served(search: Search, cameras: model.Bools, name: str) -> bool:
    """Serve the most of some cameras; hold that, where it's all of them or they are one priority's."""
    vector = model.of_links(search.program, -cameras[search.program.camera].astype(float))
    count = int(cameras.sum())
    proven = search.proven
    _run(search, Stage(f"cameras served, {name}", vector, floor=-count))
    served = -round(float(vector @ search.best))
    if served == count:
        search.program = model.serving(search.program, cameras)
        search.proven = proven
    elif name != "all":
        search.program = model.holding(search.program, vector, -served)
    else:
        # priority by priority proves what this run could not
        search.proven = proven
    return served == count


def _avoid(search: Search, vector: Floats, name: str) -> None:
    """Take the fewest links and sections of some kind."""
    _run(search, Stage(name, vector, floor=0))
    search.program = model.holding(search.program, vector, round(float(vector @ search.best)))


def _objective(search: Search) -> None:
    """Make the objective least; for the length of cable, then the cost within the length found."""
    money, length = model.money(search.program), model.cable_m(search.program)
    by_cost = search.program.task.objective == "cost"
    stage = Stage("cost", money, _floor(money), whole=False)
    first = stage if by_cost else Stage("metres of cable", length, _floor(length), whole=False)
    counted = search.proven
    bound = _run(search, first)
    search.bound = bound if counted else np.nan
    if not by_cost:
        held = float(length @ search.best) + ABSOLUTE_GAP
        search.program = model.holding(search.program, length, held)
        _run(search, stage)


def _floor(vector: Floats) -> float:
    return float(vector[vector < 0].sum())


def _run(search: Search, stage: Stage) -> float:
    """Improve the best answer by one stage, note whether it was proven, and return the stage's bound."""
    value = float(stage.vector @ search.best)
    if search.interrupted:
        return np.nan
    if value <= stage.floor:
        return value
    search.progress(f"{stage.name}: {abs(value):.10g} to start with")
    outcome = _optimised(search, stage)
    if outcome.values is not None:
        rounded = _tidied(search.program, outcome.values)
        search.best = min(search.best, rounded, key=lambda values: float(stage.vector @ values))
    search.proven &= outcome.proven
    search.interrupted |= outcome.interrupted
    return outcome.bound


def _optimised(search: Search, stage: Stage) -> Outcome:
    program, left_s = search.program, search.deadline - monotonic()

    def report(value: float, bound: float) -> None:
        search.progress(_told(stage.name, value, bound))

    if not stage.whole and program.columns.count > LARGE and left_s > 0:
        gaps = program.task.gap_percent / 100, ABSOLUTE_GAP
        return improve(program, stage.vector, search.best, gaps=gaps, seconds=left_s, report=report)
    return optimise(
        program.rows,
        program.column_upper,
        stage.vector,
        gaps=(0.0, HALF) if stage.whole else (program.task.gap_percent / 100, ABSOLUTE_GAP),
        seconds=left_s / 2 if stage.whole else left_s,
        report=report,
    )


def _told(name: str, value: float, bound: float) -> str:
    """Say how a stage stands; counts that are made most are negative in the program."""
    return f"{name}: {abs(value):.10g}" + (f", bound {abs(bound):.10g}" if np.isfinite(bound) else "")


def _tidied(program: Program, values: Floats) -> Floats:
    """Round, and close or shrink what a gap left open."""
    return model.write(program, fitted(program.task, model.read(program, values)))


def _answer(search: Search) -> PlacementAnswer:
    weights = model.money if search.program.task.objective == "cost" else model.cable_m
    value = float(weights(search.program) @ search.best)
    status = "interrupted" if search.interrupted else "optimal" if search.proven else "time_limit"
    return _stated(
        model.read(search.program, search.best), value, float(np.minimum(search.bound, value)), status
    )


def _stated(choices: Choices, value: float, bound: float, status: str) -> PlacementAnswer:
    """Return what is chosen with what is known of it."""
    parts = {each.name: getattr(choices, each.name) for each in fields(Choices)}
    gap = gap_percent(value, bound)
    return PlacementAnswer(**parts, objective_value=value, bound=bound, gap_percent=gap, status=status)


def gap_percent(value: float, bound: float) -> float:
    """Return how far the value can be from the least there is [%]; NaN where the bound is unknown."""
    if value - bound <= ABSOLUTE_GAP:
        return 0.0
    return 100 * (value - bound) / abs(value) if value else np.nan
