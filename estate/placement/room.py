"""Room in containment: what may still be laid in each segment, and what a choice puts there."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.found import Found
from estate.network.network import Network
from estate.placement.fill import (
    cable_mm2,
    fill_limit_percent,
    fill_percent,
    section_mm2,
    taken_percent,
)
from estate.placement.task import Areas
from estate.survey.survey import Survey

SEVERAL = 3
"""From so many cables on the share that may be filled doesn't depend on their number."""


def room_mm2(
    survey: Survey, catalogue: Catalogue, network: Network, segment: int, cables: int = SEVERAL
) -> float:
    """Return what may still be laid in a segment by so many cables [mm²], NaN where that is not known."""
    route = int(network.segment_route[segment])
    if route < 0:
        return float("nan")
    limit = fill_limit_percent(network.segment_containment[segment], cables, catalogue)
    percent = limit - taken_percent(survey, network, segment)
    return max(section_mm2(survey, route) * percent / 100, 0.0) if not np.isnan(percent) else percent


def rooms_mm2(survey: Survey, catalogue: Catalogue, network: Network) -> dict[int, float]:
    """Return what several cables may still fill of each segment whose room is known [mm²]."""
    every = {s: room_mm2(survey, catalogue, network, s) for s in range(network.segments)}
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


def overfull(
    survey: Survey, catalogue: Catalogue, network: Network, cables: Iterable[tuple[str, int]]
) -> dict[int, float]:
    """Return the segments that cables fill beyond what so many may, with what they may fill [mm²]."""
    laid: dict[int, Counter[str]] = defaultdict(Counter)
    for cable, segment in cables:
        laid[segment][cable] += 1
    full = {}
    for segment, here in sorted(laid.items()):
        limit = fill_limit_percent(network.segment_containment[segment], here.total(), catalogue)
        if fill_percent(survey, catalogue, network, segment, here) > limit + TOLERANCE_PERCENT:
            full[segment] = room_mm2(survey, catalogue, network, segment, here.total())
    return full


TOLERANCE_PERCENT = 1e-9
