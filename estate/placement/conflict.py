"""Which cameras and limits together cannot be: an irreducible set, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic

import numpy as np

from estate.placement import model, words
from estate.placement.loads import loads_of
from estate.placement.model import Program
from estate.placement.refusal import OutOfTime, feasible, irreducible, limits
from estate.placement.rows import Name
from estate.placement.task import PlacementAnswer, PlacementTask


@dataclass(frozen=True, slots=True)
class Conflict:
    """Cameras left without a link for the same limits.

    `cameras` cannot all be served within the `limits`; they can once any one of them, or of the limits, is dropped,
    where `irreducible` (else time ran out before all were tried). The words of the limits say by how much each alone
    is short for these cameras and all `unserved` together.
    """

    unserved: tuple[str, ...]
    cameras: tuple[str, ...]
    limits: tuple[str, ...]
    names: tuple[Name, ...]
    """The same limits as the program calls them."""
    irreducible: bool

    def __str__(self) -> str:
        if not self.limits:
            return f"no link for {', '.join(self.unserved)}: its cabinets have no uplink"
        all_of_them = "all " if len(self.cameras) > 1 else ""
        return f"{', '.join(self.cameras)} cannot {all_of_them}be served: {'; '.join(self.limits)}"


def conflicts(task: PlacementTask, answer: PlacementAnswer, seconds: float = 60.0) -> list[Conflict]:
    """Explain the cameras with links that a proven answer leaves out, cameras with the same limits together.

    An unproven answer may leave out cameras that fit: those are not named, nor are any once time is out. Each trial is
    a program of its own, in which serving is asked for and nothing is paid: what was served, and one camera more, is
    too much. KeyboardInterrupt where it was interrupted.
    """
    program = model.build(task)
    deadline = monotonic() + seconds
    served = answer.choice >= 0
    linked = {link.camera for link in task.candidates}
    groups: dict[tuple[Name, ...], list[int]] = {}
    for camera in sorted(linked - set(np.flatnonzero(served).tolist())):
        together = served.copy()
        together[camera] = True
        found = _limits(program, together, deadline)
        if found is not None:
            groups.setdefault(tuple(found), []).append(camera)
    return [_conflict(program, served, list(names), out, deadline) for names, out in sorted(groups.items())]


def _possible(program: Program, deadline: float) -> bool:
    """Whether a program has an answer; taken as yes once time is out, so that what is not tried stays in a set."""
    try:
        return feasible(program, seconds=deadline - monotonic()) is not None
    except OutOfTime:
        return True


def _limits(program: Program, cameras: model.Bools, deadline: float) -> list[Name] | None:
    """Return limits that, no one to spare, keep the cameras from being served together; None where they can be."""
    names = limits(program)
    asked = model.serving(program, cameras)
    if _possible(asked, deadline):
        return None

    def holds(some: Sequence[Name]) -> bool:
        return _possible(model.relaxed(asked, set(names) - set(some)), deadline)

    return irreducible(names, holds)


def _conflict(
    program: Program, served: model.Bools, names: list[Name], out: list[int], deadline: float
) -> Conflict:
    task = program.task
    kept = model.relaxed(program, set(limits(program)) - set(names))

    def holds(cameras: Sequence[int]) -> bool:
        return _possible(model.serving(kept, _marked(task, cameras)), deadline)

    together = irreducible([*np.flatnonzero(served).tolist(), out[0]], holds)
    asked = _marked(task, [*together, *out])
    return Conflict(
        unserved=tuple(task.cameras[c] for c in out),
        cameras=tuple(task.cameras[c] for c in sorted(together)),
        limits=tuple(_shortage(program, names, name, asked, deadline) for name in names),
        names=tuple(names),
        irreducible=monotonic() <= deadline,
    )


def _marked(task: PlacementTask, cameras: Sequence[int]) -> model.Bools:
    marked = np.zeros(len(task.cameras), dtype=bool)
    marked[list(cameras)] = True
    return marked


def _shortage(program: Program, names: list[Name], name: Name, cameras: model.Bools, deadline: float) -> str:
    """Say a limit, with what it lacks for the cameras where it is lifted alone and used as little as can be."""
    limit, place = name
    if limit not in (*words.SHORT, "fill"):
        return words.setting(program.task, name)
    lifted = model.serving(model.relaxed(program, set(limits(program)) - set(names) | {name}), cameras)
    own = np.array([each == name for each in program.rows.names], dtype=bool)
    used = np.asarray(program.rows.matrix[np.flatnonzero(own)].sum(axis=0)).ravel()
    try:
        values = feasible(lifted, used, seconds=deadline - monotonic())
    except OutOfTime:
        values = None
    if values is None:
        return words.setting(program.task, name)
    loads = loads_of(program.task, model.read(program, values))
    if limit == "fill":
        over = loads.filled[place] - program.task.fill_limits[place]
        return f"{words.where(program.task, name)}, short by {over:.3g} mm²"
    excess = loads.switch_excess if limit in words.AT_CABINET else loads.excess
    return f"{words.where(program.task, name)}: {words.SHORT[limit].format(excess(place, limit))}"
