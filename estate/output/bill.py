"""The bill: items with quantity, rate and amount, each thing counted once."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from estate.links.prices import Rate
from estate.links.ways import DUG
from estate.placement.design import Design
from estate.placement.keep import KEPT

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class BillLine:
    """One item. `amount` is quantity × rate in cents; `invented` rates rank and are left out of a bill."""

    heading: str
    item: str
    description: str
    unit: str
    quantity: float
    rate: Rate

    @property
    def amount(self) -> Decimal:
        """Money of the line, rounded to the cent from the quantity as printed."""
        quantity = Decimal(str(round(self.quantity, 2)))
        return (quantity * Decimal(str(self.rate.value))).quantize(CENT, ROUND_HALF_UP)


def bill_lines(design: Design) -> list[BillLine]:
    """Return the bill of a design: cable net, waste on lines of its own, works once, equipment, cabinets, recorders."""
    return [
        *_cable(design),
        *_pulling(design),
        *_works(design),
        *_ends(design),
        *_cabinets(design),
        *_recorders(design),
    ]


def total(lines: Sequence[BillLine]) -> Decimal:
    """Return the sum of the rounded lines."""
    return sum((line.amount for line in lines), Decimal(0))


def by_heading(lines: Sequence[BillLine]) -> dict[str, Decimal]:
    """Return the sum of each heading, in the order of the bill."""
    sums: dict[str, Decimal] = {}
    for line in lines:
        sums[line.heading] = sums.get(line.heading, Decimal(0)) + line.amount
    return sums


def _cable(design: Design) -> Iterator[BillLine]:
    net: dict[str, float] = defaultdict(float)
    for link in design.links:
        for run in link.runs:
            if run.is_new:
                net[run.cable] += run.cable_length_m
    waste = design.survey.settings.lengths.waste_percent
    for cable, metres in sorted(net.items()):
        rate, name = design.prices.rate("cable_m", cable), design.catalogue.cables[cable].name
        yield BillLine("cable", f"cable-{cable}", f"{name}, net", "m", metres, rate)
        if waste:
            text = f"{name}, waste allowance {waste:g} %"
            yield BillLine("cable", f"waste-{cable}", text, "m", metres * waste / 100, rate)


def _pulling(design: Design) -> Iterator[BillLine]:
    metres: dict[str, float] = defaultdict(float)
    network = design.network
    for link in design.links:
        for segment in (s for run in link.runs if run.is_new for s in run.segments):
            kind = network.segment_containment[segment] or "other"
            metres[kind] += float(network.segment_length_m[segment])
    for kind, length_m in sorted(metres.items()):
        where = "containment not given" if kind == "other" else kind
        yield BillLine(
            "installation", f"pull-{kind}", f"Pull or fix one cable: {where}", "m", length_m,
            design.prices.rate("pull_m", kind),
        )  # fmt: skip


def _works(design: Design) -> Iterator[BillLine]:
    trench: dict[str, float] = defaultdict(float)
    laid: dict[str, float] = defaultdict(float)
    built: dict[int, float] = defaultdict(float)
    network, routes = design.network, design.survey.routes
    for segment in design.works:
        route, length_m = int(network.segment_route[segment]), float(network.segment_length_m[segment])
        kind = network.segment_containment[segment] or "surface"
        if route >= 0 and routes["build_cost_m"][route] == routes["build_cost_m"][route]:
            built[route] += length_m
            continue
        laid[kind] += length_m
        if kind in DUG:
            trench[network.segment_surface[segment] or "other"] += length_m
    for surface, length_m in sorted(trench.items()):
        name = "surface not given" if surface == "other" else surface
        rate = design.prices.rate("trench_m", surface)
        yield BillLine(
            "works", f"trench-{surface}", f"Trench, once for all cables: {name}", "m", length_m, rate
        )
    for kind, length_m in sorted(laid.items()):
        rate = design.prices.rate("containment_m", kind)
        yield BillLine("works", f"containment-{kind}", f"New containment: {kind}", "m", length_m, rate)
    for route, length_m in sorted(built.items()):
        rate = Rate(float(routes["build_cost_m"][route]), invented=False)
        name = str(routes["id"][route])
        yield BillLine("works", f"works-{name}", f"Route {name} at its own rate", "m", length_m, rate)


def _ends(design: Design) -> Iterator[BillLine]:
    items: dict[str, int] = defaultdict(int)
    ends: dict[str, int] = defaultdict(int)
    for link in (each for each in design.links if each.basis != KEPT):
        for each in link.equipment:
            items[each.item] += 1
        for run in link.runs:
            if not run.shared:
                ends[design.catalogue.cables[run.cable].family] += 2
    for item, count in sorted(items.items()):
        name = design.catalogue.items[item].name
        rate = design.prices.item(design.catalogue.items[item])
        yield BillLine("equipment", item, name, "no.", count, rate)
    for family, count in sorted(ends.items()):
        rate = design.prices.rate("termination", family)
        yield BillLine(
            "terminations", f"termination-{family}", f"Cable end made off: {family}", "no.", count, rate
        )


def _cabinets(design: Design) -> Iterator[BillLine]:
    """Yield new cabinets, power brought to them, and their switches by model."""
    items, points = design.catalogue.items, design.survey.points
    listed = design.prices.item(items["cabinet"])
    counts: Counter[tuple[str, str, Rate]] = Counter()
    for use in design.cabinets:
        if not use.patch.existing:
            own = float(points["cost"][use.patch.row])
            rate = listed if math.isnan(own) else Rate(own, invented=False)
            counts["cabinet", items["cabinet"].name, rate] += 1
        if use.power_cost:
            text = "Power brought to a cabinet, by a licensed electrician"
            counts["cabinet-power", text, Rate(use.power_cost, invented=False)] += 1
        if use.switch is not None and not use.switch.existing:
            switch = items[use.switch.model]
            counts[switch.id, switch.name, design.prices.item(switch)] += 1
    for (item, text, rate), count in sorted(counts.items(), key=lambda each: (each[0][0], each[0][2].value)):
        yield BillLine("cabinets", item, text, "no.", count, rate)


def _recorders(design: Design) -> Iterator[BillLine]:
    counts: dict[tuple[str, int, float, bool], int] = defaultdict(int)
    points = design.survey.points
    for use in design.recorders:
        if use.site.existing:
            continue
        own = points["cost"][use.site.row] == points["cost"][use.site.row]
        invented = not own and design.prices.rate("recorder", str(use.channels)).invented
        counts[(f"recorder-{use.channels}", use.channels, use.cost, invented)] += 1
    for (item, channels, cost, invented), count in sorted(counts.items()):
        text = f"Recorder, {channels} channels"
        yield BillLine("recorders", item, text, "no.", count, Rate(cost, invented=invented))
