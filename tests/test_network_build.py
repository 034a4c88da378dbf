"""Lines to a graph: small cases with every number worked by hand."""

import networkx as nx
import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box

from estate.findings import Action, Effect, Severity
from estate.network.build import build_network
from tests.layers import layer, survey


def network_of(routes, points=(), buildings=(), **settings):
    """A network of {id: (geometry or None, columns)} for each layer."""
    layers = {
        name: layer(
            name,
            [{"id": key, **columns} for key, (_, columns) in rows.items()],
            [shape for shape, _ in rows.values()],
        )
        for name, rows in (("routes", routes), ("points", dict(points)), ("buildings", dict(buildings)))
    }
    return build_network(survey(**layers, **settings))


def line(*xy, **columns):
    return LineString(xy), columns


def point(x, y, kind="junction", **columns):
    return Point(x, y), {"kind": kind, **columns}


def segments(network):
    return {
        str(network.segment_id[k]): (
            str(network.node_id[network.segment_from[k]]),
            str(network.node_id[network.segment_to[k]]),
            pytest.approx(network.segment_length_m[k], abs=1e-6),
        )
        for k in range(network.segments)
    }


def findings(network, action):
    return [f for f in network.findings if f.action == action]


def components(network):
    return nx.number_connected_components(network.graph())


def node(network, name):
    return list(network.node_id).index(name)


# Ends


def test_an_undershoot_of_30_cm_joins_and_splits_the_other_route():
    network = network_of({"A": line((0, 0), (100, 0)), "B": line((40, 0.3), (40, 50))})
    assert segments(network) == {
        "A.1": ("N1", "N2", 40.0),
        "A.2": ("N2", "N4", 60.0),
        "B.1": ("N2", "N3", 49.7),
    }
    assert findings(network, Action.CONNECT) == []
    (join,) = network.joins
    assert (join.kind, join.first, join.second) == ("end-side", "B", "A")
    assert join.gap_m == pytest.approx(0.3)


def test_a_gap_of_80_cm_does_not_join_and_is_told_with_gap_place_and_both_routes():
    network = network_of({"A": line((0, 0), (100, 0)), "B": line((40, 0.8), (40, 50))})
    assert components(network) == 2
    (gap,) = findings(network, Action.CONNECT)
    assert (gap.severity, gap.effect, gap.subject) == (Severity.WATCH, Effect.PICTURE, "B")
    assert gap.measured == pytest.approx(0.8)
    assert (gap.x, gap.y) == (40, 0.8)
    assert "route A" in gap.text
    assert "0.80 m" in gap.text


@pytest.mark.parametrize(("gap", "joined"), [(0.5, True), (0.501, False)])
def test_the_snap_itself_still_joins(gap, joined):
    # Large coordinates as in UTM, where 0.5 has no exact difference.
    network = network_of(
        {
            "A": line((531000.1, 5701000), (531050.1, 5701000)),
            "B": line((531050.1 + gap, 5701000), (531100, 5701000)),
        }
    )
    assert components(network) == (1 if joined else 2)
    assert len(findings(network, Action.CONNECT)) == (0 if joined else 1)


def test_two_ends_that_face_each_other_over_a_gap_are_one_finding():
    network = network_of({"A": line((0, 0), (50, 0)), "B": line((52, 0), (90, 0))})
    (gap,) = findings(network, Action.CONNECT)
    assert gap.measured == pytest.approx(2.0)


@pytest.mark.parametrize("distance", [4.9, 5.1])
def test_a_loose_end_is_told_up_to_5_m(distance):
    network = network_of({"A": line((0, 0), (50, 0)), "B": line((50 + distance, 0), (90, 0))})
    assert len(findings(network, Action.CONNECT)) == (distance < 5)


def test_a_loose_end_with_a_point_or_of_a_route_that_joins_nearby_is_no_gap():
    network = network_of(
        {"A": line((0, 0), (50, 0)), "B": line((52, 0), (90, 0)), "C": line((20, 0), (20, 3))},
        {"P": point(52, 0, "pit"), "Q": point(50, 0, "patch")},
    )
    assert findings(network, Action.CONNECT) == []


def test_a_route_shorter_than_the_snap_keeps_its_two_ends():
    network = network_of({"A": line((0, 0), (0.4, 0))})
    assert segments(network) == {"A.1": ("N1", "N2", 0.4)}


