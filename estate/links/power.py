"""Budget lines of the feed: what reaches the camera as power, by day and by night."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from estate.catalogue.tables import Cable, Catalogue, Feed, Figure
from estate.findings import NAN, Verdict
from estate.formulas.conductor import ALUMINIUM_PER_K, COPPER_PER_K, resistance_at_temperature
from estate.formulas.dc_feed import coax_loop_ohm, loop_resistance_ohm, volts_at_ac_load, volts_at_load
from estate.formulas.poe import device_volts_through_extenders, port_power_through_extenders_w, port_power_w
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, SupplyVolts
from estate.links.lines import TOLERANCE, ceiling, graded, unknown
from estate.links.link import BudgetLine
from estate.links.variants import Variant


@dataclass(frozen=True, slots=True)
class VoltsLimit:
    """A limit on the volts at the camera, and where it is known from."""

    volts: float
    source: str


POWER_FACTOR = 1.0
"""Power factor that an AC camera is taken to have: none is published for them. A lower one leaves fewer volts."""


def feed_lines(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
) -> list[BudgetLine]:
    """Return the lines on what reaches the camera as power, by day and by night."""
    feed = conditions.catalogue.feeds[variant.feed]
    if feed.kind == "local":
        return []
    if feed.kind == "poe":
        return poe_lines(variant, camera, length_m, conditions)
    loop_ohm = feed_loop_ohm(variant, length_m, conditions)
    return conductor_lines(variant, camera, loop_ohm, supply_volts(variant, camera, conditions), conditions)


def conductor_lines(
    variant: Variant, camera: CameraFacts, loop_ohm: float, supply: SupplyVolts, conditions: Conditions
) -> list[BudgetLine]:
    """Return the volts at a camera that is fed over a loop of conductors [Ω], by day and at night, and the most."""
    feed = conditions.catalogue.feeds[variant.feed]
    floor = volts_limit(camera, variant, conditions, "volts_min")
    ends_w = end_equipment_w(variant, conditions)
    lines = [
        volts_line(
            state,
            tuple(w + ends_w for w in load_w),
            loop_ohm,
            supply,
            floor,
            conditions,
            ac=feed.kind == "ac",
        )
        for state, load_w in loads(camera, conditions)
    ]
    told = with_night_told(lines, camera, conditions)
    return [*told, volts_max_line(variant, camera, loop_ohm, supply, conditions)]


def feed_loop_ohm(variant: Variant, length_m: float, conditions: Conditions) -> float:
    """Return the loop resistance of a DC or AC feed, out and back [Ω].

    The conductor is as hot as the air around it, and never taken as cooler than 20 °C: these currents don't warm it.
    """
    catalogue = conditions.catalogue
    method, feed = catalogue.methods[variant.method], catalogue.feeds[variant.feed]
    cable = catalogue.cables[variant.power_cable or variant.signal_cable]
    centre = hot_ohm_per_km(cable, "conductor_ohm_per_km", conditions)
    if feed.kind == "coax":
        screen = hot_ohm_per_km(cable, "screen_ohm_per_km", conditions)
        return float(coax_loop_ohm(centre, screen, length_m))
    return float(loop_resistance_ohm(centre, length_m, method.power_out, method.power_back))


def hot_ohm_per_km(cable: Cable, figure: str, conditions: Conditions) -> float:
    """Return a resistance of a cable at the ambient temperature, at least 20 °C [Ω/km]."""
    alpha = ALUMINIUM_PER_K if cable.conductor == "cca" else COPPER_PER_K
    return float(resistance_at_temperature(cable.number(figure), conditions.cable_c, alpha))


def nominal_volts(camera: CameraFacts, variant: Variant, conditions: Conditions) -> float:
    """Return the camera's nominal volts: its own, else its feed's [V]."""
    return camera.volts if not np.isnan(camera.volts) else source_volts(variant, conditions)


def source_volts(variant: Variant, conditions: Conditions) -> float:
    """Return the nominal volts of a feed [V]."""
    return conditions.catalogue.feeds[variant.feed].number("source_volts")


def supply_volts(variant: Variant, camera: CameraFacts, conditions: Conditions) -> SupplyVolts:
    """Return what feeds the link: the supply at the head, else the feed's nominal volts.

    A feed over coax takes the camera's own nominal volts, from the DC supply that gives them.
    """
    feeds = conditions.catalogue.feeds
    feed = feeds[variant.feed]
    volts = nominal_volts(camera, variant, conditions) if feed.kind == "coax" else feed.number("source_volts")
    through_coax = [f.id for f in feeds.values() if feed.kind == "coax" and gives(f, "dc", volts)]
    givers = [variant.feed, *through_coax]
    for giver in givers:
        if giver in conditions.supplies:
            return conditions.supplies[giver]
    return SupplyVolts(volts, volts, "assumed", f"nominal volts of feed {feed.id}; no supply is given")


def gives(feed: Feed, kind: str, volts: float) -> bool:
    """Whether a supply of this kind (dc, ac) and of these rated volts gives a feed."""
    return feed.kind == kind and feed.number("source_volts") == volts


def volts_limit(camera: CameraFacts, variant: Variant, conditions: Conditions, which: str) -> VoltsLimit:
    """Return the camera's least or greatest volts: its own, else a share of its nominal volts."""
    own = getattr(camera, which)
    if not np.isnan(own):
        return VoltsLimit(own, f"declared, points.{which}")
    figure = conditions.catalogue.rules["camera"][f"{which}_factor"]
    volts = float(figure.value) * nominal_volts(camera, variant, conditions)
    return VoltsLimit(
        volts, f"{figure.value:g} × nominal volts: {figure.source} ({figure.status.replace('_', ' ')})"
    )


