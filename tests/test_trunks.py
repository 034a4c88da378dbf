"""Trunks of cabinets through the whole design: their trenches, their lengths, their reach, their second ways."""

from dataclasses import replace

import pytest

from estate import workflow
from estate.findings import Severity, Verdict
from estate.output.bill import bill_lines
from estate.placement.design import link_search
from estate.placement.findings import design_findings
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

PRICES = """
[prices]
unlisted = 0
[prices.trench_m]
grass = 10
[prices.cable_m]
os2 = 2
om3 = 2
cat5e-utp = 1
[prices.recorder]
16 = 450
[prices.equipment]
fibre-module = 25
switch-8-240w = 300
"""
BOTH = (
    '[design]\nspare_percent = 0\nmethods = ["ethernet", "ethernet-fibre"]\ncables = ["os2", "cat5e-utp"]\n'
)
DUG = {"status": "proposed", "containment": "duct", "surface": "grass"}
FED = {"feeds": "poe1", "power": "none", "load_w": 5, "load_night_w": 5, "mbps": 4}


def patch(identity, x, y, **more):
    """A cabinet that stands, with power and an existing switch of eight ports."""
    own = {"power": "unswitched", "status": "existing", "ports": 8, "poe_w": 240}
    return {"id": identity, "kind": "patch", "x": x, "y": y, **own, **more}


def designed(folder, routes, points, toml):
    """Design an estate and return it, with the path."""
    made, _, out = workflow.design(write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points))
    return made, out


def at_end_of_a_trench(count, **end):
    """A cabinet 200 m off over a trench, cameras 10 m beyond it."""
    routes = [line("T", (0, 0), (200, 0), **DUG)]
    routes += [line(f"S{k}", (200, 0), (210, k)) for k in range(count)]
    cameras = [camera(f"C{k}", 210, k, **FED) for k in range(count)]
    return routes, [recorder("R", 0, 0, channels=16, **end), patch("P", 200, 0), *cameras]


def test_a_trunk_pays_its_trench_once(tmp_path):
    made, _ = designed(tmp_path, *at_end_of_a_trench(3), BOTH + PRICES)
    (trench,) = made.works.items()
    assert trench[1] == 200 * 10
    # recorder 450, trench 2000, fibre 200 m at 2, two modules; three cables of √(100 + k²) m at 1
    runs_m = sum((100 + k * k) ** 0.5 for k in range(3))
    assert made.answer.objective_value == pytest.approx(450 + 2000 + 400 + 50 + runs_m)
    assert sum(row.quantity * row.rate.value for row in bill_lines(made)) == pytest.approx(
        made.answer.objective_value
    )
    assert made.answer.status == "optimal"


def test_a_trench_is_shared_by_trunk_and_links(tmp_path):
    """A camera half-way along the trench has a copper link of its own in it."""
    routes, points = at_end_of_a_trench(3)
    routes = [line("T1", (0, 0), (50, 0), **DUG), line("T2", (50, 0), (200, 0), **DUG), *routes[1:]]
    made, _ = designed(tmp_path, routes, [*points, camera("H", 50, 0, **FED)], BOTH + PRICES)
    ways = {link.id: {str(made.network.segment_id[s]) for s in link.segments} for link in made.links}
    assert ways["L-H"] == {"T1.1"}
    assert ways["U-P"] == {"T1.1", "T2.1"}
    assert sorted(made.works.values()) == [500, 1500]


def test_a_trunk_is_as_long_as_its_way_and_the_heights_of_its_ends(tmp_path):
    """Way 200 m, cabinet at 3 m and recorder at 2 m, 5 % slack, 3 m at each end: 205 · 1.05 + 6."""
    routes, points = at_end_of_a_trench(3, height_m=2)
    points[1] |= {"height_m": 3}
    toml = LOCAL + "[lengths]\nend_m = 3\nslack_percent = 5\nwaste_percent = 0\n" + BOTH + PRICES
    made, _, _ = workflow.design(write_estate(tmp_path, toml, routes=routes, points=points))
    (trunk,) = made.trunks
    assert trunk.cable_length_m == pytest.approx(221.25)
    (uplink,) = [link for link in made.links if link.kind == "uplink"]
    assert uplink.cable_length_m == pytest.approx(221.25)