def test_a_chain_of_ends_wider_than_twice_the_snap_is_noted():
    routes = {f"R{k}": line((0.45 * k, 0), (0.45 * k, 30.0 + k), (k * 20, 60)) for k in range(5)}
    network = network_of(routes)
    (note,) = [f for f in network.findings if f.subject_kind == "node"]
    assert note.severity == Severity.NOTE
    assert note.measured == pytest.approx(1.8)
    assert network.segments == 5


# Loops and parallels


def test_parallel_routes_and_closed_loops_are_kept():
    network = network_of(
        {
            "A": line((0, 0), (10, 0)),
            "B": line((0, 0), (5, 5), (10, 0)),
            "C": line((10, 0), (20, 0), (20, 10), (10, 0)),
        }
    )
    assert segments(network) == {
        "A.1": ("N1", "N2", 10.0),
        "B.1": ("N1", "N2", 2 * 50**0.5),
        "C.1": ("N2", "N2", 20 + 200**0.5),
    }


def test_an_end_on_the_route_s_own_side_makes_a_loop():
    network = network_of({"A": line((0, 0), (50, 0), (50, 20), (20, 20), (20, 0.2))})
    assert segments(network) == {"A.1": ("N1", "N2", 20.0), "A.2": ("N2", "N2", 30 + 20 + 30 + 19.8)}


# Vertices and crossings


def test_a_shared_vertex_joins():
    network = network_of({"A": line((0, 0), (5, 5), (10, 0)), "B": line((0, 10), (5, 5), (10, 10))})
    assert network.segments == 4
    assert components(network) == 1
    assert {j.kind for j in network.joins} == {"vertex"}


def test_a_crossing_does_not_join_and_is_told_with_its_place():
    network = network_of({"A": line((0, 0), (10, 10)), "B": line((0, 10), (10, 0))})
    assert network.segments == 2
    (crossing,) = findings(network, Action.SURVEY)
    assert (crossing.x, crossing.y) == (5, 5)
    assert (crossing.severity, crossing.effect) == (Severity.NOTE, Effect.RECORDS)
    assert "A" in crossing.text
    assert "B" in crossing.text


def test_crossings_join_when_asked():
    network = network_of({"A": line((0, 0), (10, 10)), "B": line((0, 10), (10, 0))}, join_crossings=True)
    assert network.segments == 4
    assert components(network) == 1
    assert network.findings == ()
    assert [j.kind for j in network.joins] == ["crossing"]


def test_a_junction_on_a_crossing_joins_and_lengths_sum():
    routes = {"A": line((0, 0), (37.3, 41.9)), "B": line((0, 41.9), (37.3, 0))}
    network = network_of(routes, {"J": point(18.9, 21.1)})
    assert network.segments == 4
    assert components(network) == 1
    assert findings(network, Action.SURVEY) == []
    for row in (0, 1):
        total = network.segment_length_m[network.segment_route == row].sum()
        assert total == pytest.approx(np.hypot(37.3, 41.9), abs=1e-3)


def test_crossings_on_different_levels_are_no_finding():
    network = network_of({"A": line((0, 0), (10, 10), level=0), "B": line((0, 10), (10, 0), level=1)})
    assert network.findings == ()


# Levels


def test_levels_join_only_at_a_point_and_a_blank_level_joins_with_any():
    routes = {"A": line((0, 0), (10, 0), level=0), "B": line((10, 0), (20, 0), level=1)}
    apart = network_of(routes)
    assert components(apart) == 2
    (gap,) = findings(apart, Action.CONNECT)
    assert "levels 0 and 1" in gap.text
    assert components(network_of(routes, {"J": point(10, 0)})) == 1
    routes["B"] = line((10, 0), (20, 0))
    assert components(network_of(routes)) == 1


def test_the_step_between_levels_is_added_to_the_route_that_ends_there():
    routes = {"A": line((0, 0), (10, 0), level=0), "B": line((10, 0), (30, 0), level=2)}
    network = network_of(routes, {"J": point(10, 0)})
    assert list(network.segment_length_m) == pytest.approx([10.0, 20.0 + 2 * 3.5])
    tall = {"H": (box(5, -5, 15, 5), {"level_height_m": 4.0})}
    network = network_of(routes, {"J": point(10, 0)}, tall)
    assert network.segment_length_m.sum() == pytest.approx(30.0 + 2 * 4.0)


