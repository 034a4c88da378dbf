"""The schedule of containment: every segment that carries our cable or is made, as route, trench and duct."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.link import Link
from estate.links.ways import DUG
from estate.network.network import Network
from estate.output.lacking import lacking
from estate.output.result import Table, table
from estate.placement.fill import fill_limit_percent, fill_percent, taken_percent
from estate.survey.survey import Survey
from estate.units import MM_PER_M

CONTAINMENT = (
    "segment", "route", "status", "containment", "from", "to", "length_m", "surface", "depth_mm", "ways", "bore_mm",
    "width_mm", "route_bends", "pits", "environment", "cables", "taken_percent", "fill_percent", "fill_limit_percent",
    "separation_mm", "required_mm", "owner", "phase", "accuracy_m", "lacks",
)  # fmt: skip
"""`separation_mm` is what was surveyed, `required_mm` the most that a mains run near it asks for."""


def containment_table(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    links: Sequence[Link],
    works: Sequence[int],
    proximity: Table,
) -> Table:
    """One row per segment in use or made, in the order of the network."""
    carried: dict[int, Counter[str]] = defaultdict(Counter)
    for link in links:
        for segment in dict.fromkeys(link.segments):
            carried[segment].update(link.cables_on(segment))
    required: dict[str, float] = {}
    for row in proximity.records():
        required[row["segment"]] = max(
            required.get(row["segment"], 0.0), (row["required_m"] or 0.0) * MM_PER_M
        )
    rows = [
        _row(survey, catalogue, network, segment, carried[segment], required)
        for segment in sorted({*carried, *works})
    ]
    return table(CONTAINMENT, rows)


def _row(
    survey: Survey,
    catalogue: Catalogue,
    network: Network,
    segment: int,
    cables: Counter[str],
    required: dict[str, float],
) -> tuple[Any, ...]:
    routes, route = survey.routes, int(network.segment_route[segment])
    kind, new = network.segment_containment[segment], bool(network.segment_proposed[segment])
    start, end = int(network.segment_from[segment]), int(network.segment_to[segment])
    name = str(network.segment_id[segment])

    def of_route(column: str) -> Any:
        return routes[column][route] if route >= 0 else None

    length_m, depth_mm = float(network.segment_length_m[segment]), of_route("depth_mm")
    surface = network.segment_surface[segment]
    facts = {"containment": kind, "length_m": length_m}
    if new and kind in DUG:
        facts |= {"surface": surface, "depth_mm": depth_mm}
    taken = taken_percent(survey, network, segment) if route >= 0 else np.nan
    return (
        name, of_route("id"), "new" if new else "existing", kind, network.node_id[start], network.node_id[end], length_m,
        surface, depth_mm, of_route("ways"), of_route("bore_mm"), of_route("width_mm"), of_route("bends"),
        [network.node_id[n] for n in (start, end) if network.node_kind[n] == "pit"],
        network.segment_environment[segment], [f"{n}×{cable}" for cable, n in sorted(cables.items())], taken,
        fill_percent(survey, catalogue, network, segment, cables),
        fill_limit_percent(kind, cables.total(), catalogue), of_route("separation_mm"), required.get(name),
        of_route("owner"), of_route("phase"), of_route("survey_accuracy_m"), lacking(facts),
    )  # fmt: skip
