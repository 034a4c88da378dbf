"""The schedule of ways and trenches: every segment that carries our cable or is made."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from estate.installed.fill import LIMITED, Containment, fill_of
from estate.links.link import Link
from estate.links.ways import DUG
from estate.output.lacking import lacking
from estate.output.result import Table, table
from estate.units import MM_PER_M

WAYS = (
    "segment", "route", "status", "containment", "from", "to", "length_m", "surface", "depth_mm", "ways", "bore_mm",
    "width_mm", "pits", "environment", "links", "cables", "fill_percent", "limit_percent", "separation_mm",
    "required_mm", "owner", "phase", "survey_accuracy_m", "lacks",
)  # fmt: skip
"""`separation_mm` is what was surveyed, `required_mm` the most that a mains run near it asks for."""

FROM_SURVEY = ("ways", "bore_mm", "width_mm")
FROM_SURVEY_TOO = ("owner", "phase", "survey_accuracy_m")


def ways_table(
    containment: Containment,
    links: Sequence[Link],
    laid: Mapping[int, Mapping[str, int]],
    works: Sequence[int],
    proximity: Table,
) -> Table:
    """One row per segment in use or made, in the order of the network; `laid` are the new cables by segment."""
    carried: dict[int, list[str]] = {}
    for link in links:
        for segment in dict.fromkeys(link.segments):
            carried.setdefault(segment, []).append(link.id)
    required: dict[str, float] = {}
    for row in proximity.records():
        asked_mm = (row["required_m"] or 0.0) * MM_PER_M
        required[row["segment"]] = max(required.get(row["segment"], 0.0), asked_mm)
    rows = [
        _row(containment, segment, carried.get(segment, []), laid.get(segment, {}), required)
        for segment in sorted({*carried, *works})
    ]
    return table(WAYS, rows)


def _row(
    containment: Containment,
    segment: int,
    links: Sequence[str],
    cables: Mapping[str, int],
    required: Mapping[str, float],
) -> tuple[Any, ...]:
    routes, network = containment.survey.routes, containment.network
    route, kind = int(network.segment_route[segment]), network.segment_containment[segment]
    start, end = int(network.segment_from[segment]), int(network.segment_to[segment])
    name, new = str(network.segment_id[segment]), bool(network.segment_proposed[segment])

    def of_route(column: str) -> Any:
        return routes[column][route] if route >= 0 else None

    length_m, depth_mm = float(network.segment_length_m[segment]), of_route("depth_mm")
    surface = network.segment_surface[segment]
    facts = {"containment": kind, "length_m": length_m}
    if new and kind in DUG:
        facts |= {"surface": surface, "depth_mm": depth_mm}
    fill = fill_of(containment, segment, cables) if route >= 0 and kind in LIMITED else None
    return (
        name, of_route("id"), "new" if new else "existing", kind, network.node_id[start], network.node_id[end], length_m,
        surface, depth_mm, *map(of_route, FROM_SURVEY),
        [network.node_id[n] for n in (start, end) if network.node_kind[n] == "pit"],
        network.segment_environment[segment], links, [f"{n}×{cable}" for cable, n in sorted(cables.items())],
        np.nan if fill is None else fill.percent, np.nan if fill is None else fill.limit_percent,
        of_route("separation_mm"), required.get(name), *map(of_route, FROM_SURVEY_TOO), lacking(facts),
    )  # fmt: skip
