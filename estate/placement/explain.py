"""Why no answer meets the settings, and why a camera with possible links was not served."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from estate.errors import Infeasible
from estate.placement.loads import Loads
from estate.placement.task import PlacementAnswer, PlacementTask

T = TypeVar("T")


def irreducible(items: Sequence[T], holds: Callable[[Sequence[T]], bool]) -> list[T]:
    """Return items that together don't hold, though they do once any one of them is dropped (deletion filter).

    `holds` must not turn false by dropping items. Reference: Chinneck, J. W., Dravnieks, E. W. (1991), Locating
    minimal infeasible constraint sets in linear programs, ORSA Journal on Computing 3 (2), 157-168.

    >>> irreducible([1, 2, 3, 4], lambda numbers: sum(numbers) < 7)
    [3, 4]
    """
    kept = list(items)
    for item in items:
        without = [other for other in kept if other is not item]
        if not holds(without):
            kept = without
    return kept


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
    """Raise Infeasible, with an irreducible set of reasons, where no choice of recorders meets the settings."""
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


WORDS = {
    "channels": "channels short by {:g}",
    "channels_analogue": "analogue channels short by {:g}",
    "channels_network": "network channels short by {:g}",
    "mbps_max": "throughput short by {:g} Mb/s",
    "poe_ports": "PoE ports short by {:g}",
    "poe_w": "PoE power short by {:g} W",
}


def short(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Say why cameras with possible links were not served: per recorder, what stands in their way.

    The answer is taken as it stands. A camera may be named at several recorders: room at one of them serves it.
    """
    loads = Loads(task)
    for k in answer.choice[answer.choice >= 0]:
        loads.add(int(k))
    blocked: dict[tuple[int, str], list[int]] = {}
    free: set[int] = set()
    for k, link in enumerate(task.candidates):
        if answer.choice[link.camera] >= 0:
            continue
        obstacles = _obstacles(task, answer, loads, k)
        if not obstacles:
            free.add(link.camera)
        for obstacle in obstacles:
            blocked.setdefault((link.site, obstacle), []).append(k)
    lines = [_line(task, loads, key, blocked[key]) for key in sorted(blocked)]
    stopped = "no limit stands in the way, the solver stopped before it was placed"
    return lines + [f"{task.cameras[camera]}: {stopped}" for camera in sorted(free)]


def _obstacles(task: PlacementTask, answer: PlacementAnswer, loads: Loads, k: int) -> list[str]:
    """Return what keeps a candidate out: a closed site, or limits of its site."""
    site = task.candidates[k].site
    if task.sites[site].forbid:
        return ["forbid_recorders"]
    if answer.size[site] < 0:
        used = sum(1 for n in answer.size if n >= 0)
        for setting in ("recorders_exactly", "recorders_at_most"):
            most = getattr(task, setting)
            if most is not None and used >= most:
                return [f"{setting} = {most}"]
    return loads.obstacles(k)


def _line(task: PlacementTask, loads: Loads, key: tuple[int, str], links: list[int]) -> str:
    """Say one obstacle at one recorder, and for which cameras."""
    site, obstacle = key
    first = {task.candidates[k].camera: k for k in reversed(links)}
    cameras = ", ".join(task.cameras[c] for c in sorted(first))
    name = task.sites[site].id
    if obstacle in WORDS:
        shortage = loads.excess(site, obstacle, tuple(first.values()))
        return f"recorder {name}: {WORDS[obstacle].format(shortage)} for {cameras}"
    if obstacle == "apart":
        others = sorted({c for k in links for c in loads.neighbours(k)})
        return (
            f"recorder {name}: {cameras} must stand apart from {', '.join(task.cameras[c] for c in others)}"
        )
    return f"recorder {name}: closed by {obstacle} for {cameras}"
