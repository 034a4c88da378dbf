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


def fill_percent(
    survey: Survey, catalogue: Catalogue, network: Network, segment: int, cables: Mapping[str, int]
) -> float:
    """Return the share of a segment's section that cables take [%], NaN where a size or the old fill is unknown.

    100·Σd²/D² in a bore, the circles' share of `area_mm2` else, over all ways of the route, with what
    `fill_percent` says is taken already (blank: unknown if existing, none if proposed).
    """
    route = int(network.segment_route[segment])
    if route < 0:
        return float("nan")
    routes = survey.routes
    bore_mm, area_mm2 = float(routes["bore_mm"][route]), float(routes["area_mm2"][route])
    ways = float(routes["ways"][route])
    section_mm2 = area_mm2 if np.isnan(bore_mm) else np.pi / 4 * bore_mm**2
    if not np.isnan(ways) and np.isnan(area_mm2):
        section_mm2 *= ways
    taken = float(routes["fill_percent"][route])
    if np.isnan(taken) and network.segment_proposed[segment]:
        taken = 0.0
    circles_mm2 = sum(n * np.pi / 4 * catalogue.cables[c].number("od_mm") ** 2 for c, n in cables.items())
    return float(taken + 100 * circles_mm2 / section_mm2)


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
