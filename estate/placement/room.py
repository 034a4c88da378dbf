"""Room in containment: what may still be laid in each segment, and what a choice puts there."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import accumulate

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Verdict
from estate.installed.fill import SEVERAL, Containment, cable_mm2, fill_of, limit_percent, section_mm2
from estate.links.found import Found
from estate.placement.task import Areas


def room_mm2(containment: Containment, segment: int, new: int) -> float:
    """Return what so many new cables may fill of a segment beside those there [mm²], NaN where that is not known.

    Cables of unknown type there take as little as they could: what is laid beside them is to be verified.
    """
    now = fill_of(containment, segment)
    percent = limit_percent(containment, segment, now.cables + new) - now.least_percent
    return max(section_mm2(containment, segment) * percent / 100, 0.0) if not np.isnan(percent) else percent


def rooms_mm2(containment: Containment) -> dict[int, float]:
    """Return what may still be filled of each segment whose room is known [mm²]: by the number that may fill most."""
    every = {
        s: max(room_mm2(containment, s, new) for new in range(1, SEVERAL + 1))
        for s in range(containment.network.segments)
    }
    return {segment: room for segment, room in every.items() if not np.isnan(room)}


def new_cables(found: Found) -> Iterator[tuple[str, int]]:
    """Yield the new cables of a link with every segment that they pass."""
    if found.kept:
        return
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
    """Return the segments that new cables fill beyond what so many may, with what to hold them to [mm²]."""
    laid: dict[int, Counter[str]] = defaultdict(Counter)
    for cable, segment in cables:
        laid[segment][cable] += 1
    full = {}
    for segment, here in sorted(laid.items()):
        if fill_of(containment, segment, here).verdict is Verdict.OUTSIDE:
            sizes = [cable_mm2(containment.catalogue, cable) for cable in here.elements()]
            full[segment] = held_mm2(sizes, partial(room_mm2, containment, segment))
    return full


def held_mm2(sizes: Iterable[float], room: Callable[[int], float]) -> float:
    """Return a room [mm²] that as many of some cables keep as may lie together, and one more does not.

    `room` is what so many cables may fill: one more than two, so a limit in mm² alone would not say how many.

    >>> held_mm2([70, 70, 70], {1: 81, 2: 47, 3: 61}.__getitem__) < 140
    True
    """
    total = list(accumulate(sorted(sizes)))
    fitting = [n for n, area in enumerate(total, 1) if area <= room(n)]
    most = max(fitting, default=0)
    below_next = total[most] * (1 - ROUNDING) if most < len(total) else np.inf
    return float(min(room(max(most, 1)), below_next))


ROUNDING = 1e-6
