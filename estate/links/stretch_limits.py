"""How long one stretch may be, and how much resistance a feed may have: the budgets of the search."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from estate.links.assess import signal_lines
from estate.links.camera import CameraFacts
from estate.links.conditions import NO_JOINTS, Conditions, Joints, SupplyVolts, stream_that_counts
from estate.links.earths import with_items
from estate.links.lines import passes
from estate.links.link import BudgetLine
from estate.links.power import (
    UNRATED,
    Rating,
    end_equipment_w,
    feed_loop_ohm,
    loads,
    poe_lines,
    poe_loop_ohm,
    volts_limit,
    volts_max_line,
)
from estate.links.reach import LONGEST_M, SHORTEST_M, farthest_m, stands
from estate.links.schemes import Scheme
from estate.links.variants import Variant

EXACTLY = 1e-9
"""How near a limit must be to where the lines fail, as a share."""

Lines = list[BudgetLine]


@dataclass(frozen=True)
class StretchLimits:
    """Limits of stretches, each settled once. `longest_m` is beyond every way of the estate [m].

    A reach is looked for beyond that: stretches that share one take their shares of all of it.
    """

    longest_m: float
    _known: dict[tuple[object, ...], float] = field(default_factory=dict)

    def length_m(
        self,
        variant: Variant,
        camera: CameraFacts,
        conditions: Conditions,
        items: tuple[str, ...] = (),
        joints: Joints = NO_JOINTS,
        *,
        powered: bool,
    ) -> float:
        """Return the greatest length at which a stretch stands, -1 where none does [m].

        `camera` has the signal that runs here; `items` stand in the stretch; `powered` where its length decides over
        power by Ethernet too.
        """
        kind = camera.kind if powered else camera.signal
        mbps = stream_that_counts(camera, (variant.method,), conditions.catalogue)
        key = (variant, kind, mbps, conditions.ambient_c, items, joints, powered)

        def lines_at(length_m: float) -> Lines:
            signal = signal_lines(variant, camera, length_m, conditions, joints)
            lines = with_items(signal, items, conditions.catalogue, conditions.limits)
            return [*lines, *(poe_lines(variant, camera, length_m, conditions) if powered else [])]

        if key not in self._known:
            self._known[key] = greatest_length_m(lines_at, max(self.longest_m, LONGEST_M))
        return self._known[key]


def greatest_length_m(lines_at: Callable[[float], Lines], longest_m: float) -> float:
    """Return the length up to which lines are kept, -1 where they aren't at 1 m [m].

    Most lines grow in proportion to length: then two lengths tell the third. Else it is found by halving.
    """
    near, far = lines_at(SHORTEST_M), lines_at(longest_m)
    if not stands(near):
        return -1.0
    if stands(far):
        return longest_m
    guess_m = min(map(_crossing(longest_m), near, far), default=math.inf)
    if SHORTEST_M < guess_m < longest_m:
        below, above = guess_m * (1 - EXACTLY), guess_m * (1 + EXACTLY)
        if stands(lines_at(below)) and not stands(lines_at(above)):
            return guess_m
    return farthest_m(lines_at, longest_m, EXACTLY)[1]


def _crossing(longest_m: float) -> Callable[[BudgetLine, BudgetLine], float]:
    """Return what tells where a straight line between two lengths meets its limit [m]."""

    def at(near: BudgetLine, far: BudgetLine) -> float:
        rise = far.value - near.value
        if near.informs or not rise > 0 or math.isnan(near.limit):
            return math.inf
        return SHORTEST_M + (near.limit - near.value) * (longest_m - SHORTEST_M) / rise

    return at


def supply_rating(scheme: Scheme, conditions: Conditions) -> Rating:
    """Return what the supply on a scheme's way may be loaded with, without limit where the feed begins at the head."""
    if scheme.source == 0:
        return UNRATED
    items, percent = conditions.catalogue.items, conditions.limits.supply_percent
    supplies = [items[i] for i in scheme.stops[scheme.source - 1].items if items[i].kind == "supply"]
    head_w = [items[i].number("own_w") for i in scheme.stages[scheme.source].at_head]
    return Rating(
        allowed_w=supplies[0].number("watts") * percent / 100,
        head_w=sum(w for w in head_w if not math.isnan(w)),
        source=f"{supplies[0].source('watts')}; [limits] supply_percent",
    )


def loop_limit_ohm(
    variant: Variant,
    camera: CameraFacts,
    supply: SupplyVolts,
    conditions: Conditions,
    rating: Rating = UNRATED,
) -> float:
    """Return the greatest loop over which a camera stays above its least volts, -1 where none is known [Ω].

    With constant power P from Vs the volts V at the camera need R = V·(Vs − V)/P; below Vs/2 there is no working
    point, so the loop can't be greater than Vs²/(4·P). A supply that gives Vs·P/V and may give W needs V = Vs·P/W or
    more. One that gives too many volts even over that loop won't do.
    """
    floor_v = volts_limit(camera, variant, conditions, "volts_min").volts
    if supply.least < floor_v:
        return -1.0
    at_v = max(floor_v, supply.least / 2)
    limits = []
    for _, load_w in loads(camera, conditions):
        watts = max(load_w) + end_equipment_w(variant, conditions)
        if math.isnan(watts) or any(map(math.isnan, load_w)):
            return -1.0
        left_w = rating.allowed_w - rating.head_w
        here_v = max(at_v, supply.least * watts / left_w) if left_w > 0 else math.inf
        if here_v > supply.least * (1 + EXACTLY):
            return -1.0
        limits.append(math.inf if watts == 0 else here_v * max(supply.least - here_v, 0.0) / watts)
    limit_ohm = min(limits)
    most = volts_max_line(
        variant, camera, limit_ohm if math.isfinite(limit_ohm) else math.nan, supply, conditions
    )
    return limit_ohm if passes(most) else -1.0


def splice_reach_m(variant: Variant, camera: CameraFacts, conditions: Conditions) -> tuple[float, float]:
    """Return how far the loss of a fibre lets a stretch go, and what a splice takes of that [m]."""

    def loss(length_m: float, joints: Joints = NO_JOINTS) -> BudgetLine:
        lines = signal_lines(variant, camera, length_m, conditions, joints)
        return next(line for line in lines if line.quantity == "fibre loss")

    near, far, spliced = loss(0.0), loss(LONGEST_M), loss(0.0, Joints(good=1))
    db_per_m = (far.value - near.value) / LONGEST_M
    return (near.limit - near.value) / db_per_m, (spliced.value - near.value) / db_per_m


def loop_ohm(variant: Variant, conditions: Conditions) -> tuple[float, float]:
    """Return the loop of a stretch's feed per metre of its cable, inf where it isn't known, and that of its cords [Ω/m, Ω]."""
    if conditions.catalogue.feeds[variant.feed].kind == "poe":
        cords_ohm = poe_loop_ohm(variant, 0.0, conditions)
        ohm = poe_loop_ohm(variant, 1.0, conditions) - cords_ohm
    else:
        ohm, cords_ohm = feed_loop_ohm(variant, 1.0, conditions), 0.0
    return math.inf if math.isnan(ohm) else ohm, cords_ohm
