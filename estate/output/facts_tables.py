"""Tables of what drawings say of ways and cables beside the schedules: sizes, depths, cores."""

from collections import Counter

import numpy as np

from estate.installed.fill import fill_of, limit_percent, unlisted_percent
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
    carried: dict[int, Counter[str]] = {}
    for link in design.links:
        for segment in dict.fromkeys(link.segments):
            carried.setdefault(segment, Counter()).update(link.cables_on(segment))
    rows = []
    for segment in sorted(carried):
        route = int(network.segment_route[segment])
        if route < 0:
            continue
        cables = fill_of(design.containment, segment, carried[segment]).cables
        limit = limit_percent(design.containment, segment, cables)
        given = [_plain(routes[name][route]) for name in _GIVEN]
        taken = unlisted_percent(design.containment, segment)
        rows.append((str(network.segment_id[segment]), *given, taken, limit))
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
