"""containment.csv: one row per route with fill before and after, bends, pits and the hardest pull."""

import pytest

from estate import workflow
from estate.output.containment_table import CONTAINMENT
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate

PAIR = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
POINTS = [
    recorder("R", 0, 0),
    {"id": "P", "kind": "pit", "x": 30, "y": 0},
    camera("C", 60, 0),
    camera("D", 60, 0),
]
DUCT = {
    "containment": "duct",
    "bore_mm": 50,
    "fill_percent": 5,
    "surface": "grass",
    "depth_mm": 600,
    "owner": "us",
}


def rows(folder, routes, cables=(), points=POINTS, toml=PAIR):
    layers = {"routes": routes, "points": points} | ({"cables": list(cables)} if cables else {})
    out = folder / "out"
    workflow.design(write_estate(folder / "in", LOCAL + EXACT + toml, **layers), out=out)
    return {row["route"]: row for row in read_csv(out / "containment.csv")}


def number(row, *columns):
    return [float(row[column]) for column in columns]


def coax(identity, **more):
    return {
        "id": identity,
        "from": "C",
        "to": "R",
        "cable": "rg59-cu",
        "status": "in_use",
        "routes": "A",
        **more,
    }


def test_a_duct_before_and_after(tmp_path):
    """5 % unlisted, two coaxes 2 · 6.15²/50² = 3.03 %, two pairs 2 · 6.5²/50² = 3.38 %; 40 % for more than two."""
    row = rows(tmp_path, [line("A", (0, 0), (60, 0), **DUCT)], [coax("K1"), coax("K2", status="dead")])["A"]
    assert list(row) == list(CONTAINMENT)
    assert [row[c] for c in ("containment", "surface", "owner", "verdict")] == [
        "duct",
        "grass",
        "us",
        "within",
    ]
    assert {row["from"], row["to"]} == {"R", "C"}
    assert number(row, "length_m", "depth_mm", "bore_mm") == [60, 600, 50]
    assert number(row, "installed", "dead", "designed", "pits", "bends") == [2, 1, 2, 1, 0]
    assert row["cables"] == "2×cat6-utp"
    assert number(row, "fill_before_percent", "fill_percent", "limit_percent") == pytest.approx(
        [8.03, 11.41, 40], abs=0.01
    )


def test_the_hardest_pull_with_the_kinder_end(tmp_path):
    """0.042 kg/m · 9.80665 · 0.5 · 30 m = 6.18 N from pit to end, either way."""
    row = rows(tmp_path, [line("A", (0, 0), (60, 0), **DUCT)])["A"]
    assert (row["pull_cable"], row["pull_verdict"]) == ("cat6-utp", "within")
    assert number(row, "pull_n", "pull_limit_n", "pull_length_m", "pull_bends_deg") == pytest.approx(
        [6.18, 110, 30, 0], abs=0.01
    )


def test_unknown_stays_blank_and_is_said(tmp_path):
    routes = [
        line("A", (0, 0), (60, 0), containment="duct"),
        line("B", (0, 0), (0, 9), containment="surface"),
    ]
    found = rows(tmp_path, routes, [coax("K1", routes="")])
    assert (found["A"]["fill_percent"], found["A"]["verdict"]) == ("", "verify")
    assert "bore_mm or area_mm2 isn't given; fill_percent isn't given" in found["A"]["remarks"]
    assert "K1 taken to lie here, on the shortest way" in found["A"]["remarks"]
    assert (found["B"]["fill_percent"], found["B"]["limit_percent"], found["B"]["verdict"]) == ("", "", "")


def test_the_rule_of_thumb_for_bends_is_shown_beside_the_limit(tmp_path):
    """W11, trade column of doubtful origin: 40 % with two bends is 28 %."""
    row = rows(tmp_path, [line("A", (0, 0), (60, 0), **DUCT, bends=2)])["A"]
    assert number(row, "bends", "limit_percent", "limit_bent_percent") == pytest.approx([2, 40, 28])
    assert row["verdict"] == "within"


def test_a_check_has_the_table_too(tmp_path):
    folder = write_estate(
        tmp_path / "in",
        LOCAL,
        routes=[line("A", (0, 0), (60, 0), **DUCT)],
        points=POINTS,
        cables=[coax("K1")],
    )
    workflow.check(folder, out=tmp_path / "out")
    (row,) = read_csv(tmp_path / "out" / "containment.csv")
    assert number(row, "installed", "designed") == [1, 0]
    assert row["fill_before_percent"] == row["fill_percent"]
