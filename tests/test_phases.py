"""Phases of works: a trench opened once, cameras live in order, and no phase that rests on a later one."""

from dataclasses import replace

import pytest

from estate import workflow
from estate.network.build import build_network
from estate.placement.phases import phase_problems, phase_steps
from estate.survey.read import read_survey
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate
from tests.test_cli import run
from tests.test_cuts import link

PHASES = '[phases]\nnames = ["one", "two", "three"]\n'
PRICES = "[prices]\nunlisted = 0\n[prices.trench_m]\ngrass = 10\n[prices.cable_m]\nos2 = 2\n"
TOML = LOCAL + EXACT + PHASES + PRICES + '[design]\nmethods = ["ethernet-fibre"]\ncables = ["os2"]\n'
DUG = {"status": "proposed", "containment": "duct", "surface": "grass"}


def forked(folder, *, toml=TOML, trunk="", branch="", first="", second="two", head="", **more):
    """A trench of 80 m to a fork, then 20 m to camera CA and 30 m to camera CB."""
    routes = [
        line("T", (0, 0), (80, 0), phase=trunk, **DUG),
        line("A", (80, 0), (100, 0), phase="", **DUG),
        line("B", (80, 0), (80, 30), phase=branch, **DUG),
    ]
    points = [
        camera("CA", 100, 0, phase=first),
        camera("CB", 80, 30, phase=second),
        recorder("R", 0, 0, phase=head, cost=300, **more),
    ]
    return write_estate(folder, toml, routes=routes, points=points)


def steps(out):
    return [tuple(row.values())[:4] for row in read_csv(out / "phases.csv")]


def test_a_trench_is_opened_once_in_the_first_phase_that_needs_it(tmp_path):
    _, result, out = workflow.design(forked(tmp_path))
    assert steps(out) == [
        ("one", "dig", "segment", "A.1"),
        ("one", "dig", "segment", "T.1"),
        ("one", "install", "recorder", "R"),
        ("one", "pull", "link", "L-CA"),
        ("one", "live", "camera", "CA"),
        ("two", "dig", "segment", "B.1"),
        ("two", "pull", "link", "L-CB"),
        ("two", "live", "camera", "CB"),
    ]
    rows = read_csv(out / "phases.csv")
    money = {row["subject"]: (float(row["length_m"]), float(row["cost"])) for row in rows if row["length_m"]}
    # 10 a metre of trench, 2 a metre of cable: 80 + 20 and 80 + 30 m pulled
    assert money == {
        "T.1": (80, 800),
        "A.1": (20, 200),
        "B.1": (30, 300),
        "L-CA": (100, 200),
        "L-CB": (110, 220),
    }
    assert sum(float(row["cost"]) for row in rows if row["cost"]) == result.summary["objective_value"] == 2020


def test_it_is_opened_later_where_only_later_cameras_need_it(tmp_path):
    _, _, out = workflow.design(forked(tmp_path, first="three", second="two"))
    when = {row["subject"]: row["phase"] for row in read_csv(out / "phases.csv")}
    assert when == {
        "T.1": "two", "A.1": "three", "B.1": "two", "R": "two", "L-CA": "three", "L-CB": "two", "CA": "three",
        "CB": "two",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("late", "named"),
    [({"trunk": "two"}, ("route T", "CA")), ({"head": "three", "second": "three"}, ("recorder R", "CA"))],
)
def test_a_phase_that_rests_on_a_later_one_names_both_and_writes_nothing(tmp_path, late, named):
    refused = run("design", forked(tmp_path, **late))
    assert refused.exit_code == 2
    for words in (*named, "'one (the first; blank)'", next(iter(late.values()))):
        assert words in refused.stderr
    assert "1 problem" in refused.stderr
    assert not (tmp_path / "out").exists()


def test_every_such_camera_is_told_at_once(tmp_path):
    refused = run("design", forked(tmp_path, trunk="three", first="one", second="two"))
    assert refused.exit_code == 2
    assert "2 problems" in refused.stderr
    assert "points.csv row 2 (CA), phase = 'one': expected phase three or later" in refused.stderr


def test_an_existing_recorder_is_not_installed(tmp_path):
    _, _, out = workflow.design(forked(tmp_path, status="existing", channels=8))
    assert "install" not in {step for _, step, *_ in steps(out)}


def test_without_names_nothing_is_phased_and_that_is_said(tmp_path):
    made, result, out = workflow.design(forked(tmp_path, toml=TOML.replace(PHASES, "")))
    assert steps(out) == []
    assert any("[phases]" in note for note in result.notes)
    assert made.links


