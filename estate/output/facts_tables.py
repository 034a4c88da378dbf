"""Tables of what drawings say of ways and cables beside the schedules: sizes, depths, cores."""

import numpy as np

from estate.installed.fill import fill_of
from estate.output.result import Table, table
from estate.placement.design import Design

SEGMENT_FACTS = (
    "segment", "surface", "depth_mm", "ways", "bore_mm", "area_mm2", "width_mm", "barrier", "taken_percent",
    "fill_limit_percent",
)  # fmt: skip
CABLE_FACTS = ("cable", "name", "family", "conductor", "cores", "pairs", "od_mm", "separation_class")
PROFILES = (
    "link", "stretch", "node", "at_m", "quantity", "value", "limit", "unit", "share_percent", "volts_day",
    "volts_night", "volts_min",
)  # fmt: skip
_GIVEN = ("surface", "depth_mm", "ways", "bore_mm", "area_mm2", "width_mm", "barrier")


def segment_facts_table(design: Design) -> Table:
    """One row per segment of a route that carries a link: what its route gives, blank where unknown."""
    network, routes = design.network, design.survey.routes
    rows = []
    for segment in sorted({segment for link in design.links for segment in link.segments}):
        route = int(network.segment_route[segment])
        if route < 0:
            continue
        given = [_plain(routes[name][route]) for name in _GIVEN]
        before = fill_of(design.containment, segment)
        after = fill_of(design.containment, segment, design.laid.get(segment, {}))
        rows.append((str(network.segment_id[segment]), *given, before.percent, after.limit_percent))
    return table(SEGMENT_FACTS, rows)


def cable_facts_table(design: Design) -> Table:
    """One row per cable that the links use."""
    used = sorted({run.cable for link in design.links for run in link.runs})
    entries = [design.catalogue.cables[name] for name in used]
    rows = [
        (c.id, c.name, c.family, c.conductor, c.cores or None, c.pairs or None, c.number("od_mm"), c.separation_class)
        for c in entries
    ]  # fmt: skip
    return table(CABLE_FACTS, rows)


def profiles_table(design: Design) -> Table:
    """One row per node on the way of each link, from the head on: cable so far, budget used, volts of its feed."""
    return table(PROFILES, [tuple(getattr(point, name) for name in PROFILES) for point in design.profiles])


def _plain(value: object) -> object:
    """Return a whole number without its decimals."""
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return int(value)
    return value
