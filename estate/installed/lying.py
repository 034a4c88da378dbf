"""Where the cables listed in `cables` lie: in use, spare or dead, they all take room."""

from dataclasses import dataclass

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.cable_way import CableWay, cable_ways, named_routes
from estate.network.network import Network
from estate.survey.survey import Survey

DEAD = "dead"


@dataclass(frozen=True, slots=True)
class LyingCable:
    """One listed cable and the segments it lies in."""

    id: str
    row: int
    cable: str | None
    """Its catalogue id, None where its type is not known."""
    is_dead: bool
    segments: tuple[int, ...]
    """In order from its `from`, one passed twice stands twice; empty where its way is not known."""
    basis: str
    """`way` between its ends in its routes; `inferred`, the shortest; `routes`, all of them, as nothing in them joins
    its ends; `unknown`."""


def lying_cables(survey: Survey, network: Network, catalogue: Catalogue) -> tuple[LyingCable, ...]:
    """Return every listed cable with where it lies, in row order."""
    ways = cable_ways(survey, network, range(len(survey.cables)))
    return tuple(_lying(survey, network, catalogue, row, ways[row]) for row in range(len(survey.cables)))


def _lying(
    survey: Survey, network: Network, catalogue: Catalogue, row: int, way: CableWay | None
) -> LyingCable:
    cables = survey.cables
    segments, basis = _place(survey, network, row, way)
    kind = cables["cable"][row]
    return LyingCable(
        id=str(cables["id"][row]),
        row=row,
        cable=kind if kind in catalogue.cables else None,
        is_dead=cables["status"][row] == DEAD,
        segments=segments,
        basis=basis,
    )


def _place(survey: Survey, network: Network, row: int, way: CableWay | None) -> tuple[tuple[int, ...], str]:
    """Return the segments that a cable lies in and what that rests on."""
    if way is not None:
        return way.segments, "inferred" if way.inferred else "way"
    routes = named_routes(survey, row)
    if not routes:
        return (), "unknown"
    # Its routes are told, its ends don't fit them: it is somewhere in them, so it counts in all of them.
    return tuple(np.flatnonzero(np.isin(network.segment_route, routes)).tolist()), "routes"
