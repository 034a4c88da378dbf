"""Room in containment as a limit of the design: 53 % for one cable, 31 % for two, 40 % for more."""

import math

import pytest

from estate import workflow
from estate.findings import Verdict
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

GLASS = '[design]\nmethods = ["ethernet-fibre"]\ncables = ["os2"]\n'


def designed(folder, routes, points, toml=GLASS):
    made, _, _ = workflow.design(write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points))
    return made


def duct(bore_mm):
    return line("A", (0, 0), (60, 0), containment="duct", bore_mm=bore_mm, fill_percent=0)


@pytest.mark.parametrize(
    ("bore_mm", "cameras", "linked"),
    [
        (14, 1, 1),  # 9.5² / 14² = 46 %: one may fill 53
        (12, 1, 0),  # 63 %
        (14, 3, 1),  # 46 % by one; 40 by several is less than that
        (25, 2, 2),  # 29 %: two may fill 31
        (22, 2, 1),  # 37 % by two, 19 % by one
        (30, 4, 3),  # 40.1 % by four, 30.1 % by three
    ],
)
def test_no_more_is_laid_than_so_many_cables_may_fill(tmp_path, bore_mm, cameras, linked):
    points = [recorder("R", 0, 0), *(camera(f"C{k}", 60, 0) for k in range(cameras))]
    made = designed(tmp_path, [duct(bore_mm)], points)
    assert sum(bool(link.method) for link in made.links) == linked
    assert not [f for f in made.findings if "is filled to" in f.text]


def test_a_full_duct_sends_cables_another_way(tmp_path):
    points = [recorder("R", 0, 0), camera("C0", 60, 0), camera("C1", 60, 0)]
    made = designed(tmp_path, [duct(22), line("B", (0, 0), (30, 40), (60, 0))], points)
    ways = sorted({str(made.network.segment_id[s]) for s in link.segments} for link in made.links)
    assert sorted(map(sorted, ways)) == [["A.1"], ["B.1"]]


def test_a_trunk_takes_room_too(tmp_path):
    """One fibre of 9.5 mm fills a bore of 12 mm to 63 %: the uplink takes the longer way."""
    cabinet = {"id": "P", "kind": "patch", "x": 60, "y": 0, "power": "unswitched", "status": "existing"}
    toml = '[design]\nspare_percent = 0\nmethods = ["ethernet", "ethernet-fibre"]\n'
    ends = [(60 + x, y) for x, y in ((50, 0), (0, 50), (40, 40), (50, 20), (20, 50), (30, 45))]
    cameras = [
        camera(f"C{k}", *p, feeds="poe1", power="none", load_w=5, load_night_w=5) for k, p in enumerate(ends)
    ]
    routes = [duct(12), line("B", (0, 0), (30, 40), (60, 0))]
    routes += [line(f"D{k}", (60, 0), p) for k, p in enumerate(ends)]
    made = designed(tmp_path, routes, [recorder("R", 0, 0), cabinet, *cameras], toml)
    (trunk,) = made.trunks
    assert [str(made.network.segment_id[s]) for s in trunk.segments] == ["B.1"]


def three_ducts():
    """Three ducts side by side, each longer than the one before, of 17, 17 and 80 mm bore."""
    ways = {"A": [(0, 0), (60, 0)], "B": [(0, 0), (30, 40), (60, 0)], "C": [(0, 0), (30, 60), (60, 0)]}
    bores_mm = {"A": 17, "B": 17, "C": 80}
    return [
        line(name, *way, containment="duct", bore_mm=bores_mm[name], fill_percent=0)
        for name, way in ways.items()
    ]


def test_a_full_detour_sends_cables_farther(tmp_path):
    """9.5² / 17² = 31 %: one cable may lie there, two may not. Three are left for the third duct, 4 %."""
    points = [recorder("R", 0, 0), *(camera(f"C{k}", 60, 0) for k in range(5))]
    made = designed(tmp_path, three_ducts(), points)
    ways = sorted(str(made.network.segment_id[s]) for link in made.links for s in link.segments)
    assert ways == ["A.1", "B.1", "C.1", "C.1", "C.1"]


def test_two_trunks_take_the_second_detour(tmp_path):
    """Two cabinets at one place, no other way for their cameras: each bore of 12 mm is too small for a fibre."""
    routes = three_ducts()
    routes[0] |= {"bore_mm": 12}
    routes[1] |= {"bore_mm": 12}
    cabinet = {"id": "P", "kind": "patch", "x": 60, "y": 0, "power": "unswitched", "status": "existing"}
    toml = '[design]\nspare_percent = 0\nmethods = ["ethernet", "ethernet-fibre"]\n'
    cameras = [
        camera(f"C{k}", 120, k, feeds="poe1", power="none", load_w=5, load_night_w=5) for k in range(6)
    ]
    routes += [line(f"D{k}", (60, 0), (120, k)) for k in range(6)]
    made = designed(tmp_path, routes, [recorder("R", 0, 0), cabinet, *cameras], toml)
    assert [[str(made.network.segment_id[s]) for s in trunk.segments] for trunk in made.trunks] == [["C.1"]]


def test_a_choice_that_serves_fewer_than_it_could_is_not_called_optimal(tmp_path):
    """The bound is of a choice without limits of room, which serves two cameras: it says nothing of this one."""
    points = [recorder("R", 0, 0), camera("C0", 60, 0), camera("C1", 60, 0)]
    made = designed(tmp_path, [duct(22)], points)
    assert sum(bool(link.method) for link in made.links) == 1
    assert made.answer.status == "best_found"
    assert math.isnan(made.answer.bound)


def test_links_that_rest_on_the_site_are_sought_where_the_sure_ones_are_full(tmp_path):
    """5.2² / 10² = 27 % for one pair cable, 54 % for two; the way round is drawn 0.1 m ± 1 m from mains."""
    mains = [{"id": "M", "wkt": "LINESTRING (0 20.1, 40 20.1)", "amps": 20, "phases": 1, "circuits": 1, "placement": "indoor", "volts": 230, "screened": "no"}]  # fmt: skip
    routes = [
        line("A", (0, 0), (40, 0), containment="duct", bore_mm=10, fill_percent=0),
        line("B", (0, 0), (0, 20), (40, 20), (40, 0)),
    ]
    fed = {"feeds": "poe1", "power": "none", "load_w": 5, "load_night_w": 5}
    points = [recorder("R", 0, 0), *(camera(f"C{k}", 40, 0, **fed) for k in range(2))]
    toml = LOCAL + EXACT + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    made, _, _ = workflow.design(write_estate(tmp_path, toml, routes=routes, points=points, mains=mains))
    assert sorted(link.verdict for link in made.links) == [Verdict.VERIFY, Verdict.WITHIN]


@pytest.mark.parametrize(("cameras", "linked"), [(1, 0), (2, 2), (3, 2)])
def test_the_number_of_cables_there_counts_too(tmp_path, cameras, linked):
    """A fibre of 9.5 mm in 19 mm is 25.0 %; with one pair of 5.2 mm 32.5 %, over 31; with two 39.98 %, within 40."""
    there = [{"id": "K1", "from": "R", "to": "C0", "cable": "os2", "status": "in_use", "routes": "A"}]
    points = [recorder("R", 0, 0), *(camera(f"C{k}", 60, 0) for k in range(cameras))]
    layers = {"routes": [duct(19)], "points": points, "cables": there}
    toml = '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    made, _, _ = workflow.design(write_estate(tmp_path, LOCAL + EXACT + toml, **layers))
    assert sum(bool(link.method) for link in made.links) == linked
