"""What the block diagram shows: recorders, cabinets, cameras, and the cables between them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from estate.output.result import Result

PASSIVE = ("connector", "protector", "joint")
"""Items whose ids begin so are left out of a block diagram."""


@dataclass(frozen=True, slots=True)
class CableLine:
    """One cable on the diagram."""

    text: str
    family: str


@dataclass(frozen=True, slots=True)
class StretchLine:
    """One stretch: its signal cables, and the power cables beside them."""

    signal: tuple[CableLine, ...]
    power: tuple[CableLine, ...]


@dataclass(frozen=True, slots=True)
class CameraRow:
    """One camera's link, from its head on; `stops` stand between the stretches."""

    camera: str
    verdict: str
    method: str
    stretches: tuple[StretchLine, ...]
    stops: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """The cameras of one cabinet with its uplinks, or those that a recorder has itself (`cabinet` empty)."""

    cabinet: str
    words: tuple[str, ...]
    uplinks: tuple[StretchLine, ...]
    rows: tuple[CameraRow, ...]


@dataclass(frozen=True, slots=True)
class RecorderBlock:
    """One recorder with all that is recorded there."""

    recorder: str
    words: tuple[str, ...]
    groups: tuple[Group, ...]


@dataclass(frozen=True)
class Diagram:
    """The whole block diagram."""

    recorders: tuple[RecorderBlock, ...]
    without: tuple[str, ...]
    """Cameras without a link, each with the nearest miss."""
    totals: tuple[str, ...]
    """Cables by type: how many and how long together."""
    families: tuple[str, ...]


class _Tables:
    """The tables of a result as a block diagram needs them."""

    def __init__(self, result: Result) -> None:
        self.links = result.rows("links")
        self.kinds = {row["cable"]: row for row in result.rows("cable_facts")}
        self.runs: dict[str, list[Mapping[str, Any]]] = {}
        for row in result.rows("runs"):
            self.runs.setdefault(row["link"], []).append(row)
        self.equipment: dict[tuple[str, str], list[str]] = {}
        for row in result.rows("equipment"):
            self.equipment.setdefault((row["link"], row["node"]), []).append(row["item"])
        self.cores: dict[tuple[str, str], int] = {}
        for row in result.rows("cores"):
            if row["link"]:
                key = (row["cable"], row["link"])
                self.cores[key] = self.cores.get(key, 0) + 1
        self.recorders = result.rows("recorders")
        self.cabinets = result.rows("cabinets")

    def family(self, cable: str) -> str:
        """Return the family of a cable, empty where it is not known."""
        return str(self.kinds.get(cable, {}).get("family", ""))


def diagram_of(result: Result) -> Diagram:
    """Return the block diagram of a result."""
    tables = _Tables(result)
    linked = [link for link in tables.links if link["kind"] == "camera" and link["method"]]
    cabinets = {row["patch"]: row for row in tables.cabinets}
    names = list(
        dict.fromkeys([*(row["recorder"] for row in tables.recorders), *(k["recorder"] for k in linked)])
    )
    words = {row["recorder"]: _recorder_words(row) for row in tables.recorders}
    return Diagram(
        recorders=tuple(
            RecorderBlock(name, words.get(name, ()), tuple(_groups(tables, name, linked, cabinets)))
            for name in names
        ),
        without=tuple(
            f"{link['camera']}: {link['limiting'] or 'no link'}"
            for link in tables.links
            if link["kind"] == "camera" and not link["method"]
        ),
        totals=tuple(_totals(tables)),
        families=tuple(
            dict.fromkeys(tables.family(run["cable"]) for runs in tables.runs.values() for run in runs)
        ),
    )


def _groups(
    tables: _Tables,
    recorder: str,
    linked: Sequence[Mapping[str, Any]],
    cabinets: Mapping[str, Mapping[str, Any]],
) -> list[Group]:
    """Return the cameras of a recorder by the head of their links, its own first."""
    own = [link for link in linked if link["recorder"] == recorder]
    heads = list(dict.fromkeys(link["head"] for link in own if link["head"] != recorder))
    direct = tuple(_camera_row(tables, link) for link in own if link["head"] == recorder)
    groups = [Group("", (), (), direct)] if direct or not heads else []
    for head in heads:
        row = cabinets.get(head)
        uplinks = [
            link
            for link in tables.links
            if row is not None and link["link"] in (row["uplink"] or "").split(";")
        ]
        groups.append(
            Group(
                cabinet=head,
                words=() if row is None else _cabinet_words(row),
                uplinks=tuple(_uplink(tables, link) for link in uplinks),
                rows=tuple(_camera_row(tables, link) for link in own if link["head"] == head),
            )
        )
    return groups


