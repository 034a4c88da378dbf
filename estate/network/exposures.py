"""Stretches of segments near mains runs: where, how near, at what angle, measured how well."""

from dataclasses import dataclass, fields

import numpy as np
import shapely

from estate.network.capsules import Pairs, near_intervals, straights
from estate.network.columns import numbers
from estate.network.lines import agree, pieces
from estate.network.network import Bools, Floats, Ints, Network
from estate.network.stretches import outside_of, united
from estate.survey.survey import Layer, Survey
from estate.units import MM_PER_M

SQUARE_DEG = 60.0
"""A crossing within 30° of square is its own case."""


@dataclass(frozen=True)
class Exposures:
    """One row for each stretch of a segment near a mains run, by segment, mains run and place."""

    segment: Ints
    mains: Ints
    """Row of `mains`; -1 where a declared distance names none and the drawing shows none."""
    from_m: Floats
    """Along the segment as drawn in plan, from its start [m]."""
    to_m: Floats
    distance_m: Floats
    """Least distance [m]."""
    accuracy_m: Floats
    """Sum of both surveys; 0 where declared [m]."""
    angle_deg: Floats
    """Between the two at their nearest, 0 (alongside) to 90; NaN where declared."""
    crossing: Bools
    """The segment crosses the run here, nowhere more than 30° off square."""
    declared: Bools

    def __len__(self) -> int:
        return len(self.segment)


def find_exposures(network: Network, survey: Survey, within_m: float) -> Exposures:
    """Find every stretch of every segment within `within_m`, widened by both surveys' accuracy, of a mains run.

    Levels are respected, a blank one matches any. Where a segment comes near a run both alongside and in a square
    crossing, the two are separate rows, so that a crossing never hides a stretch alongside. A declared
    `separation_mm` replaces the drawing: for the runs named in `separation_from`; where none is named, for every
    run found near the segment, else one row without a run. A named distance leaves other runs as drawn.
    """
    pairs = _near_pairs(network, survey, within_m)
    drawn = _stretches(network, survey, pairs)
    kept, declared = _declared(network, survey, drawn)
    rows = [_chosen(drawn, kept), declared]
    columns = {f.name: np.concatenate([getattr(r, f.name) for r in rows]) for f in fields(Exposures)}
    order = np.lexsort((columns["crossing"], columns["from_m"], columns["mains"], columns["segment"]))
    return Exposures(**{name: column[order] for name, column in columns.items()})


def _chosen(exposures: Exposures, chosen: Bools) -> Exposures:
    """Return the chosen rows."""
    return Exposures(**{f.name: getattr(exposures, f.name)[chosen] for f in fields(Exposures)})


def _accuracy_m(layer: Layer, row: Ints, survey: Survey) -> Floats:
    """Accuracy of the survey of rows of a layer, the setting where blank and for spurs [m]."""
    given = numbers(layer, "survey_accuracy_m", row)
    return np.where(np.isnan(given), survey.settings.network.survey_accuracy_m, given)


def _near_pairs(network: Network, survey: Survey, within_m: float) -> Pairs:
    """Intervals of segment pieces within reach of mains pieces, levels respected."""
    ways, runs = straights(network.segment_geometry), straights(survey.mains.geometry)
    route = network.segment_route[ways.owner]
    if not len(ways.owner) or not len(runs.owner):
        empty, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return Pairs(none, none, empty, empty, empty, empty, empty)
    way_m = within_m + _accuracy_m(survey.routes, route, survey)
    run_m = _accuracy_m(survey.mains, runs.owner, survey)
    tree = shapely.STRtree(pieces(runs.first, runs.last))
    way, run = tree.query(pieces(ways.first, ways.last), predicate="dwithin", distance=way_m + run_m.max())
    way_level = numbers(survey.routes, "level", route)
    run_level = numbers(survey.mains, "level", runs.owner)
    same = agree(way_level[way], run_level[run])
    way, run = way[same], run[same]
    reach_m = way_m[way] + run_m[run]
    return near_intervals(ways, runs, way, run, reach_m)


