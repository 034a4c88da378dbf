"""Cameras that a design leaves without a link: why, in words, and what would help."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from estate.findings import Action
from estate.links.miss import Miss, miss_in_words, nearest_misses
from estate.links.search import LinkSearch
from estate.placement.choosing import Chosen
from estate.placement.columns import possible_homes
from estate.placement.conflict import Conflict, conflicts
from estate.placement.explain import NO_UPLINK, in_the_way, short
from estate.placement.rows import Name
from estate.placement.sections import fibres
from estate.placement.task import PlacementTask
from estate.placement.words import segment

CONFLICT_SECONDS = 20.0
"""How long the cameras and limits that get into each other's way are looked for."""

UPLINK_REMEDY = (
    "a route or duct by which a fibre reaches its cabinet within its reach, or a recorder nearer to it"
)

REMEDIES = {
    "channels": "a recorder with more channels, or one more recorder",
    "channels_analogue": "a recorder with more analogue channels, or one more recorder",
    "channels_network": "a recorder with more network channels, or one more recorder",
    "mbps_max": "a recorder that takes more Mb/s, or one more recorder",
    "poe_ports": "more PoE ports at the recorder, a switch at a cabinet, or another feed",
    "poe_w": "more PoE power at the recorder, a switch at a cabinet, or another feed",
    "ports": "a switch with more ports, or one more cabinet",
    "switch": "a switch with both more ports and more PoE power, or one more cabinet",
    "cabinet_poe_w": "a switch with more PoE power, or one more cabinet",
    "cabinet_draw_w": "a switch with more PoE power, or one more cabinet",
    "uplink_mbps": "one more cabinet with an uplink of its own",
    "uplink_reach": "a cabinet nearer a recorder, a recorder nearer the cabinet, or a fibre that goes farther",
    "cores": "a fibre with more cores",
    "fill": "recover dead cables, replace several by one fibre, or lay another duct",
    "spare": "a new cable where the spare one is taken",
    "apart": "one more recorder, so that they stand apart",
    NO_UPLINK: UPLINK_REMEDY,
}
"""What helps against each limit; a limit that isn't here is a setting, to be lifted."""

WITH_SPARE = {"channels", "ports"}
"""Limits that keep `spare_percent` free."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Why one camera has no link."""

    why: str
    misses: tuple[Miss, ...] = ()
    """Where no link stands, the nearest miss of each method, the nearest first."""
    action: Action = Action.ENLARGE
    remedy: str = ""
    segment: str = ""
    """Id of the segment that is too full for it, if that is what it is."""


def left_out(search: LinkSearch, chosen: Chosen) -> dict[int, LeftOut]:
    """Return for every camera without a link why it has none."""
    task, homes = (
        chosen.task,
        [bool(possible_homes(chosen.task, p)) for p in range(len(chosen.task.cabinets))],
    )
    without = {k for k in range(len(search.cameras)) if chosen.answer.choice[k] < 0}
    linked = {link.camera for link in task.candidates}
    joined = {link.camera for link in task.candidates if link.cabinet < 0 or homes[link.cabinet]}
    found = _without_room(chosen, sorted(without & joined))
    for k, nearest in nearest_misses(search, sorted(without - joined)).items():
        why = miss_in_words(nearest) or "there is no recorder site"
        if k in linked:
            why = f"{why}; {_without_uplink(search, task, k)}"
            found[k] = LeftOut(why, tuple(nearest), Action.CONNECT, UPLINK_REMEDY)
        else:
            found[k] = LeftOut(why, tuple(nearest), nearest[0].action if nearest else Action.ENLARGE)
    return found


def _without_uplink(search: LinkSearch, task: PlacementTask, camera: int) -> str:
    """Say why a camera's cabinets have no uplink."""
    patches = {task.cabinets[link.cabinet].id for link in task.candidates if link.camera == camera}
    why = (
        "no way that a fibre may take, within its reach, leads from there to a recorder"
        if fibres(search)
        else "no fibre may be designed that an uplink could run in: see [design] methods and cables"
    )
    return f"a link to cabinet {', '.join(sorted(patches))} stands, but {why}"


def _without_room(chosen: Chosen, cameras: Sequence[int]) -> dict[int, LeftOut]:
    """Return why cameras with links that stand have no room."""
    task, answer = chosen.task, chosen.answer
    named: dict[str, Conflict] = {}
    if chosen.proven and cameras:
        try:
            named = {
                name: each for each in conflicts(task, answer, CONFLICT_SECONDS) for name in each.unserved
            }
        except KeyboardInterrupt:
            # the design itself is there already
            named = {}
    told = "" if len(named) == len(cameras) else "; ".join(short(task, answer))
    found = {}
    for k in cameras:
        conflict = named.get(task.cameras[k])
        names = in_the_way(task, answer, k) if conflict is None else conflict.names
        why = told if conflict is None else str(conflict)
        found[k] = LeftOut(
            f"a link stands, but there is no room: {why}",
            action=Action.CONNECT if {name for name, _ in names} == {NO_UPLINK} else Action.ENLARGE,
            remedy=remedy(task, names),
            segment=next((segment(task, n).partition(" ")[2] for name, n in names if name == "fill"), ""),
        )
    return found


def remedy(task: PlacementTask, names: Iterable[Name]) -> str:
    """Say what helps against limits that together leave a camera out: any one of these."""
    limits = list(dict.fromkeys(name for name, _ in names))
    said = [REMEDIES.get(limit, f"another [design] {limit.partition(' ')[0]}") for limit in limits]
    spare = task.spare_percent or task.spare_ports_percent
    if spare and set(limits) & WITH_SPARE:
        said.append("less spare ([design] spare_percent)")
    return "; or ".join(said) or "more time for the search: [design] time_limit_s"
