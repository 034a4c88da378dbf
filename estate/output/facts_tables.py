"""Tables of what drawings say of ways and cables beside the schedules: sizes, depths, cores."""

from collections.abc import Mapping, Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.installed.fill import Containment, fill_of
from estate.links.link import Link
from estate.output.result import Table, table
from estate.placement.profiles import ProfilePoint

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


def segment_facts_table(
    containment: Containment, links: Sequence[Link], laid: Mapping[int, Mapping[str, int]]
) -> Table:
    """One row per segment of a route that carries a link: what its route gives, blank where unknown.

    `laid` are the new cables by segment. What is taken is the room of all cables but those of the links.
    """
    network, routes = containment.network, containment.survey.routes
    own: dict[int, set[str]] = {}
    for run in (run for link in links for run in link.runs):
        for segment in run.segments:
            own.setdefault(segment, set()).add(run.installed)
    rows = []
    for segment in sorted({segment for link in links for segment in link.segments}):
        route = int(network.segment_route[segment])
        if route < 0:
            continue
        given = [_plain(routes[name][route]) for name in _GIVEN]
        beside = fill_of(containment, segment, without=frozenset(own.get(segment, ())))
        whole = fill_of(containment, segment, laid.get(segment, {}))
        rows.append((str(network.segment_id[segment]), *given, beside.percent, whole.limit_percent))
    return table(SEGMENT_FACTS, rows)


def cable_facts_table(catalogue: Catalogue, links: Sequence[Link]) -> Table:
    """One row per cable that the links use; one whose type nobody knows has none."""
    used = sorted({run.cable for link in links for run in link.runs})
    entries = [catalogue.cables[name] for name in used if name in catalogue.cables]
    rows = [
        (c.id, c.name, c.family, c.conductor, c.cores or None, c.pairs or None, c.number("od_mm"), c.separation_class)
        for c in entries
    ]  # fmt: skip
    return table(CABLE_FACTS, rows)


def profiles_table(points: Sequence[ProfilePoint]) -> Table:
    """One row per node on the way of each link, from the head on: cable so far, budget used, volts of its feed."""
    return table(PROFILES, [tuple(getattr(point, name) for name in PROFILES) for point in points])


def _plain(value: object) -> object:
    """Return a whole number without its decimals."""
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return int(value)
    return value
