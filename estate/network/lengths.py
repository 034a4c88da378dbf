"""How long segments are: surveyed, else drawn with rises and steps between levels."""

from dataclasses import dataclass

import numpy as np

from estate.findings import Action, Effect, Finding, Severity
from estate.network.columns import numbers
from estate.network.network import Bools, Floats, Ints
from estate.network.nodes import Nodes
from estate.network.pieces import Pieces
from estate.survey.survey import Survey

LEVEL_HEIGHT_M = 3.5
"""Height of a level where no building gives its own [m]; common practice, no source."""


def lengths_m(pieces: Pieces, nodes: Nodes, survey: Survey) -> tuple[Floats, list[Finding]]:
    """Length of way of every segment [m], and what can't be counted.

    See `build_network` for the rule. A schematic row without a length stays unknown (NaN).
    """
    routes = survey.routes
    surveyed = numbers(routes, "length_m", pieces.route)
    rise = numbers(routes, "rise_m", pieces.route)
    drawn = pieces.end_m - pieces.start_m + np.nan_to_num(rise) * pieces.share
    step, findings = _steps(pieces, nodes, survey, np.isfinite(rise))
    length = np.where(np.isfinite(surveyed), surveyed * pieces.share, drawn + step)
    return length, findings


@dataclass(frozen=True)
class _Ends:
    """Both ends of every drawn segment whose route has a level."""

    segment: Ints
    node: Ints
    level: Floats
    through: Bools
    """Whether the route goes on beyond this end."""
    rises: Bools


def _ends(pieces: Pieces, nodes: Nodes, survey: Survey, has_rise: Bools) -> _Ends:
    level = numbers(survey.routes, "level", pieces.route)
    same = (pieces.route[1:] == pieces.route[:-1]) & (pieces.route[1:] >= 0)
    before, after = np.append(False, same), np.append(same, False)
    known = np.flatnonzero(~np.isnan(level) & ~np.isnan(pieces.start_m))
    return _Ends(
        segment=np.tile(known, 2),
        node=nodes.number[np.concatenate([pieces.start_node[known], pieces.end_node[known]])],
        level=np.tile(level[known], 2),
        through=np.concatenate([before[: len(level)][known], after[: len(level)][known]]),
        rises=np.tile(has_rise[known], 2),
    )


def _steps(
    pieces: Pieces, nodes: Nodes, survey: Survey, has_rise: Bools
) -> tuple[Floats, list[Finding]]:  # fmt: skip
    """Extra length of each segment for the steps at points that join levels [m]."""
    ends = _ends(pieces, nodes, survey, has_rise)
    step = np.zeros(len(pieces))
    findings: list[Finding] = []
    height = numbers(survey.buildings, "level_height_m", nodes.building)
    height = np.where(np.isnan(height), LEVEL_HEIGHT_M, height)
    for node in _joining_levels(ends, nodes):
        here = np.flatnonzero(ends.node == node)
        through = np.unique(ends.level[here[ends.through[here]]])
        stop = here[~ends.through[here]]
        if len(through) > 1:
            findings.append(_uncounted(nodes, int(node), through))
        if ends.rises[stop].any():
            continue
        base = through[0] if len(through) else nodes.level[node]
        base = ends.level[here].min() if np.isnan(base) else base
        np.add.at(step, ends.segment[stop], np.abs(ends.level[stop] - base) * height[node])
    return step, findings


def _joining_levels(ends: _Ends, nodes: Nodes) -> Ints:
    """Nodes with a point where routes of different levels meet."""
    low, high = np.full(len(nodes.id), np.inf), np.full(len(nodes.id), -np.inf)
    np.minimum.at(low, ends.node, ends.level)
    np.maximum.at(high, ends.node, ends.level)
    has_point = np.zeros(len(nodes.id), dtype=bool)
    has_point[nodes.point_node[nodes.point_node >= 0]] = True
    return np.flatnonzero(has_point & np.isfinite(low) & (low < high))


def _uncounted(nodes: Nodes, node: int, through: Floats) -> Finding:
    levels = " and ".join(f"{level:g}" for level in through)
    return Finding(
        Severity.WATCH,
        Effect.RECORDS,
        Action.SURVEY,
        "node",
        str(nodes.id[node]),
        f"routes of levels {levels} go through {nodes.id[node]}: the way between them isn't in any length",
        x=float(nodes.xy[node, 0]),
        y=float(nodes.xy[node, 1]),
        remedy="end the lower or the upper route at the point, or draw the riser with its rise_m",
    )
