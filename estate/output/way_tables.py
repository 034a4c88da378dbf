"""Tables behind a link's explanation: its cables stretch by stretch, what stands where, what else there is."""

from collections.abc import Mapping, Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.link import BudgetLine, Link
from estate.network.network import Network
from estate.output.result import Table, table
from estate.placement.design import Design

RUNS = (
    "link", "stretch", "role", "cable", "installed", "method", "feed", "length_m", "cable_length_m", "nodes",
    "segments", "number",
)  # fmt: skip
EQUIPMENT = ("link", "item", "name", "node", "fed_by")
ALTERNATIVES = ("camera", "rank", "head", "method", "cable_length_m", "cost", "margin_percent", "avoids")
MISSES = ("camera", "rank", "method", "text")
WOULD_STAND = ("camera", "rank", "kind", "text", "change_cost", "method", "head", "cost")
LINK_FACTS = ("link", "feed", "fed_at", "works_cost")
BUDGET_NOTES = ("link", "line", "informs", "note")


def runs_table(links: Sequence[Link], network: Network) -> Table:
    """One row per cable of each stretch, from the head on; nodes and segments in the order they are passed.

    The column `number` is put to it by `numbered_runs`.
    """
    rows = [
        (
            link.id, run.stretch, run.role, run.cable, run.installed or run.trunk, run.method, run.feed, run.length_m,
            run.cable_length_m, [network.node_id[n] for n in run.nodes], [network.segment_id[s] for s in run.segments],
        )
        for link in links
        for run in link.runs
    ]  # fmt: skip
    return table(RUNS[:-1], rows)


def equipment_table(links: Sequence[Link], catalogue: Catalogue) -> Table:
    """One row per item of each link, in the order that it is met, with what feeds it."""
    items = catalogue.items
    rows = [
        (link.id, each.item, items[each.item].name, each.node, each.fed_by)
        for link in links
        for each in link.equipment
    ]
    return table(EQUIPMENT, rows)


def alternatives_table(design: Design) -> Table:
    """One row per link that stands and was not chosen, the cheapest first."""
    rows = [tuple(getattr(each, column) for column in ALTERNATIVES) for each in design.alternatives]
    return table(ALTERNATIVES, rows)


def misses_table(design: Design) -> Table:
    """One row per method and camera without a link: by what it fails, the nearest first."""
    rows = [
        (camera, rank, miss.method, miss.text)
        for camera, misses in design.misses.items()
        for rank, miss in enumerate(misses, 1)
    ]
    return table(MISSES, rows)


def would_stand_table(design: Design) -> Table:
    """One row per change that would give a camera a link, the cheapest first."""
    rows = [
        (camera, rank, each.kind, each.text, each.money, each.method, each.head, each.total)
        for camera, changes in design.changes.items()
        for rank, each in enumerate(changes, 1)
    ]
    return table(WOULD_STAND, rows)


def link_facts_table(links: Sequence[Link], works: Mapping[int, float]) -> Table:
    """One row per link: its camera's feed, where that begins, and the works that it uses, in full."""
    rows = [
        (
            link.id, link.feed, link.fed_at,
            sum(money for segment, money in works.items() if segment in link.segments),
        )
        for link in links
    ]  # fmt: skip
    return table(LINK_FACTS, rows)


def told_lines(link: Link) -> list[BudgetLine]:
    """Return the budget lines that tables hold: without information that has nothing to tell, as a loss with no band."""
    return [line for line in link.lines if not (line.informs and np.isnan(line.value))]


def budget_notes_table(links: Sequence[Link]) -> Table:
    """One row per budget line, numbered within its link: whether it only informs, and what it says in words."""
    rows = [
        (link.id, number, "yes" if line.informs else "no", line.text)
        for link in links
        for number, line in enumerate(told_lines(link), 1)
    ]
    return table(BUDGET_NOTES, rows)
