"""Room in containment as a limit of the design: 53 % for one cable, 31 % for two, 40 % for more."""

import pytest

from estate import workflow
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