def loads(camera: CameraFacts, conditions: Conditions) -> list[tuple[str, tuple[float, ...]]]:
    """Return the loads to be judged by state [W]: one, or every value an unknown night load could have."""
    night: tuple[float, ...] = (camera.load_night_w,)
    if night_unknown(camera):
        greatest_w = float(greatest_night_w(camera, conditions.catalogue).value)
        night = (camera.load_w, max(camera.load_w, greatest_w))
    return [("day", (camera.load_w,)), ("night", night)]


def night_unknown(camera: CameraFacts) -> bool:
    """Whether a camera's load at night is judged over a range, for want of its own."""
    return bool(np.isnan(camera.load_night_w) and not np.isnan(camera.load_w) and camera.signal is not None)


def greatest_night_w(camera: CameraFacts, catalogue: Catalogue) -> Figure:
    """Return the greatest load at night that is listed for cameras of this kind [W]."""
    return catalogue.rules["camera"][f"night_w_max_{catalogue.signals[str(camera.signal)].kind}"]


def with_night_told(
    lines: Sequence[BudgetLine], camera: CameraFacts, conditions: Conditions
) -> list[BudgetLine]:
    """Return lines with a note on those at night that were judged up to the greatest load listed."""
    if not night_unknown(camera):
        return list(lines)
    figure = greatest_night_w(camera, conditions.catalogue)
    note = f"(night load not known: judged up to {max(camera.load_w, float(figure.value)):g} W)"
    source = f"night load: {figure.source} ({figure.status.replace('_', ' ')})"
    return [
        replace(
            line,
            text=" ".join(filter(None, (line.text, note))),
            source="; ".join(filter(None, (line.source, source))),
        )
        if line.state == "night" and line.verdict is not Verdict.VERIFY
        else line
        for line in lines
    ]


def end_equipment_w(variant: Variant, conditions: Conditions) -> float:
    """Return what the equipment at the camera draws from the same feed [W]."""
    items = conditions.catalogue.items
    own_w = [items[i].number("own_w") for i in conditions.catalogue.methods[variant.method].at_camera]
    return float(np.nansum(own_w)) if own_w else 0.0


def volts_line(
    state: str,
    load_w: tuple[float, ...],
    loop_ohm: float,
    supply: SupplyVolts,
    floor: VoltsLimit,
    conditions: Conditions,
    *,
    ac: bool = False,
) -> BudgetLine:
    """Return the volts at the camera in one state, over every load it could have where that is unknown."""
    if np.isnan(load_w).any() or np.isnan(loop_ohm):
        missing = "the load" if np.isnan(load_w).any() else "the conductor's resistance"
        return unknown("volts", state, NAN, "V", f"{missing} is not known", limit=floor.volts)
    lines = [_volts_of(state, load, loop_ohm, supply, floor, conditions, ac=ac) for load in load_w]
    if len({line.verdict is Verdict.OUTSIDE for line in lines}) > 1:
        text = f"the {state} load is not known: within at {load_w[0]:g} W, outside at {load_w[-1]:g} W"
        return unknown("volts", state, lines[-1].value, "V", text, limit=floor.volts)
    return lines[-1]


def volts_at_camera(source_volts: float, load_w: float, loop_ohm: float, *, ac: bool) -> float:
    """Return the volts at a load over a loop, as magnitude for AC; NaN where there is no working point [V]."""
    if ac:
        return float(volts_at_ac_load(source_volts, load_w, loop_ohm, POWER_FACTOR))
    return float(volts_at_load(source_volts, load_w, loop_ohm))