def test_a_route_that_goes_through_on_its_level_takes_no_step():
    routes = {"A": line((0, 0), (10, 0), (20, 0), level=1), "B": line((10, 0), (10, 30), level=0)}
    network = network_of(routes, {"J": point(10, 0, level=0)})
    assert {k: v[2] for k, v in segments(network).items()} == {"A.1": 10.0, "A.2": 10.0, "B.1": 33.5}


def test_a_given_rise_is_the_step():
    routes = {"A": line((0, 0), (10, 0), level=0), "B": line((10, 0), (30, 0), level=2, rise_m=6.0)}
    network = network_of(routes, {"J": point(10, 0)})
    assert list(network.segment_length_m) == pytest.approx([10.0, 26.0])


def test_levels_that_both_go_through_a_point_are_to_be_surveyed():
    routes = {"A": line((0, 0), (20, 0), level=0), "B": line((10, -9), (10, 9), level=1)}
    network = network_of(routes, {"J": point(10, 0)})
    (finding,) = findings(network, Action.SURVEY)
    assert "levels 0 and 1" in finding.text


# Lengths


def test_a_surveyed_length_beats_the_drawing_and_is_shared_over_the_parts():
    network = network_of(
        {"A": line((0, 0), (100, 0), length_m=120.0, rise_m=7.0)}, {"J": point(25, 0, "pit")}
    )
    assert list(network.segment_length_m) == pytest.approx([30.0, 90.0])


def test_rises_are_added_to_a_drawn_length():
    # 84.0 m of plan with rises of 3.5 and 4.0 m: 91.5 m of way.
    network = network_of({"A": line((0, 0), (84, 0), rise_m=7.5)}, {"J": point(21, 0)})
    assert list(network.segment_length_m) == pytest.approx([21 + 7.5 / 4, 63 + 7.5 * 3 / 4])


def test_lengths_are_in_3d_where_every_vertex_has_a_height():
    full = LineString([(0, 0, 0), (3, 0, 4), (3, 10, 4)])
    part = LineString([(0, 50, 0), (3, 50, np.nan), (3, 60, 4)])
    network = network_of({"A": (full, {}), "B": (part, {})}, {"J": point(3, 5)})
    assert {k: v[2] for k, v in segments(network).items()} == {"A.1": 10.0, "A.2": 5.0, "B.1": 13.0}


# Points


def test_the_point_of_highest_rank_names_the_node_and_all_points_are_on_it():
    network = network_of(
        {"A": line((0, 0), (10, 0))},
        {"C1": point(0, 0, "camera"), "J1": point(0, 0), "R1": point(0, 0.1, "recorder")},
    )
    assert network.node_id[0] == "R1"
    assert network.node_kind[0] == "recorder"
    assert list(network.point_node) == [0, 0, 0]


def test_a_made_up_node_id_never_repeats_a_point_s():
    network = network_of({"A": line((0, 0), (10, 0))}, {"N1": point(0, 0, "pit")})
    assert sorted(network.node_id) == ["N1", "N2"]


def test_a_point_that_no_route_reaches_has_a_node_of_its_own_and_is_told():
    network = network_of(
        {"A": line((0, 0), (10, 0))}, {"P": point(5, 3, "patch"), "R": point(10, 0, "recorder")}
    )
    assert network.node_id[network.point_node[0]] == "P"
    (finding,) = findings(network, Action.CONNECT)
    assert finding.subject == "P"
    assert finding.measured == pytest.approx(3.0)


# Cameras


def test_a_camera_within_snap_sits_on_the_route():
    network = network_of({"A": line((0, 0), (100, 0))}, {"C": point(30, 0.4, "camera")})
    assert segments(network) == {"A.1": ("N1", "C", 30.0), "A.2": ("C", "N2", 70.0)}
    assert network.node_passes.all()


def test_a_camera_within_the_spur_gets_a_proposed_spur():
    network = network_of({"A": line((0, 0), (100, 0))}, {"C": point(30, 12, "camera")})
    assert segments(network)["SPUR-C.1"] == ("N2", "C", 12.0)
    spur = list(network.segment_id).index("SPUR-C.1")
    assert network.segment_route[spur] == -1
    assert network.segment_proposed[spur]
    assert network.segment_containment[spur] == "surface"
    assert list(network.segment_geometry[spur].coords) == [(30, 0), (30, 12)]


