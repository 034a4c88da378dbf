"""Works in the bill: trench once by surface and depth, containment by type and size, pits, building entries."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from estate.links.prices import Rate
from estate.links.ways import DUG
from estate.network.network import Network
from estate.output.bill_line import BillLine
from estate.placement.design import Design
from estate.survey.survey import Survey
from estate.units import MM_PER_M

NOT_GIVEN = "not given"


def works_lines(design: Design) -> Iterator[BillLine]:
    """Yield trench, new containment, and routes at a rate of their own; each metre of way once."""
    trench: dict[tuple[str, str, str], float] = defaultdict(float)
    laid: dict[tuple[str, str, str], float] = defaultdict(float)
    built: dict[int, float] = defaultdict(float)
    network, routes = design.network, design.survey.routes
    bands_mm = [float(v) for v in design.catalogue.rules["bill"]["depth_bands_mm"].value]
    for segment in design.works:
        route, length_m = int(network.segment_route[segment]), float(network.segment_length_m[segment])
        if route >= 0 and not np.isnan(routes["build_cost_m"][route]):
            built[route] += length_m
            continue
        kind = network.segment_containment[segment] or "surface"
        laid[(kind, *_size(design.survey, route))] += length_m
        if kind in DUG:
            depth = depth_band(float(routes["depth_mm"][route]) if route >= 0 else np.nan, bands_mm)
            trench[(network.segment_surface[segment] or "other", *depth)] += length_m
    for (surface, code, depth_words), length_m in sorted(trench.items()):
        name = f"surface {NOT_GIVEN}" if surface == "other" else surface
        yield BillLine(
            "works", f"trench-{surface}{code}", f"Trench, once for all cables: {name}, {depth_words}", "m", length_m,
            design.prices.rate("trench_m", surface),
        )  # fmt: skip
    for (kind, code, size), length_m in sorted(laid.items()):
        rate = design.prices.rate("containment_m", kind)
        yield BillLine(
            "works", f"containment-{kind}{code}", f"New containment: {kind}{size}", "m", length_m, rate
        )
    for route, length_m in sorted(built.items()):
        rate = Rate(float(routes["build_cost_m"][route]), invented=False)
        yield BillLine(
            "works", f"works-{routes['id'][route]}", _whole_route(design, route), "m", length_m, rate
        )


def depth_band(depth_mm: float, bands_mm: Sequence[float]) -> tuple[str, str]:
    """Return the band that a depth lies in, as the end of an item's name and in words.

    >>> depth_band(600, [500, 1000]), depth_band(float("nan"), [500])
    (('-d1000', 'depth over 0.5 to 1 m'), ('', 'depth not given'))
    """
    if np.isnan(depth_mm):
        return "", f"depth {NOT_GIVEN}"
    above = [band for band in bands_mm if depth_mm > band]
    within = next((band for band in bands_mm if depth_mm <= band), None)
    words = f"over {above[-1] / MM_PER_M:g}" if above else ""
    words += f" to {within / MM_PER_M:g}" if within is not None else ""
    code = f"-d{within:g}" if within is not None else f"-d{bands_mm[-1]:g}+"
    return code, f"depth {words.strip()} m"


def _size(survey: Survey, route: int) -> tuple[str, str]:
    """Return the size of a route's containment, as the end of an item's name and in words; empty where not given."""
    if route < 0:
        return "", ""
    bore_mm, ways, width_mm = (float(survey.routes[name][route]) for name in ("bore_mm", "ways", "width_mm"))
    mm = width_mm if np.isnan(bore_mm) else bore_mm
    if np.isnan(mm):
        return "", f", size {NOT_GIVEN}"
    kind = "width" if np.isnan(bore_mm) else "bore"
    several = "" if np.isnan(ways) or ways == 1 else f"x{ways:g}"
    return f"-{mm:g}mm{several}", f", {kind} {mm:g} mm" + (f", {ways:g} ways" if several else "")


def _whole_route(design: Design, route: int) -> str:
    """Describe a route that is built at its own rate."""
    routes = design.survey.routes
    kind = routes["containment"][route] or f"containment {NOT_GIVEN}"
    text = f"Route {routes['id'][route]} at its own rate: {kind}"
    if kind in DUG:
        depth = depth_band(
            float(routes["depth_mm"][route]), design.catalogue.rules["bill"]["depth_bands_mm"].value
        )
        text += f", trench included, surface {routes['surface'][route] or NOT_GIVEN}, {depth[1]}"
    return text


def pit_and_entry_lines(design: Design) -> Iterator[BillLine]:
    """Yield draw pits and building entries: those that works make, and those that new ducts or cables use."""
    used = {s for link in design.links for run in link.runs if run.is_new for s in run.segments} | set(
        design.works
    )
    counts: Counter[str] = Counter()
    for node, meeting in _segments_at_nodes(design.network, used).items():
        works = [s for s in meeting if s in design.works]
        if design.network.node_kind[node] == "pit" and works:
            every = _all_at(design.network, node)
            counts["pit-new" if bool(design.network.segment_proposed[every].all()) else "pit-entered"] += 1
        if len({int(design.network.segment_building[s]) for s in meeting}) > 1:
            counts["entry-new" if works else "entry-used"] += 1
    for item, text in WORDS.items():
        if counts[item]:
            yield BillLine("works", item, text, "no.", counts[item], own_rate(design, item))


WORDS: Mapping[str, str] = {
    "pit-new": "Draw pit on a new route, with cover and frame",
    "pit-entered": "Existing draw pit, new duct brought in",
    "entry-new": "Building entry of a new route, sealed against water and gas; fire stopping by others",
    "entry-used": "Existing building entry used by new cable, sealed again; fire stopping by others",
}


def own_rate(design: Design, item: str) -> Rate | None:
    """Return the user's rate of an item that weighs in no choice, None where there is none."""
    rates = design.survey.settings.prices.items
    return Rate(float(rates[item]), invented=False) if item in rates else None


def _segments_at_nodes(network: Network, segments: set[int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    for segment in sorted(segments):
        for node in (int(network.segment_from[segment]), int(network.segment_to[segment])):
            found[node].append(segment)
    return dict(sorted(found.items()))


def _all_at(network: Network, node: int) -> list[int]:
    ends = (network.segment_from == node) | (network.segment_to == node)
    return [int(s) for s in np.flatnonzero(ends)]
