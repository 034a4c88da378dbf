"""Single cuts against hand-computed estates and against taking every subject out, one by one."""

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.catalogue.load import load_catalogue
from estate.findings import Verdict
from estate.links.link import Link
from estate.links.prices import PriceBook
from estate.network.build import build_network
from estate.placement.cut_findings import cut_findings
from estate.placement.cuts import single_cuts
from estate.settings import PricesSection
from estate.survey.read import read_survey
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate
from tests.layers import layer, survey
from tests.test_network_paths import network_of

BUILDINGS = ((0, 6), (120, 3), (260, 3), (400, 8))


def link(identity, nodes, segments, kind="camera", **more):
    """A link as cuts see it."""
    facts = {"head": "R", "recorder": "R", "camera": identity if kind == "camera" else "", **more}
    return Link(
        id=f"L-{identity}", kind=kind, method="ethernet", feed="local", port="ethernet", runs=(), nodes=nodes,
        segments=segments, length_m=0, cable_length_m=0, equipment=(), lines=(), verdict=Verdict.WITHIN, limiting="",
        patch=identity.partition("-")[0] if kind != "camera" else "", **facts,
    )  # fmt: skip


def four_buildings(folder, *, diverse):
    """Cameras at 0, 120, 260 and 400 m, a recorder at 260 m, a patch point at 400 m; maybe a way round 400 to 0."""
    routes = [
        line("D1", (0, 0), (120, 0), containment="duct"),
        line("D2", (120, 0), (260, 0), containment="duct"),
        line("D3", (260, 0), (400, 0), containment="duct"),
    ]
    if diverse:
        routes.append(line("ROUND", (400, 0), (400, 90), (0, 90), (0, 0), containment="duct"))
    cameras = [camera(f"C{x}-{n}", x, 0) for x, count in BUILDINGS for n in range(count)]
    others = [
        recorder("R", 260, 0),
        {"id": "P", "kind": "patch", "x": 400, "y": 0, "power": "unswitched"},
        {"id": "J0", "kind": "junction", "x": 0, "y": 0},
        {"id": "J1", "kind": "junction", "x": 120, "y": 0},
    ]
    toml = LOCAL + EXACT + '[design]\nmethods = ["ethernet-fibre"]\n[prices]\nunlisted = 1\n'
    return write_estate(folder, toml, routes=routes, points=[*cameras, *others])


def by_subject(cuts):
    return {(cut.subject_kind, cut.subject): cut for cut in cuts}


def test_a_cut_between_260_and_400_loses_8_of_20(tmp_path):
    made, result, out = workflow.design(four_buildings(tmp_path, diverse=False))
    rows = {(row["subject_kind"], row["subject"]): row for row in read_csv(out / "cuts.csv")}
    assert result.summary["linked"] == 20
    lost = {name: int(rows["segment", name]["cameras_lost"]) for name in ("D1.1", "D2.1", "D3.1")}
    assert lost == {"D1.1": 6, "D2.1": 9, "D3.1": 8}
    for kind, name in (("segment", "D3.1"), ("route", "D3")):
        assert rows[kind, name]["cameras_stranded"] == "8"
        assert rows[kind, name]["cameras"] == ";".join(f"C400-{n}" for n in range(8))
    assert rows["node", "R"]["cameras_lost"] == "20"
    assert rows["node", "J1"]["cameras_lost"] == "9"  # those at 0 m pass it, those at 120 m stand there
    findings = [f for f in made.findings if "a cut of" in f.text]
    assert [(f.subject, f.severity, f.measured) for f in findings] == [
        ("D2.1", "watch", 9.0),
        ("D3.1", "watch", 8.0),
    ]


def on_a_cabinet(folder, *, standby):
    """The 8 cameras at 400 m on a cabinet there, uplink over D3, maybe a second one the other way round."""
    read = read_survey(four_buildings(folder, diverse=True))
    network = build_network(read)
    node = {str(name): int(n) for name, n in zip(read.points["id"], network.point_node, strict=True)}
    ids = {str(name): k for k, name in enumerate(network.segment_id)}
    d1, d2, d3, far = ids["D1.1"], ids["D2.1"], ids["D3.1"], ids["ROUND.1"]
    ways = {
        0: ((node["R"], node["J1"], node["J0"]), (d2, d1)),
        120: ((node["R"], node["J1"]), (d2,)),
        260: ((node["R"],), ()),
    }
    links = [link(f"C{x}-{n}", *ways[x]) for x, count in BUILDINGS[:3] for n in range(count)]
    links += [link(f"C400-{n}", (node["P"],), (), head="P") for n in range(8)]
    links.append(link("P", (node["R"], node["P"]), (d3,), kind="uplink"))
    if standby:
        nodes = (node["R"], node["J1"], node["J0"], node["P"])
        links.append(link("P-2", nodes, (d2, d1, far), kind="standby"))
    return read, network, links, [node["R"]]


