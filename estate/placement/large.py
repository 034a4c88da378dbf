"""Large programs: a bound by prices, an answer from the links that are worth their price, then the rest.

1. The linear program is solved by the interior point method without clean-up. The prices of its rows give a bound by
   weak duality (the Lagrangian bound at these prices), valid however roughly the program was solved.
2. The program in whole numbers, restricted to the variables of the best answer, those in the linear optimum and
   those nearest to their price, is far smaller and gives a good answer.
3. A variable whose reduced cost passes the distance from bound to answer is in no better answer. The program without
   these is solved in the time that is left.

Measured on random campuses (tests/placement_cases.py, `campus`; two cores, one thread each): 1,000 cameras, 50 sites
and 60 cabinets have 55,000 variables. The whole program, with no more than the solver's own search, has after 300 s
a bound of 0.900 of its best answer, the first one; the linear program takes 21 s here and over 120 s by the simplex
method; the restricted program then finds within 15 s an answer of which the bound is 0.983.
"""

from collections.abc import Callable
from time import monotonic

import numpy as np

from estate.placement.model import Bools, Program
from estate.placement.rows import Floats
from estate.placement.solver import Linear, Outcome, linear, optimise, proper

LARGE = 5000
"""Variables from which the solver by itself is slow to find a good answer."""
PRICE_SHARE, RESTRICTED_SHARE = 0.3, 0.4
"""Shares of the time left, at most, for the linear and for the restricted program."""
VARIABLES_PER_CAMERA = 6
"""Those nearest to their price that the restricted program takes."""
USED = 1e-3
"""A variable of the linear optimum above this is taken too."""
TOLERANCE = 1e-6


def improve(
    program: Program,
    cost: Floats,
    best: Floats,
    *,
    gaps: tuple[float, float],
    seconds: float,
    report: Callable[[float, float], None],
) -> Outcome:
    """Make cost · v least from a first answer; as `solver.optimise`, but its values are never worse than `best`."""
    deadline = monotonic() + seconds
    priced = linear(program.rows, program.column_upper, cost, seconds * PRICE_SHARE, interior=True)
    if priced is None:
        return optimise(
            program.rows,
            program.column_upper,
            cost,
            gaps=gaps,
            seconds=deadline - monotonic(),
            report=report,
        )
    reduced = cost - proper(program.rows, priced.duals) @ program.rows.matrix
    start = float(cost @ best)
    report(start, priced.bound)
    kept = restricted(program, priced, reduced, best)
    share = (deadline - monotonic()) * RESTRICTED_SHARE
    first = _within(
        program, cost, kept, (gaps, share), lambda value, _: report(min(value, start), priced.bound)
    )
    best = _better(cost, best, first)
    found = float(cost @ best)
    if first.interrupted or _enough(found, priced.bound, gaps):
        return Outcome(best, priced.bound, _enough(found, priced.bound, gaps), first.interrupted)
    last = _within(
        program,
        cost,
        possible(reduced, found - priced.bound, best),
        (gaps, deadline - monotonic()),
        lambda value, bound: report(min(value, found), max(bound, priced.bound)),
    )
    # without the variables of worse answers it bounds the better ones only
    bound = max(priced.bound, min(np.nan_to_num(last.bound, nan=-np.inf), found))
    best = _better(cost, best, last)
    return Outcome(best, bound, _enough(float(cost @ best), bound, gaps), last.interrupted)


def restricted(program: Program, priced: Linear, reduced: Floats, best: Floats) -> Bools:
    """Return the variables of the restricted program."""
    count = min(len(reduced), VARIABLES_PER_CAMERA * len(program.task.cameras))
    near = np.sort(reduced)[count - 1]
    return np.asarray((reduced <= near) | (priced.values > USED) | (best > 0), dtype=bool)


def possible(reduced: Floats, distance: float, best: Floats) -> Bools:
    """Return the variables that an answer better than the best could have."""
    return np.asarray((reduced <= distance + TOLERANCE * max(1.0, distance)) | (best > 0), dtype=bool)


def _within(
    program: Program,
    cost: Floats,
    kept: Bools,
    effort: tuple[tuple[float, float], float],
    report: Callable[[float, float], None],
) -> Outcome:
    ceiling = np.where(kept, program.column_upper, 0.0)
    return optimise(program.rows, ceiling, cost, gaps=effort[0], seconds=effort[1], report=report)


def _better(cost: Floats, best: Floats, outcome: Outcome) -> Floats:
    if outcome.values is None or float(cost @ outcome.values) >= float(cost @ best):
        return best
    return outcome.values


def _enough(value: float, bound: float, gaps: tuple[float, float]) -> bool:
    return value - bound <= max(gaps[0] * abs(value), gaps[1])
