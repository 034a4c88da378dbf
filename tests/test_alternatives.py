"""Other links for a camera: the cheapest that differ in method, head or route; by hand and against looking at all of them."""

from itertools import islice, product

import networkx as nx
import numpy as np
import pytest
from click.testing import CliRunner

from estate import workflow
from estate.cli import main
from estate.links.alternatives import Known, Parts, known, other_links
from estate.links.judging import Laid, judged, quoted, stands
from estate.links.schemes import stage_variants
from estate.output.build import design_result
from estate.placement.design import link_search
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate

ONE = "[prices]\nunlisted = 1\n"
"""Every metre of cable, every metre pulled, every end and every item costs 1."""


def patch(identity, x, y, **more):
    return {"id": identity, "kind": "patch", "x": x, "y": y, **more}


def kept(folder, count, toml, routes, points, **layers):
    """Design with alternatives; the row of the camera's link, and its alternatives."""
    estate = write_estate(folder, LOCAL + EXACT + ONE + toml, routes=routes, points=points, **layers)
    tables = design_result(workflow.designed(workflow.prepare(estate), alternatives=count)).tables
    (link,) = [row for row in tables["links"].records() if row["camera"] == "C"]
    return link, tables["alternatives"].records()


def search_on(folder, toml, **layers):
    checked = workflow.prepare(write_estate(folder, toml, **layers))
    return link_search(checked.survey, checked.catalogue, checked.network, checked.separation)


# By hand


WITH_PATCH = (
    [line("A", (0, 0), (70, 0)), line("B", (70, 0), (130, 0))],
    [
        recorder("R", 0, 0),
        patch("P", 70, 0, power="unswitched"),
        camera("C", 130, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"),
    ],
)


def test_130_m_with_a_patch_point_a_switch_beside_an_extender(tmp_path):
    """130 m of cable bought and pulled, four ends made off; a connector at each end, and one thing at the patch point."""
    link, others = kept(
        tmp_path, 3, '[design]\nmethods = ["ethernet", "ethernet-extender"]\n[prices.equipment]\nextender-poe = 50\n', *WITH_PATCH
    )  # fmt: skip
    by_switch = 130 + 130 + 4 + 4 + 1
    assert (link["method"], link["cost"]) == ("ethernet", by_switch)
    assert "switch" in link["equipment"]
    assert [(row["method"], row["cost"]) for row in others] == [("ethernet-extender", by_switch + 49)]
    assert others[0]["avoids"].startswith("switch")


def test_two_routes(tmp_path):
    """The way round is 20 m longer: 20 m more cable and pulling; it does without the straight one."""
    link, others = kept(
        tmp_path,
        3,
        '[design]\nmethods = ["ethernet"]\n',
        [line("A", (0, 0), (40, 0)), line("B", (0, 0), (0, 10), (40, 10), (40, 0))],
        [
            recorder("R", 0, 0),
            camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"),
        ],
    )
    assert link["segments"] == "A.1"
    round_about = [row for row in others if row["avoids"] == "A.1"]
    assert [row["cost"] - link["cost"] for row in round_about] == [40]
    assert round_about[0]["cable_length_m"] == 60


def test_ranks_count_from_1_and_costs_rise(tmp_path):
    _, others = kept(tmp_path, 3, "", *WITH_PATCH)
    assert [row["rank"] for row in others] == [1, 2, 3]
    costs = [row["cost"] for row in others]
    assert costs == sorted(costs)
    ways = {(row["method"], row["head"], row["avoids"]) for row in others}
    assert len(ways) == 3


def test_none_are_kept_unless_asked_for(tmp_path):
    link, others = kept(tmp_path, 0, "", *WITH_PATCH)
    assert link["verdict"] != "none"
    assert others == []


def test_another_head_is_another_link(tmp_path):
    link, others = kept(
        tmp_path,
        1,
        '[design]\nmethods = ["ethernet"]\n',
        [line("A", (0, 0), (40, 0)), line("B", (40, 0), (90, 0))],
        [
            recorder("R1", 0, 0, cost=100),
            recorder("R2", 90, 0, status="existing", channels=8),
            camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"),
        ],
    )
    assert link["head"] == "R2"  # it is there already
    assert [(row["head"], row["avoids"]) for row in others] == [("R1", "B.1")]
    assert others[0]["cost"] == link["cost"] - 20


def test_a_forbidden_recorder_is_no_alternative(tmp_path):
    _, others = kept(
        tmp_path,
        3,
        '[design]\nmethods = ["ethernet"]\nforbid_recorders = ["R2"]\n',
        [line("A", (0, 0), (40, 0)), line("B", (40, 0), (90, 0))],
        [recorder("R1", 0, 0), recorder("R2", 90, 0), camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5)],
    )  # fmt: skip
    assert "R2" not in {row["head"] for row in others}


