"""The cheapest trenches against published optima, brute force and networkx."""

from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from estate.placement import trenches
from estate.placement.ascent import dual_ascent
from estate.placement.trenches import _arcs, cheapest_trenches

B01 = """
2-8:8 2-21:7 2-32:2 4-5:8 7-29:7 11-3:7 14-31:9 17-6:7 17-42:6 18-19:2 18-28:1 18-43:1 19-2:5
20-7:3 20-14:7 20-16:8 20-27:2 20-38:8 20-40:10 20-48:2 21-12:7 21-17:5 21-18:10 22-10:6 22-20:2
22-21:2 22-40:8 22-43:7 25-34:4 27-34:4 28-5:8 28-24:5 29-9:5 29-33:7 30-5:4 30-15:1 30-16:2
33-35:3 34-20:10 34-30:2 36-2:8 36-4:6 36-11:9 36-39:7 36-49:9 36-50:10 40-15:10 40-23:3 41-1:5
41-22:8 41-25:5 41-36:2 41-44:7 41-47:7 42-6:9 42-46:10 44-24:8 44-39:3 45-26:6 45-28:1 47-37:3
47-45:10 50-13:1
"""
"""Steiner problem B01, `end-end:cost`: Beasley, J. E. (1989), An SST-based algorithm for the Steiner problem in
graphs, Networks 19, 1-16; SteinLib (Koch, Martin, Voss 2001)."""
B01_TERMINALS = [48, 49, 22, 35, 27, 12, 37, 34, 24]
B01_OPTIMUM = 82


def parsed(text):
    rows = np.array([[int(n) for n in word.replace(":", "-").split("-")] for word in text.split()])
    return rows[:, :2], rows[:, 2].astype(float)


def test_a_published_optimum():
    ends, cost = parsed(B01)
    found = cheapest_trenches(ends, cost, B01_TERMINALS[:1], B01_TERMINALS[1:])
    assert (found.cost, found.bound, found.proven) == (B01_OPTIMUM, B01_OPTIMUM, True)
    assert cost[list(found.edges)].sum() == B01_OPTIMUM


def test_any_terminal_may_be_the_site():
    ends, cost = parsed(B01)
    for site in B01_TERMINALS[1:4]:
        others = [t for t in B01_TERMINALS if t != site]
        assert cheapest_trenches(ends, cost, [site], others).cost == B01_OPTIMUM


def test_three_cables_share_a_trench_and_split():
    found = cheapest_trenches([(0, 1), (1, 2), (1, 3), (1, 4)], [80.0, 20.0, 30.0, 10.0], [0], [2, 3, 4])
    assert (found.cost, found.edges) == (140, (0, 1, 2, 3))


def test_a_junction_that_no_pair_needs():
    # a star of 3 × 10 beats the sides of 19: every way between two terminals alone would take a side
    ends = [(0, 1), (1, 2), (2, 0), (0, 3), (1, 3), (2, 3)]
    found = cheapest_trenches(ends, [19.0, 19.0, 19.0, 10.0, 10.0, 10.0], [0], [1, 2])
    assert (found.cost, found.edges) == (30, (3, 4, 5))


def joined(ends, edges, sites, terminals):
    graph = nx.Graph([tuple(ends[e]) for e in edges])
    graph.add_nodes_from([*sites, *terminals])
    return all(any(nx.has_path(graph, s, t) for s in sites) for t in terminals)


def brute_force(ends, cost, sites, terminals):
    """The least cost over every set of edges."""
    return min(
        sum(cost[e] for e in edges)
        for count in range(len(ends) + 1)
        for edges in combinations(range(len(ends)), count)
        if joined(ends, edges, sites, terminals)
    )


@st.composite
def small_problems(draw):
    nodes = draw(st.integers(2, 6))
    pairs = st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1))
    ends = [(draw(st.integers(0, n - 1)), n) for n in range(1, nodes)] + draw(st.lists(pairs, max_size=4))
    cost = [draw(st.integers(0, 9)) / 2 for _ in ends]
    sites = draw(st.lists(st.integers(0, nodes - 1), min_size=1, max_size=2, unique=True))
    terminals = draw(st.lists(st.integers(0, nodes - 1), max_size=4))
    return ends, cost, sites, terminals