def _volts_of(
    state: str,
    load_w: float,
    loop_ohm: float,
    supply: SupplyVolts,
    floor: VoltsLimit,
    conditions: Conditions,
    *,
    ac: bool,
) -> BudgetLine:
    """Return the volts line for one known load."""
    volts = volts_at_camera(supply.least, load_w, loop_ohm, ac=ac)
    if np.isnan(volts):
        when = "at night" if state == "night" else "by day"
        return BudgetLine(
            "volts", state, NAN, floor.volts, "V", NAN, Verdict.OUTSIDE, "calculated", floor.source,
            text=f"no working point {when}",
        )  # fmt: skip
    room = supply.least - floor.volts
    margin = 100 * (volts - floor.volts) / room if room > 0 else NAN
    passes = volts >= floor.volts - TOLERANCE
    verdict = graded(passes, margin, conditions.limits.margin_percent["volts"])
    text = f"at power factor {POWER_FACTOR:g}" if ac else ""
    return BudgetLine(
        "volts", state, volts, floor.volts, "V", margin, verdict, "calculated", floor.source, text=text
    )


def volts_max_line(
    variant: Variant, camera: CameraFacts, loop_ohm: float, supply: SupplyVolts, conditions: Conditions
) -> BudgetLine:
    """Return the most volts the camera can see: the supply at its greatest, under the least load."""
    ceiling_v = volts_limit(camera, variant, conditions, "volts_max")
    most_v, source = ceiling_v.volts, ceiling_v.source
    if np.isnan(camera.load_w) or np.isnan(loop_ohm):
        value = supply.greatest
    else:
        ac = conditions.catalogue.feeds[variant.feed].kind == "ac"
        value = volts_at_camera(supply.greatest, camera.load_w, loop_ohm, ac=ac)
        value = supply.greatest if np.isnan(value) else value
    margin = 100 * (most_v - value) / most_v
    verdict = Verdict.WITHIN if value <= most_v + TOLERANCE else Verdict.OUTSIDE
    return BudgetLine("volts max", "", value, most_v, "V", margin, verdict, "calculated", source)


@dataclass(frozen=True, slots=True)
class Rating:
    """What a new supply on the way may be loaded with, and what the link takes of that before its cable."""

    allowed_w: float
    head_w: float
    """Own load of the equipment at the head of the stretch that it feeds [W]."""
    source: str


UNRATED = Rating(float("inf"), 0.0, "")
"""Where a supply of the survey feeds, which several links load together."""


def supply_lines(
    variant: Variant,
    camera: CameraFacts,
    loop_ohm: float,
    supply: SupplyVolts,
    rating: Rating,
    conditions: Conditions,
) -> list[BudgetLine]:
    """Return what a supply gives to one link at its least volts, loss on the way included, by day and at night."""
    ac = conditions.catalogue.feeds[variant.feed].kind == "ac"
    ends_w = end_equipment_w(variant, conditions)
    lines = []
    for state, load_w in loads(camera, conditions):
        if np.isnan(load_w).any() or np.isnan(loop_ohm):
            continue  # the volts say what is not known
        drawn_w = [
            (w + ends_w) / volts_at_camera(supply.least, w + ends_w, loop_ohm, ac=ac) * supply.least
            + rating.head_w
            for w in load_w
        ]
        if np.isnan(drawn_w).any():
            continue  # no working point: the volts say so
        if drawn_w[0] <= rating.allowed_w < drawn_w[-1]:
            text = f"the {state} load is not known: from {drawn_w[0]:.4g} to {drawn_w[-1]:.4g} W"
            lines.append(unknown("supply power", state, drawn_w[-1], "W", text, limit=rating.allowed_w))
            continue
        lines.append(
            ceiling(
                "supply power", drawn_w[-1], rating.allowed_w, "W", 0.0, source=rating.source, state=state
            )
        )
    return lines


def poe_lines(
    variant: Variant, camera: CameraFacts, length_m: float, conditions: Conditions
) -> list[BudgetLine]:
    """Return power and volts at the device and power at the port for a type of PoE, by day and by night."""
    return poe_lines_over(variant, camera, poe_loop_ohm(variant, length_m, conditions), conditions)


def poe_lines_over(
    variant: Variant, camera: CameraFacts, loop_ohm: float, conditions: Conditions
) -> list[BudgetLine]:
    """Return the same over a loop that is known [Ω]."""
    feed = conditions.catalogue.feeds[variant.feed]
    floor = VoltsLimit(feed.number("device_volts_min"), feed.source("device_volts_min"))
    pse_v = feed.number("pse_volts_min")
    supply = SupplyVolts(pse_v, pse_v, "standard", feed.source("pse_volts_min"))
    lines = []
    for state, load_w in loads(camera, conditions):
        lines.append(power_line("PoE power", state, load_w, feed, "device_w", conditions))
        lines.append(volts_line(state, load_w, loop_ohm, supply, floor, conditions))
        port_w = tuple(float(port_power_w(pse_v, loop_ohm, w)) for w in load_w)
        if not np.isnan(port_w).any():  # without a working point the volts have said so
            lines.append(power_line("PoE port power", state, port_w, feed, "pse_w", conditions))
    return with_night_told(lines, camera, conditions)


