"""Budget lines that stay open whatever the values of a link's own facts: which fact of the estate they wait for."""

from collections.abc import Iterator, Sequence

import numpy as np

from estate.findings import Verdict
from estate.installed.circuits import Circuit
from estate.installed.facts import unknown
from estate.installed.link import Unknown
from estate.links.ground import Ground
from estate.links.link import BudgetLine


def open_facts(
    ground: Ground, circuit: Circuit, line: BudgetLine, segments: Sequence[int], cables: Sequence[str]
) -> Iterator[Unknown]:
    """Yield the facts that a line to be verified waits for; `segments` and `cables` are those of its stretch."""
    cable = circuit.signal[-1].row.id if circuit.signal else ""
    if line.quantity == "separation":
        yield _beside(ground, tuple(segments), cables)
    elif line.quantity == "earths":
        yield from _earths(ground, circuit, line)
    elif line.quantity == "joints":
        yield unknown("cable", cable, "joint quality")
    elif line.quantity == "tees":
        yield unknown("cable", cable, "tees")
    elif line.quantity in ("volts", "PoE power", "PoE port power", "supply power"):
        if "resistance" in line.text:
            yield unknown("cable", cable, "loop_ohm")
        else:
            yield unknown("camera", circuit.camera, f"load_{'night_' if line.state == 'night' else ''}w")
    else:
        yield unknown("cable", cable, "picture_night")


def _beside(ground: Ground, segments: tuple[int, ...], cables: Sequence[str]) -> Unknown:
    """Return what a separation waits for: the load of the mains run, or the distance from it."""
    classes = {ground.catalogue.cables[c].separation_class for c in cables}
    exposures, mains = ground.separation.exposures, ground.survey.mains
    for cable_class in sorted(classes):
        worst = ground.separation.governing(segments, cable_class)
        if worst is None or ground.separation.judgement(cable_class).verdict[worst] is not Verdict.VERIFY:
            continue
        run = int(exposures.mains[worst])
        segment = str(ground.network.segment_id[exposures.segment[worst]])
        if run < 0:
            return unknown("segment", segment, "distance")
        name = str(mains["id"][run])
        if mains["kind"][run] == "lightning_protection":
            return unknown("mains", name, "lightning")
        blank = [c for c in ("circuits", "amps") if np.isnan(float(mains[c][run]))]
        if blank and mains["kind"][run] == "mains":
            test = "read the rating and count the circuits at the distribution board, by a qualified person"
            return unknown("mains", name, blank[0], test=test)
        return unknown("segment", segment, "distance", (f"{name} beside it",))
    return unknown("segment", str(ground.network.segment_id[segments[0]]), "distance")


def _earths(ground: Ground, circuit: Circuit, line: BudgetLine) -> Iterator[Unknown]:
    """Yield what a judgement between earths waits for: the earthing of a building, or how the camera stands."""
    points = ground.survey.points
    rows = points.row_of()
    if "insulated" in line.text:
        yield unknown("camera", circuit.camera, "insulated", ("yes", "no"))
        return
    said = False
    ends = (circuit.camera or circuit.fed_at, circuit.head)
    for name in ends:
        row = rows.get(name, -1)
        if row < 0:
            continue
        place = ground.earths.places[row]
        node = int(ground.network.point_node[row])
        inside = int(ground.network.node_building[node]) if node >= 0 else -1
        building = points["building"][row] or (ground.survey.buildings["id"][inside] if inside >= 0 else None)
        if place.zone and place.earthing in ("TN-S", "TN-C-S", "TT"):
            continue
        said = True
        if building is not None:
            yield unknown("building", str(building), "earthing", ("TN-S", "TN-C-S", "TT", "IT"))
        else:
            kind = "camera" if name == circuit.camera else str(points["kind"][row])
            yield unknown(kind, name, "earthing", ("TN-S", "TN-C-S", "TT", "IT"))
    if not said:
        yield unknown("camera", ends[0], "earthing", ("TN-S", "TN-C-S", "TT", "IT"))
