"""Where the cables of a circuit lie, and how long they are."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from estate.installed.circuits import Piece
from estate.installed.rows import CableRow
from estate.links.cable_way import cable_ends, cable_way
from estate.links.conditions import cable_length_m
from estate.links.ground import Ground


@dataclass(frozen=True, slots=True)
class LaidPiece:
    """One cable with its way from the head's side, and its length."""

    row: CableRow
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    inferred: bool
    """Whether the way is the shortest, for want of routes."""
    way_m: float
    drawn_m: float
    """Its way with mounting heights, without slack and ends."""
    length_m: float
    """Measured, else worked out from the way with slack and ends."""
    is_measured: bool

    @property
    def ratio(self) -> float:
        """Measured length over drawn, NaN where one of them isn't there; it may have mounting heights in it or not."""
        if not self.is_measured or self.drawn_m <= 0:
            return float("nan")
        return self.length_m / min(max(self.length_m, self.way_m), self.drawn_m)


def laid_piece(ground: Ground, piece: Piece) -> LaidPiece | None:
    """Return where one cable lies; None where nothing built, or none of its routes, joins its ends."""
    row = piece.row
    start, end = cable_ends(ground.survey, ground.network, row.row)
    if min(start, end) < 0:
        return None
    nodes: tuple[int, ...] = (start,)
    segments: tuple[int, ...] = ()
    inferred = False
    if start != end:
        found = cable_way(ground.survey, ground.network, row.row)
        if found is None:
            return None
        nodes, segments, inferred = found.nodes, found.segments, found.inferred
    if row.start != piece.near:
        nodes, segments = nodes[::-1], segments[::-1]
    way_m = float(ground.network.segment_length_m[list(segments)].sum()) if segments else 0.0
    heights_m = sum(_height_m(ground, point) for point in (row.start, row.end))
    worked_out_m = cable_length_m(way_m, heights_m, ground.settings.lengths)
    measured = not np.isnan(row.length_m)
    return LaidPiece(
        row=row,
        nodes=nodes,
        segments=segments,
        inferred=inferred,
        way_m=way_m,
        drawn_m=way_m + heights_m,
        length_m=row.length_m if measured else worked_out_m,
        is_measured=measured,
    )


def laid_pieces(ground: Ground, pieces: Sequence[Piece]) -> tuple[list[LaidPiece], list[str]]:
    """Return where cables lie, and the ids of those for which that isn't known."""
    found = [(piece, laid_piece(ground, piece)) for piece in pieces]
    return [laid for _, laid in found if laid is not None], [p.row.id for p, laid in found if laid is None]


def worked_out_m(ground: Ground, laid: LaidPiece) -> float:
    """Return the length of a cable by its way, whatever was measured [m]."""
    return cable_length_m(laid.drawn_m, 0.0, ground.settings.lengths)


def _height_m(ground: Ground, point: str) -> float:
    """Return the mounting height of a camera or recorder, 0 for other points and where it isn't given [m]."""
    points = ground.survey.points
    row = points.row_of().get(point, -1)
    if row < 0 or points["kind"][row] not in ("camera", "recorder", "patch"):
        return 0.0
    return float(np.nan_to_num(points["height_m"][row]))