def extended_poe_lines(
    variant: Variant, camera: CameraFacts, legs_ohm: Sequence[float], own_w: float, conditions: Conditions
) -> list[BudgetLine]:
    """Return the lines of power by Ethernet past extenders that take `own_w` each out of the same port [W].

    `legs_ohm` are the loops of the stretches from the port on [Ω].
    """
    feed = conditions.catalogue.feeds[variant.feed]
    floor = VoltsLimit(feed.number("device_volts_min"), feed.source("device_volts_min"))
    pse_v = feed.number("pse_volts_min")
    lines = []
    for state, load_w in loads(camera, conditions):
        lines.append(power_line("PoE power", state, load_w, feed, "device_w", conditions))
        if np.isnan(load_w).any():
            lines.append(unknown("volts", state, NAN, "V", "the load is not known", limit=floor.volts))
            continue
        volts = [device_volts_through_extenders(pse_v, legs_ohm, w, own_w) for w in load_w]
        lines.append(_extended_volts_line(state, volts, floor, pse_v, conditions))
        port_w = tuple(port_power_through_extenders_w(pse_v, legs_ohm, w, own_w) for w in load_w)
        if not np.isnan(port_w).any():
            lines.append(power_line("PoE port power", state, port_w, feed, "pse_w", conditions))
    return with_night_told(lines, camera, conditions)


def _extended_volts_line(
    state: str, volts: Sequence[float], floor: VoltsLimit, source_v: float, conditions: Conditions
) -> BudgetLine:
    """Return the volts at the device behind extenders, for the least and the greatest load it could have."""
    when = "at night" if state == "night" else "by day"
    kept = [v >= floor.volts - TOLERANCE for v in volts]
    if any(kept) and not all(kept):
        text = f"the {state} load is not known"
        return unknown("volts", state, volts[-1], "V", text, limit=floor.volts)
    text = f"no working point {when}" if np.isnan(volts[-1]) else ""
    margin = 100 * (volts[-1] - floor.volts) / (source_v - floor.volts)
    verdict = graded(all(kept), margin, conditions.limits.margin_percent["volts"])
    return BudgetLine(
        "volts", state, volts[-1], floor.volts, "V", margin, verdict, "calculated", floor.source, text=text
    )


def poe_loop_ohm(variant: Variant, length_m: float, conditions: Conditions) -> float:
    """Return the loop over the powered pair sets of a channel, cords at both ends included [Ω]."""
    catalogue = conditions.catalogue
    cable = catalogue.cables[variant.signal_cable]
    each_way = 2 * int(catalogue.feeds[variant.feed].number("pair_sets"))
    fixed = hot_ohm_per_km(cable, "conductor_ohm_per_km", conditions)
    loop_ohm = float(loop_resistance_ohm(fixed, length_m, each_way, each_way))
    return loop_ohm + cords_loop_ohm(variant.feed, conditions)


def cords_loop_ohm(feed: str, conditions: Conditions) -> float:
    """Return the loop over the cords at both ends of a powered channel [Ω]."""
    each_way = 2 * int(conditions.catalogue.feeds[feed].number("pair_sets"))
    cord = float(conditions.catalogue.rules["poe"]["cord_ohm_per_km"].value)
    hot = resistance_at_temperature(cord, conditions.cable_c)
    return float(loop_resistance_ohm(hot, conditions.lengths.cords_m, each_way, each_way))


def power_line(
    quantity: str, state: str, watts: tuple[float, ...], feed: Feed, limit: str, conditions: Conditions
) -> BudgetLine:
    """Return a power against what the type of PoE gives there: device_w at the device, pse_w at the port."""
    limit_w, source = feed.number(limit), feed.source(limit)
    if np.isnan(watts).any():
        return unknown(quantity, state, NAN, "W", "the load is not known", limit=limit_w)
    if watts[0] <= limit_w < watts[-1]:
        text = f"the {state} load is not known: from {watts[0]:.4g} to {watts[-1]:.4g} W"
        return unknown(quantity, state, watts[-1], "W", text, limit=limit_w)
    margin = conditions.limits.margin_percent["poe"]
    return ceiling(quantity, watts[-1], limit_w, "W", margin, source=source, state=state)