def test_a_second_uplink_over_a_diverse_route_loses_none(tmp_path):
    one, two = (
        by_subject(single_cuts(*on_a_cabinet(tmp_path / str(standby), standby=standby)))
        for standby in (False, True)
    )
    assert len(one["segment", "D3.1"].lost) == 8
    assert len(two["segment", "D3.1"].lost) == len(two["route", "D3"].lost) == 0
    assert len(two["route", "ROUND"].lost) == 0
    assert not any(cut.stranded for cut in two.values() if cut.subject_kind != "node")
    assert len(two["node", "P"].lost) == 8  # the cabinet itself
    assert len(two["node", "R"].lost) == len(two["node", "R"].stranded) == 20


def test_cameras_with_another_way_are_a_note_and_need_no_new_route(tmp_path):
    read, network, links, heads = on_a_cabinet(tmp_path, standby=True)
    prices = PriceBook(PricesSection(), load_catalogue()[0].rates)
    (told,) = cut_findings(network, prices, single_cuts(read, network, links, heads), links, heads)
    assert (told.subject, told.severity, told.action) == ("D2.1", "note", "connect")
    assert "loses 9 of 20 cameras" in told.text
    assert "no new route" in told.remedy
    assert np.isnan(told.cost)


def test_two_uplinks_in_one_route_fall_together(tmp_path):
    read, network, links, heads = on_a_cabinet(tmp_path, standby=False)
    doubled = [*links, replace(links[-1], id="L-P2", kind="standby")]
    assert len(by_subject(single_cuts(read, network, doubled, heads))["route", "D3"].lost) == 8


def test_a_proposed_route_that_no_link_uses_is_no_other_way(tmp_path):
    folder = four_buildings(tmp_path, diverse=True)
    text = (folder / "routes.csv").read_text(encoding="utf-8").splitlines()
    rows = ["id,wkt,containment,status" if n == 0 else row for n, row in enumerate(text)]
    marked = [f"{row},{'proposed' if row.startswith('ROUND') else 'existing'}" for row in rows[1:]]
    (folder / "routes.csv").write_text("\n".join([rows[0], *marked]), encoding="utf-8")
    _, _, out = workflow.design(folder)
    rows = {(row["subject_kind"], row["subject"]): row for row in read_csv(out / "cuts.csv")}
    assert rows["segment", "D3.1"]["cameras_stranded"] == "8"
    assert rows["segment", "ROUND.1"]["cameras_lost"] == "0"


def test_a_camera_that_had_no_way_is_not_stranded_by_a_cut():
    network = replace(network_of(4, [(0, 1), (2, 3)]), point_node=np.array([1, 3, 0]))
    points = layer(
        "points", [{"id": i, "kind": k} for i, k in (("A", "camera"), ("B", "camera"), ("R", "recorder"))]
    )
    cuts = by_subject(single_cuts(survey(points=points), network, [], [0]))
    assert cuts["segment", "S0"].stranded == ("A",)
    assert not cuts["segment", "S1"].stranded
    assert cuts["node", "N0"].stranded == ("A",)


# An oracle: take each subject out and ask networkx which nodes still join a recorder.


@st.composite
def estates(draw):
    """A network whose segments belong to routes (or to none), recorders, and cameras at its nodes."""
    nodes = draw(st.integers(2, 9))
    ends = st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1))
    edges = draw(st.lists(ends, min_size=1, max_size=14))
    each = {"min_size": len(edges), "max_size": len(edges)}
    recorders = draw(st.sets(st.integers(0, nodes - 1), min_size=1, max_size=2))
    blocked = draw(st.sets(st.integers(0, nodes - 1), max_size=3)) - recorders
    network = replace(
        network_of(nodes, edges, blocked),
        segment_route=np.array(draw(st.lists(st.integers(-1, 3), **each)), dtype=np.int64),
        segment_proposed=np.array(draw(st.lists(st.booleans(), **each))),
    )
    at = draw(st.lists(st.integers(-1, nodes - 1), min_size=1, max_size=5))
    used = draw(st.sets(st.integers(0, len(edges) - 1), max_size=3))
    return network, sorted(recorders), at, sorted(used)


def reached(network, recorders, gone_segments, gone_node, made):
    graph = nx.DiGraph()
    graph.add_nodes_from(range(network.nodes))
    for s in range(network.segments):
        a, b = int(network.segment_from[s]), int(network.segment_to[s])
        if s not in gone_segments and s in made:
            graph.add_edges_from(e for e in ((a, b), (b, a)) if network.node_passes[e[0]])
    if gone_node is not None:
        graph.remove_node(gone_node)
    heads = [r for r in recorders if r != gone_node]
    return {n for head in heads for n in (head, *nx.descendants(graph, head))}


