"""Installed cables in use as links may take them over: whole, or cut where equipment can stand."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np

from estate.catalogue.tables import Catalogue
from estate.links.found import Found
from estate.links.spares import Spare, installed_cable
from estate.network.network import Network
from estate.survey.survey import Survey


def reusable_cables(
    survey: Survey,
    network: Network,
    catalogue: Catalogue,
    cables: Iterable[str],
    stops: Sequence[int],
) -> tuple[Spare, ...]:
    """Return the installed cables of some ids as spare ones: each whole, and every length of it between two `stops`.

    `stops` are nodes where equipment can stand. Left out is what a link may not take: of unknown type, with tees,
    without a known way.
    """
    rows = survey.cables.row_of()
    found: list[Spare] = []
    for name in dict.fromkeys(cables):
        whole = installed_cable(survey, network, catalogue, rows[name]) if name in rows else None
        if whole is not None:
            found += _lengths(network, whole, set(stops))
    return tuple(found)


def _lengths(network: Network, whole: Spare, stops: set[int]) -> Iterator[Spare]:
    """Yield a cable whole, then every length of it that ends at a stop; each could have all of its joints."""
    inside = [k for k, node in enumerate(whole.nodes[1:-1], 1) if node in stops]
    marks = [0, *inside, len(whole.nodes) - 1]
    names = [str(network.node_id[whole.nodes[k]]) for k in marks]
    parts = [f"{whole.id} {a}–{b}" for a, b in pairwise(names)]
    if not inside:
        yield whole
        return
    yield replace(whole, parts=tuple(parts))
    metres = network.segment_length_m[list(whole.segments)]
    along_m = np.concatenate([[0.0], np.cumsum(metres)])
    for a, b in combinations(range(len(marks)), 2):
        if b - a == len(marks) - 1:
            continue
        first, beyond = marks[a], marks[b]
        share = float((along_m[beyond] - along_m[first]) / along_m[-1]) if along_m[-1] else 0.0
        yield replace(
            whole,
            id=f"{whole.id} {names[a]}–{names[b]}",
            nodes=whole.nodes[first : beyond + 1],
            segments=whole.segments[first:beyond],
            length_m=whole.length_m * share,
            parts=tuple(parts[a:b]),
        )


def takes_twice(found: Found, spares: Sequence[Spare]) -> bool:
    """Whether a link takes a part of an installed cable twice, which no cable can give."""
    known = {spare.id: spare.taken for spare in spares}
    parts = [part for name in found.spares for part in known.get(name, (name,))]
    return len(parts) > len(set(parts))


def cable_of(name: str, survey: Survey) -> str:
    """Return the id of the installed cable that a name of it, or of a length of it, stands for."""
    rows = survey.cables.row_of()
    return name if name in rows else name.rpartition(" ")[0]
