"""The terminations of a design: where every conductor of every link ends."""

from collections.abc import Iterator, Sequence
from typing import Any

from estate.catalogue.tables import Catalogue
from estate.links.conductors import (
    COAX,
    ColourCode,
    ConductorUse,
    colour_code,
    conductor_use,
    end_termination,
    plug_order,
    terminal,
)
from estate.links.link import CableRun, Link
from estate.output.result import Table, table

COLUMNS = ("link", "end", "conductor", "pair", "terminal", "purpose", "strip_mm", "number")


def terminations_table(
    links: Sequence[Link], catalogue: Catalogue, node_id: Sequence[str], numbers: Sequence[str]
) -> Table:
    """One row per conductor and end, spare conductors too; fibre has none, its cores stand in a table of their own.

    Ends are camera and head, or the node on the way, by `node_id`; a plug's rows stand in the order of its positions. Bared length
    is given for screw terminals only, a plug takes the conductor as it is. `numbers` are those of the cables, run by run.
    """
    code = colour_code(catalogue)
    told = iter(numbers)
    numbered = [(link, [(run, next(told)) for run in link.runs]) for link in links]
    rows = [
        (*row, number)
        for link, runs in numbered
        for toward in ("camera", "head")
        for run, number in runs
        for row in _end_rows(link, run, toward, code, catalogue, node_id)
    ]
    return table(COLUMNS, rows)


def _end_rows(
    link: Link, run: CableRun, toward: str, code: ColourCode, catalogue: Catalogue, node_id: Sequence[str]
) -> Iterator[tuple[Any, ...]]:
    """Give the rows of one end of one cable."""
    cable, method = catalogue.cables[run.cable], catalogue.methods[run.method]
    uses = conductor_use(method, cable, catalogue.feeds.get(run.feed), catalogue)
    items = run.at_camera if toward == "camera" else run.at_head
    how = "screw" if cable.family == "power" else end_termination(items, catalogue)
    placed = [(use, terminal(use, how, plug_order(method), code)) for use in uses]
    if how == "plug":
        placed.sort(key=lambda each: int(each[1] or len(uses) + each[0].pair))
    node, end = (run.nodes[-1], link.nodes[-1]) if toward == "camera" else (run.nodes[0], link.nodes[0])
    name = toward if node == end else str(node_id[node])
    for use, place in placed:
        strip_mm = _strip(use, how, place, catalogue)
        yield link.id, name, use.conductor, use.pair or None, place, use.purpose, strip_mm


def _strip(use: ConductorUse, how: str, place: str, catalogue: Catalogue) -> float | None:
    """Return how far a conductor is bared for its screw terminal [mm]; None where it has no such terminal."""
    if how != "screw" or not place or use.conductor in COAX:
        return None
    return float(catalogue.rules["conductors"]["strip_mm"].value)
