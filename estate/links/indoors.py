"""Cable with a sheath for outdoors in a building: how far it goes without coming out again."""

from collections.abc import Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from estate.catalogue.tables import Cable, Catalogue
from estate.links.lines import ceiling
from estate.links.link import BudgetLine
from estate.links.ways import INDOORS
from estate.network.network import Network


def indoor_limit_m(catalogue: Catalogue, cables: Sequence[str]) -> float:
    """Return how long an unbroken run indoors these cables may have, infinite where their sheaths fit there [m]."""
    return min((_limit_m(catalogue.cables[cable]) for cable in cables), default=np.inf)


def _limit_m(cable: Cable) -> float:
    limit_m = cable.number("indoor_max_m")
    return np.inf if np.isnan(limit_m) or cable.fit.issuperset(INDOORS) else limit_m


def unfit_indoors(network: Network, catalogue: Catalogue, cables: Sequence[str]) -> NDArray[np.bool_]:
    """Return the segments indoors where one of these cables doesn't fit and is held to its limit."""
    environment = network.segment_environment.astype(str)
    held = np.zeros(network.segments, dtype=bool)
    for cable in (catalogue.cables[name] for name in cables):
        if np.isfinite(_limit_m(cable)):
            held |= np.isin(environment, sorted(set(INDOORS) - cable.fit))
    return held


def runs_m(lengths_m: Sequence[float], inside: Sequence[bool]) -> list[tuple[bool, float]]:
    """Return the unbroken runs inside and outside, in order, with their lengths [m]."""
    pairs = zip(inside, lengths_m, strict=True)
    return [(bool(here), sum(m for _, m in run)) for here, run in groupby(pairs, key=lambda each: each[0])]


def indoor_lines(
    network: Network, catalogue: Catalogue, cables: Sequence[str], segments: Sequence[int]
) -> list[BudgetLine]:
    """Return for each cable with such a limit its longest unbroken run indoors against it."""
    lines = []
    for name in dict.fromkeys(cables):
        cable = catalogue.cables[name]
        limit_m = _limit_m(cable)
        if np.isinf(limit_m):
            continue
        inside = unfit_indoors(network, catalogue, [name])[list(segments)]
        runs = runs_m(network.segment_length_m[list(segments)].tolist(), inside.tolist())
        longest_m = max((length_m for here, length_m in runs if here), default=0.0)
        source = cable.source("indoor_max_m")
        lines.append(ceiling("indoor run", longest_m, limit_m, "m", 0.0, source=source, text=f"of {name}"))
    return lines
