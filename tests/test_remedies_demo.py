"""What cures the demo estate's installed links, held against demo_estate/TROUBLES.md."""

from pathlib import Path

import pytest

from estate.output.result import read_result
from tests.estates import read_csv

DEMO = Path(__file__).parents[1] / "demo_estate"
BUDGET = 1000


@pytest.fixture
def audited(demo_audit):
    return demo_audit


def repairs(out, camera):
    return [row for row in read_csv(out / "repairs.csv") if row["camera"] == camera]


def test_copper_clad_aluminium_goes_out(audited):
    _, out = audited
    for camera in ("C23", "C35"):
        assert repairs(out, camera)[0]["kind"] == "copper-clad aluminium out"


def test_no_remedy_uses_a_legacy_cable(audited):
    made, out = audited
    legacy = [c.id for c in made.catalogue.cables.values() if c.legacy]
    for row in read_csv(out / "repairs.csv"):
        new = row["text"].partition("new cable: ")[2].partition(";")[0]
        assert not any(name in new for name in legacy)


def test_what_fails_only_by_night_can_keep_its_coax(audited):
    _, out = audited
    cable = next(row for row in repairs(out, "C05") if row["kind"] == "other power cable")
    assert "keeps K09" in cable["text"]


def test_what_calculates_as_good_is_looked_at_before_anything_is_bought(audited):
    _, out = audited
    assert all(row["text"].startswith("if its plugs, joints") for row in repairs(out, "C04"))


def test_links_to_be_verified_are_tested_first_and_no_part_of_the_programme(audited):
    _, out = audited
    tests = {row["subject"]: row for row in read_csv(out / "remedies.csv") if row["action"] == "survey"}
    assert {"L-C02", "L-C14", "L-C21"} <= set(tests)
    assert all(row["cost"] == "" for row in tests.values())
    cured = {c for row in read_csv(out / "programme.csv") for c in row["cameras"].split(";") if c}
    assert not {"C02", "C14", "C21"} & cured


def test_screens_at_two_earths_are_not_joined_by_any_remedy(audited):
    made, out = audited
    for row in repairs(out, "C27"):
        assert row["verdict"] != "outside"
    assert made.cured.programme.task.cameras


def test_the_programme_adds_up_and_keeps_the_budget(audited):
    _, out = audited
    rows = read_csv(out / "programme.csv")
    total = 0.0
    for row in rows:
        total += float(row["cost"])
        assert float(row["cost_total"]) == pytest.approx(total)
    inside = [row for row in rows if row["in_budget"] == "yes"]
    assert float(inside[-1]["cost_total"]) <= BUDGET
    curve = read_csv(out / "programme_curve.csv")
    best = max(int(row["cured"]) for row in curve if float(row["cost"]) <= BUDGET)
    assert int(inside[-1]["cameras_total"]) == best
    summary = read_result(out).summary["programme"]
    assert summary["in_budget"]["cameras"] == best
    assert [float(row["cost"]) for row in curve] == sorted(float(row["cost"]) for row in curve)


def test_invented_rates_are_stamped_and_findings_carry_the_cheapest(audited):
    _, out = audited
    result = read_result(out)
    assert any("invented rates" in note for note in result.notes)
    first = repairs(out, "C05")[0]
    (finding,) = [row for row in read_csv(out / "findings.csv") if row["subject"] == "L-C05" and row["cost"]]
    assert finding["cost"] == first["cost"]
    assert finding["remedy"] == first["text"]


def test_reuse_of_coax_and_pair(audited):
    _, out = audited
    can = {row["cable"]: row for row in read_csv(out / "reuse.csv")}
    assert can["K14"]["can"] == "yes"
    assert (can["K19"]["can"], can["K26"]["can"]) == ("no", "no")
    assert can["K18"]["can"] == "verify"
    assert "K24" not in can