def _camera_row(tables: _Tables, link: Mapping[str, Any]) -> CameraRow:
    runs = tables.runs.get(link["link"], [])
    numbers = sorted({run["stretch"] for run in runs})
    by_stretch = [[run for run in runs if run["stretch"] == number] for number in numbers]
    stops = []
    for each in by_stretch[1:]:
        node = (each[0]["nodes"] or "").split(";")[0]
        items = [i for i in tables.equipment.get((link["link"], node), ()) if not i.startswith(PASSIVE)]
        stops.append(f"{node}: {' + '.join(dict.fromkeys(items)) or 'joined through'}")
    return CameraRow(
        camera=link["camera"],
        verdict=link["verdict"],
        method=link["method"],
        stretches=tuple(_stretch(tables, link["link"], each) for each in by_stretch),
        stops=tuple(stops),
    )


def _stretch(tables: _Tables, link: str, runs: Sequence[Mapping[str, Any]]) -> StretchLine:
    lines = [
        (run["role"], CableLine(_cable_text(tables, link, run), tables.family(run["cable"]))) for run in runs
    ]
    return StretchLine(
        signal=tuple(line for role, line in lines if role != "power"),
        power=tuple(line for role, line in lines if role == "power"),
    )


def _uplink(tables: _Tables, link: Mapping[str, Any]) -> StretchLine:
    """Return the trunks of an uplink, in the order from the recorder; a standby one says so."""
    found = _stretch(tables, link["link"], tables.runs.get(link["link"], ()))
    if link["kind"] != "standby":
        return found
    return StretchLine(tuple(CableLine(f"standby: {line.text}", line.family) for line in found.signal), ())


def _cable_text(tables: _Tables, link: str, run: Mapping[str, Any]) -> str:
    """Write number, type, length and cores of a cable."""
    kind = tables.kinds.get(run["cable"], {})
    cores, used = kind.get("cores"), tables.cores.get((run["number"], link))
    if kind.get("pairs"):
        inside = f" · {kind['pairs']} pairs"
    elif cores and used is not None:
        inside = f" · {used} of {cores} cores"
    else:
        inside = f" · {cores} core{'s' if cores > 1 else ''}" if cores else ""
    there = ", installed" if run["installed"] and not link.startswith("U-") else ""
    return f"{run['number']} · {run['cable']} · {run['cable_length_m'] or 0.0:.1f} m{inside}{there}"


def _recorder_words(row: Mapping[str, Any]) -> tuple[str, ...]:
    words = [f"{row['status'] or ''} {row['model'] or ''}".strip().replace("existing existing", "existing")]
    if row["channels"] is not None:
        words.append(f"{row['used']} of {row['channels']} channels")
    if row["used_analogue"] is not None:
        words.append(f"{row['used_analogue']} analogue, {row['used_network']} network")
    if row["mbps"] is not None:
        words.append(f"{row['mbps']:g} Mb/s")
    return tuple(word for word in words if word)


def _cabinet_words(row: Mapping[str, Any]) -> tuple[str, ...]:
    words = [row["switch"] or "no switch"]
    if row["ports"] is not None:
        words.append(f"{row['used']} of {row['ports']} ports")
    if row["poe_w"] is not None and row["poe_used_w"] is not None:
        words.append(f"PoE {row['poe_used_w']:g} of {row['poe_w']:g} W")
    return tuple(words)


def _totals(tables: _Tables) -> list[str]:
    """Return a line for each type of cable: each cable by its number once."""
    seen: dict[str, dict[str, float]] = {}
    for runs in tables.runs.values():
        for run in runs:
            seen.setdefault(run["cable"], {})[run["number"]] = run["cable_length_m"] or 0.0
    return [
        f"{cable}: {len(each)} cable{'s' if len(each) > 1 else ''}, {sum(each.values()):.1f} m"
        for cable, each in sorted(seen.items())
    ]
