"""The cheapest way within a length: against every simple path, and through the whole search."""

import itertools

import networkx as nx
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from estate import workflow
from estate.links.within import cheapest_within
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate


@st.composite
def graphs(draw):
    nodes = draw(st.integers(3, 6))
    pairs = list(itertools.combinations(range(nodes), 2))
    chosen = draw(st.lists(st.sampled_from(pairs), min_size=3, max_size=9))
    lengths = draw(st.lists(st.integers(0, 9), min_size=len(chosen), max_size=len(chosen)))
    money = draw(st.lists(st.integers(0, 9), min_size=len(chosen), max_size=len(chosen)))
    return nodes, chosen, lengths, money, draw(st.integers(0, 20))


def built(folder, nodes, ends, lengths):
    routes = [
        {"id": f"S{k}", "from": f"P{a}", "to": f"P{b}", "length_m": length}
        for k, ((a, b), length) in enumerate(zip(ends, lengths, strict=True))
    ]
    points = [{"id": f"P{n}", "kind": "patch" if n else "recorder"} for n in range(nodes)]
    write_estate(folder, "[estate]\n", routes=routes, points=points)
    survey, _ = workflow.load(folder)
    return survey, workflow.build_network(survey)


@settings(max_examples=150, deadline=None)
@given(graphs())
def test_equals_the_best_of_all_simple_paths(tmp_path_factory, drawn):
    nodes, ends, lengths, money, limit = drawn
    survey, network = built(tmp_path_factory.mktemp("within"), nodes, ends, lengths)
    assume(network.segments == len(ends))
    order = [int(str(name).split(".")[0][1:]) for name in network.segment_id]
    weight = np.array([money[k] for k in order], dtype=float)
    node_of = {name: int(n) for name, n in zip(survey.points["id"], network.point_node, strict=True)}
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(network.nodes))
    for s in range(network.segments):
        graph.add_edge(network.segment_from[s], network.segment_to[s], key=s)
    source = node_of["P0"]
    targets = [node_of[f"P{n}"] for n in range(1, nodes)]
    answers = cheapest_within(network, weight, source, targets, [float(limit)] * len(targets))
    for target, answer in zip(targets, answers, strict=True):
        paths = nx.all_simple_edge_paths(graph, source, target) if target != source else [[]]
        costs = [
            sum(weight[e[2]] for e in path)
            for path in paths
            if sum(network.segment_length_m[e[2]] for e in path) <= limit + 1e-9
        ]
        if not costs:
            assert answer is None
            continue
        assert answer is not None
        _, segments = answer
        assert sum(weight[list(segments)]) == pytest.approx(min(costs), abs=1e-9)
        assert sum(network.segment_length_m[list(segments)]) <= limit + 1e-9


def test_a_middle_way_beats_the_shortest_where_the_cheapest_is_too_long(tmp_path):
    """A free detour of 120 m is too long for Ethernet, the short dug way dear; the middle way stands at less."""
    routes = [
        line("FREE", (0, 0), (0, 30), (60, 30), (60, 0), containment="tray"),
        line("DUG", (0, 0), (60, 0), status="proposed", containment="duct", surface="concrete"),
        line(
            "MID",
            (0, 0),
            (0, -12),
            (60, -12),
            (60, 0),
            status="proposed",
            containment="duct",
            surface="grass",
        ),
    ]
    prices = "[prices]\nunlisted = 1\n[prices.trench_m]\nconcrete = 100\ngrass = 10\n"
    toml = LOCAL + EXACT + prices + '[design]\nmethods = ["ethernet"]\n'
    points = [
        camera("C", 60, 0, feeds="poe1", load_w=5, load_night_w=5, power="none", insulated="yes"),
        recorder("R", 0, 0),
    ]
    _, _, out = workflow.design(write_estate(tmp_path, toml, routes=routes, points=points))
    (row,) = read_csv(out / "links.csv")
    assert row["segments"] == "MID.1"
    assert float(row["length_m"]) == pytest.approx(84)