def _stretches(network: Network, survey: Survey, pairs: Pairs) -> Exposures:
    """Unite the pairs of each segment and mains run to stretches, square crossings apart from the rest."""
    square = _square_crossings(network, pairs)
    rest, crossing = pairs.taken(~square), pairs.taken(square)
    group = _group(pairs, survey)
    beside = united(group[~square], rest.from_m, rest.to_m)
    across = united(group[square], crossing.from_m, crossing.to_m)
    distance, angle = _nearest(rest, beside.member, len(beside))
    parts = outside_of(across, beside, crossing.crossing_m)
    across_m, across_deg = _nearest(crossing, across.member, len(across))
    every = np.concatenate([beside.group, parts.group])
    segment, mains = np.divmod(every, max(len(survey.mains), 1))
    return Exposures(
        segment=segment,
        mains=mains,
        from_m=np.concatenate([beside.from_m, parts.from_m]),
        to_m=np.concatenate([beside.to_m, parts.to_m]),
        distance_m=np.concatenate([distance, across_m[parts.member]]),
        accuracy_m=_accuracy_m(survey.routes, network.segment_route[segment], survey)
        + _accuracy_m(survey.mains, mains, survey),
        angle_deg=np.concatenate([angle, across_deg[parts.member]]),
        crossing=np.arange(len(every)) >= len(beside),
        declared=np.zeros(len(every), dtype=bool),
    )


def _group(pairs: Pairs, survey: Survey) -> Ints:
    """One number for each segment and mains run."""
    return np.asarray(pairs.segment * max(len(survey.mains), 1) + pairs.mains)


def _square_crossings(network: Network, pairs: Pairs) -> Bools:
    """Pairs that belong to a crossing nowhere more than 30° off square, followed over all segments of the route."""
    square = pairs.angle_deg >= SQUARE_DEG
    one = pairs.taken(square)
    offset = _along_route(network)[one.segment]
    route = network.segment_route[one.segment]
    line = np.where(route < 0, len(network.segment_route) + one.segment, route)
    key = np.unique(np.column_stack([line, one.mains]), axis=0, return_inverse=True)[1].reshape(-1)
    found = united(key, offset + one.from_m, offset + one.to_m)
    crosses = np.bincount(found.member, np.isfinite(one.crossing_m), minlength=len(found)) > 0
    result = np.zeros(len(square), dtype=bool)
    result[np.flatnonzero(square)] = crosses[found.member]
    return result


def _along_route(network: Network) -> Floats:
    """Plan length of the route's segments before each segment [m]; segments stand in order along their route."""
    length = np.nan_to_num(shapely.length(network.segment_geometry))
    before = np.cumsum(length) - length
    opens = np.append(True, np.diff(network.segment_route) != 0)[: len(length)]
    first = np.flatnonzero(opens)
    return np.asarray(before - np.repeat(before[first], np.diff(np.append(first, len(length)))))


def _nearest(pairs: Pairs, member: Ints, count: int) -> tuple[Floats, Floats]:
    """Least distance of each stretch and the angle there; of equals the least angle."""
    order = np.lexsort((pairs.angle_deg, np.round(pairs.distance_m, 9), member))
    first = order[np.searchsorted(member[order], np.arange(count))] if count else order[:0]
    return pairs.distance_m[first], pairs.angle_deg[first]


def _declared(network: Network, survey: Survey, drawn: Exposures) -> tuple[Bools, Exposures]:
    """Return which drawn stretches still count, and the declared ones."""
    separation = numbers(survey.routes, "separation_mm", network.segment_route)
    row_of = survey.mains.row_of()
    kept = np.ones(len(drawn), dtype=bool)
    rows: list[tuple[int, int, float, float]] = []
    drawn_m = shapely.length(network.segment_geometry)
    for segment in np.flatnonzero(~np.isnan(separation)).tolist():
        named = survey.routes["separation_from"][network.segment_route[segment]]
        low, high = np.searchsorted(drawn.segment, [segment, segment + 1])
        here = drawn.mains[low:high]
        runs = [row_of[name] for name in named if name in row_of] if named else sorted(set(here.tolist()))
        kept[low:high] = ~np.isin(here, runs)
        length = drawn_m[segment]
        whole = network.segment_length_m[segment] if np.isnan(length) else length
        rows += [(segment, run, whole, separation[segment] / MM_PER_M) for run in runs or [-1]]
    segment_of, mains_of, to_m, distance_m = (
        np.array(rows, dtype=float).reshape(-1, 4).T if rows else np.zeros((4, 0))
    )
    count = len(segment_of)
    return kept, Exposures(
        segment=segment_of.astype(np.int64),
        mains=mains_of.astype(np.int64),
        from_m=np.zeros(count),
        to_m=to_m,
        distance_m=distance_m,
        accuracy_m=np.zeros(count),
        angle_deg=np.full(count, np.nan),
        crossing=np.zeros(count, dtype=bool),
        declared=np.ones(count, dtype=bool),
    )
