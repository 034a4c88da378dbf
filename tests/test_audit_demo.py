"""The demo estate's audit tells the truth of its TROUBLES.md, row by row."""

import json
from pathlib import Path

import pytest

from estate.cli import main
from estate.findings import Action, Effect, Severity, Verdict
from tests.audit_cases import deciding, findings, lines, link
from tests.estates import read_csv, read_json

DEMO = Path(__file__).parent.parent / "demo_estate"


@pytest.fixture
def made(demo_audit):
    return demo_audit


def test_copper_clad_aluminium_is_to_be_converted(made):
    audit, _ = made
    clad = [f for f in audit.findings if f.action is Action.CONVERT and "copper-clad" in f.text]
    assert {f.subject for f in clad} == {"K19", "K22"}
    assert {camera for f in clad for camera in f.cameras} == {"C23", "C35"}
    assert [lines(audit, "material", c)[0].verdict for c in ("C23", "C35")] == [Verdict.OUTSIDE] * 2


def test_c05_fails_only_by_night(made):
    """48 m of 0.75 mm² are 2.5 Ω: V = (12 + √(144 − 4·9·2.5))/2 = 9.68 V at night, 11.1 V by day."""
    audit, _ = made
    day, night = (lines(audit, "volts", "C05", state)[0] for state in ("day", "night"))
    assert (day.verdict, night.verdict) == (Verdict.WITHIN, Verdict.OUTSIDE)
    assert night.value == pytest.approx((12 + (144 - 4 * 9 * 2 * 26 * 0.048) ** 0.5) / 2)
    (finding,) = [f for f in audit.findings if f.subject == "L-C05" and f.severity is Severity.FAULT]
    assert finding.effect is Effect.NIGHT


def test_unknown_cables_are_settled_only_if_every_value_agrees(made):
    audit, _ = made
    assert deciding(audit, "C21") == [("K18", "cable")]
    for camera, name in (("C32", "K21"), ("C39", "K23")):
        assert link(audit, camera).link.verdict is link(audit, camera).best is Verdict.OUTSIDE
        assert (name, "cable") in {(f.subject, f.fact) for f in link(audit, camera).unknowns}


def test_unknown_joints_decide_only_for_the_gate(made):
    audit, _ = made
    unknown = {f.subject for each in audit.installed for f in each.unknowns if f.fact == "joints"}
    assert unknown == {"K16", "K20", "K22", "K23"}
    assert [q.subject for q in audit.questions if q.fact == "joints"] == ["K16"]


def test_joints_count_against_the_reach(made):
    """One joint on 125 m is 175 m; three on K21's 253 m are 403 m (50 m a joint: common practice, no source)."""
    audit, _ = made
    assert lines(audit, "reach", "C15")[0].value == pytest.approx(175)
    assert lines(audit, "reach", "C32")[0].value == pytest.approx(402.6, abs=0.1)


def test_an_unscreened_pair_near_mains_is_outside_and_the_picture_bears_it_out(made):
    audit, _ = made
    assert lines(audit, "separation", "C07")[0].verdict is Verdict.OUTSIDE
    assert {x.text for x in lines(audit, "picture", "C07")} == {"poor by day", "poor at night"}


def test_dark_although_it_calculates_as_good(made):
    audit, _ = made
    each = link(audit, "C04")
    assert (each.calculated, each.link.verdict) == (Verdict.WITHIN, Verdict.OUTSIDE)
    (finding,) = findings(audit, "link L-C04: picture: none at night; calculates as good")
    assert finding.effect is Effect.NIGHT


def test_screens_at_two_earths_are_the_first_danger(made):
    audit, _ = made
    first = audit.findings[:3]
    assert {f.severity for f in first} == {Severity.DANGER}
    assert any(f.subject == "L-C27" and f.measured == 2400 for f in first)
    assert any(f.subject == "L-C27" and "dairy (TT)" in f.text for f in first)


def test_a_length_noted_in_feet_is_told_by_its_ratio(made):
    audit, _ = made
    (finding,) = findings(audit, "cable K29: 118 m on record")
    assert "feet, by the ratio" in finding.text