def on_a_cabinet(folder, *, cabinet, over, round_by):
    """CA and CB on a cabinet at the fork, its uplink over T, a standby uplink over ROUND."""
    routes = [
        line("T", (0, 0), (80, 0), phase=over, **DUG),
        line("ROUND", (0, 0), (0, 50), (80, 50), (80, 0), phase=round_by, **DUG),
    ]
    points = [
        camera("CA", 80, 0, phase="two"),
        camera("CB", 80, 0, phase="three"),
        recorder("R", 0, 0),
        {"id": "P", "kind": "patch", "x": 80, "y": 0, "power": "unswitched", "phase": cabinet},
    ]
    read = read_survey(write_estate(folder, TOML, routes=routes, points=points))
    network = build_network(read)
    node = {str(name): int(n) for name, n in zip(read.points["id"], network.point_node, strict=True)}
    ids = {str(name): k for k, name in enumerate(network.segment_id)}
    up = link("P", (node["R"], node["P"]), (ids["T.1"],), kind="uplink")
    links = [
        *(link(name, (node["P"],), (), head="P") for name in ("CA", "CB")),
        up,
        replace(up, id="L-P2", kind="standby", segments=(ids["ROUND.1"],)),
    ]
    return read, network, links


def test_an_uplink_comes_with_the_first_camera_that_hangs_on_it(tmp_path):
    estate = on_a_cabinet(tmp_path, cabinet="one", over="", round_by="three")
    assert phase_problems(*estate) == []
    when = {(s.step, s.subject): s.phase for s in phase_steps(*estate, {}, ())}
    assert when == {
        ("dig", "T.1"): "two", ("install", "P"): "two", ("pull", "L-P"): "two", ("pull", "L-CA"): "two",
        ("live", "CA"): "two", ("dig", "ROUND.1"): "three", ("pull", "L-P2"): "three", ("pull", "L-CB"): "three",
        ("live", "CB"): "three",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("late", "needed"),
    [
        ({"cabinet": "three", "over": "", "round_by": ""}, "cabinet P"),
        ({"cabinet": "", "over": "three", "round_by": ""}, "route T"),
    ],
)
def test_a_camera_needs_its_cabinet_and_the_routes_of_its_uplink(tmp_path, late, needed):
    (problem,) = phase_problems(*on_a_cabinet(tmp_path, **late))
    assert problem.id == "CA"
    assert needed in problem.expected


def chain(folder, *, first, second, cabinet=""):
    """Recorder, cabinet P1 at 140 m, P2 at 280 m beyond it: three cameras on each. One trench of two halves."""
    routes = [line("T1", (0, 0), (140, 0), **DUG), line("T2", (140, 0), (280, 0), **DUG)]
    points = [recorder("R", 0, 0, channels=16, cost=300)]
    for name, x, phase in (("P1", 140, first), ("P2", 280, second)):
        stands = {"status": "existing", "power": "unswitched", "ports": 8, "poe_w": 240}
        points.append(
            {"id": name, "kind": "patch", "x": x, "y": 0, "phase": cabinet if name == "P1" else "", **stands}
        )
        for k in range(3):
            routes.append(line(f"S{name}{k}", (x, 0), (x, 10 + k)))
            fed = {"feeds": "poe1", "power": "none", "load_w": 5, "load_night_w": 5}
            points.append(camera(f"C{name}{k}", x, 10 + k, phase=phase, **fed))
    methods = '[design]\nspare_percent = 0\nmethods = ["ethernet", "ethernet-fibre"]\ncables = ["os2", "cat5e-utp"]\n'
    toml = TOML.split("[design]")[0] + methods
    return write_estate(folder, toml, routes=routes, points=points)


@pytest.mark.parametrize(("first", "second", "owner"), [("two", "one", "U-P2"), ("one", "two", "U-P1")])
def test_a_shared_trunk_is_pulled_in_the_first_phase_that_runs_in_it(tmp_path, first, second, owner):
    _, result, out = workflow.design(chain(tmp_path, first=first, second=second))
    pulled = {
        row["subject"]: float(row["length_m"])
        for row in read_csv(out / "phases.csv")
        if row["step"] == "pull"
    }
    other = {"U-P1": "U-P2", "U-P2": "U-P1"}[owner]
    # P2's fibre runs through the trunk of 140 m to P1 and one of 140 m beyond
    assert pulled[owner] == (280 if owner == "U-P2" else 140)
    assert pulled[other] == (0 if owner == "U-P2" else 140)
    total = sum(float(row["cost"]) for row in read_csv(out / "phases.csv") if row["cost"])
    assert total == pytest.approx(result.summary["objective_value"])


def test_a_camera_needs_the_cabinets_that_its_trunk_passes(tmp_path):
    refused = run("design", chain(tmp_path, first="three", second="one", cabinet="three"))
    assert refused.exit_code == 2
    assert "its link needs cabinet P1, which is of phase three" in refused.stderr
    assert "3 problems" in refused.stderr
