"""What any design costs at least: links and recorders with works paid, and the cheapest trenches beside them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from estate.findings import NAN
from estate.links.search import LinkSearch
from estate.placement.task import Choices, PlacementAnswer, PlacementTask
from estate.placement.trenches import Trenches, cheapest_trenches


def least_trenches(search: LinkSearch, cameras: Sequence[int]) -> Trenches | None:
    """Return the cheapest trenches that join cameras to recorders; None where some can't be joined."""
    network = search.network
    usable = network.segment_use != "forbidden"
    ends = np.stack([network.segment_from, network.segment_to], axis=1)[usable]
    segment = np.flatnonzero(usable)
    forbidden = set(search.settings.design.forbid_recorders)
    sites = [s.node for s in search.sites[: search.recorders] if s.node >= 0 and s.id not in forbidden]
    terminals = [int(network.point_node[search.cameras[c].row]) for c in cameras]
    if not sites or not terminals:
        return None
    try:
        found = cheapest_trenches(
            ends, search.works[usable], np.unique(sites), np.unique(terminals), seconds=TRENCH_SECONDS
        )
    except ValueError:
        return None
    return replace(found, edges=tuple(int(segment[edge]) for edge in found.edges))


TRENCH_SECONDS = 60.0


def comparable(
    task: PlacementTask, answer: PlacementAnswer, other: PlacementTask, least: PlacementAnswer
) -> bool:
    """Whether two answers are alike in all that comes before the cost: cameras served, unverified, discouraged."""
    served = [sorted(np.flatnonzero(each.choice >= 0).tolist()) for each in (answer, least)]
    return served[0] == served[1] and _before_cost(task, answer) == _before_cost(other, least)


def _before_cost(task: PlacementTask, choices: Choices) -> tuple[int, int]:
    links = [task.candidates[int(k)] for k in choices.choice if k >= 0]
    laid = [s for s, n in zip(task.sections, choices.cable, strict=True) if n >= 0]
    discouraged = [link.discouraged for link in links] + [section.discouraged for section in laid]
    return sum(link.verify for link in links), sum(discouraged)


ROUNDING_PERCENT = 1e-7
"""Gap that is nothing but rounding."""


def bounded(answer: PlacementAnswer, bound: float, gap_percent: float) -> PlacementAnswer:
    """Return the answer with a bound that holds for every way, not only for those found.

    An answer farther from it than the gap allowed is the best found, not proven.
    """
    value = answer.objective_value
    bound = min(bound, value) if not np.isnan(bound) else NAN
    gap = 100 * (value - bound) / abs(value) if value else 0.0
    proven = answer.status == "optimal" and gap <= gap_percent + ROUNDING_PERCENT
    status = answer.status if proven or answer.status != "optimal" else "best_found"
    return replace(answer, bound=bound, gap_percent=gap, status=status)
