"""Why cameras with possible links were not served."""

from dataclasses import dataclass

from estate.placement import words
from estate.placement.loads import Loads, loads_of
from estate.placement.task import PlacementAnswer, PlacementTask

NO_UPLINK = "no uplink that fits"


@dataclass(frozen=True, slots=True, order=True)
class _Obstacle:
    """What stands in a link's way: a limit, and the place it is a limit of (kind, index)."""

    kind: str
    place: int
    limit: str


def short(task: PlacementTask, answer: PlacementAnswer) -> list[str]:
    """Say why cameras with possible links were not served: per recorder, cabinet or segment, what stands in their way.

    The answer is taken as it stands. A camera may be named at several places: room at one of them serves it.
    """
    loads = loads_of(task, answer)
    blocked: dict[_Obstacle, list[int]] = {}
    free: set[int] = set()
    for k, link in enumerate(task.candidates):
        if answer.choice[link.camera] >= 0:
            continue
        obstacles = _obstacles(task, answer, loads, k)
        if not obstacles:
            free.add(link.camera)
        for obstacle in obstacles:
            blocked.setdefault(obstacle, []).append(k)
    lines = [_line(task, loads, obstacle, blocked[obstacle]) for obstacle in sorted(blocked)]
    stopped = "no limit stands in the way, the solver stopped before it was placed"
    return lines + [f"{task.cameras[camera]}: {stopped}" for camera in sorted(free)]


def in_the_way(task: PlacementTask, answer: PlacementAnswer, camera: int) -> list[tuple[str, int]]:
    """Return the limits, each with the index of its place, that keep the links of one camera out."""
    loads = loads_of(task, answer)
    own = [k for k, link in enumerate(task.candidates) if link.camera == camera]
    found = {obstacle for k in own for obstacle in _obstacles(task, answer, loads, k)}
    return [(obstacle.limit, obstacle.place) for obstacle in sorted(found)]


def _obstacles(task: PlacementTask, answer: PlacementAnswer, loads: Loads, k: int) -> list[_Obstacle]:
    """Return what keeps a candidate out: a closed place, or limits of its places."""
    link = task.candidates[k]
    site = loads.recorder(k)
    if link.cabinet >= 0 and site < 0:
        return [_Obstacle("cabinet", link.cabinet, NO_UPLINK)]
    if task.sites[site].forbid:
        return [_Obstacle("recorder", site, "forbid_recorders")]
    if answer.size[site] < 0:
        used = sum(1 for n in answer.size if n >= 0)
        for setting in ("recorders_exactly", "recorders_at_most"):
            most = getattr(task, setting)
            if most is not None and used >= most:
                return [_Obstacle("recorder", site, f"{setting} = {most}")]
    return [_obstacle(link.cabinet, site, limit) for limit in loads.obstacles(k)]


def _obstacle(cabinet: int, site: int, limit: str) -> _Obstacle:
    if limit.startswith("fill "):
        return _Obstacle("segment", int(limit.removeprefix("fill ")), "fill")
    if limit == "spare":
        return _Obstacle("spare", 0, limit)
    at_cabinet = limit == "switch" or limit in words.AT_CABINET
    return _Obstacle("cabinet", cabinet, limit) if at_cabinet else _Obstacle("recorder", site, limit)


def _line(task: PlacementTask, loads: Loads, obstacle: _Obstacle, links: list[int]) -> str:
    """Say one obstacle, and for which cameras."""
    first = {task.candidates[k].camera: k for k in reversed(links)}
    cameras = ", ".join(task.cameras[c] for c in sorted(first))
    if obstacle.kind == "segment":
        return f"{words.segment(task, obstacle.place)} full for {cameras}"
    if obstacle.kind == "spare":
        taken = {s for k in links for s in task.candidates[k].spares} & loads.spares
        return f"spare cable {', '.join(sorted(taken))} in use for {cameras}"
    places = task.cabinets if obstacle.kind == "cabinet" else task.sites
    name, limit = f"{obstacle.kind} {places[obstacle.place].id}", obstacle.limit
    if limit in words.SHORT:
        excess = loads.switch_excess if obstacle.kind == "cabinet" else loads.excess
        return f"{name}: {words.SHORT[limit].format(excess(obstacle.place, limit, tuple(first.values())))} for {cameras}"
    if limit == "apart":
        others = sorted({c for k in links for c in loads.neighbours(k)})
        return f"{name}: {cameras} must stand apart from {', '.join(task.cameras[c] for c in others)}"
    if limit == "switch":
        return f"{name}: no switch has both the ports and the power for {cameras}"
    if limit == NO_UPLINK:
        return f"{name}: {limit} for {cameras}"
    return f"{name}: closed by {limit} for {cameras}"