def far_cabinet(metres, glass, *more, heights=""):
    """A cabinet with six cameras at the end of a line; `more` routes beside it."""
    x = float(metres)
    routes = [line("A", (0, 0), (x, 0)), *more]
    routes += [line(f"S{k}", (x, 0), (x + 10, k)) for k in range(6)]
    cameras = [camera(f"C{k}", x + 10, k, **FED) for k in range(6)]
    toml = BOTH.replace("os2", glass)
    return routes, [recorder("R", 0, 0), patch("P", x, 0), *cameras], toml


@pytest.mark.parametrize(
    ("glass", "metres", "laid"), [("om3", 540, 1), ("om3", 560, 0), ("om3", 2000, 0), ("os2", 2000, 1)]
)
def test_no_uplink_beyond_the_reach_of_its_fibre(tmp_path, glass, metres, laid):
    """1000BASE-SX on OM3: 550 m; on single-mode 1000BASE-LX 5 km (IEEE 802.3, as the catalogue has them)."""
    made, _ = designed(tmp_path, *far_cabinet(metres, glass))
    assert len(made.trunks) == laid
    assert all(link.verdict != "outside" for link in made.links if link.kind == "uplink")


def test_two_sections_within_reach_are_not_one_uplink_beyond_it(tmp_path):
    """400 m and 400 m of OM3: the second cabinet's fibre would be 800 m long."""
    routes, points, toml = far_cabinet(800, "om3")
    near = [camera(f"N{k}", 410, k, **FED) for k in range(6)]
    routes += [line(f"T{k}", (400, 0), (410, k)) for k in range(6)]
    made, _ = designed(tmp_path, routes, [*points, patch("Q", 400, 0), *near], toml)
    assert [use.patch.id for use in made.cabinets] == ["Q"]
    assert {link.camera for link in made.links if not link.method} == {f"C{k}" for k in range(6)}


def test_a_shorter_way_where_the_cheapest_is_too_long(tmp_path):
    """600 m preferred, or 500 m that count double: OM3 goes 550 m."""
    shorter = line("B", (0, 0), (500, 0), use="discouraged")
    routes, points, toml = far_cabinet(500, "om3", shorter)
    routes[0] = line("A", (0, 0), (0, 50), (500, 50), (500, 0))
    made, _ = designed(tmp_path, routes, points, toml)
    (trunk,) = made.trunks
    assert [str(made.network.segment_id[s]) for s in trunk.segments] == ["B.1"]


def test_multimode_is_taken_by_its_reach(tmp_path):
    """OM3 made to reach 300 m only: OM4 is laid over 400 m, though it comes after."""
    toml = (
        BOTH.replace('"os2"', '"om3", "om4"')
        + '[catalogue.cables.om3]\nloss_850_db_per_km = { value = 9.0, source = "practice", status = "common_practice" }\n'
    )
    routes, points, _ = far_cabinet(400, "om3")
    made, _ = designed(tmp_path, routes, points, toml)
    assert [trunk.cable for trunk in made.trunks] == ["om4"]


def test_the_shortest_way_gives_way_to_a_pair(tmp_path):
    """From R at 0 to P: by the middle alone no second way is left; by the two outer ones both stand."""
    routes = [
        line("A", (0, 0), (60, 0)),
        line("M", (60, 0), (100, 0)),
        line("B", (100, 0), (160, 0)),
        line("U", (0, 0), (50, 60), (100, 0)),
        line("D", (60, 0), (110, -60), (160, 0)),
    ]
    routes += [line(f"S{k}", (160, 0), (170, k)) for k in range(6)]
    cameras = [camera(f"C{k}", 170, k, **FED) for k in range(6)]
    toml = BOTH + "diverse_uplinks = true\n"
    made, _ = designed(tmp_path, routes, [recorder("R", 0, 0), patch("P", 160, 0), *cameras], toml)
    ways = sorted(
        sorted(str(made.network.segment_id[s]) for s in link.segments)
        for link in made.links
        if link.kind in ("uplink", "standby")
    )
    assert ways == [["A.1", "D.1"], ["B.1", "U.1"]]


def test_an_uplink_that_passes_a_limit_is_a_fault_of_all_its_cameras(tmp_path):
    """The design has none; one that is made so is told."""
    made, _ = designed(tmp_path, *at_end_of_a_trench(3), BOTH + PRICES)
    search = link_search(made.survey, made.catalogue, made.network, made.separation)
    links = [replace(link, verdict=Verdict.OUTSIDE) if link.kind == "uplink" else link for link in made.links]
    told = [f for f in design_findings(search, links, {}, made.recorders) if f.subject == "U-P"]
    assert [(f.severity, f.cameras) for f in told] == [(Severity.FAULT, ("C0", "C1", "C2"))]
