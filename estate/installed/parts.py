"""The signal cables of a circuit cut at the equipment on the way."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from estate.installed.ways import LaidPiece
from estate.links.ground import Ground

ON_THE_WAY = ("repeater", "extender", "switch", "encoder", "converter", "supply")
RESTORING = ("repeater", "extender", "switch", "encoder", "converter")


@dataclass(frozen=True, slots=True)
class Part:
    """One cable, or a part of one between equipment: which piece it belongs to, and its share of that piece's length."""

    piece: int
    nodes: tuple[int, ...]
    segments: tuple[int, ...]
    share: float


@dataclass(frozen=True, slots=True)
class Between:
    """What stands between two parts: nothing where one cable is only patched through to the next."""

    items: tuple[str, ...]
    patched: bool
    """Whether two cables meet here."""


def parts_of(ground: Ground, laid: Sequence[LaidPiece]) -> tuple[list[Part], list[Between]]:
    """Return the parts from the head on, and what stands between them, one fewer."""
    parts: list[Part] = []
    between: list[Between] = []
    for k, piece in enumerate(laid):
        cuts = sorted(set(_cuts(ground, laid, k)))
        if parts:
            here = _items_at(ground, laid, piece.nodes[0])
            between.append(Between(here, patched=True))
        bounds = [0, *(i for i in cuts if 0 < i < len(piece.nodes) - 1), len(piece.nodes) - 1]
        for number, (first, last) in enumerate(pairwise(bounds)):
            if number:
                between.append(Between(_items_at(ground, laid, piece.nodes[first]), patched=False))
            segments = piece.segments[first:last]
            way_m = float(ground.network.segment_length_m[list(segments)].sum()) if segments else 0.0
            share = way_m / piece.way_m if piece.way_m and len(bounds) > 2 else 1.0
            parts.append(Part(k, piece.nodes[first : last + 1], segments, share))
    return parts, between


def standing(ground: Ground, laid: Sequence[LaidPiece]) -> list[tuple[str, int]]:
    """Return the items recorded along cables, with their nodes; -1 for a node that is no point."""
    recorded = [each for piece in laid for each in piece.row.equipment]
    points = ground.survey.points.row_of() if recorded else {}
    found = []
    for item, name in recorded:
        row = points.get(name, -1)
        found.append((item, int(ground.network.point_node[row]) if row >= 0 else -1))
    return list(dict.fromkeys(found))


def _cuts(ground: Ground, laid: Sequence[LaidPiece], k: int) -> Iterator[int]:
    """Yield the places in a piece's nodes where equipment stands."""
    nodes = laid[k].nodes
    for item, node in standing(ground, laid):
        if ground.catalogue.items[item].kind in ON_THE_WAY and node in nodes:
            yield nodes.index(node)


def _items_at(ground: Ground, laid: Sequence[LaidPiece], node: int) -> tuple[str, ...]:
    """Return the equipment on the way that stands at a node."""
    kinds = ground.catalogue.items
    return tuple(item for item, at in standing(ground, laid) if at == node and kinds[item].kind in ON_THE_WAY)
