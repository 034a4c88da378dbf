"""Stretches near mains: small cases by hand, and dense sampling with shapely's own distance."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from estate.network.build import build_network
from estate.network.proximity import find_exposures
from tests.layers import layer, survey


def exposures_of(routes, mains, within_m, points=(), **settings):
    """Network and exposures of {id: (geometry, columns)}; drawings are exact unless a layer says else."""
    layers = {
        name: layer(name, [{"id": k, **c} for k, (_, c) in rows.items()], [g for g, _ in rows.values()])
        for name, rows in (("routes", routes), ("mains", mains), ("points", dict(points)))
    }
    whole = survey(**layers, **{"survey_accuracy_m": 0.0, **settings})
    network = build_network(whole)
    return network, find_exposures(network, whole, within_m)


def line(*xy, **columns):
    return LineString(xy), columns


def rows(network, found):
    return [
        (
            str(network.segment_id[found.segment[k]]),
            int(found.mains[k]),
            round(float(found.from_m[k]), 3),
            round(float(found.to_m[k]), 3),
            round(float(found.distance_m[k]), 3),
            bool(found.crossing[k]),
        )
        for k in range(len(found))
    ]


def test_alongside_from_to_distance_and_angle():
    network, found = exposures_of(
        {"R": line((0, 0), (100, 0))}, {"M": line((20, 0.3), (60, 0.3))}, within_m=0.5
    )
    # Past the ends of the run the reach is a quarter circle: √(0.5² − 0.3²) = 0.4 m.
    assert rows(network, found) == [("R.1", 0, 19.6, 60.4, 0.3, False)]
    assert found.angle_deg[0] == pytest.approx(0.0, abs=1e-6)
    assert found.accuracy_m[0] == 0.0


def test_both_accuracies_widen_the_search_and_are_told():
    routes = {"R": line((0, 0), (100, 0), survey_accuracy_m=0.2)}
    network, found = exposures_of(
        routes, {"M": line((0, 1.6), (100, 1.6))}, within_m=0.5, survey_accuracy_m=1.0
    )
    assert rows(network, found) == [("R.1", 0, 0.0, 100.0, 1.6, False)]
    assert found.accuracy_m[0] == pytest.approx(1.2)
    assert not exposures_of(routes, {"M": line((0, 1.8), (100, 1.8))}, 0.5, survey_accuracy_m=1.0)[
        1
    ].segment.size


def test_places_are_along_each_segment_from_its_own_start():
    network, found = exposures_of(
        {"R": line((0, 0), (100, 0))},
        {"M": line((40, 1), (70, 1))},
        within_m=1.0,
        points={"J": (Point(60, 0), {"kind": "pit"})},
    )
    assert rows(network, found) == [("R.1", 0, 40.0, 60.0, 1.0, False), ("R.2", 0, 0.0, 10.0, 1.0, False)]


def test_a_square_crossing_is_a_crossing_and_a_slanting_one_is_not():
    mains = {"M": line((0, 0), (100, 0))}
    network, found = exposures_of({"R": line((50, -20), (50, 20))}, mains, within_m=1.0)
    assert rows(network, found) == [("R.1", 0, 19.0, 21.0, 0.0, True)]
    assert found.angle_deg[0] == pytest.approx(90.0)
    for degrees, crossing in ((61, True), (59, False)):
        run = 20 / np.tan(np.radians(degrees))
        _, found = exposures_of({"R": line((50 - run, -20), (50 + run, 20))}, mains, within_m=1.0)
        assert found.angle_deg[0] == pytest.approx(degrees)
        assert bool(found.crossing[0]) is crossing


def test_a_crossing_never_hides_a_stretch_alongside():
    # 40 m alongside at 0.3 m, then square across.
    network, found = exposures_of(
        {"R": line((0, 0.3), (40, 0.3), (40, -20))}, {"M": line((0, 0), (100, 0))}, within_m=0.5
    )
    assert rows(network, found) == [("R.1", 0, 0.0, 40.0, 0.3, False), ("R.1", 0, 40.0, 40.8, 0.0, True)]


def test_a_crossing_inside_a_stretch_alongside_is_still_told():
    # The run is crossed squarely within reach of its own slanting part.
    network, found = exposures_of(
        {"R": line((10, -20), (10, 20))}, {"M": line((0, 0), (10.5, 0), (30.5, 20))}, within_m=3.0
    )
    assert [r[5] for r in rows(network, found)].count(True) >= 1
    crossing = found.crossing
    assert found.distance_m[crossing].max() == 0.0
    beside = np.flatnonzero(~crossing)
    assert found.distance_m[beside].min() > 0.0


def test_a_crossing_is_followed_over_the_segments_of_its_route():
    network, found = exposures_of(
        {"R": line((50, -20), (50, 20))},
        {"M": line((0, 0), (100, 0))},
        within_m=1.0,
        points={"J": (Point(50, -0.6), {"kind": "pit"})},
        snap_m=0.1,
    )
    assert [(r[0], r[5]) for r in rows(network, found)] == [("R.1", True), ("R.2", True)]


def test_a_square_approach_that_does_not_cross_is_no_crossing():
    network, found = exposures_of(
        {"R": line((50, 20), (50, 0.2))}, {"M": line((0, 0), (100, 0))}, within_m=1.0
    )
    assert rows(network, found) == [("R.1", 0, 19.0, 19.8, 0.2, False)]


def test_levels_are_respected_and_a_blank_one_matches_any():
    mains = {"M": line((0, 1), (9, 1), level=1)}
    for level, count in ((0.0, 0), (1.0, 1), (np.nan, 1)):
        _, found = exposures_of({"R": line((0, 0), (9, 0), level=level)}, mains, within_m=2.0)
        assert len(found) == count


def test_a_spur_is_judged_too():
    network, found = exposures_of(
        {"R": line((0, 0), (100, 0))},
        {"M": line((0, 8), (100, 8))},
        within_m=1.0,
        points={"C": (Point(50, 10), {"kind": "camera"})},
    )
    assert rows(network, found) == [("SPUR-C.1", 0, 7.0, 9.0, 0.0, True)]


# Declared distances


def test_a_declared_distance_to_named_runs_replaces_the_drawing_of_those():
    routes = {"R": line((0, 0), (100, 0), separation_mm=60.0, separation_from=("M1", "M3"))}
    mains = {
        "M1": line((20, 0.3), (60, 0.3)),
        "M2": line((20, -0.3), (60, -0.3)),
        "M3": line((0, 500), (9, 500)),
    }
    network, found = exposures_of(routes, mains, within_m=0.3, survey_accuracy_m=0.5)
    assert [(r[1], r[4]) for r in rows(network, found)] == [(0, 0.06), (1, 0.3), (2, 0.06)]
    assert list(found.declared) == [True, False, True]
    assert list(found.accuracy_m) == [0.0, 1.0, 0.0]
    assert (found.from_m[0], found.to_m[0]) == (0.0, 100.0)


def test_an_unnamed_declared_distance_counts_for_the_runs_found_near():
    mains = {"M1": line((20, 0.3), (60, 0.3)), "M2": line((0, 500), (9, 500))}
    network, found = exposures_of({"R": line((0, 0), (100, 0), separation_mm=90.0)}, mains, within_m=0.5)
    assert rows(network, found) == [("R.1", 0, 0.0, 100.0, 0.09, False)]
    network, found = exposures_of({"R": line((0, 99), (100, 99), separation_mm=90.0)}, mains, within_m=0.5)
    assert rows(network, found) == [("R.1", -1, 0.0, 100.0, 0.09, False)]


def test_schematic_segments_know_only_declared_distances():
    routes = {
        "A": (
            None,
            {"from": "P", "to": "Q", "length_m": 40.0, "separation_mm": 30.0, "separation_from": ("M",)},
        ),
        "B": (None, {"from": "P", "to": "Q", "length_m": 50.0}),
    }
    points = {name: (None, {"kind": "patch"}) for name in "PQ"}
    network, found = exposures_of(routes, {"M": (None, {})}, 5.0, points)
    assert rows(network, found) == [("A.1", 0, 0.0, 40.0, 0.03, False)]


# Against shapely

places = st.tuples(st.floats(0, 60), st.floats(0, 60)).map(lambda p: (round(p[0], 3), round(p[1], 3)))
drawn = st.lists(places, min_size=2, max_size=5, unique=True).filter(lambda c: LineString(c).length > 1)
STEP_M = 0.01


def sampled(shape, within_m, near):
    """Distance along a line of every sample, and its distance to another line."""
    at = np.append(np.arange(0, shape.length, STEP_M), shape.length)
    return at, shapely.distance(shapely.line_interpolate_point(shape, at), near)


@settings(max_examples=120, deadline=None)
@given(drawn, st.lists(drawn, min_size=1, max_size=2), st.floats(0.05, 15))
def test_no_stretch_is_missed_and_none_invented(route, mains, within_m):
    shapes = {f"M{k}": line(*c) for k, c in enumerate(mains)}
    network, found = exposures_of({"R": line(*route)}, shapes, within_m)
    for segment in range(network.segments):
        shape = network.segment_geometry[segment]
        for run, coords in enumerate(mains):
            here = np.flatnonzero((found.segment == segment) & (found.mains == run))
            at, distance = sampled(shape, within_m, LineString(coords))
            covered = np.zeros(len(at), dtype=bool)
            grown = np.zeros(len(at), dtype=bool)
            for k in here:
                covered |= (at >= found.from_m[k] + STEP_M) & (at <= found.to_m[k] - STEP_M)
                grown |= (at >= found.from_m[k] - STEP_M) & (at <= found.to_m[k] + STEP_M)
            assert (distance[covered] <= within_m + STEP_M).all()
            assert grown[distance <= within_m].all()
            # Least distance of all rows is shapely's, where there are any.
            if len(here):
                assert found.distance_m[here].min() == pytest.approx(
                    shape.distance(LineString(coords)), abs=1e-6
                )


@settings(max_examples=120, deadline=None)
@given(drawn, drawn, st.floats(0.05, 15))
def test_stretches_sum_to_the_length_inside_the_run_s_buffer(route, run, within_m):
    network, found = exposures_of({"R": line(*route)}, {"M": line(*run)}, within_m)
    inside = LineString(run).buffer(within_m, quad_segs=256)
    # Piece by piece: a line that folds back over itself counts twice.
    parts = [LineString(p) for s in network.segment_geometry for p in pairwise(s.coords)]
    length = shapely.length(shapely.intersection(parts, inside)).sum()
    assert (found.to_m - found.from_m).sum() == pytest.approx(length, rel=1e-3, abs=2e-3)


@settings(max_examples=60, deadline=None)
@given(drawn.filter(lambda c: LineString(c).is_simple), drawn, st.floats(0.05, 15))
def test_the_direction_of_the_lines_has_no_meaning(route, run, within_m):
    def summary(route, run):
        _, found = exposures_of({"R": line(*route)}, {"M": line(*run)}, within_m, snap_m=0.0)
        length = found.to_m - found.from_m
        nearest = found.distance_m.min(initial=np.inf)
        return length[found.crossing].sum(), length[~found.crossing].sum(), nearest

    assert summary(route, run) == pytest.approx(summary(route[::-1], run[::-1]), abs=1e-5)