@given(estates())
def test_stranded_cameras_are_those_that_taking_it_out_cuts_off(estate):
    network, recorders, at, used = estate
    names = [f"C{k}" for k in range(len(at))]
    read = survey(
        points=layer("points", [{"id": name, "kind": "camera"} for name in names]),
        routes=layer("routes", [{"id": f"R{k}"} for k in range(4)]),
    )
    network = replace(network, point_node=np.array(at, dtype=np.int64))
    links = [link("X", (0,), tuple(used), kind="uplink")]
    made = {s for s in range(network.segments) if not network.segment_proposed[s] or s in used}
    before = reached(network, recorders, set(), None, made)
    for cut in single_cuts(read, network, links, recorders):
        segments = {
            "segment": {cut.index},
            "route": set(np.flatnonzero(network.segment_route == cut.index).tolist()),
            "node": set(),
        }[cut.subject_kind]
        node = cut.index if cut.subject_kind == "node" else None
        after = reached(network, recorders, segments, node, made)
        assert set(cut.stranded) == {
            name for name, n in zip(names, at, strict=True) if n in before and n not in after
        }, cut


@st.composite
def cabled(draw):
    """Links as bare sets of segments: cameras at the recorder, and at two cabinets with one or two uplinks."""
    segments = st.sets(st.integers(0, 7), max_size=3)
    network = replace(
        network_of(4, [(0, 1)] * 8), segment_route=np.array([0, 0, 1, 1, 2, 2, -1, -1], dtype=np.int64)
    )
    cabinets = {
        1: draw(st.lists(segments, min_size=1, max_size=2)),
        2: draw(st.lists(segments, min_size=1, max_size=2)),
    }
    cameras = draw(st.lists(st.tuples(st.integers(0, 2), segments), min_size=1, max_size=6))
    return network, cabinets, cameras


@given(cabled())
def test_lost_cameras_are_those_whose_every_way_is_cut(estate):
    network, cabinets, cameras = estate
    links = [
        link(f"P{node}-{n}", (0, node), tuple(sorted(way)), kind=("uplink", "standby")[n])
        for node, ways in cabinets.items()
        for n, way in enumerate(ways)
    ]
    names = [f"C{k}" for k in range(len(cameras))]
    links += [
        link(name, (head, 3), tuple(sorted(own)), head=f"P{head}" if head else "R")
        for name, (head, own) in zip(names, cameras, strict=True)
    ]
    read = survey(
        points=layer("points", [{"id": name, "kind": "camera"} for name in names]),
        routes=layer("routes", [{"id": f"R{k}"} for k in range(3)]),
    )
    network = replace(network, point_node=np.full(len(names), 3))
    for cut in single_cuts(read, network, links, [0]):
        if cut.subject_kind == "node":
            continue
        gone = (
            {cut.index}
            if cut.subject_kind == "segment"
            else set(np.flatnonzero(network.segment_route == cut.index).tolist())
        )
        expected = {
            name
            for name, (head, own) in zip(names, cameras, strict=True)
            if own & gone or (head and all(way & gone for way in cabinets[head]))
        }
        assert set(cut.lost) == expected, cut


def test_the_worst_cuts_are_told_once_and_answered(tmp_path):
    """Two cameras beyond a bent route: the straight way back is 30 m, at 20 + 10 a metre 900."""
    routes = [
        line("A", (0, 0), (0, 40), containment="duct"),
        line("B", (0, 40), (60, 40), (60, 0), (30, 0), containment="duct"),
        line("E", (30, 0), (30, 20), containment="duct"),
    ]
    points = [camera("C1", 30, 0), camera("C2", 30, 20), recorder("R", 0, 0)]
    points += [
        {"id": f"J{n}", "kind": "junction", "x": x, "y": y}
        for n, (x, y) in enumerate([(0, 40), (30, 0), (30, 20)])
    ]
    read = read_survey(write_estate(tmp_path, LOCAL, routes=routes, points=points))
    network = build_network(read)
    node = {str(name): int(n) for name, n in zip(read.points["id"], network.point_node, strict=True)}
    a, b, e = (list(network.segment_id).index(f"{name}.1") for name in "ABE")
    links = [
        link("C1", (node["R"], node["J0"], node["J1"]), (a, b)),
        link("C2", (node["R"], node["J0"], node["J1"], node["J2"]), (a, b, e)),
    ]
    cuts = single_cuts(read, network, links, [node["R"]])
    prices = PriceBook(
        PricesSection(trench_m={"other": 20.0}, containment_m={"duct": 10.0}), load_catalogue()[0].rates
    )
    (told,) = cut_findings(network, prices, cuts, links, [node["R"]])
    assert (told.subject, told.severity, told.cameras) == ("A.1", "watch", ("C1", "C2"))
    # not from R or J0, the ends of what is cut, but for R there is no other on its side: R to J1 is 30 m
    assert "straight from J1 to R, 30 m" in told.remedy
    assert told.cost == pytest.approx(900)
    assert "indicative" in told.remedy
    assert "invented" not in told.remedy
