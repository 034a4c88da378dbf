"""Cameras without a link: told for what really lacks, whatever it is, and the design is kept."""

import pytest

from estate.findings import Action
from estate.placement import left_out as module
from tests.estates import camera, line, recorder
from tests.placement_cases import task
from tests.test_trunks import BOTH, FED, designed, patch

COPPER = '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'


def row_of_cameras(count, **end):
    """Cameras 40 m from a recorder, in one duct."""
    routes = [line("A", (0, 0), (40, 0), containment="duct", bore_mm=100, fill_percent=0)]
    return routes, [recorder("R", 0, 0, **end), *(camera(f"C{k}", 40, 0, **FED) for k in range(count))]


def told(made, name):
    (finding,) = [
        f for f in made.findings if f.cameras == (name,) and f.text.startswith(f"camera {name} has no link")
    ]
    return finding


@pytest.mark.parametrize(
    ("end", "toml", "words"),
    [
        ({"channels": 2}, "spare_percent = 0\n", "a recorder with more channels"),
        ({"channels": 3}, "spare_percent = 50\n", "less spare ([design] spare_percent)"),
        ({"channels": 9, "mbps_max": 9}, "", "a recorder that takes more Mb/s"),
    ],
)
def test_the_limit_of_the_recorder_that_lacks(tmp_path, end, toml, words):
    made, _ = designed(tmp_path, *row_of_cameras(3, **end), COPPER + toml)
    finding = told(made, "C2")
    assert finding.action is Action.ENLARGE
    assert words in finding.remedy
    assert "nearest" not in finding.text


def test_a_full_duct_is_told_as_such_at_its_place(tmp_path):
    routes, points = row_of_cameras(3, channels=9)
    routes[0] |= {"bore_mm": 10}
    made, _ = designed(tmp_path, routes, points, COPPER)
    finding = told(made, "C2")
    assert (finding.subject_kind, finding.subject) == ("segment", "A.1")
    assert "lay another duct" in finding.remedy
    assert "recorder" not in finding.remedy


def test_ports_of_a_switch(tmp_path):
    routes = [line("T", (0, 0), (200, 0), bore_mm=14, containment="duct", fill_percent=0)]
    routes += [line(f"S{k}", (200, 0), (210, k)) for k in range(3)]
    cameras = [camera(f"C{k}", 210, k, **FED) for k in range(3)]
    made, _ = designed(tmp_path, routes, [recorder("R", 0, 0), patch("P", 200, 0, ports=2), *cameras], BOTH)
    finding = told(made, "C2")
    assert "a switch with more ports" in finding.remedy


@pytest.mark.parametrize(
    ("toml", "metres", "why"),
    [
        (
            BOTH.replace("os2", "om3"),
            2000,
            "no way that a fibre may take, within its reach, leads from there to a recorder",
        ),
        (COPPER, 200, "no fibre may be designed that an uplink could run in"),
    ],
)
def test_a_cabinet_without_any_uplink(tmp_path, toml, metres, why):
    routes = [line("T", (0, 0), (metres, 0)), line("S", (metres, 0), (metres + 10, 0))]
    points = [recorder("R", 0, 0), patch("P", metres, 0), camera("C", metres + 10, 0, **FED)]
    made, _ = designed(tmp_path, routes, points, toml)
    finding = told(made, "C")
    assert finding.action is Action.CONNECT
    assert f"a link to cabinet P stands, but {why}" in finding.text


def test_two_cabinets_joined_to_each_other_only(tmp_path):
    """A fibre between them is no uplink: nothing leads to the recorder."""
    routes = [line("T", (0, 0), (2000, 0)), line("U", (2000, 0), (2100, 0)), line("S", (2000, 0), (2000, 10))]
    points = [recorder("R", 0, 0), patch("P", 2000, 0), patch("Q", 2100, 0), camera("C", 2000, 10, **FED)]
    made, _ = designed(tmp_path, routes, points, BOTH.replace("os2", "om3"))
    assert "leads from there to a recorder" in told(made, "C").text


def test_an_interrupt_while_the_reasons_are_sought_keeps_the_design(tmp_path, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(module, "conflicts", interrupted)
    made, out = designed(tmp_path, *row_of_cameras(3, channels=2), COPPER + "spare_percent = 0\n")
    assert (out / "links.csv").exists()
    assert sum(bool(link.method) for link in made.links) == 2
    assert "recorder R: channels short by 1 for C2" in told(made, "C2").text


def test_reasons_are_sought_only_for_a_proven_answer(tmp_path, monkeypatch):
    def never(*_):
        raise AssertionError

    monkeypatch.setattr(module, "conflicts", never)
    toml = COPPER + "spare_percent = 0\ntime_limit_s = 0\n"
    made, _ = designed(tmp_path, *row_of_cameras(3, channels=2), toml)
    assert "channels short by 1" in told(made, "C2").text


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ([("poe_w", 0)], "more PoE power at the recorder"),
        ([("cabinet_poe_w", 0), ("recorders_at_most", 0)], "a switch with more PoE power"),
        ([("recorders_at_most", 0)], "another [design] recorders_at_most"),
        ([("recorders_at_most = 1", 0)], "another [design] recorders_at_most"),
        ([("cores", 0)], "a fibre with more cores"),
        ([("uplink_reach", 0)], "a cabinet nearer a recorder"),
        ([], "more time for the search"),
    ],
)
def test_what_helps_against_a_limit(names, words):
    said = module.remedy(task([], []), names)
    assert words in said
    assert "channels" not in said
    assert said.count("; or ") == max(len(names) - 1, 0)
