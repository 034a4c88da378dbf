"""Installed cables put together: what serves each camera, in the order from its head, and what leads on from cabinets."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.installed.rows import CableRow
from estate.survey.survey import Survey

TONE = "trace it with a tone"


@dataclass(frozen=True, slots=True)
class Piece:
    """One cable of a circuit: the point at its end towards the head, and that towards the camera."""

    row: CableRow
    near: str
    far: str


@dataclass(frozen=True, slots=True)
class Circuit:
    """The cables that serve one camera, or that join a cabinet to a recorder; pieces from the head on."""

    camera: str
    """Empty for what joins a cabinet."""
    head: str
    signal: tuple[Piece, ...]
    power: tuple[Piece, ...] = ()
    fed_at: str = ""
    """Where its power cable begins; empty without one."""
    trouble: str = ""
    """Why no link can be made of it; empty where one can."""
    test: str = ""
    """What would settle that."""
    about: tuple[str, ...] = ()
    """The cables that the trouble is about."""
    number: int = 0
    """Of an uplink: 0 for the working one, 1 and so on for others beside it."""

    @property
    def rows(self) -> tuple[CableRow, ...]:
        """Its cables, those of the signal first."""
        return tuple(piece.row for piece in (*self.signal, *self.power))


@dataclass(frozen=True)
class Plant:
    """The points of an estate as cables see them."""

    kinds: dict[str, str]
    heads: frozenset[str]
    """Recorders, and patch points where a switch stands."""
    recorders: frozenset[str]
    fed: frozenset[str]
    """Where a supply stands, listed or on record along a cable."""


def plant_of(survey: Survey, rows: Sequence[CableRow], catalogue: Catalogue) -> Plant:
    """Return the points by kind, and which of them are heads."""
    points = survey.points
    kinds = dict(zip(points["id"], points["kind"], strict=True))
    recorders = {name for name, kind in kinds.items() if kind == "recorder"}
    stated = {
        str(points["id"][row])
        for row in np.flatnonzero(points["kind"] == "patch").tolist()
        if not (np.isnan(points["ports"][row]) and np.isnan(points["poe_w"][row]))
    }
    switched = {
        node for row in rows for item, node in row.equipment
        if catalogue.items[item].kind == "switch" and kinds.get(node) == "patch"
    }  # fmt: skip
    fed = {str(at) for at in survey.supplies["at"]}
    fed |= {node for row in rows for item, node in row.equipment if catalogue.items[item].kind == "supply"}
    return Plant(kinds, frozenset(recorders | stated | switched), frozenset(recorders), frozenset(fed))


# Cameras


def camera_circuits(rows: Sequence[CableRow], plant: Plant) -> list[Circuit]:
    """Return one circuit for each camera that cables in use name, in the order of cameras."""
    by_camera: dict[str, list[CableRow]] = defaultdict(list)
    for row in rows:
        if row.in_use and row.camera:
            by_camera[row.camera].append(row)
    trunks = [row for row in rows if row.in_use and not row.camera]
    return [_circuit(camera, own, trunks, plant) for camera, own in sorted(by_camera.items())]


def _circuit(camera: str, own: Sequence[CableRow], trunks: Sequence[CableRow], plant: Plant) -> Circuit:
    """Put the cables of one camera in order."""
    lost = [row for row in own if row.start not in plant.kinds or row.end not in plant.kinds]
    if lost:
        return _troubled(camera, own, f"an end of {_named(lost)} is no point", lost)
    signal, power, doubtful = _roles(own)
    if doubtful:
        words = f"which of {_named(doubtful)} carries the picture is not known"
        return _troubled(camera, own, words, doubtful, "look at what both end in")
    way, head, trouble = _walk(camera, signal, trunks, plant.heads, plant)
    if trouble:
        return _troubled(camera, own, trouble, signal)
    feed, fed_at, trouble = (
        _walk(camera, power, (), plant.heads | plant.fed, plant) if power else ((), "", "")
    )
    if trouble:
        return _troubled(camera, own, trouble, power)
    return Circuit(camera, head, way, feed, fed_at)


def _troubled(
    camera: str, own: Iterable[CableRow], trouble: str, about: Iterable[CableRow], test: str = TONE
) -> Circuit:
    pieces = tuple(Piece(row, row.start, row.end) for row in own)
    names = tuple(row.id for row in about)
    return Circuit(camera, "", pieces, trouble=trouble, test=test, about=names)


def _named(rows: Iterable[CableRow]) -> str:
    return ", ".join(row.id for row in rows)


def _roles(own: Sequence[CableRow]) -> tuple[list[CableRow], list[CableRow], list[CableRow]]:
    """Return the cables of the picture, those of the power, and those that could be either.

    A cable of unknown type beside one whose part is known, between the same points, has the other part.
    """
    power = [row for row in own if row.family == "power"]
    signal = [row for row in own if row.family not in ("power", "")]
    untyped = [row for row in own if not row.family]
    doubtful = []
    for row in untyped:
        beside = [each for each in own if each is not row and {each.start, each.end} == {row.start, row.end}]
        if not beside or all(each.family == "power" for each in beside):
            signal.append(row)
        elif all(each.family not in ("power", "") for each in beside):
            power.append(row)
        else:
            doubtful.append(row)
    return signal, power, doubtful


def _walk(
    camera: str, own: Sequence[CableRow], trunks: Sequence[CableRow], heads: frozenset[str], plant: Plant
) -> tuple[tuple[Piece, ...], str, str]:
    """Follow cables from a camera to a head: the pieces from the head on, the head, and what is wrong."""
    at, left, pieces = camera, list(own), list[Piece]()
    while True:
        onward = [row for row in left if row.ends_at(at)]
        if not onward and at in heads and pieces:
            break
        if not onward and pieces and plant.kinds.get(at) == "patch":
            passed = [piece.row for piece in pieces]
            onward = [row for row in trunks if row.ends_at(at) and row not in passed]
        if not onward:
            what = "camera" if not pieces else plant.kinds.get(at, "point")
            return (), "", f"no cable leads on from {what} {at}"
        if len(onward) > 1:
            return (), "", f"{_named(onward)} all lead on from {at}: which of them is not known"
        left = [row for row in left if row is not onward[0]]
        pieces.append(Piece(onward[0], onward[0].other(at), at))
        at = pieces[-1].near
    if left:
        return (), "", f"{_named(left)} is not on the way from {camera} to {at}"
    return tuple(reversed(pieces)), at, ""


# Cabinets


def uplink_circuits(rows: Sequence[CableRow], plant: Plant, used: Iterable[str]) -> list[Circuit]:
    """Return what joins each cabinet with a switch to a recorder: the fewest trunks, those first in the records.

    Others of as few trunks that share none with those before stand by. `used` are the heads that cameras end at. A
    cabinet from which no trunk leads to a recorder is in trouble.
    """
    trunks = [row for row in rows if row.in_use and not row.camera]
    found = []
    for head in sorted(set(used) - plant.recorders):
        ways = _trunk_ways(head, trunks, plant)
        if ways:
            found += [replace(way, fed_at=head, number=number) for number, way in enumerate(_apart(ways))]
        else:
            trouble = f"no trunk on record leads from {head} to a recorder"
            found.append(Circuit("", "", (), fed_at=head, trouble=trouble, test=TONE))
    return found


def _apart(ways: Sequence[Circuit]) -> list[Circuit]:
    """Return the first way, and each later one that shares no trunk with those taken."""
    taken: list[Circuit] = []
    for way in ways:
        before = {row.id for each in taken for row in each.rows}
        if not before & {row.id for row in way.rows}:
            taken.append(way)
    return taken


def _trunk_ways(head: str, trunks: Sequence[CableRow], plant: Plant) -> list[Circuit]:
    """Return the shortest rows of trunks from a cabinet to a recorder, breadth first."""
    reached = {head}
    front = [Circuit("", head, ())]
    while front:
        ahead: list[Circuit] = []
        for way in front:
            for row in trunks:
                if not row.ends_at(way.head) or (far := row.other(way.head)) in reached:
                    continue
                ahead.append(replace(way, head=far, signal=(Piece(row, far, way.head), *way.signal)))
        arrived = [way for way in ahead if way.head in plant.recorders]
        if arrived:
            return arrived
        reached |= {way.head for way in ahead}
        front = [way for way in ahead if plant.kinds.get(way.head) == "patch"]
    return []