def test_discouraged_methods_come_last(tmp_path):
    _, others = kept(tmp_path, 9, '[design]\ndiscouraged = ["ethernet-extender"]\n', *WITH_PATCH)
    discouraged = [row["method"] == "ethernet-extender" for row in others]
    assert any(discouraged)
    assert discouraged == sorted(discouraged)


def test_links_to_be_verified_only_where_there_is_no_other(tmp_path):
    """The near way is drawn 0.1 m ± 1 m from mains, the far one is clear: only clear links are told."""
    mains = [{"id": "M", "wkt": "LINESTRING (0 0.1, 40 0.1)", "amps": 20, "phases": 1, "circuits": 1, "placement": "indoor", "volts": 230, "screened": "no"}]  # fmt: skip
    points = [recorder("R", 0, 0), camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none")]
    near, far = line("A", (0, 0), (40, 0)), line("B", (0, 0), (0, 15), (40, 15), (40, 0))
    toml = '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    link, others = kept(tmp_path / "both", 5, toml, [near, far], points, mains=mains)
    assert link["segments"] == "B.1"
    assert all("B.1" not in row["avoids"] for row in others)
    link, _ = kept(tmp_path / "near", 5, toml, [near], points, mains=mains)
    assert link["verdict"] == "verify"


def test_what_a_camera_without_room_could_have(tmp_path):
    """Two cameras, one channel: the one left out has its links told from rank 1, with nothing to avoid."""
    estate = write_estate(
        tmp_path,
        LOCAL + EXACT + ONE + '[design]\nmethods = ["ethernet"]\nspare_percent = 0\n',
        routes=[line("A", (0, 0), (40, 0)), line("B", (40, 0), (60, 0))],
        points=[
            recorder("R", 0, 0, channels=1, poe_ports=2),
            camera("C1", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none", priority=1),
            camera("C2", 60, 0, feeds="poe1", load_w=5, load_night_w=5, power="none", priority=9),
        ],
    )
    tables = design_result(workflow.designed(workflow.prepare(estate), alternatives=1)).tables
    others = {row["camera"]: row for row in tables["alternatives"].records()}
    assert (others["C2"]["rank"], others["C2"]["method"], others["C2"]["avoids"]) == (1, "ethernet", "")
    assert others["C2"]["cost"] == 60 + 60 + 2 + 2


def test_the_command_and_the_saved_result_agree(tmp_path):
    routes, points = WITH_PATCH
    estate = write_estate(tmp_path, LOCAL + EXACT + ONE, routes=routes, points=points)
    done = CliRunner().invoke(main, ["design", str(estate), "--alternatives", "2", "-q"])
    assert done.exit_code == 0, done.output
    table = read_json(estate / "out" / "design" / "result.json")["tables"]["alternatives"]
    rows = read_csv(estate / "out" / "design" / "alternatives.csv")
    assert table["columns"] == [
        "camera",
        "rank",
        "head",
        "method",
        "cable_length_m",
        "cost",
        "margin_percent",
        "avoids",
    ]
    assert len(table["rows"]) == len(rows) == 2
    assert CliRunner().invoke(main, ["design", str(estate), "--alternatives", "-1"]).exit_code == 2


@pytest.mark.parametrize(
    ("mine", "other", "told"),
    [
        (Parts("R", (3, 1, 1), ("a",), ()), Parts("Q", (1,), ("b",), ()), ("s3",)),
        (Parts("R", (1,), ("a", "a", "b"), ("x",)), Parts("R", (1, 2), ("a", "b"), ()), ("a",)),
        (Parts("R", (1,), ("a",), ("x", "y")), Parts("Q", (1,), ("a",), ("x",)), ("y",)),
        (Parts("R", (1,), ("a",), ()), Parts("Q", (1,), ("a",), ("x",)), ("R",)),
        (Parts("R", (1,), ("a",), ()), Parts("R", (1,), ("a",), ("x",)), ()),
    ],
)
def test_what_is_avoided(mine, other, told):
    names = np.array([f"s{k}" for k in range(9)], dtype=object)
    assert mine.without(other, names) == told


# Against looking at every link


CABLES = ["cat5e-utp", "om3"]
RANDOM = LOCAL + EXACT + f'[design]\nmethods = ["ethernet", "ethernet-fibre", "ethernet-extender"]\ncables = {CABLES}\n'.replace("'", '"')  # fmt: skip


def random_search(folder, seed):
    """A ring with chords between two recorders, three patch points and a camera, without a drawing."""
    rng = np.random.default_rng(seed)
    names = ["R1", "R2", "P1", "P2", "P3", "C"]
    pairs = [(names[k], names[(k + 1) % 6]) for k in range(6)]
    pairs += [tuple(sorted(rng.choice(names, 2, replace=False))) for _ in range(int(rng.integers(1, 4)))]
    routes = [
        {"id": f"S{k}", "from": a, "to": b, "length_m": int(rng.integers(10, 60)), "containment": "tray"}
        for k, (a, b) in enumerate(pairs)
    ]
    points = [{"id": r, "kind": "recorder", "status": "candidate", "poe_ports": int(rng.integers(0, 2))} for r in names[:2]]  # fmt: skip
    points += [
        {"id": p, "kind": "patch", "power": str(rng.choice(["unswitched", "none"]))} for p in names[2:5]
    ]
    feeds = str(rng.choice(["poe1", "local", "poe1;local"]))
    points.append({"id": "C", "kind": "camera", "signal": "ethernet-1g", "feeds": feeds, "power": "unswitched", "load_w": 5, "load_night_w": 5})  # fmt: skip
    return search_on(folder, RANDOM, routes=routes, points=points)


def every_link(search):
    """Every link of the camera that stands: all schemes, cables, simple ways of each stretch and places for stops."""
    network, view = search.network, nx.MultiGraph()
    view.add_nodes_from(range(network.nodes))
    for s in range(network.segments):
        view.add_edge(int(network.segment_from[s]), int(network.segment_to[s]), key=s)
    goal = int(network.point_node[search.cameras[0].row])
    ways = {
        (a, b): simple_ways(view, a, b, network.node_passes)
        for a in range(network.nodes)
        for b in range(network.nodes)
    }
    for site in range(search.recorders):
        start = search.sites[site].node
        for scheme, _ in search.ways_to_join(site, 0, with_verify=False):
            variants = [
                stage_variants(stage, search.catalogue, search.settings.design) for stage in scheme.stages
            ]
            for course in courses(search, scheme, start, goal, ways):
                for chosen in product(*variants):
                    laid = [Laid(v, *way) for v, way in zip(chosen, course, strict=True)]
                    found = judged(search, quoted(search, 0, site, scheme, laid))
                    if stands(found, with_verify=False):
                        yield found


def simple_ways(view, start, goal, passes):
    """Every way without a node twice, as nodes and segments; cable ends at a camera, never goes through it."""
    if start == goal:
        return [((start,), ())]
    found = []
    for path in nx.all_simple_edge_paths(view, start, goal):
        nodes = (start, *(edge[1] for edge in path))
        if all(passes[n] for n in nodes[1:-1]) and passes[start]:
            found.append((nodes, tuple(edge[2] for edge in path)))
    return found


def courses(search, scheme, start, goal, ways):
    if not scheme.stops:
        yield from ([way] for way in ways[start, goal])
        return
    assert len(scheme.stops) == 1
    at = search.powered_nodes
    if scheme.stops[0].by_port:
        at = np.union1d(at, search.cabinet_nodes)
    for node in at.tolist():
        yield from map(list, product(ways[start, node], ways[node, goal]))


def greedy(links, count, first):
    """The cheapest, then again and again the cheapest that differs from all before."""
    taken, found = list(first), []
    for link in sorted(links, key=lambda f: f.own_cost):
        if not any(each.is_like(link) for each in taken):
            taken.append(known(link))
            found.append(link)
        if len(found) == count:
            break
    return found


SEEDS = range(24)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_cheapest_others_are_those_of_looking_at_all(tmp_path, seed):
    search = random_search(tmp_path, seed)
    links = list(every_link(search))
    first = [known(min(links, key=lambda f: f.own_cost))] if links else []
    expected = greedy(links, 4, first)
    found = list(islice(other_links(search, 0, range(search.recorders), first, with_verify=False), 4))
    assert [f.own_cost for f in found] == pytest.approx([f.own_cost for f in expected], abs=1e-9)
    assert all(stands(f, with_verify=False) for f in found)


def test_the_random_estates_have_what_matters(tmp_path):
    """Other methods, other heads and other routes each come up often."""
    method = head = route = 0
    for seed in SEEDS:
        search = random_search(tmp_path / str(seed), seed)
        found = list(islice(other_links(search, 0, range(search.recorders), with_verify=False), 5))
        best, rest = known(found[0]), [known(f) for f in found[1:]]
        method += any(k.method != best.method for k in rest)
        head += any(k.site != best.site for k in rest)
        route += any((k.method, k.site) == (best.method, best.site) for k in rest)
    assert min(method, head, route) > 6


def test_a_link_that_only_adds_to_another_is_not_different():
    """A spur into a patch point and back adds segments and leaves none out."""
    direct, with_spur = Known("ethernet", 0, frozenset({1, 2})), {1, 2, 3}

    class Walk:
        scheme = type("S", (), {"name": "ethernet"})
        site = 0
        segments = tuple(with_spur)

    assert direct.is_like(Walk)
    assert not Known("ethernet", 0, frozenset(with_spur)).is_like(type("W", (Walk,), {"segments": (1, 2)}))
