"""Spare installed cables in a design: free, with their own length and joints, for one link each."""

import pytest

from estate import workflow
from estate.output.bill import bill_lines
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate

ROUTES = [line("A", (0, 0), (100, 0)), line("B", (100, 0), (160, 0))]
COAX = '[design]\nmethods = ["coax-local"]\n'
PATCH = {"id": "P", "kind": "patch", "x": 100, "y": 0}


def designed(folder, cables, toml=COAX, points=(), routes=ROUTES, signal="composite"):
    layers = {"cables": cables} if cables else {}
    points = [recorder("R", 0, 0), PATCH, camera("C", 160, 0, signal=signal), *points]
    made, _, out = workflow.design(
        write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points, **layers)
    )
    return made, out


def spare(identity="K1", **more):
    return {
        "id": identity,
        "from": "R",
        "to": "P",
        "status": "spare",
        "cable": "rg59-cu",
        "joints": 0,
        **more,
    }


def link(made, identity="C"):
    return next(each for each in made.links if each.camera == identity)


def test_a_link_mixes_a_spare_and_new_cable(tmp_path):
    made, out = designed(tmp_path, [spare(length_m=110)])
    runs = link(made).runs
    assert [(run.installed, run.cable_length_m, run.purchase_m) for run in runs] == [
        ("K1", 110, 0),
        ("", 60, 60),
    ]
    items = {row["item"]: row for row in read_csv(out / "quantities.csv")}
    assert float(items["cable-rg59-cu"]["quantity"]) == 60
    assert float(items["termination-coax"]["quantity"]) == 4
    assert link(made).own_cost == pytest.approx(
        sum(line.quantity * line.rate.value for line in bill_lines(made) if line.heading != "recorders")
    )
    assert "K1 is taken for C" in " ".join(f.text for f in made.findings)


def test_a_spare_of_another_impedance_or_kind_is_not_joined(tmp_path):
    made, _ = designed(tmp_path, [spare(cable="cat5e-utp")])
    assert [run.installed for run in link(made).runs] == [""]


@pytest.mark.parametrize(("joints", "taken"), [(1, True), (2, False), ("", False)])
def test_joints_cost_reach_and_unknown_ones_the_most(tmp_path, joints, taken):
    """229 m of reach on RG-59 less 50 m a joint; 110 + 60 m of cable: one joint may be, five could be."""
    made, _ = designed(tmp_path, [spare(length_m=110, joints=joints)])
    assert any(run.installed for run in link(made).runs) is taken


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"cable": "unknown"}, "its type is not known"),
        ({"cable": ""}, "its type is not known"),
        ({"tees": 1}, "it has tees"),
        ({"length_m": 99}, "99 m is less than the 100.0 m of its way"),
    ],
)
def test_a_spare_that_is_not_known_is_left_and_said(tmp_path, facts, words):
    made, _ = designed(tmp_path, [spare(**facts)])
    assert [run.installed for run in link(made).runs] == [""]
    assert words in " ".join(f.text for f in made.findings)


def test_a_dead_or_used_cable_is_no_spare(tmp_path):
    made, _ = designed(tmp_path, [spare("K1", status="dead"), spare("K2", status="in_use")])
    assert [run.installed for run in link(made).runs] == [""]


def test_a_spare_serves_one_link_only(tmp_path):
    other = camera("D", 160, 0, signal="composite")
    made, _ = designed(tmp_path, [spare(length_m=110)], points=[other])
    taken = [run.installed for each in made.links for run in each.runs]
    assert sorted(taken) == ["", "", "K1"]


def test_data_goes_over_a_spare_from_end_to_end_only(tmp_path):
    """Joined to new cable it would want a test of the channel: with a switch at its end it is whole."""
    pair = spare(cable="cat5e-utp", length_m=85)
    ethernet = '[design]\nmethods = ["ethernet"]\n'
    near = [line("A", (0, 0), (60, 0)), line("B", (60, 0), (80, 0))]
    points = {"id": "P", "kind": "patch", "x": 60, "y": 0, "power": "unswitched"}
    layers = {"routes": near, "cables": [{**pair, "length_m": 60}]}
    made, _, _ = workflow.design(
        write_estate(
            tmp_path / "a",
            LOCAL + EXACT + ethernet,
            points=[recorder("R", 0, 0), {**points, "power": "none"}, camera("C", 80, 0)],
            **layers,
        )
    )
    assert [run.installed for run in link(made).runs] == [""]
    made, _, _ = workflow.design(
        write_estate(
            tmp_path / "b",
            LOCAL + EXACT + ethernet,
            routes=[line("A", (0, 0), (85, 0)), line("B", (85, 0), (160, 0))],
            cables=[pair],
            points=[recorder("R", 0, 0), {**points, "x": 85}, camera("C", 160, 0)],
        )
    )
    assert [run.installed for run in link(made).runs] == ["K1", ""]