@drawn(small_problems())
def test_equals_brute_force(problem):
    ends, cost, sites, terminals = problem
    found = cheapest_trenches(*problem)
    assert found.proven
    assert found.cost == pytest.approx(brute_force(*problem), abs=1e-6)
    assert joined(ends, found.edges, sites, terminals)
    assert found.cost == pytest.approx(sum(cost[e] for e in found.edges))
    assert dual_ascent(_arcs(np.array(ends), np.array(cost), sites, terminals)).bound <= found.cost + 1e-6


def network(seed, nodes=60, edges=130):
    rng = np.random.default_rng(seed)
    graph = nx.gnm_random_graph(nodes, edges, seed=seed)
    nx.add_path(graph, range(nodes))
    ends = np.array(sorted(graph.edges))
    cost = np.round(rng.uniform(1, 20, len(ends)), 2)
    nx.set_edge_attributes(graph, dict(zip(map(tuple, ends.tolist()), cost, strict=True)), "weight")
    return graph, ends, cost, sorted(rng.choice(nodes, 15, replace=False).tolist())


@pytest.mark.parametrize("seed", range(3))
def test_within_reach_of_an_approximation(seed):
    """Mehlhorn's tree (1988), in networkx, costs at most twice the cheapest."""
    graph, ends, cost, terminals = network(seed)
    found = cheapest_trenches(ends, cost, terminals[:1], terminals[1:])
    near = nx.algorithms.approximation.steiner_tree(graph, terminals, method="mehlhorn").size("weight")
    assert found.proven
    assert near / 2 <= found.cost <= near + 1e-6


def test_all_nodes_is_the_minimum_spanning_tree_and_two_the_shortest_path():
    graph, ends, cost, _ = network(5)
    everyone = cheapest_trenches(ends, cost, [0], range(1, 60))
    assert everyone.cost == pytest.approx(nx.minimum_spanning_tree(graph).size("weight"))
    pair = cheapest_trenches(ends, cost, [3], [40])
    assert pair.cost == pytest.approx(nx.dijkstra_path_length(graph, 3, 40))


def test_whole_numbers_where_the_linear_program_halves_the_trenches(monkeypatch):
    """Three hubs, each near two of three terminals: half of each would do for 48, two whole ones cost 53."""
    kinds = []
    solved = trenches._solved

    def told(*parts, whole):
        kinds.append(whole)
        return solved(*parts, whole=whole)

    monkeypatch.setattr(trenches, "_solved", told)
    ends = [(0, 1), (0, 2), (0, 3), (1, 4), (1, 5), (2, 5), (2, 6), (3, 4), (3, 6)]
    found = cheapest_trenches(ends, [10.0] * 3 + [11.0] * 6, [0], [4, 5, 6])
    assert (found.cost, found.proven) == (53, True)
    assert kinds[0] is False
    assert kinds[-1] is True


def test_without_time_the_bound_is_still_valid():
    _, ends, cost, terminals = network(1)
    best = cheapest_trenches(ends, cost, terminals[:1], terminals[1:]).cost
    hasty = cheapest_trenches(ends, cost, terminals[:1], terminals[1:], seconds=0.0)
    assert hasty.bound <= best <= hasty.cost


def test_interrupted_the_best_found_stands(monkeypatch):
    def interrupt(*_parts, whole):
        raise KeyboardInterrupt

    monkeypatch.setattr(trenches, "_solved", interrupt)
    for seed in range(4):
        _, ends, cost, terminals = network(seed)
        found = cheapest_trenches(ends, cost, terminals[:1], terminals[1:])
        assert joined(ends, found.edges, terminals[:1], terminals[1:])
        assert found.bound <= found.cost


def test_what_cannot_be_joined_is_refused():
    with pytest.raises(ValueError, match="cannot be joined"):
        cheapest_trenches([(0, 1)], [1.0], [0], [2])
    with pytest.raises(ValueError, match="less than nothing"):
        cheapest_trenches([(0, 1)], [-1.0], [0], [1])


def test_terminals_at_sites_need_nothing():
    found = cheapest_trenches([(0, 1)], [1.0], [0, 1], [0, 1])
    assert (found.cost, found.edges, found.proven) == (0, (), True)