def test_dead_and_spare_cables_are_listed(made):
    audit, _ = made
    by_status = {}
    for asset in audit.assets:
        if asset.kind == "cable":
            by_status.setdefault(asset.status, set()).add(asset.id)
    assert by_status["dead"] == {"K26", "K28"}
    assert by_status["spare"] == {"K24", "K25", "K27", "K29"}
    assert len(by_status["in_use"]) == 23


def test_ways_not_recorded_are_inferred_and_said(made):
    audit, _ = made
    assert {name for each in audit.installed for name in each.inferred} == {"K07", "K08", "K18", "K22"}
    (finding,) = findings(audit, "have no routes on record")
    assert "K07, K08, K18, K22" in finding.text


def test_a_blank_night_load_and_a_blank_earthing_stay_open(made):
    audit, _ = made
    assert deciding(audit, "C02") == [("C02", "load_night_w")]
    assert lines(audit, "earths", "C35")[0].verdict is Verdict.VERIFY


def test_files_of_the_audit(made):
    _, out = made
    summary = read_json(out / "summary.json")
    assert summary["command"] == "audit"
    assert summary["links"] == {"within": 4, "marginal": 1, "verify": 3, "outside": 9, "none": 30}
    assert (summary["judged"], summary["verify"]) == (19, 4)
    assert summary["cables"] == {"dead": 2, "in_use": 23, "spare": 4}
    links = {row["camera"]: row for row in read_csv(out / "links.csv")}
    assert len(links) == 47
    assert (links["C21"]["cable"], links["C39"]["method"]) == ("unknown", "unknown")
    assert links["C39"]["unknown"] == "method of K23;cable of K23;joints of K23"
    survey = read_csv(out / "survey.csv")
    assert {(row["subject"], row["fact"]) for row in survey} == {
        ("K16", "joints"), ("K18", "cable"), ("C02", "load_night_w"),
    }  # fmt: skip
    assert all(row["test"] for row in survey)
    effects = ["danger", "picture", "night", "degraded", "records"]
    told = [effects.index(row["effect"]) for row in read_csv(out / "findings.csv")]
    assert told == sorted(told)
    assert (out / "map.pdf").stat().st_size
    assert "verify" in (out / "report.html").read_text(encoding="utf-8")
    assert not [row for row in read_csv(out / "terminations.csv") if row["link"] == "L-C39"]


def run(capsys, *args):
    with pytest.raises(SystemExit) as status:
        main([str(a) for a in args])
    return status.value.code, capsys.readouterr()


def test_the_command_tells_what_to_find_out_first_and_writes_the_same_bytes(made, tmp_path, capsys):
    _, out = made
    code, told = run(capsys, "audit", DEMO, "--out", tmp_path / "out", "--strict", "--budget", 1000)
    assert code == 1
    assert "in links 19 judged, 4 to be verified" in told.out
    assert "to find out first, of 3 facts that decide links" in told.out
    assert "1. joints of K16" in told.out
    for name in ("result.json", "links.csv", "survey.csv", "findings.csv", "map.svg", "schedules.xlsx"):
        assert (out / name).read_bytes() == (tmp_path / "out" / name).read_bytes(), name


def test_explain_and_draw_take_an_audit(made, tmp_path, capsys):
    _, out = made
    code, told = run(capsys, "explain", DEMO, "C02", "--from", out)
    assert code == 0
    assert (
        "settles it: load_night_w of C02: measure the volts at the camera with the infra-red on" in told.out
    )
    assert "what it beat" not in told.out
    code, told = run(capsys, "explain", DEMO, "C08", "--from", out)
    assert code == 0
    assert "no link is on record" in told.out
    code, _ = run(capsys, "draw", DEMO, "--from", out, "--out", tmp_path / "drawn")
    assert code == 0
    assert (tmp_path / "drawn" / "map.svg").read_bytes() == (out / "map.svg").read_bytes()
    assert json.loads((out / "run.json").read_text(encoding="utf-8"))["command"] == "audit"
