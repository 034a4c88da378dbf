"""The programme: which remedies cure the most cameras for the money, solved exactly.

A camera is cured by one of its repairs; a repair needs every one of its remedies; a remedy is paid once, whoever shares
it. What there is only so much of (channels, ports, spare cables) counts with the cameras that stay as they are.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from estate.audit.programme_solve import Program
from estate.audit.programme_task import CENTS, Plan, ProgrammeTask
from estate.audit.remedy import Repair


@dataclass(frozen=True, slots=True)
class Step:
    """One remedy of the programme in its order, with the cameras that it completes."""

    remedy: str
    cents: int
    cents_total: int
    cameras: tuple[str, ...]
    cameras_total: int
    in_budget: bool


@dataclass(frozen=True)
class Programme:
    """What to do first: the least money for every number of cameras, and the remedies in the order of best money."""

    task: ProgrammeTask
    curve: tuple[Plan, ...]
    """The cheapest plan for 1, 2, … cameras, as far as any repair goes."""
    chosen: Plan
    """The plan within the budget; without one, that which cures all cameras that can be cured."""
    steps: tuple[Step, ...]
    budget: float | None = None


def make_programme(task: ProgrammeTask, budget: float | None = None) -> Programme:
    """Return the programme of a task. `budget` is money [currency].

    Within a budget: the most cameras; of as many, those of the most urgent priority; then the least money.
    """
    program = Program(task)
    curve = program.curve()
    most = curve[-1] if curve else Plan((), 0)
    chosen = most if budget is None else program.within(round(budget * CENTS))
    return Programme(task, curve, chosen, ordered(task, chosen, program.completed(chosen)), budget)


def ordered(task: ProgrammeTask, chosen: Plan, whole: Plan) -> tuple[Step, ...]:
    """Return the remedies of the chosen plan in the order of best money, then those that cure the rest.

    Each time the group of remedies comes next that completes most cameras for the money still to be paid, of the
    groups that one camera, or all cameras of one remedy, need; of equals that with the more urgent camera.
    """
    steps = _in_order(task, chosen.repairs, (), in_budget=True)
    done = {repair.camera for repair in chosen.repairs}
    rest = [repair for repair in whole.repairs if repair.camera not in done]
    return (*steps, *_in_order(task, rest, steps, in_budget=False))


def _in_order(
    task: ProgrammeTask, repairs: Sequence[Repair], before: Sequence[Step], *, in_budget: bool
) -> tuple[Step, ...]:
    steps = list(before)
    paid = {step.remedy for step in before}
    left = list(repairs)
    while left:
        groups = _groups(left, paid)
        completes = {
            group: sorted(r.camera for r in left if set(r.remedies) - paid <= group) for group in groups
        }
        best = min(completes, key=lambda group: _rank(task, group, completes[group]))
        done = completes[best]
        left = [r for r in left if r.camera not in done]
        shared = sorted(best, key=lambda name: (-sum(name in r.remedies for r in repairs), name))
        for name in shared:
            last = name == shared[-1]
            total, cured = (steps[-1].cents_total, steps[-1].cameras_total) if steps else (0, 0)
            here = tuple(done) if last else ()
            steps.append(
                Step(name, task.cents[name], total + task.cents[name], here, cured + len(here), in_budget)
            )
        paid |= best
    return tuple(steps[len(before) :])


def _rank(task: ProgrammeTask, group: frozenset[str], done: list[str]) -> tuple[object, ...]:
    urgency = dict(zip(task.cameras, task.priorities, strict=True))
    cents = sum(task.cents[name] for name in group)
    return cents / len(done), min(urgency[c] for c in done), done, sorted(group)


def _groups(left: Sequence[Repair], paid: set[str]) -> list[frozenset[str]]:
    """Return what each camera still needs, and what all cameras of one remedy still need together."""
    own = [frozenset(r.remedies) - paid for r in left]
    by_remedy: dict[str, frozenset[str]] = defaultdict(frozenset)
    for need in own:
        for name in need:
            by_remedy[name] |= need
    return [*own, *by_remedy.values()]
