"""How far an uplink may go: loss and reach of its fibre, as lines of a budget and as shares that add up over its way."""

from collections.abc import Iterable

import numpy as np

from estate.links.assess import fibre_lines
from estate.links.conditions import Joints
from estate.links.link import BudgetLine
from estate.links.search import LinkSearch
from estate.links.variants import Variant

UPLINK = "ethernet-fibre"
"""The method of uplinks."""


def uplink_lines(
    search: LinkSearch, cables: Iterable[str], length_m: float, splices: int
) -> list[BudgetLine]:
    """Return loss and reach of an uplink over all its cables, spliced through where they meet.

    Of cables of several types the one that stands it worst is taken for all of them.
    """
    every = [_lines(search, cable, length_m, splices) for cable in sorted(set(cables))]
    return min(every, key=lambda lines: min(line.margin_percent for line in lines))


def shares(search: LinkSearch, cable: str, length_m: float) -> tuple[float, ...]:
    """Return which share of each limit one section of an uplink's way uses; within limits their sum is 1 at most.

    Both ends of a way have connectors, which every uplink pays first; each section has its cable and one splice, and
    a way has one splice fewer than sections. NaN where a figure is unknown.
    """
    found = []
    for here, bare, joint in zip(
        _lines(search, cable, length_m, 1),
        _lines(search, cable, 0, 0),
        _lines(search, cable, 0, 1),
        strict=True,
    ):
        allowed = here.limit - bare.value + (joint.value - bare.value)
        found.append((here.value - bare.value) / allowed if allowed > 0 else np.nan)
    return tuple(found)


def _lines(search: LinkSearch, cable: str, length_m: float, splices: int) -> list[BudgetLine]:
    return fibre_lines(
        Variant(UPLINK, "local", cable), length_m, search.conditions(None), Joints(good=splices)
    )
