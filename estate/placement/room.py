"""Room in containment: what may still be laid in each segment, and what a link puts there."""

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.found import Found
from estate.network.network import Network
from estate.placement.task import Areas
from estate.survey.survey import Survey


def cable_mm2(catalogue: Catalogue, cable: str) -> float:
    """Return the cross-section that a cable takes up [mm²], NaN where its diameter is not known."""
    return float(np.pi / 4 * catalogue.cables[cable].number("od_mm") ** 2)


def section_mm2(survey: Survey, route: int) -> float:
    """Return the section of a route inside, all its ways together [mm²], NaN where it is not known."""
    bore_mm, area_mm2, ways = (float(survey.routes[name][route]) for name in ("bore_mm", "area_mm2", "ways"))
    if not np.isnan(area_mm2):
        return area_mm2
    return float(np.pi / 4 * bore_mm**2 * (1.0 if np.isnan(ways) else ways))


def room_mm2(survey: Survey, catalogue: Catalogue, network: Network) -> dict[int, float]:
    """Return what may still be laid in each segment whose room is known [mm²].

    Conduit and duct to the share for several cables, trunking to its own; less what is taken already by cables not
    listed. A blank `fill_percent` is unknown on an existing route: then there is no entry.
    """
    rules, found = catalogue.rules["fill"], {}
    for segment in range(network.segments):
        route = int(network.segment_route[segment])
        kind = network.segment_containment[segment]
        if route < 0 or kind not in ("duct", "conduit", "trunking"):
            continue
        percent = rules["trunking_percent" if kind == "trunking" else "more_cables_percent"]
        taken = float(survey.routes["fill_percent"][route])
        if np.isnan(taken) and network.segment_proposed[segment]:
            taken = 0.0
        room = section_mm2(survey, route) * (float(percent.value) - taken) / 100
        if not np.isnan(room):
            found[segment] = max(room, 0.0)
    return found


def link_areas(found: Found, catalogue: Catalogue, known: Iterable[int]) -> Areas:
    """Return what a link's new cables take up of the segments whose room is known."""
    wanted = set(known)
    total: dict[int, float] = defaultdict(float)
    for stretch in found.stretches:
        for first, beyond, spare in stretch.pieces:
            for segment in stretch.segments[first:beyond] if spare is None else ():
                total[segment] += cable_mm2(catalogue, stretch.variant.signal_cable)
        if stretch.variant.power_cable:
            for segment in stretch.segments:
                total[segment] += cable_mm2(catalogue, stretch.variant.power_cable)
    return tuple(sorted((s, area) for s, area in total.items() if s in wanted and not np.isnan(area)))
