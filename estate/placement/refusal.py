"""Why no choice of recorders meets the settings: an irreducible set of reasons."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from estate.errors import Infeasible
from estate.placement import model
from estate.placement.rows import WORKS, Floats, Name
from estate.placement.solver import Contradictory, optimise
from estate.placement.task import PlacementTask

T = TypeVar("T")


def irreducible(items: Sequence[T], holds: Callable[[Sequence[T]], bool]) -> list[T]:
    """Return items that together don't hold, though they do once any one of them is dropped (deletion filter).

    `holds` must not turn false by dropping items. Items are dropped in blocks first, each half as long as those
    before, and at last one by one. Reference: Chinneck, J. W., Dravnieks, E. W. (1991), Locating minimal
    infeasible constraint sets in linear programs, ORSA Journal on Computing 3 (2), 157-168.

    >>> irreducible([1, 2, 3, 4], lambda numbers: sum(numbers) < 7)
    [3, 4]
    """
    kept = list(items)
    block = max(1, len(kept) // 2)
    while True:
        start = 0
        while start < len(kept):
            without = kept[:start] + kept[start + block :]
            if holds(without):
                start += block
            else:
                kept = without
        if block == 1:
            return kept
        block //= 2


@dataclass(frozen=True, slots=True)
class _Demand:
    """One setting, or one fact of the estate, that an answer must respect."""

    words: str
    keep: int | None = None
    forbid: int | None = None
    exactly: int | None = None
    at_most: int | None = None
    sites: int | None = None


def refuse(task: PlacementTask) -> None:
    """Raise Infeasible, with an irreducible set of reasons, where no choice of recorders meets the settings.

    Every choice that counts right does.
    """
    demands = _demands(task)
    if not _possible(demands):
        raise Infeasible([demand.words for demand in irreducible(demands, _possible)])


def _demands(task: PlacementTask) -> list[_Demand]:
    sites = len(task.sites)
    found = [_Demand(f"the estate has {sites} recorder site{'' if sites == 1 else 's'}", sites=sites)]
    for s, place in enumerate(task.sites):
        if place.keep:
            found.append(_Demand(f"keep_recorders has {place.id}", keep=s))
        if not place.sizes:
            found.append(_Demand(f"recorder {place.id} has no size to choose", forbid=s))
        if place.forbid:
            found.append(_Demand(f"forbid_recorders has {place.id}", forbid=s))
    if task.recorders_exactly is not None:
        found.append(_Demand(f"recorders_exactly = {task.recorders_exactly}", exactly=task.recorders_exactly))
    if task.recorders_at_most is not None:
        found.append(_Demand(f"recorders_at_most = {task.recorders_at_most}", at_most=task.recorders_at_most))
    return found


def _possible(demands: Sequence[_Demand]) -> bool:
    """Whether some number of used sites meets the demands; serving no camera at all breaks no limit."""
    keep = {d.keep for d in demands if d.keep is not None}
    forbid = {d.forbid for d in demands if d.forbid is not None}
    sites = [d.sites for d in demands if d.sites is not None]
    exactly = [d.exactly for d in demands if d.exactly is not None]
    most = [d.at_most for d in demands if d.at_most is not None]
    most += [n - len(forbid) for n in sites] + exactly
    return (
        not keep & forbid
        and len(keep) <= min(most, default=len(keep))
        and all(n <= min(most) for n in exactly)
    )


def limits(program: model.Program) -> list[Name]:
    """Return every limit of a program that could be lifted, in a fixed order."""
    forbidden = [("forbid_recorders", s) for s, place in enumerate(program.task.sites) if place.forbid]
    return sorted({name for name in program.rows.names if name[0] not in ("", WORKS)} | set(forbidden))


class OutOfTime(RuntimeError):
    """No answer in time: it can be neither said that there is one nor that there is none."""


def feasible(program: model.Program, cost: Floats | None = None, seconds: float = np.inf) -> Floats | None:
    """Return the cheapest values of the variables (any, without `cost`), or None where there are none.

    OutOfTime where `seconds` don't suffice to say; KeyboardInterrupt where it was interrupted.
    """
    try:
        outcome = optimise(
            program.rows,
            program.column_upper,
            np.zeros(program.columns.count) if cost is None else cost,
            gaps=(0.0, 0.0),
            seconds=seconds,
            report=lambda _value, _bound: None,
        )
    except Contradictory:
        return None
    if outcome.interrupted:
        raise KeyboardInterrupt
    if outcome.values is None:
        raise OutOfTime
    return outcome.values