@pytest.mark.parametrize(("distance", "reached"), [(30.0, True), (30.01, False)])
def test_a_camera_beyond_the_spur_is_not_connected_and_told(distance, reached):
    network = network_of({"A": line((0, 0), (100, 0))}, {"C": point(50, distance, "camera")})
    assert (network.point_node[0] >= 0) == reached
    if not reached:
        (finding,) = findings(network, Action.CONNECT)
        assert (finding.severity, finding.effect, finding.cameras) == (Severity.FAULT, Effect.PICTURE, ("C",))
        assert finding.measured == pytest.approx(30.01)


def test_a_camera_never_joins_two_routes():
    routes = {"A": line((0, 0), (100, 0)), "B": line((0, 0.6), (100, 0.6))}
    network = network_of(routes, {"C": point(50, 0.2, "camera")}, snap_m=0.45)
    assert components(network) == 2
    assert network.segments == 3


def test_a_camera_takes_the_nearest_route_of_its_level():
    routes = {"A": line((0, 0), (100, 0), level=0), "B": line((0, 9), (100, 9), level=1)}
    network = network_of(routes, {"C": point(50, 2, "camera", level=1)})
    assert segments(network)["SPUR-C.1"][2] == 7.0
    network = network_of(routes, {"C": point(50, 2, "camera")})
    assert segments(network)["SPUR-C.1"][2] == 2.0
    network = network_of(routes, {"C": point(50, 2, "camera", level=3)})
    assert network.point_node[0] == -1


def test_cameras_at_one_spot_share_a_node():
    network = network_of(
        {"A": line((0, 0), (100, 0))}, {"C1": point(50, 9, "camera"), "C2": point(50, 9, "camera")}
    )
    assert network.point_node[0] == network.point_node[1] >= 0
    assert "SPUR-C1.1" in segments(network)
    assert "SPUR-C2.1" not in segments(network)


def test_a_camera_beside_a_cabinet_sits_on_the_cabinet():
    network = network_of(
        {"A": line((0, 0), (100, 0))},
        {"C": point(50, 0.4, "camera"), "P": point(50, 0.3, "patch"), "S": point(9, 9, "patch")},
    )
    assert network.node_id[network.point_node[0]] == "P"
    assert network.segments == 2


def test_a_camera_without_any_route_is_told_once():
    network = network_of({}, {"C": point(0, 0, "camera"), "D": (None, {"kind": "camera"})})
    assert list(network.point_node) == [-1, -1]
    assert [f.subject for f in findings(network, Action.CONNECT)] == ["C", "D"]
    assert network.nodes == network.segments == 0


# Buildings


def test_routes_are_split_at_outlines_and_know_their_building():
    barn = {"B1": (box(40, -10, 60, 10), {"power": "ups"}), "B2": (box(90, -10, 99, 10), {})}
    network = network_of({"A": line((0, 0), (100, 0))}, {"J": point(50, 0)}, barn)
    assert [round(float(x)) for x in network.segment_length_m] == [40, 10, 10, 30, 9, 1]
    assert list(network.segment_building) == [-1, 0, 0, -1, 1, -1]
    assert list(network.segment_environment) == [
        "duct_wet",
        "indoor",
        "indoor",
        "duct_wet",
        "indoor",
        "duct_wet",
    ]
    entries = network.node_kind == "entry"
    assert sorted(network.node_x[entries]) == [40, 60, 90, 99]
    by_id = dict(zip(network.node_id, network.node_has_power, strict=True))
    assert by_id["J"]
    powered = {
        float(x)
        for x, k, p in zip(network.node_x, network.node_kind, network.node_has_power, strict=True)
        if k == "entry" and p
    }
    assert powered == {40.0, 60.0}


def test_a_route_that_ends_at_the_wall_enters():
    network = network_of({"A": line((0, 0), (40, 0))}, {}, {"B1": (box(40, -10, 60, 10), {})})
    assert list(network.node_kind) == ["end", "entry"]
    assert list(network.node_building) == [-1, 0]


def test_a_route_that_touches_a_corner_does_not_enter():
    network = network_of({"A": line((30, 0), (40, 10), (50, 20))}, {}, {"B1": (box(40, -10, 60, 10), {})})
    assert "entry" not in set(network.node_kind)
    assert set(network.segment_building) == {-1}


