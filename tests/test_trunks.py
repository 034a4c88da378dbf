"""Trunks of cabinets through the whole design: their trenches, their lengths, their reach, their second ways."""

import pytest

from estate import workflow
from estate.output.bill import bill_lines
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
