"""The numbers of an audit as the command gives them, and odd records that must not be guessed over."""

import pytest
from click.testing import CliRunner

from estate.cli import main
from estate.findings import Severity, Verdict
from estate.placement.pull_findings import designed_pulls
from tests.audit_cases import at, audited, cable, findings, link
from tests.estates import EXACT, LOCAL, line, read_csv, read_json, recorder, write_estate

R1 = recorder("R1", 0, 0, status="existing", channels=40)
A = line("A", (0, 0), (1000, 0))
POE = {"signal": "ethernet-1g", "feeds": "poe2", "power": "none", "load_w": 25.5, "load_night_w": 25.5}
NET = {"cable": "cat5e-utp", "method": "ethernet"}


def told(folder, cables, points, routes=(A,), toml="", **layers):
    """Audit an estate from the command line; return what it prints and the folder that it writes."""
    layers |= {"cables": cables, "points": points, "routes": list(routes)}
    write_estate(folder / "e", LOCAL + EXACT + toml, **layers)
    done = CliRunner().invoke(main, ["audit", str(folder / "e"), "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output
    return done.output, folder / "out"


# Numbers


def test_24_judged_and_7_to_be_verified(tmp_path):
    """31 cables, 7 of them untyped, none of these settled by every value (worked example of the practice notes)."""
    cables = [cable(f"K{n:02}", f"C{n:02}", **({"cable": "unknown"} if n < 7 else {})) for n in range(31)]
    words, out = told(tmp_path, cables, [R1, *(at(20 + n, f"C{n:02}") for n in range(31))])
    assert "cables on record: 31 in use; in links 24 judged, 7 to be verified" in words
    summary = read_json(out / "summary.json")
    assert (summary["judged"], summary["verify"]) == (24, 7)
    assert len(read_csv(out / "survey.csv")) == 7


@pytest.mark.parametrize(("bore_mm", "percent"), [(25, 48.4), (22, 62.5)])
def test_eight_coax_are_too_many(tmp_path, bore_mm, percent):
    """Eight of 6.15 mm in a bore: 8·6.15²/d², 40 % may be filled (NEC chapter 9, table 1)."""
    cables = [cable(f"K{n}", f"C{n}") for n in range(8)]
    duct = {**A, "containment": "duct", "bore_mm": bore_mm, "fill_percent": 0}
    _, out = told(tmp_path, cables, [R1, *(at(60, f"C{n}") for n in range(8))], [duct])
    (row,) = [row for row in read_csv(out / "containment.csv") if row["route"] == "A"]
    assert float(row["fill_percent"]) == pytest.approx(percent, abs=0.1)
    assert any(f["action"] == "enlarge" and "A" in f["text"] for f in read_csv(out / "findings.csv"))


def test_25_w_at_100_m(tmp_path):
    """From 50 V over 9.38 Ω 44.6 V; at 1.4 times the resistance 42.0 V, outside 42.5 (IEEE 802.3 type 2)."""
    clad = "cords_m = 0\n[catalogue.cables.cca-utp]\nconductor_ohm_per_km = 131.32\n"
    cables = [cable("K1", **NET), cable("K2", "C2", **{**NET, "cable": "cca-utp"})]
    routes = [line("B", (-1000, 0), (0, 0)), A]
    _, out = told(tmp_path, cables, [R1, at(100, **POE), at(-100, "C2", **POE)], routes, clad)
    night = {
        row["link"]: (round(float(row["value"]), 1), float(row["limit"]), row["verdict"])
        for row in read_csv(out / "budget.csv")
        if row["quantity"] == "volts" and row["state"] == "night"
    }
    assert night == {"L-C1": (44.6, 42.5, "within"), "L-C2": (42.0, 42.5, "outside")}


CONVERTED = '[design]\nmethods = ["coax-local", "ethernet-coax"]\ncables = ["rg59-cu"]\n'


@pytest.mark.parametrize(("network", "cured", "why"), [(2, 2, True), ("", 4, False)])
def test_four_of_sixteen_are_to_be_converted(tmp_path, network, cured, why):
    """18 channels, 16 analogue, 2 network: 4 network cameras are 2 too many; without that limit 12 and 4 have room."""
    store = {**R1, "channels": 18, "channels_analogue": 16, "channels_network": network}
    cameras = [at(20 + n, f"C{n:02}") for n in range(12)] + [at(230 + n, f"C{n}") for n in range(12, 16)]
    cables = [cable(f"K{c['id']}", c["id"]) for c in cameras]
    words, out = told(tmp_path, cables, [store, *cameras], toml=CONVERTED)
    refused = [row["why"] for row in read_csv(out / "refused.csv")]
    assert any("R1: 4 network cameras over 2 network channels" in each for each in refused) is why
    assert ("4 network cameras over 2" in words) is why
    assert read_json(out / "summary.json")["programme"]["curable"] == cured
    assert any("12.5 % spare where 25 % is wanted" in f["text"] for f in read_csv(out / "findings.csv"))


def test_new_cable_that_is_too_hard_to_pull_is_said(tmp_path):
    """Six right angles in 60 m: e^(0.5·3π) is 111 times the tension, above the 110 N of a 4-pair cable."""
    duct = {**line("A", (0, 0), (60, 0)), "containment": "duct", "bore_mm": 50, "fill_percent": 0, "bends": 6}
    toml = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
    camera = at(60, signal="ethernet-1g", feeds="local")
    cables = [cable("K1", **NET, picture_day="none", picture_night="none")]
    _, out = told(tmp_path, cables, [R1, camera], [duct], toml)
    (row,) = read_csv(out / "programme.csv")
    assert "where 110 N may be pulled: a pull point between comes first, not priced" in row["text"]
    audit = audited(tmp_path / "b", cables, [R1, camera], [duct], toml)
    assert designed_pulls(audit.survey, audit.network, audit.catalogue, audit.links) == ()


# What nobody knows


def test_channels_that_nobody_gave_are_in_no_table(tmp_path):
    """Two cameras of unknown signal: they hold two channels, of how many and of which kind isn't known."""
    points = [{**R1, "channels": ""}, at(20, signal=""), at(30, "C2", signal="")]
    words, out = told(tmp_path, [cable("K1"), cable("K2", "C2")], points)
    (row,) = read_csv(out / "recorders.csv")
    assert (row["channels"], row["spare"], row["used"]) == ("", "", "2")
    assert (
        "recorder R1: 2 channels in use, not given how many there are (0 analogue, 0 network, 2 of unknown kind)"
        in words
    )


def test_cameras_of_unknown_kind_count_against_all_channels(tmp_path):
    points = [{**R1, "channels": 1}, at(20, signal=""), at(30, "C2")]
    audit = audited(tmp_path, [cable("K1"), cable("K2", "C2")], points)
    (finding,) = findings(audit, "2 channels in use by the records, 1 there are (channels)")
    assert finding.cameras == ("C1", "C2")


def test_a_recorder_too_full_comes_before_one_camera(tmp_path):
    """Any of its 5 cameras may be the one without a channel; one camera's cable is one camera."""
    cameras = [at(20 + n, f"C{n}") for n in range(5)]
    dark = {"picture_day": "none", "picture_night": "none"}
    cables = [cable(f"K{n}", f"C{n}", **(dark if n == 3 else {})) for n in range(5)]
    audit = audited(tmp_path, cables, [{**R1, "channels": 4}, *cameras])
    faults = [f for f in audit.findings if f.severity is Severity.FAULT]
    assert [f.subject for f in faults] == ["R1", "L-C3"]


def test_earths_are_no_question_of_joints(tmp_path):
    buildings = [{"id": "B1", "earthing": "TN-C-S"}, {"id": "B2", "earthing": "TT"}]
    points = [{**R1, "building": "B1"}, at(50, building="B2")]
    audit = audited(
        tmp_path, [cable("K1", cable="unknown", joints="", method="")], points, buildings=buildings
    )
    (finding,) = findings(audit, "could join earths")
    assert "cable of K1" in finding.text
    assert "joints" not in finding.text + finding.remedy


# Odd records


def patch(identity, x_m):
    return {"id": identity, "kind": "patch", "x": x_m, "y": 0, "status": "existing"}


ODD = {
    "round in a circle": [
        cable("K1", "C1", "P2"),
        cable("K2", "P2", "P1", camera="C1"),
        cable("K3", "P1", "P2", camera="C1"),
        cable("K4", "P1", "R1", camera="C1"),
    ],
    "to itself": [cable("K1", "C1", "C1")],
    "to another camera": [cable("K1", "C1", "C2")],
    "two heads": [cable("K1", "C1", "R1"), cable("K2", "C1", "R2")],
    "nowhere": [cable("K1", "C1", "R9")],
}


@pytest.mark.parametrize("case", ODD)
def test_records_that_lead_to_no_head_are_to_be_verified(tmp_path, case):
    points = [R1, {**R1, "id": "R2", "x": 200}, at(90), at(95, "C2"), patch("P1", 20), patch("P2", 40)]
    audit = audited(tmp_path, ODD[case], points)
    each = link(audit)
    assert each.link.verdict is Verdict.VERIFY
    assert {fact.fact for fact in each.deciding} == {"ends"}
    assert audit.questions
