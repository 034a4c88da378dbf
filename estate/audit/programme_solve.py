"""The program behind a programme of remedies, solved to the end by HiGHS."""

from collections.abc import Sequence

import numpy as np

from estate.audit.programme_task import Plan, ProgrammeTask, plan_of
from estate.placement.rows import Floats, Rows, at_most, stacked, summed
from estate.placement.solver import Contradictory, optimise


class Program:
    """Variables: one for each repair, then one for each remedy."""

    def __init__(self, task: ProgrammeTask) -> None:
        self.task = task
        self.remedies = sorted({name for repair in task.repairs for name in repair.remedies})
        self.columns = len(task.repairs) + len(self.remedies)
        self.rows = [*self._ties(), *self._resources()]
        self.cents = np.zeros(self.columns)
        self.cents[len(task.repairs) :] = [task.cents[name] for name in self.remedies]
        self.cured = np.zeros(self.columns)
        self.cured[: len(task.repairs)] = 1.0

    def _ties(self) -> list[Rows]:
        """Each camera is cured once at most; a repair needs every one of its remedies."""
        repairs, place = self.task.repairs, {name: k for k, name in enumerate(self.remedies)}
        camera = {name: k for k, name in enumerate(self.task.cameras)}
        every = np.arange(len(repairs))
        owner = np.array([camera[r.camera] for r in repairs], dtype=np.int64)
        once = summed(self.columns, len(camera), owner, every)
        pairs = [(k, place[name]) for k, repair in enumerate(repairs) for name in repair.remedies]
        row = np.tile(np.arange(len(pairs)), 2)
        column = np.array([k for k, _ in pairs] + [len(repairs) + r for _, r in pairs], dtype=np.int64)
        weight = np.repeat([1.0, -1.0], len(pairs))
        needs = summed(self.columns, len(pairs), row, column, weight)
        return [at_most(once, 1.0), at_most(needs, 0.0)]

    def _resources(self) -> list[Rows]:
        """What repairs take, less what their cameras set free, fits; what is overfull already gets no worse."""
        rows = []
        for resource, limit in sorted(self.task.limits.items()):
            weight = np.array(
                [
                    r.takes.count(resource) - self.task.holds.get(r.camera, ()).count(resource)
                    for r in self.task.repairs
                ],
                dtype=float,
            )
            if (weight > 0).any():
                column = np.flatnonzero(weight)
                row = np.zeros(len(column), dtype=np.int64)
                matrix = summed(self.columns, 1, row, column, weight[column])
                rows.append(at_most(matrix, max(limit - self.task.used.get(resource, 0), 0.0)))
        return rows

    def curve(self) -> tuple[Plan, ...]:
        """Return the cheapest plan for every number of cameras that can be cured."""
        plans: list[Plan] = []
        for count in range(1, len({r.camera for r in self.task.repairs}) + 1):
            plan = self._least(self.cents, [self._at_least(self.cured, count)])
            if plan is None:
                break
            plans.append(plan)
        return tuple(plans)

    def within(self, cents: int) -> Plan:
        """Return the plan that cures the most within so much money."""
        held = [self._no_more(self.cents, cents)]
        by_priority = [self.cured, *(self._of_priority(p) for p in sorted(set(self.task.priorities)))]
        for vector in by_priority:
            plan = self._least(-vector, held)
            if plan is None or not plan.repairs:
                return Plan((), 0)
            weight = dict(zip(self.task.repairs, vector.tolist(), strict=False))
            held.append(self._at_least(vector, sum(weight[repair] for repair in plan.repairs)))
        return self._least(self.cents, held) or Plan((), 0)

    def completed(self, chosen: Plan) -> Plan:
        """Return the plan that cures all cameras that can be cured, for the least more than is paid already.

        What is chosen stays as it is where that is possible; else only the cameras it cures stay cured.
        """
        paid = self.cents.copy()
        for k, name in enumerate(self.remedies, len(self.task.repairs)):
            if name in chosen.remedies:
                paid[k] = 0.0
        kept = np.array([float(r in chosen.repairs) for r in self.task.repairs] + [0.0] * len(self.remedies))
        for count in range(len({r.camera for r in self.task.repairs}), len(chosen.repairs) - 1, -1):
            rows = [self._at_least(kept, len(chosen.repairs)), self._at_least(self.cured, count)]
            plan = self._least(paid, rows)
            if plan is not None:
                return plan
        return chosen

    def _of_priority(self, priority: int) -> Floats:
        of = dict(zip(self.task.cameras, self.task.priorities, strict=True))
        own = [float(of[r.camera] == priority) for r in self.task.repairs]
        return np.array(own + [0.0] * len(self.remedies))

    def _at_least(self, vector: Floats, value: float) -> Rows:
        return self._no_more(-vector, -value)

    def _no_more(self, vector: Floats, value: float) -> Rows:
        column = np.flatnonzero(vector)
        row = np.zeros(len(column), dtype=np.int64)
        return at_most(summed(self.columns, 1, row, column, vector[column]), float(value))

    def _least(self, vector: Floats, held: Sequence[Rows]) -> Plan | None:
        """Return the plan that makes a vector least, None where the rows can't all hold; RuntimeError unproven."""
        if not self.task.repairs:
            return None
        try:
            outcome = optimise(
                stacked([*self.rows, *held], self.columns),
                np.ones(self.columns),
                vector,
                gaps=(0.0, HALF_A_UNIT),
                seconds=np.inf,
                report=lambda _value, _bound: None,
            )
        except Contradictory:
            return None
        if outcome.interrupted:
            raise KeyboardInterrupt
        if outcome.values is None or not outcome.proven:
            raise RuntimeError("the programme was not solved to the end")
        chosen = [r for r, on in zip(self.task.repairs, outcome.values, strict=False) if on > HALF_A_UNIT]
        return plan_of(self.task, chosen)


HALF_A_UNIT = 0.5
"""Whole cents, or whole cameras, less than one half from their bound are the least."""
