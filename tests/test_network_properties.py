"""What must hold for any drawing: lengths kept, order without meaning, joins as a plain search finds them."""

import networkx as nx
import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from estate.network.build import build_network
from tests.layers import layer, survey

SNAP_M = 0.5

places = st.tuples(st.integers(0, 240), st.integers(0, 240)).map(lambda p: (p[0] / 4, p[1] / 4))
drawn = st.lists(places, min_size=2, max_size=5, unique=True)
drawings = st.lists(drawn, min_size=1, max_size=9)
camera_places = st.lists(places, max_size=6)
point_places = st.lists(places, max_size=4)


def build(lines, cameras=(), points=(), names=None, **network):
    names = names or [f"R{k}" for k in range(len(lines))]
    rows = [{"id": f"C{k}", "kind": "camera"} for k in range(len(cameras))]
    rows += [{"id": f"P{k}", "kind": ("junction", "pit", "patch")[k % 3]} for k in range(len(points))]
    return build_network(
        survey(
            routes=layer("routes", [{"id": n} for n in names], [LineString(c) for c in lines]),
            points=layer("points", rows, [Point(p) for p in [*cameras, *points]]),
            snap_m=SNAP_M,
            **network,
        )
    )


@settings(max_examples=150, deadline=None)
@given(drawings, camera_places, point_places, st.booleans())
def test_every_route_keeps_its_length_and_its_course(lines, cameras, points, join):
    network = build(lines, cameras, points, join_crossings=join)
    for row, coords in enumerate(lines):
        parts = np.flatnonzero(network.segment_route == row)
        whole = LineString(coords)
        assert abs(network.segment_length_m[parts].sum() - whole.length) < 1e-3
        assert abs(shapely.length(network.segment_geometry[parts]).sum() - whole.length) < 1e-3
        along = [c for part in parts for c in network.segment_geometry[part].coords]
        assert shapely.hausdorff_distance(LineString(along), whole) < 1e-6
        assert np.allclose(network.segment_end_m[parts][:-1], network.segment_start_m[parts][1:])
        assert (network.segment_to[parts][:-1] == network.segment_from[parts][1:]).all()
        assert [str(i) for i in network.segment_id[parts]] == [f"R{row}.{k + 1}" for k in range(len(parts))]


def content(network):
    """What a network says, without names."""
    ends = [
        sorted((round(float(network.node_x[n]), 6), round(float(network.node_y[n]), 6)) for n in pair)
        for pair in zip(network.segment_from, network.segment_to, strict=True)
    ]
    lengths = np.round(network.segment_length_m, 6).tolist()
    return sorted(zip(lengths, ends, strict=True)), sorted(f.action for f in network.findings)


@settings(max_examples=80, deadline=None)
@given(drawings, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_has_no_meaning(lines, random):
    names = [f"R{k}" for k in range(len(lines))]
    random.shuffle(names)
    assert content(build(lines, names=names)) == content(build(lines))


def test_the_same_survey_gives_the_same_network():
    lines = [[(0, 0), (10, 0)], [(5, 0.2), (5, 9)], [(2, -3), (2, 3)]]
    views = [build(lines, [(9, 4)], [(2, 0)]).graph() for _ in range(2)]
    assert nx.utils.graphs_equal(*views)
    assert list(views[0].edges(keys=True, data=True)) == list(views[1].edges(keys=True, data=True))


@settings(max_examples=150, deadline=None)
@given(drawings)
def test_routes_hang_together_as_a_plain_search_finds(lines):
    """Routes touch where an end of one is within snap of the other, or where they share a vertex."""
    shapes = [LineString(c) for c in lines]
    oracle = nx.Graph()
    oracle.add_nodes_from(range(len(lines)))
    for i, first in enumerate(lines):
        for j, second in enumerate(lines):
            near = min(shapes[j].distance(Point(first[k])) for k in (0, -1)) <= SNAP_M
            if i != j and (near or set(first) & set(second)):
                oracle.add_edge(i, j)
    network = build(lines)
    found = nx.Graph()
    found.add_nodes_from(("route", r) for r in range(len(lines)))
    for s in range(network.segments):
        for n in (network.segment_from[s], network.segment_to[s]):
            found.add_edge(("route", int(network.segment_route[s])), ("node", int(n)))
    groups = {frozenset(r for kind, r in c if kind == "route") for c in nx.connected_components(found)}
    assert groups == {frozenset(c) for c in nx.connected_components(oracle)}


@settings(max_examples=100, deadline=None)
@given(drawings, camera_places)
def test_cameras_change_nothing_but_their_own_place(lines, cameras):
    without, with_them = build(lines), build(lines, cameras)
    assert nx.number_connected_components(without.graph()) == nx.number_connected_components(
        with_them.graph()
    )
    for camera, place in enumerate(cameras):
        nearest = min(LineString(c).distance(Point(place)) for c in lines)
        assert (with_them.point_node[camera] >= 0) == (nearest <= 30 + 1e-6)
    spurs = with_them.segment_route < 0
    gaps = np.array([min(LineString(c).distance(Point(p)) for c in lines) for p in cameras])
    if spurs.any():
        # A spur may start at a node within snap of the nearest place.
        lengths = with_them.segment_length_m[spurs]
        names = [str(i)[6:-2] for i in with_them.segment_id[spurs]]
        off = [lengths[k] - gaps[int(name)] for k, name in enumerate(names)]
        assert min(off) > -1e-6
        assert max(off) <= SNAP_M + 1e-6


@settings(max_examples=100, deadline=None)
@given(drawings)
def test_crossings_told_are_those_of_shapely(lines):
    """Every place where two routes cross and no node is near is told, and no other."""
    network = build(lines)
    told = [(f.x, f.y) for f in network.findings if f.action == "survey" and f.subject_kind == "route"]
    at = np.column_stack([network.node_x, network.node_y])
    open_places = []
    for i, first in enumerate(lines):
        for second in lines[i + 1 :]:
            meet = shapely.get_parts(LineString(first).intersection(LineString(second)))
            open_places += [(p.x, p.y) for p in meet if p.geom_type == "Point"]
    for place in open_places:
        if np.hypot(*(at - place).T).min() > 4 * SNAP_M:
            assert any(np.hypot(place[0] - x, place[1] - y) < 2 * SNAP_M + 1e-6 for x, y in told)
    for x, y in told:
        near = [np.hypot(x - p[0], y - p[1]) for p in open_places]
        assert min(near, default=np.inf) < 1e-6 or _overlap_end(lines, Point(x, y))


def _overlap_end(lines, place):
    """Whether two routes meet there at all: the end of a shared stretch isn't a point of the intersection."""
    return sum(LineString(c).distance(place) < 1e-6 for c in lines) >= 2
