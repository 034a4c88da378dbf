"""What reaches the camera of an installed link as power: over measured loops where there are any.

A measured loop is that of two conductors in series with their far ends joined: of one pair of a data cable, of both
cores of a power cable, of centre and screen of a coaxial one. Conductors in parallel make it less.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from estate.findings import Verdict
from estate.formulas.dc_feed import loop_resistance_ohm
from estate.installed.built import Built
from estate.installed.readings import Possible, Reading
from estate.installed.rows import CableRow
from estate.installed.ways import LaidPiece
from estate.links.conditions import Conditions
from estate.links.found import Stretch
from estate.links.link import BudgetLine
from estate.links.power import (
    conductor_lines,
    cords_loop_ohm,
    extended_poe_lines,
    feed_loop_ohm,
    hot_ohm_per_km,
    poe_lines_over,
    supply_lines,
    supply_volts,
)
from estate.links.site import supplies_at
from estate.links.stretch_limits import supply_rating
from estate.links.variants import Variant


def feed_lines(possible: Possible, link: Built, reading: Reading) -> list[BudgetLine]:
    """Return the lines on what reaches the camera as power, labelled measured where their loop was."""
    found, ground = link.found, possible.ground
    feed = ground.catalogue.feeds[reading.feed]
    if feed.kind == "local":
        return []
    camera = replace(possible.camera, load_w=reading.load_w, load_night_w=reading.load_night_w)
    conditions = feed_conditions(possible, link)
    legs_ohm = [sum(_part_ohm(possible, link, reading, k)) for k in range(len(link.parts))]
    carrying = legs_ohm[found.scheme.source :]
    if feed.kind == "poe":
        cords_ohm = [
            cords_loop_ohm(reading.feed, _at_stretch(possible, stretch))
            for stretch in found.stretches[found.scheme.source :]
        ]
        if found.scheme.extended:
            items = ground.catalogue.items
            own_w = sum(
                items[i].number("own_w") for stop in found.scheme.stops if stop.by_port for i in stop.items
            )
            lines = extended_poe_lines(
                found.variant,
                camera,
                [a + b for a, b in zip(carrying, cords_ohm, strict=True)],
                own_w,
                conditions,
            )
        else:
            lines = poe_lines_over(found.variant, camera, sum(carrying) + cords_ohm[-1], conditions)
    else:
        loop_ohm = sum(_power_ohm(possible, link, reading)) if found.variant.power_cable else sum(carrying)
        supply = supply_volts(found.variant, camera, conditions)
        lines = conductor_lines(found.variant, camera, loop_ohm, supply, conditions)
        if found.scheme.source:
            rating = supply_rating(found.scheme, conditions)
            lines = [*lines, *supply_lines(found.variant, camera, loop_ohm, supply, rating, conditions)]
    return [_labelled(line) for line in lines] if measured_loop(possible, link) else list(lines)


def measured_loop(possible: Possible, link: Built) -> bool:
    """Whether every cable that carries the power has a measured loop."""
    rows = _power_rows(possible, link)
    return bool(rows) and not any(np.isnan(row.measured["loop_ohm"]) for row in rows)


def _power_rows(possible: Possible, link: Built) -> list[CableRow]:
    if link.found.variant.power_cable:
        return [piece.row for piece in possible.power]
    pieces = dict.fromkeys(part.piece for group in link.parts[link.found.scheme.source :] for part in group)
    return [possible.signal[k].row for k in pieces]


def _labelled(line: BudgetLine) -> BudgetLine:
    if line.quantity not in ("volts", "volts max", "PoE port power") or line.verdict is Verdict.VERIFY:
        return line
    text = "; ".join(filter(None, (line.text, "over the measured loop")))
    return replace(line, basis="measured", text=text)


def feed_conditions(possible: Possible, link: Built) -> Conditions:
    """Return what the feed is judged by: the supplies where it begins, the warmth of the camera's own stretch."""
    ground, found = possible.ground, link.found
    source = found.scheme.source
    begins = str(ground.network.node_id[found.stretches[source].nodes[0]])
    at = begins if source else possible.circuit.fed_at or possible.circuit.head
    plain = _at_stretch(possible, found.stretches[-1])
    return replace(plain, supplies=supplies_at(ground.survey, at, ground.catalogue))


def _at_stretch(possible: Possible, stretch: Stretch | LaidPiece) -> Conditions:
    """Return the conditions along a stretch or a cable: how warm its conductors are."""
    return possible.ground.conditions(None, hot=possible.ground.is_hot(stretch.segments))


def _part_ohm(possible: Possible, link: Built, reading: Reading, k: int) -> Iterator[float]:
    """Yield the loops of the parts of stretch k over the conductors that carry the feed, NaN where none does [Ω]."""
    found = link.found
    stretch = found.stretches[k]
    conditions = _at_stretch(possible, stretch)
    variant = replace(stretch.variant, feed=reading.feed, power_cable="")
    method = possible.catalogue.methods[variant.method]
    feed = possible.catalogue.feeds[reading.feed]
    if found.variant.power_cable:
        return
    each_way = 2 * int(feed.number("pair_sets")) if feed.kind == "poe" else 0
    for part in link.parts[k]:
        length_m = reading.lengths_m[part.piece] * part.share
        loop_ohm = possible.signal[part.piece].row.measured["loop_ohm"] * part.share
        if reading.feed not in method.feeds:
            yield float("nan")
        elif feed.kind == "poe":
            cable = possible.catalogue.cables[variant.signal_cable]
            ohm_per_km = hot_ohm_per_km(cable, "conductor_ohm_per_km", conditions)
            calculated = float(loop_resistance_ohm(ohm_per_km, length_m, each_way, each_way))
            yield calculated if np.isnan(loop_ohm) else loop_ohm / each_way
        elif feed.kind == "coax":
            yield feed_loop_ohm(variant, length_m, conditions) if np.isnan(loop_ohm) else loop_ohm
        elif np.isnan(loop_ohm):
            yield feed_loop_ohm(variant, length_m, conditions)
        else:
            yield loop_ohm * (1 / method.power_out + 1 / method.power_back) / 2


def _power_ohm(possible: Possible, link: Built, reading: Reading) -> Sequence[float]:
    """Return the loops of the power cables; one that isn't on record lies beside the last stretch, as long as that [Ω]."""
    if not possible.power:
        last = link.found.stretches[-1]
        variant = Variant(reading.methods[-1], reading.feed, "", reading.power[0])
        return [feed_loop_ohm(variant, last.cable_length_m, _at_stretch(possible, last))]
    variants = [Variant(reading.methods[-1], reading.feed, "", kind) for kind in reading.power]
    return [
        feed_loop_ohm(variant, length_m, _at_stretch(possible, piece))
        if np.isnan(piece.row.measured["loop_ohm"])
        else piece.row.measured["loop_ohm"]
        for variant, length_m, piece in zip(variants, reading.power_lengths_m, possible.power, strict=True)
    ]
