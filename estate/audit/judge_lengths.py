"""Measured lengths held against the drawing, and ways that are only inferred."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.findings import Action, Effect, Finding, Severity
from estate.installed.circuits import Piece
from estate.installed.facts import TESTS
from estate.installed.readings import in_another_unit, length_ratios
from estate.installed.rows import CableRow
from estate.installed.ways import LaidPiece, laid_piece
from estate.links.search import LinkSearch
from estate.placement.places import middle
from estate.units import FT_PER_M, M_PER_FT

DRAWING = "length on record over length drawn with mounting heights; common practice, no source"

UNITS = {"feet": FT_PER_M, "metres": M_PER_FT}
"""What a length looks like, by its ratio to the drawn one."""


def every_way(search: LinkSearch, rows: Sequence[CableRow]) -> list[LaidPiece]:
    """Return every cable with its way, spare and dead ones too, as far as that is known."""
    found = (laid_piece(search, Piece(row, row.start, row.end)) for row in rows)
    return [piece for piece in found if piece is not None]


def length_findings(search: LinkSearch, laid: Sequence[LaidPiece]) -> Iterator[Finding]:
    """Yield lengths that don't fit the drawing: a whole file that looks like feet once, others cable by cable."""
    low, high = length_ratios(search.catalogue)
    by_file: dict[str, list[LaidPiece]] = defaultdict(list)
    for piece in laid:
        if not np.isnan(piece.ratio):
            by_file[_file(search, piece)].append(piece)
    for name, pieces in sorted(by_file.items()):
        unit = _unit_of_file(search.catalogue, pieces)
        if unit:
            yield _file_finding(name, pieces, unit)
            continue
        for piece in pieces:
            if not low <= piece.ratio <= high:
                yield _cable_finding(search, piece, low, high)


def _file(search: LinkSearch, piece: LaidPiece) -> str:
    """Return the file that a cable was read from."""
    return str(search.survey.cables.origin[piece.row.row]).partition(" row ")[0]


def _unit_of_file(catalogue: Catalogue, pieces: Sequence[LaidPiece]) -> str:
    """Return what the lengths of a file look like, feet or metres, where nearly all of them do; else nothing."""
    most_percent = float(catalogue.rules["measured"]["other_unit_percent"].value)
    for unit, looks in UNITS.items():
        alike = [p for p in pieces if in_another_unit(p.ratio, catalogue) and (p.ratio > 1) == (looks > 1)]
        if len(pieces) > 1 and 100 * len(alike) > most_percent * len(pieces):
            return unit
    return ""


def _file_finding(name: str, pieces: Sequence[LaidPiece], unit: str) -> Finding:
    middle_ratio = float(np.median([piece.ratio for piece in pieces]))
    other = "metres" if unit == "feet" else "feet"
    return Finding(
        Severity.WATCH, Effect.RECORDS, Action.SURVEY, "estate", name,
        f"{name}: the file's lengths look like {unit}, not {other}: {middle_ratio:.2f} times the drawn ones in the middle "
        f"of {len(pieces)} cables; nothing was converted, both lengths were judged",
        measured=middle_ratio, limit=UNITS[unit], source=DRAWING,
        remedy="ask who wrote them down, convert the column length_m, and audit again",
        cameras=tuple(sorted({p.row.camera for p in pieces if p.row.camera})),
    )  # fmt: skip


def _cable_finding(search: LinkSearch, piece: LaidPiece, low: float, high: float) -> Finding:
    looks = ""
    if in_another_unit(piece.ratio, search.catalogue):
        looks = f"; {'feet' if piece.ratio > 1 else 'metres'}, by the ratio: both lengths were judged"
    x, y = middle(search.network, piece.segments[0]) if piece.segments else (float("nan"), float("nan"))
    return Finding(
        Severity.WATCH, Effect.RECORDS, Action.SURVEY, "cable", piece.row.id,
        f"cable {piece.row.id}: {piece.length_m:g} m on record against {piece.drawn_m:.1f} m drawn, "
        f"{piece.ratio:.2f} times{looks}",
        x=x, y=y, measured=piece.ratio, limit=low if piece.ratio < low else high, source=DRAWING,
        remedy=f"{TESTS['length_m']}; is its way drawn right?",
        cameras=tuple(filter(None, [piece.row.camera])),
    )  # fmt: skip


def inferred_findings(search: LinkSearch, laid: Sequence[LaidPiece]) -> Iterator[Finding]:
    """Yield one finding for all cables whose way is only the shortest one."""
    guessed = [piece for piece in laid if piece.inferred]
    if guessed:
        names = ", ".join(piece.row.id for piece in guessed)
        yield Finding(
            Severity.NOTE, Effect.RECORDS, Action.SURVEY, "estate", search.settings.estate.title,
            f"{len(guessed)} cable{' has' if len(guessed) == 1 else 's have'} no routes on record; the shortest built way is taken: {names}",
            source="the drawing", remedy=TESTS["routes"],
            cameras=tuple(sorted({piece.row.camera for piece in guessed if piece.row.camera})),
        )  # fmt: skip
