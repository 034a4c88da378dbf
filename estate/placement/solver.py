"""One run of HiGHS: matrices in, variables, bound and proof out."""

from collections.abc import Callable
from dataclasses import dataclass
from threading import Event, Thread
from typing import Any

import numpy as np

from estate.placement.rows import Floats, Rows

FEASIBILITY = 1e-7
WAKE_S = 0.2
"""How often the waiting thread looks up, so that an interrupt is heard [s]."""


class Contradictory(RuntimeError):
    """The rows cannot all hold."""


@dataclass(frozen=True)
class Outcome:
    """What a run found. `values` is None where it found nothing; `bound` is NaN where it proved none."""

    values: Floats | None
    bound: float
    proven: bool
    interrupted: bool


@dataclass(frozen=True)
class Linear:
    """The optimum of a linear program: `duals` has one price per row; `bound` holds with these prices alone."""

    values: Floats
    duals: Floats
    bound: float


def linear(
    rows: Rows, column_upper: Floats, cost: Floats, seconds: float = np.inf, *, interior: bool = False
) -> Linear | None:
    """Make cost · v least over 0 ≤ v ≤ column_upper within the rows; None where time runs out.

    `interior` takes the interior point method without clean-up: faster on large programs, near the optimum only.
    `bound` is computed afresh from the prices (weak duality), so that it is valid whatever the solver's tolerance.
    Contradictory where the rows are; KeyboardInterrupt where it was interrupted.
    """
    import highspy  # noqa: PLC0415

    solver = _quiet_solver()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("time_limit", seconds)
    if interior:
        solver.setOptionValue("solver", "ipm")
        solver.setOptionValue("run_crossover", "off")
    program = _program(rows, column_upper, cost)
    program.integrality_ = []
    solver.passModel(program)
    if _run(solver, lambda _value, _bound: None)[0]:
        raise KeyboardInterrupt
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        raise Contradictory("the linear program is contradictory")
    if status != highspy.HighsModelStatus.kOptimal:
        return None
    solution = solver.getSolution()
    duals = np.array(solution.row_dual)
    return Linear(np.array(solution.col_value), duals, weak_bound(rows, column_upper, cost, duals))


def weak_bound(rows: Rows, column_upper: Floats, cost: Floats, duals: Floats) -> float:
    """Return what the program costs at least by prices of its rows (weak duality): valid for any prices."""
    prices = proper(rows, duals)
    sides = np.where(prices > 0, rows.lower, np.where(prices < 0, rows.upper, 0.0))
    reduced = cost - prices @ rows.matrix
    return float(prices @ sides + np.minimum(reduced, 0.0) @ column_upper)


def proper(rows: Rows, duals: Floats) -> Floats:
    """Return the prices less those on a side that isn't there, which prove nothing."""
    wrong = ((duals > 0) & ~np.isfinite(rows.lower)) | ((duals < 0) & ~np.isfinite(rows.upper))
    return np.where(wrong, 0.0, duals)


def optimise(
    rows: Rows,
    column_upper: Floats,
    cost: Floats,
    *,
    gaps: tuple[float, float],
    seconds: float,
    report: Callable[[float, float], None],
) -> Outcome:
    """Make cost · v least over binary v within the rows.

    `gaps` are the relative and absolute gap at which the answer counts as proven, `report` is told the value and
    bound of each better answer. One thread and a fixed seed: the same input gives the same answer, unless time
    runs out. Contradictory where the solver finds the rows contradictory.

    No answer is handed in to start from: with one, HiGHS 1.16 at times calls an answer optimal that is far from
    its own bound (the start is mapped into the presolved program, where its value changes).
    """
    if seconds <= 0:
        return Outcome(None, np.nan, proven=False, interrupted=False)
    solver = _quiet_solver()
    options = {
        "threads": 1,
        "random_seed": 0,
        "mip_feasibility_tolerance": FEASIBILITY,
        "time_limit": seconds,
    }
    options |= {"mip_rel_gap": gaps[0], "mip_abs_gap": gaps[1]}
    for name, value in options.items():
        solver.setOptionValue(name, value)
    solver.passModel(_program(rows, column_upper, cost))
    interrupted, noted_bound = _run(solver, report)
    # an interrupted run forgets its bound and says 0; the one it last told stands
    bound = noted_bound if interrupted else float(solver.getInfo().mip_dual_bound)
    return _outcome(solver, cost, gaps, bound if np.isfinite(bound) else np.nan, interrupted=interrupted)


def _quiet_solver() -> Any:
    """Return a solver that never writes to standard output, not even its name when it is made."""
    import highspy  # noqa: PLC0415  slow, and only placement needs it

    class Quiet(highspy.Highs):  # type: ignore[misc]
        def enableCallbacks(self) -> None:  # noqa: N802  the library's name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()

    return Quiet()


def _program(rows: Rows, column_upper: Floats, cost: Floats) -> Any:
    import highspy  # noqa: PLC0415

    program = highspy.HighsLp()
    program.num_row_, program.num_col_ = rows.matrix.shape
    program.col_cost_ = cost
    program.col_lower_ = np.zeros_like(column_upper)
    program.col_upper_ = column_upper
    program.row_lower_, program.row_upper_ = rows.lower, rows.upper
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = rows.matrix.indptr
    program.a_matrix_.index_ = rows.matrix.indices
    program.a_matrix_.value_ = rows.matrix.data
    program.integrality_ = [highspy.HighsVarType.kInteger] * len(column_upper)
    return program


def _run(solver: Any, report: Callable[[float, float], None]) -> tuple[bool, float]:
    """Run in a thread of its own, so that Ctrl-C reaches this one; return whether it came, and the last bound."""
    stop = Event()
    bounds = [np.nan]
    latest: list[tuple[float, float]] = []

    def heed(event: Any) -> None:
        if stop.is_set():
            event.interrupt()

    def follow(event: Any) -> None:
        bounds[0] = event.data_out.mip_dual_bound
        heed(event)

    def note(event: Any) -> None:
        latest.append((event.data_out.mip_primal_bound, event.data_out.mip_dual_bound))

    solver.cbMipInterrupt += follow
    solver.cbSimplexInterrupt += heed
    solver.cbIpmInterrupt += heed
    solver.cbMipImprovingSolution += note
    thread = Thread(target=solver.run, daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(WAKE_S)
            if latest:
                report(*latest[-1])
                latest.clear()
    except KeyboardInterrupt:
        stop.set()
    thread.join()
    return stop.is_set(), bounds[0]


def _outcome(
    solver: Any, cost: Floats, gaps: tuple[float, float], bound: float, *, interrupted: bool
) -> Outcome:
    """Read a run. Its word that the answer is optimal counts only where value and bound bear it out."""
    import highspy  # noqa: PLC0415

    status, info = solver.getModelStatus(), solver.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kModelError):
        raise Contradictory(f"the placement program is contradictory: {solver.modelStatusToString(status)}")
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(None, bound, proven=False, interrupted=interrupted)
    values = np.round(solver.getSolution().col_value)
    value = float(cost @ values)
    allowed = max(gaps[0] * abs(value), gaps[1]) + FEASIBILITY * max(1.0, abs(value))
    return Outcome(
        values=values,
        bound=bound,
        proven=status == highspy.HighsModelStatus.kOptimal and value - bound <= allowed,
        interrupted=interrupted,
    )