def test_a_courtyard_is_outside():
    yard = Polygon([(0, -20), (60, -20), (60, 20), (0, 20)], [[(20, -5), (40, -5), (40, 5), (20, 5)]])
    network = network_of({"A": line((-10, 0), (70, 0))}, {}, {"B": (yard, {})})
    assert list(network.segment_building) == [-1, 0, -1, 0, -1]


def test_power_at_patch_points_is_their_own_else_the_building_s():
    kinds = {
        "A": point(10, 0, "patch", power="none"),
        "B": point(20, 0, "patch"),
        "C": point(30, 0, "patch", power="unswitched"),
        "D": point(80, 0, "patch"),
        "E": point(85, 0, "recorder"),
        "F": point(35, 0, "patch", power="switched"),
        "G": point(90, 0, "junction"),
    }
    fed = {"H": (box(-5, -5, 50, 5), {"power": "unswitched"})}
    network = network_of({"R": line((0, 0), (100, 0))}, kinds, fed)
    power = {network.node_id[n]: bool(network.node_has_power[n]) for n in network.point_node}
    assert power == {"A": False, "B": True, "C": True, "D": False, "E": True, "F": False, "G": False}


def test_environment_by_containment_and_as_given():
    network = network_of(
        {
            "A": line((0, 0), (9, 0), containment="catenary"),
            "B": line((0, 50), (9, 50), containment="buried"),
            "C": line((0, 100), (9, 100), containment="tray", environment="livestock"),
            "D": line((0, 150), (9, 150), status="proposed", barrier="solid", use="forbidden"),
        }
    )
    assert list(network.segment_environment) == ["aerial", "buried", "livestock", "duct_wet"]
    assert list(network.segment_barrier) == ["none", "none", "none", "solid"]
    assert list(network.segment_proposed) == [False, False, False, True]
    assert network.segment_use[3] == "forbidden"


# Schematic routes


def schematic(start, end, length_m=np.nan, **columns):
    return None, {"from": start, "to": end, "length_m": length_m, **columns}


def test_schematic_routes_join_points_by_id():
    points = {
        "C": (None, {"kind": "camera", "building": "B"}),
        "J": (None, {"kind": "junction", "building": "B"}),
        "R": (None, {"kind": "recorder", "building": "H"}),
    }
    buildings = {"B": (None, {"power": "unswitched"}), "H": (None, {})}
    network = network_of({"A": schematic("C", "J", 20), "B": schematic("J", "R", 0)}, points, buildings)
    assert segments(network) == {"A.1": ("C", "J", 20.0), "B.1": ("J", "R", 0.0)}
    assert dict(zip(network.node_id, network.node_passes, strict=True)) == {"C": False, "J": True, "R": True}
    assert list(network.segment_building) == [0, -1]
    assert list(network.segment_environment) == ["indoor", "duct_wet"]
    assert network.node_has_power[node(network, "J")]
    assert np.isnan(network.node_x).all()
    assert network.findings == ()


def test_a_point_with_a_place_and_schematic_rows_is_one_node():
    points = {"P": point(10, 0, "patch"), "R": (None, {"kind": "recorder"}), "C": point(3, 4, "camera")}
    routes = {"A": line((0, 0), (10, 0)), "B": schematic("P", "R", 30), "D": schematic("C", "R", 5)}
    network = network_of(routes, points)
    assert components(network) == 1
    assert segments(network)["B.1"] == ("P", "R", 30.0)
    # The camera has its way by the list: it gets no spur as well.
    assert "SPUR-C.1" not in segments(network)
    assert network.node_x[node(network, "C")] == 3


def test_schematic_oddities_are_findings():
    points = {"R": (None, {"kind": "recorder"}), "J": (None, {"kind": "junction"})}
    network = network_of({"A": schematic("R", "R", 4), "B": schematic("J", "R")}, points)
    assert [(f.subject, f.severity) for f in network.findings] == [
        ("A", Severity.NOTE),
        ("B", Severity.FAULT),
    ]
    assert network.segments == 2


def test_an_empty_estate_is_an_empty_network():
    network = network_of({})
    assert network.nodes == network.segments == 0
    assert network.findings == ()
