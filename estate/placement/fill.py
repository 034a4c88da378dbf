"""How full containment gets with what is designed into it."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Action, Effect, Finding, Severity
from estate.links.link import Link
from estate.network.network import Network
from estate.placement.places import served_by
from estate.survey.survey import Survey


def section_mm2(survey: Survey, route: int) -> float:
    """Return the section of a route inside, all its ways together [mm²], NaN where it is not known.

    That of its bore, once for each way; else `area_mm2` as given.
    """
    bore_mm, area_mm2, ways = (float(survey.routes[name][route]) for name in ("bore_mm", "area_mm2", "ways"))
    section = area_mm2 if np.isnan(bore_mm) else float(np.pi / 4 * bore_mm**2)
    return section if np.isnan(ways) or not np.isnan(area_mm2) else section * ways


def taken_percent(survey: Survey, network: Network, segment: int) -> float:
    """Return what `fill_percent` says is taken already [%]; blank: unknown (NaN) if existing, 0 if proposed."""
    taken = float(survey.routes["fill_percent"][int(network.segment_route[segment])])
    return 0.0 if np.isnan(taken) and network.segment_proposed[segment] else taken


def cable_mm2(catalogue: Catalogue, cable: str) -> float:
    """Return the cross-section that a cable takes up [mm²], NaN where its diameter is not known."""
    return float(np.pi / 4 * catalogue.cables[cable].number("od_mm") ** 2)


def fill_percent(
    survey: Survey, catalogue: Catalogue, network: Network, segment: int, cables: Mapping[str, int]
) -> float:
    """Return the share of a segment's section that cables take [%], NaN where a size or the old fill is unknown.

    100·Σd²/D² in a bore, the circles' share of `area_mm2` else, with what is taken already.
    """
    route = int(network.segment_route[segment])
    if route < 0:
        return float("nan")
    circles_mm2 = sum(n * cable_mm2(catalogue, cable) for cable, n in cables.items())
    return taken_percent(survey, network, segment) + 100 * circles_mm2 / section_mm2(survey, route)


def fill_limit_percent(containment: str | None, cables: int, catalogue: Catalogue) -> float:
    """Return the most that may be filled [%]: 53, 31 or 40 in conduit and duct, 45 in trunking; NaN elsewhere."""
    rules = catalogue.rules["fill"]
    if containment in ("duct", "conduit"):
        name = {1: "one_cable_percent", 2: "two_cables_percent"}.get(cables, "more_cables_percent")
        return float(rules[name].value)
    return float(rules["trunking_percent"].value) if containment == "trunking" else float("nan")


def fill_findings(
    survey: Survey, catalogue: Catalogue, network: Network, links: Sequence[Link]
) -> Iterator[Finding]:
    """Yield a finding for every segment that the design fills beyond what may be filled."""
    carried: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        for segment in dict.fromkeys(link.segments):
            carried[segment].append(link)
    for segment, users in sorted(carried.items()):
        cables = Counter(cable for link in users for cable in link.cables_on(segment))
        filled = fill_percent(survey, catalogue, network, segment, cables)
        limit = fill_limit_percent(network.segment_containment[segment], cables.total(), catalogue)
        if not filled > limit:
            continue
        name = str(network.segment_id[segment])
        line = network.segment_geometry[segment]
        middle = None if line is None else line.interpolate(0.5, normalized=True)
        yield Finding(
            Severity.FAULT,
            Effect.DEGRADED,
            Action.ENLARGE,
            "segment",
            name,
            f"segment {name} is filled to {filled:.0f} % by {cables.total()} designed cables, {limit:.0f} % may be filled",
            x=float("nan") if middle is None else middle.x,
            y=float("nan") if middle is None else middle.y,
            measured=filled,
            limit=limit,
            unit="%",
            source=catalogue.rules["fill"]["more_cables_percent"].source,
            remedy="recover dead cables, replace several by one fibre, or lay another duct",
            cameras=served_by(links, users),
        )
