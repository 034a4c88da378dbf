"""Room in containment: what may still be laid in each segment, and what a choice puts there."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.installed.fill import SEVERAL, Containment, cable_mm2, fill_of, limit_percent, section_mm2
from estate.links.found import Found
from estate.placement.task import Areas


def room_mm2(containment: Containment, segment: int, cables: int = SEVERAL) -> float:
    """Return what may still be laid in a segment that will have so many cables in all [mm²], NaN where not known.

    Cables of unknown type there take as little as they could: what is laid beside them keeps verdict verify.
    """
    limit, taken = limit_percent(containment, segment, cables), fill_of(containment, segment).least_percent
    percent = limit - taken
    return max(section_mm2(containment, segment) * percent / 100, 0.0) if not np.isnan(percent) else percent


def rooms_mm2(containment: Containment) -> dict[int, float]:
    """Return what several cables may still fill of each segment whose room is known [mm²]."""
    every = {s: room_mm2(containment, s) for s in range(containment.network.segments)}
    return {segment: room for segment, room in every.items() if not np.isnan(room)}


def new_cables(found: Found) -> Iterator[tuple[str, int]]:
    """Yield the new cables of a link with every segment that they pass."""
    for stretch in found.stretches:
        for first, beyond, spare in stretch.pieces:
            if spare is None:
                yield from ((stretch.variant.signal_cable, s) for s in stretch.segments[first:beyond])
        if stretch.variant.power_cable:
            yield from ((stretch.variant.power_cable, s) for s in stretch.segments)


def areas(cables: Iterable[tuple[str, int]], catalogue: Catalogue, known: Iterable[int]) -> Areas:
    """Return what cables take up of the segments whose room is known."""
    wanted = set(known)
    total: dict[int, float] = defaultdict(float)
    for cable, segment in cables:
        if segment in wanted:
            total[segment] += cable_mm2(catalogue, cable)
    return tuple(sorted((segment, area) for segment, area in total.items() if not np.isnan(area)))


def overfull(containment: Containment, cables: Iterable[tuple[str, int]]) -> dict[int, float]:
    """Return the segments that new cables fill beyond what so many may, with what they may fill [mm²]."""
    laid: dict[int, Counter[str]] = defaultdict(Counter)
    for cable, segment in cables:
        laid[segment][cable] += 1
    full = {}
    for segment, here in sorted(laid.items()):
        fill = fill_of(containment, segment, here)
        if fill.verdict is Verdict.OUTSIDE:
            full[segment] = room_mm2(containment, segment, fill.cables)
    return full
