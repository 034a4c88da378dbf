"""Where a cable may lie, what it costs there, and the ways from a head to every camera."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Cable, Catalogue
from estate.findings import Verdict
from estate.links.prices import PriceBook
from estate.links.separation import SegmentSeparation
from estate.network.network import Network
from estate.network.paths import matrix, tree
from estate.settings import Settings
from estate.survey.survey import Survey

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DUG = ("duct", "buried")
"""Containments that are laid in a trench."""


@dataclass(frozen=True)
class WayRules:
    """What the search for ways needs of one set of cables, per segment."""

    open: Bools
    """Whether these cables may be designed there."""
    open_with_verify: Bools
    """The same, where a fact of the site is still to be established."""
    money: Floats
    """Cost of laying these cables there, works included [currency]; before preference."""
    weight: Floats
    """What the search makes least: money, dearer on discouraged and cheaper on preferred routes."""


def barred_by_place(network: Network, cables: tuple[str, ...], catalogue: Catalogue) -> Bools:
    """Return the segments barred to these cables by environment, by use, or as hazardous."""
    unfit = np.zeros(network.segments, dtype=bool)
    for cable in cables:
        unfit |= _unfit(network, catalogue.cables[cable])
    elsewhere = network.segment_environment != "hazardous"
    barred: Bools = (unfit & elsewhere) | barred_to_all(network)
    return barred


def barred_to_all(network: Network) -> Bools:
    """Return the segments barred to every cable: forbidden, or hazardous and not preferred all the same."""
    hazardous = (network.segment_environment == "hazardous") & (network.segment_use != "preferred")
    barred: Bools = hazardous | (network.segment_use == "forbidden")
    return barred


def _unfit(network: Network, cable: Cable) -> Bools:
    """Return the segments whose environment a cable doesn't stand.

    One that is unfit for indoors may go into a building as far as its figure says, from where routes enter it.
    """
    environment = network.segment_environment.astype(str)
    unfit = ~np.isin(environment, sorted(cable.fit))
    limit_m = cable.number("indoor_max_m")
    if np.isnan(limit_m) or not np.isin(environment[unfit], INDOORS).any():
        return unfit
    return unfit & ~(np.isin(environment, INDOORS) & (farthest_inside_m(network) <= limit_m + TOLERANCE_M))


INDOORS = ("indoor", "riser")
TOLERANCE_M = 1e-9


def farthest_inside_m(network: Network) -> Floats:
    """Return how far the farther end of each indoor segment is from where a route enters, along the routes [m].

    Infinite where nothing enters from outside.
    """
    inside = np.isin(network.segment_environment.astype(str), INDOORS)
    graph = matrix(network, np.where(inside, network.segment_length_m, np.inf))
    outside = np.concatenate([network.segment_from[~inside], network.segment_to[~inside]])
    within = np.concatenate([network.segment_from[inside], network.segment_to[inside]])
    entries = np.intersect1d(outside, within)
    nearest_m = np.full(network.nodes, np.inf)
    for entry in entries.tolist():
        nearest_m = np.minimum(nearest_m, tree(graph, entry).distance)
    start_m, end_m = nearest_m[network.segment_from], nearest_m[network.segment_to]
    # The farthest place may lie within a segment that is entered from both ends; its own cable comes from one.
    return np.where(inside, np.minimum(start_m, end_m) + network.segment_length_m, np.inf)


def works_money(network: Network, survey: Survey, prices: PriceBook) -> Floats:
    """Return the money of making each proposed segment, once for all who use it [currency]."""
    money = np.zeros(network.segments)
    for segment in np.flatnonzero(network.segment_proposed):
        money[segment] = network.segment_length_m[segment] * _works_rate(
            network, survey, prices, int(segment)
        )
    return money


def _works_rate(network: Network, survey: Survey, prices: PriceBook, segment: int) -> float:
    """Rate of new works on a segment [currency/m]: build_cost_m, else trench and containment."""
    route = int(network.segment_route[segment])
    declared = float(survey.routes["build_cost_m"][route]) if route >= 0 else float("nan")
    if not np.isnan(declared):
        return declared
    containment = network.segment_containment[segment] or "surface"
    rate = prices.rate("containment_m", containment).value
    if containment in DUG:
        rate += prices.rate("trench_m", network.segment_surface[segment] or "other").value
    return rate


def lay_rate(cables: tuple[str, ...], prices: PriceBook, slack_percent: float, waste_percent: float) -> float:
    """Return the money of the cables themselves per metre of way, slack and waste included [currency/m]."""
    bought = (1 + slack_percent / 100) * (1 + waste_percent / 100)
    return bought * sum(prices.rate("cable_m", cable).value for cable in cables)


def pull_rates(network: Network, prices: PriceBook) -> Floats:
    """Return the rate of pulling or fixing one cable on each segment [currency/m]."""
    kinds = {kind: prices.rate("pull_m", kind or "other").value for kind in set(network.segment_containment)}
    return np.array([kinds[kind] for kind in network.segment_containment], dtype=float)


def way_rules(
    network: Network,
    cables: tuple[str, ...],
    works: Floats,
    separation: SegmentSeparation,
    catalogue: Catalogue,
    settings: Settings,
    prices: PriceBook,
) -> WayRules:
    """Settle for one set of cables where they may lie and what that costs."""
    barred = barred_by_place(network, cables, catalogue)
    outside = np.zeros(network.segments, dtype=bool)
    verify = np.zeros(network.segments, dtype=bool)
    for cable in cables:
        verdicts = separation.verdicts(catalogue.cables[cable].separation_class)
        outside |= verdicts == Verdict.OUTSIDE
        verify |= verdicts == Verdict.VERIFY
    if settings.design.proximity == "cost":
        outside[:] = False
    lengths = settings.lengths
    rate = lay_rate(cables, prices, lengths.slack_percent, lengths.waste_percent)
    money = network.segment_length_m * (rate + len(cables) * pull_rates(network, prices)) + works
    factor = np.ones(network.segments)
    routing = catalogue.rules["routing"]
    factor[network.segment_use == "preferred"] = float(routing["preferred_factor"].value)
    factor[network.segment_use == "discouraged"] = float(routing["discouraged_factor"].value)
    return WayRules(
        open=~barred & ~outside & ~verify,
        open_with_verify=~barred & ~outside,
        money=money,
        weight=money * factor,
    )
