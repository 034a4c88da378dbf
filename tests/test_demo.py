"""The demo estate shows its deliberate troubles, as demo_estate/TROUBLES.md lists them."""

import shutil
from pathlib import Path

import pytest

from estate import workflow
from tests.estates import read_csv, read_json

DEMO = Path(__file__).parents[1] / "demo_estate"


@pytest.fixture
def out(demo_design):
    return demo_design


@pytest.fixture
def findings(out):
    return read_csv(out / "findings.csv")


@pytest.fixture
def links(out):
    return {row["camera"]: row for row in read_csv(out / "links.csv")}


def about(findings, *words):
    return [f for f in findings if all(word in f["text"] for word in words)]


def test_it_is_a_whole_estate():
    survey, _ = workflow.load(DEMO)
    kinds = list(survey.points["kind"])
    assert len(survey.buildings) >= 5
    assert len({e for e in survey.buildings["earthing"] if e}) >= 2
    assert kinds.count("camera") >= 40
    assert {"recorder", "patch", "pit", "junction"} <= set(kinds)
    assert min(len(survey.mains), len(survey.supplies), len(survey.cables)) > 0
    assert {"duct", "catenary", "tray"} <= set(survey.routes["containment"])
    assert "proposed" in set(survey.routes["status"])
    assert len({s for s in survey.points["signal"] if s}) >= 5


def test_undershoot_joins_and_the_wider_gap_does_not(findings):
    ready = workflow.prepare(DEMO)
    gaps = [round(join.gap_m, 2) for join in ready.network.joins if join.gap_m > 0.1 and join.kind != "spur"]
    assert gaps == [pytest.approx(0.30, abs=0.02)]
    (gap,) = about(findings, "0.80 m")
    assert gap["action"] == "connect"
    assert "D11" in gap["text"]
    assert gap["x"]


def test_false_crossing_is_told_and_does_not_join(findings):
    (crossing,) = about(findings, "A1", "D6", "cross")
    assert crossing["action"] == "survey"


def test_far_gate_camera_is_told_with_its_distance(findings, links):
    (gate,) = about(findings, "C46", "nearest route")
    assert gate["severity"] == "fault"
    assert links["C46"]["verdict"] == "none"


def test_hazardous_route_is_a_danger_and_serves_nobody(findings, links):
    assert [f for f in findings if f["severity"] == "danger" and f["subject"] == "S1"]
    assert links["C45"]["verdict"] == "none"


def test_copper_clad_aluminium_and_unknown_cable_are_told(findings):
    assert {f["subject"] for f in about(findings, "copper-clad aluminium")} == {"K19", "K22"}
    assert {f["subject"] for f in about(findings, "unknown type")} == {"K18", "K21", "K23"}


def test_tray_with_declared_separation_is_outside(out):
    declared = [r for r in read_csv(out / "proximity.csv") if r["route"] == "T-C2" and r["mains"] == "M1"]
    assert declared
    assert {
        (r["distance_m"], r["required_m"], r["verdict"]) for r in declared if r["cable_class"] == "b"
    } == {("0.06", "0.08", "outside")}


def test_duct_beside_the_feeder_cannot_be_settled_by_the_drawing(out):
    rows = [r for r in read_csv(out / "proximity.csv") if r["route"] == "D4" and r["mains"] == "M3"]
    assert "verify" in {r["verdict"] for r in rows}
    assert "within" not in {r["verdict"] for r in rows if float(r["distance_m"]) < 0.5}


def test_camera_with_a_blank_night_load_is_not_guessed(links):
    """It gets a link that stands at the greatest night load of its kind, from a supply on the way."""
    assert links["C02"]["verdict"] in ("within", "marginal")
    assert "volts at night" in links["C02"]["limiting"]
    assert "supply-dc12@" in links["C02"]["equipment"]


def test_most_cameras_are_linked_and_every_one_has_a_row(out, links):
    summary = read_json(out / "summary.json")
    assert summary["cameras"] == len([row for row in links.values() if row["kind"] == "camera"]) == 47
    assert summary["linked"] >= 40
    assert summary["solver_status"] in ("optimal", "best_found")
    assert summary["bound"] <= summary["objective_value"]
    assert all(row["limiting"] for row in links.values() if row["verdict"] == "none")


def test_spoilt_copy_tells_every_fault_at_once(tmp_path):
    folder = tmp_path / "spoilt"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("out"))
    points = (folder / "points.csv").read_text(encoding="utf-8").splitlines()
    points.append(points[1])
    row = next(n for n, text in enumerate(points) if ",camera," in text and n > 1)
    points[row] = points[row].replace(",camera,", ",camrea,", 1)
    (folder / "points.csv").write_text("\n".join(points), encoding="utf-8")
    toml = (
        (folder / "estate.toml")
        .read_text(encoding="utf-8")
        .replace("spare_percent = 25", "spare_percnt = 25")
    )
    (folder / "estate.toml").write_text(toml, encoding="utf-8")
    with pytest.raises(workflow.InputError) as refused:
        workflow.design(folder)
    told = str(refused.value)
    for expected in ("camrea", "spare_percnt", "spare_percent", "rejected"):
        assert expected in told
    assert len(refused.value.problems) >= 3
    assert not (folder / "out").exists()
