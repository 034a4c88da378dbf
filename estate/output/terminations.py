"""The terminations of a design: where every conductor of every link ends."""

from collections.abc import Iterator, Sequence
from typing import Any

from estate.catalogue.tables import Catalogue, Method
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
from estate.links.link import Link
from estate.output.result import Table, table

COLUMNS = ("link", "end", "conductor", "pair", "terminal", "purpose", "strip_mm")

End = tuple[str, Sequence[str]]


def terminations_table(links: Sequence[Link], catalogue: Catalogue) -> Table:
    """One row per conductor and end, spare conductors too; fibre has none, its cores stand in a table of their own.

    Ends are camera and head; a plug's rows stand in the order of its positions. Bared length is given for screw
    terminals only, a plug takes the conductor as it is. A link without a method or cable has no rows.
    """
    code = colour_code(catalogue)
    rows = [
        row
        for link in links
        if link.method in catalogue.methods
        for end in _ends(catalogue.methods[link.method])
        for row in _end_rows(link, end, code, catalogue)
    ]
    return table(COLUMNS, rows)


def _ends(method: Method) -> tuple[End, End]:
    return ("camera", method.at_camera), ("head", method.at_head)


def _end_rows(link: Link, end: End, code: ColourCode, catalogue: Catalogue) -> Iterator[tuple[Any, ...]]:
    """Give the rows of one end, cable by cable."""
    method, feed = catalogue.methods[link.method], catalogue.feeds.get(link.feed)
    name, items = end
    for run in link.runs:
        cable = catalogue.cables.get(run.cable)
        if cable is None:
            continue
        uses = conductor_use(method, cable, feed, catalogue)
        how = "screw" if cable.family == "power" else end_termination(items, catalogue)
        placed = [(use, terminal(use, how, plug_order(method), code)) for use in uses]
        if how == "plug":
            placed.sort(key=lambda each: int(each[1] or len(uses) + each[0].pair))
        for use, place in placed:
            yield (
                link.id,
                name,
                use.conductor,
                use.pair or None,
                place,
                use.purpose,
                _strip(use, how, place, catalogue),
            )


def _strip(use: ConductorUse, how: str, place: str, catalogue: Catalogue) -> float | None:
    """Return how far a conductor is bared for its screw terminal [mm]; None where it has no such terminal."""
    if how != "screw" or not place or use.conductor in COAX:
        return None
    return float(catalogue.rules["conductors"]["strip_mm"].value)
