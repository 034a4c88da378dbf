"""Room for what is repaired: channels of recorders, ports of switches, spare cables; and what there is none for, in words."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from estate.audit.remedy import RecorderRoom, Refused, Repair, Resource, resources_of, room_limits
from estate.findings import Action
from estate.installed.link import InstalledLink
from estate.links.search import LinkSearch

Ports = Mapping[str, tuple[int, int]]
"""By recorder: analogue and network cameras on it."""


def recorder_rooms(search: LinkSearch) -> dict[str, RecorderRoom]:
    """Return the channels of each recorder, by its id."""
    points = search.survey.points
    columns = ("channels", "channels_analogue", "channels_network")
    return {
        site.id: RecorderRoom(site.id, *(float(points[column][site.row]) for column in columns))
        for site in search.sites[: search.recorders]
    }


def held_now(installed: Sequence[InstalledLink]) -> dict[str, tuple[Resource, ...]]:
    """Return what each camera's installed link takes of its recorder, and of its switch."""
    return {
        each.link.camera: (
            *resources_of(each.link.recorder, each.link.port),
            *(((each.link.head, "ports"),) if each.link.head != each.link.recorder else ()),
        )
        for each in installed
        if each.link.camera and each.link.recorder
    }


def limits_of(
    search: LinkSearch, repairs: Sequence[Repair], new_ports: Mapping[str, int]
) -> dict[Resource, float]:
    """Return how much there is of what repairs take; `new_ports` are those of switches to be put up."""
    points = search.survey.points
    limits = room_limits(list(recorder_rooms(search).values()))
    for site in search.sites[search.recorders :]:
        ports = new_ports.get(site.id, float(points["ports"][site.row]))
        if not np.isnan(ports):
            limits[site.id, "ports"] = float(ports)
    limits |= {each: 1.0 for repair in repairs for each in repair.takes if each[0] == "spare cable"}
    return limits


def on_recorders(installed: Sequence[InstalledLink]) -> dict[str, tuple[int, int]]:
    """Return how many analogue and network cameras are on each recorder now."""
    counts = Counter((e.link.recorder, e.link.port) for e in installed if e.link.camera and e.link.recorder)
    return {r: (counts[r, "analogue"], counts[r, "ethernet"]) for r in sorted({r for r, _ in counts})}


def with_a_channel(
    search: LinkSearch, installed: Sequence[InstalledLink], repairs: Sequence[Repair]
) -> tuple[list[Repair], list[Refused]]:
    """Return the repairs that have a channel by themselves, and in words those that have none.

    Where conversions have a channel each by itself but not all of them together, that is said too: the programme
    then takes as many as there are channels for.
    """
    rooms, now = recorder_rooms(search), on_recorders(installed)
    before = {e.link.camera: (e.link.recorder, e.link.port) for e in installed if e.link.camera}
    kept, refused = [], []
    moved: dict[str, list[Repair]] = defaultdict(list)
    for repair in repairs:
        is_moved = before.get(repair.camera) != (repair.recorder, repair.port)
        why = _refusal(rooms, now, before, [repair]) if is_moved else ""
        if why:
            refused.append(Refused(repair.camera, repair.action, repair.kind, f"{why}, with {repair.camera}"))
            continue
        kept.append(repair)
        if is_moved:
            moved[repair.recorder].append(repair)
    for recorder, own in sorted(moved.items()):
        one = list({repair.camera: repair for repair in reversed(own) if repair.port == "ethernet"}.values())
        why = _refusal(rooms, now, before, one) if one else ""
        if why:
            cameras = sorted(repair.camera for repair in one)
            text = f"{why}, if {', '.join(cameras)} all become network cameras there"
            refused.append(Refused("", Action.ENLARGE, f"channels of {recorder}", text))
    return kept, refused


def _refusal(
    rooms: Mapping[str, RecorderRoom],
    now: Ports,
    before: Mapping[str, tuple[str, str]],
    repairs: Sequence[Repair],
) -> str:
    """Say which channels some repairs at one recorder pass together; empty where all have one.

    A link that is not known to need a channel of one kind (port blank) gives none back.
    """
    recorder = repairs[0].recorder
    counts = dict(zip(("analogue", "ethernet"), now.get(recorder, (0, 0)), strict=True))
    was = dict(counts)
    for repair in repairs:
        old = before.get(repair.camera)
        if old is not None and old[0] == recorder and old[1]:
            counts[old[1]] -= 1
        counts[repair.port] += 1
    if recorder not in rooms or all(counts[port] <= was[port] for port in counts):
        return ""
    return rooms[recorder].refusal(counts["analogue"], counts["ethernet"])
