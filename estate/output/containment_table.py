"""containment.csv: every route with what lies in it, how full it is and what pulling takes."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from estate.findings import NAN, WORST_FIRST, Verdict
from estate.installed.fill import (
    LIMITED,
    Containment,
    Fill,
    bent_limit_percent,
    fill_of,
)
from estate.installed.lying import LyingCable
from estate.links.link import CableRun, Link
from estate.links.pulling import CLOSED, Pull
from estate.network.courses import RIGHT_ANGLE_DEG, route_bends_deg
from estate.output.result import Table, table
from estate.placement.fill_findings import unknown_facts
from estate.placement.pull_findings import DesignedPull, worst_by_route

CONTAINMENT = (
    "route", "status", "containment", "from", "to", "length_m", "ways", "bore_mm", "area_mm2", "width_mm",
    "support_mm", "surface", "depth_mm", "owner", "separation_mm", "installed", "dead", "designed", "cables",
    "fill_before_percent", "fill_percent", "fill_most_percent", "limit_percent", "limit_bent_percent", "verdict",
    "bends", "pits", "pull_cable", "pull_n", "pull_limit_n", "pull_fed_at", "pull_length_m", "pull_bends_deg",
    "pull_radius_m", "pull_verdict", "remarks",
)  # fmt: skip

FROM_SURVEY = (
    "ways", "bore_mm", "area_mm2", "width_mm", "support_mm", "surface", "depth_mm", "owner", "separation_mm",
)  # fmt: skip


def containment_table(
    containment: Containment,
    links: Sequence[Link],
    laid: Mapping[int, Mapping[str, int]],
    pulls: Sequence[DesignedPull],
) -> Table:
    """One row per route: its fullest segment, and the pull through it that is nearest to a cable's limit.

    `laid` are the new cables by segment, `links` those whose runs they are; both empty where nothing is designed.
    """
    segments: dict[int, list[int]] = {}
    for segment, route in enumerate(containment.network.segment_route.tolist()):
        segments.setdefault(route, []).append(segment)
    runs = _new_runs(links, containment)
    worst = worst_by_route(containment.network, pulls)
    rows = [
        _row(containment, route, segments[route], laid, runs.get(route, []), worst.get(route))
        for route in range(len(containment.survey.routes))
        if route in segments
    ]
    return table(CONTAINMENT, rows)


def _new_runs(links: Sequence[Link], containment: Containment) -> dict[int, list[CableRun]]:
    """Return the new cables that pass each route."""
    found: dict[int, list[CableRun]] = {}
    for run in (run for link in links for run in link.runs if run.is_new):
        for route in sorted({containment.route(segment) for segment in run.segments}):
            found.setdefault(route, []).append(run)
    return found


def _row(
    containment: Containment,
    route: int,
    segments: Sequence[int],
    laid: Mapping[int, Mapping[str, int]],
    runs: Sequence[CableRun],
    pull: Pull | None,
) -> tuple[Any, ...]:
    routes, network = containment.survey.routes, containment.network
    listed = _distinct(containment, segments)
    types = Counter(run.cable for run in runs)
    fullest = max(segments, key=lambda s: _order(fill_of(containment, s, laid.get(s, {}))))
    before, fill = fill_of(containment, fullest), fill_of(containment, fullest, laid.get(fullest, {}))
    kind = containment.kind(fullest)
    limited = kind is None or kind in LIMITED
    bends = route_bends_deg(containment.survey, network, segments) / RIGHT_ANGLE_DEG
    bent = bent_limit_percent(fill.limit_percent, bends) if kind in CLOSED else NAN
    return (
        routes["id"][route], routes["status"][route], kind or "", network.node_id[network.segment_from[segments[0]]],
        network.node_id[network.segment_to[segments[-1]]], float(network.segment_length_m[list(segments)].sum()),
        *(routes[name][route] for name in FROM_SURVEY),
        len(listed), sum(cable.is_dead for cable in listed), len(runs),
        [f"{count}×{cable}" for cable, count in sorted(types.items())],
        before.percent if limited else NAN, fill.percent if limited else NAN,
        fill.most_percent if limited else NAN, fill.limit_percent, bent, str(fill.verdict) if limited else "",
        bends, _pits(containment, segments), *_pulled(containment, pull),
        _remarks(containment, segments, listed, fill),
    )  # fmt: skip


def _distinct(containment: Containment, segments: Sequence[int]) -> list[LyingCable]:
    """Return the listed cables of a route, each once."""
    return list({cable.id: cable for s in segments for cable in containment.within.get(s, ())}.values())


def _order(fill: Fill) -> tuple[int, float]:
    """Order fills: the worst verdict last, then by the share of the limit that is used at least."""
    share = fill.least_percent / fill.limit_percent
    return -WORST_FIRST.index(fill.verdict), 0.0 if np.isnan(share) else share


def _pits(containment: Containment, segments: Sequence[int]) -> int:
    network = containment.network
    nodes = {int(n) for s in segments for n in (network.segment_from[s], network.segment_to[s])}
    return sum(network.node_kind[node] == "pit" for node in nodes)


def _pulled(containment: Containment, pull: Pull | None) -> tuple[Any, ...]:
    """Return the cells of the worst pull through a route, blank where nothing is pulled."""
    if pull is None:
        return ("", NAN, NAN, "", NAN, NAN, NAN, "")
    known = not np.isnan(pull.kinder_n)
    return (
        pull.cable, pull.kinder_n, pull.limit_n, containment.network.node_id[pull.feed_node] if known else "",
        pull.section.length_m, pull.section.bends_deg, pull.least_radius_m, str(pull.verdict),
    )  # fmt: skip


def _remarks(
    containment: Containment, segments: Sequence[int], listed: Sequence[LyingCable], fill: Fill
) -> str:
    """Say what is not known of a route's fill, and which cables lie there by inference only."""
    facts = dict.fromkeys(fact for s in segments for fact in unknown_facts(containment, s))
    said = list(facts) if fill.verdict is Verdict.VERIFY or np.isnan(fill.percent) else []
    for basis, words in BASES.items():
        names = [cable.id for cable in listed if cable.basis == basis]
        said += [f"{', '.join(names)} {words}"] if names else []
    return "; ".join(said)


BASES = {
    "inferred": "taken to lie here, on the shortest way",
    "routes": "said to lie here, though nothing in the routes given joins the ends",
}
