"""Shortest ways against networkx and against every way there is."""

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estate.network.network import Network
from estate.network.paths import matrix, tree, way


def network_of(nodes, edges, blocked=()):
    """A bare network; edges are (from, to)."""
    count = len(edges)
    none, blank = np.full(count, -1), np.full(count, None, dtype=object)
    passes = np.ones(nodes, dtype=bool)
    passes[list(blocked)] = False
    ends = np.array(edges, dtype=np.int64).reshape(-1, 2)
    return Network(
        node_id=np.array([f"N{k}" for k in range(nodes)], dtype=object),
        node_kind=np.full(nodes, "meet", dtype=object),
        node_x=np.zeros(nodes),
        node_y=np.zeros(nodes),
        node_building=np.full(nodes, -1),
        node_level=np.full(nodes, np.nan),
        node_passes=passes,
        node_has_power=np.zeros(nodes, dtype=bool),
        point_node=np.zeros(0, dtype=np.int64),
        segment_id=np.array([f"S{k}" for k in range(count)], dtype=object),
        segment_route=none,
        segment_from=ends[:, 0],
        segment_to=ends[:, 1],
        segment_length_m=np.ones(count),
        segment_start_m=np.zeros(count),
        segment_end_m=np.ones(count),
        segment_geometry=blank,
        segment_building=none,
        segment_environment=blank,
        segment_containment=blank,
        segment_barrier=blank,
        segment_surface=blank,
        segment_proposed=np.zeros(count, dtype=bool),
        segment_use=blank,
    )


@st.composite
def multigraphs(draw, most=9):
    nodes = draw(st.integers(1, most))
    ends = st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1))
    edges = draw(st.lists(ends, max_size=20))
    weights = draw(
        st.lists(
            st.sampled_from([0.0, 1.0, 2.5, 4.0, np.inf, np.nan]), min_size=len(edges), max_size=len(edges)
        )
    )
    blocked = draw(st.sets(st.integers(0, nodes - 1), max_size=3))
    return nodes, edges, np.array(weights), blocked


@settings(max_examples=200, deadline=None)
@given(multigraphs(), st.sampled_from([np.inf, 3.0, 0.0]))
def test_distances_and_ways_are_those_of_networkx(case, limit):
    nodes, edges, weights, blocked = case
    graph = matrix(network_of(nodes, edges, blocked), weights)
    for source in range(nodes):
        oracle = nx.MultiGraph()
        oracle.add_nodes_from(range(nodes))
        oracle.add_weighted_edges_from(
            (a, b, w) for (a, b), w in zip(edges, weights.tolist(), strict=True) if np.isfinite(w)
        )
        found = tree(graph, source, limit)
        for node in range(nodes):
            barred = blocked - {source, node}
            view = oracle.subgraph(set(range(nodes)) - barred)
            least = (
                nx.shortest_path_length(view, source, node, weight="weight")
                if nx.has_path(view, source, node)
                else np.inf
            )
            expected = least if least <= limit else np.inf
            assert found.distance[node] == pytest.approx(expected)
            check_way(graph, found, node, edges, weights, barred)


def check_way(graph, found, node, edges, weights, barred):
    """A way is a walk over usable segments that costs what the tree says."""
    nodes, segments = way(graph, found, node)
    if not np.isfinite(found.distance[node]):
        assert (nodes, segments) == ((), ())
        return
    assert nodes[0] == found.source
    assert nodes[-1] == node
    assert not barred & set(nodes)
    for a, b, segment in zip(nodes, nodes[1:], segments, strict=False):
        assert {a, b} == set(edges[segment])
    assert sum(weights[list(segments)]) == pytest.approx(found.distance[node])


@settings(max_examples=100, deadline=None)
@given(multigraphs(most=5))
def test_distances_are_the_least_of_all_simple_ways(case):
    nodes, edges, weights, blocked = case
    graph = matrix(network_of(nodes, edges, blocked), weights)
    usable = [(a, b, w) for (a, b), w in zip(edges, weights.tolist(), strict=True) if np.isfinite(w)]

    def least(at, goal, seen):
        if at == goal:
            return 0.0
        if len(seen) > 1 and at in blocked:
            return np.inf
        steps = [(b if a == at else a, w) for a, b, w in usable if at in (a, b)]
        return min((w + least(n, goal, seen | {n}) for n, w in steps if n not in seen), default=np.inf)

    for source in range(nodes):
        found = tree(graph, source)
        for node in range(nodes):
            assert found.distance[node] == pytest.approx(least(source, node, frozenset({source})))


def test_zero_weights_are_ways_and_the_least_parallel_counts():
    network = network_of(3, [(0, 1), (0, 1), (1, 2)])
    graph = matrix(network, np.array([5.0, 0.0, 0.0]))
    found = tree(graph, 0)
    assert list(found.distance) == [0.0, 0.0, 0.0]
    assert way(graph, found, 2) == ((0, 1, 2), (1, 2))


def test_equal_parallels_give_the_first():
    graph = matrix(network_of(2, [(1, 0), (0, 1)]), np.array([2.0, 2.0]))
    assert way(graph, tree(graph, 0), 1) == ((0, 1), (0,))


def test_a_camera_does_not_pass_cable_on_but_can_be_an_end():
    network = network_of(3, [(0, 1), (1, 2)], blocked=[1])
    graph = matrix(network, np.ones(2))
    assert list(tree(graph, 0).distance) == [0.0, 1.0, np.inf]
    assert list(tree(graph, 1).distance) == [1.0, 0.0, 1.0]
    assert way(graph, tree(graph, 1), 2) == ((1, 2), (1,))


def test_the_limit_includes_what_is_exactly_that_far():
    graph = matrix(network_of(3, [(0, 1), (1, 2)]), np.array([2.0, 0.5]))
    assert list(tree(graph, 0, 2.0).distance) == [0.0, 2.0, np.inf]
