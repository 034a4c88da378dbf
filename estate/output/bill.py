"""The bill: items with quantity, rate and amount, each thing counted once."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from decimal import Decimal

from estate.links.prices import Rate
from estate.output.bill_cable import cable_lines, pulling_lines
from estate.output.bill_line import BillLine
from estate.output.bill_works import own_rate, pit_and_entry_lines, works_lines
from estate.placement.acceptance import NAMES, Acceptance
from estate.placement.design import Design
from estate.placement.keep import KEPT


def whole_bill(design: Design, due: Sequence[Acceptance]) -> list[BillLine]:
    """Return the bill of a design with what weighed in no choice: pits, building entries, tests, records.

    Links that are kept as they stand are no part of it.
    """
    kept = {link.id for link in design.links if link.basis == KEPT}
    new = [each for each in due if each.link not in kept]
    records = _records(design) if len(kept) < len(design.links) else ()
    lines = [*bill_lines(design), *pit_and_entry_lines(design), *_tests(design, new), *records]
    order = list(dict.fromkeys(line.heading for line in lines))
    return sorted(lines, key=lambda line: order.index(line.heading))


def bill_lines(design: Design) -> list[BillLine]:
    """Return what a design was chosen by: cable with its allowances, works once, equipment, cabinets, recorders."""
    return [
        *cable_lines(design),
        *pulling_lines(design),
        *works_lines(design),
        *_ends(design),
        *_cabinets(design),
        *_recorders(design),
    ]


def total(lines: Sequence[BillLine]) -> Decimal:
    """Return the sum of the rounded lines."""
    return sum((line.amount for line in lines), Decimal(0))


def by_heading(lines: Sequence[BillLine]) -> dict[str, Decimal]:
    """Return the sum of each heading that has a rate, in the order of the bill."""
    sums: dict[str, Decimal] = {}
    for line in lines:
        if line.rate is not None:
            sums[line.heading] = sums.get(line.heading, Decimal(0)) + line.amount
    return sums


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


def _tests(design: Design, due: Sequence[Acceptance]) -> Iterator[BillLine]:
    """Yield the tests to be made by kind."""
    counts = Counter(each.kind for each in due)
    for kind, name in NAMES.items():
        if counts[kind]:
            item = f"test-{kind.replace(' ', '-')}"
            yield BillLine("tests", item, name, "no.", counts[kind], own_rate(design, item))


def _records(design: Design) -> Iterator[BillLine]:
    text = "As-fitted records: plans, schedules with lengths as laid, test results"
    yield BillLine("records", "records", text, "item", 1, own_rate(design, "records"))
