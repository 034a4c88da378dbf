"""The bill: each thing once, allowances apart, the user's rates only where they are asked for."""

import csv
import io
import json
from decimal import Decimal

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.cli import main
from estate.output.bill_cable import split_length
from estate.output.bill_works import depth_band
from estate.settings import LengthsSection
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate

FIBRE = '[design]\nmethods = ["ethernet-fibre"]\ncables = ["os2"]\n'


def bill_of(folder):
    return {row["item"]: row for row in read_csv(folder / "quantities.csv")}


def shared_trench(folder, toml=LOCAL + EXACT + FIBRE, **trunk):
    """Three cables share 80 m, then split 20, 30 and 10 m."""
    proposed = {"status": "proposed", "containment": "duct"}
    routes = [
        line("T", (0, 0), (80, 0), **proposed, **{"surface": "grass", "depth_mm": 600, **trunk}),
        line("A", (80, 0), (100, 0), **proposed, surface="grass", depth_mm=600),
        line("B", (80, 0), (80, 30), **proposed, surface="gravel", depth_mm=450),
        line("C", (80, 0), (80, -10), **proposed),
    ]
    points = [camera("CA", 100, 0), camera("CB", 80, 30), camera("CC", 80, -10), recorder("R", 0, 0)]
    return workflow.design(write_estate(folder, toml, routes=routes, points=points))[2]


def test_trench_once_by_surface_and_depth(tmp_path):
    """Three cables over 80 + 20, 80 + 30 and 80 + 10 m: 300 m of cable in 140 m of trench."""
    bill = bill_of(shared_trench(tmp_path))
    trench = {item: float(row["quantity"]) for item, row in bill.items() if item.startswith("trench-")}
    assert trench == {"trench-grass-d750": 100, "trench-gravel-d500": 30, "trench-other": 10}
    assert "surface not given, depth not given" in bill["trench-other"]["description"]
    assert "depth over 0.5 to 0.75 m" in bill["trench-grass-d750"]["description"]
    assert float(bill["cable-os2"]["quantity"]) == 300
    assert not {"slack-os2", "ends-os2", "waste-os2"} & set(bill)


def test_allowances_stand_on_lines_of_their_own(tmp_path):
    """100 m of way, 5 % slack, 3 m at each end: 111 m of cable; 10 % of it is waste."""
    toml = LOCAL + FIBRE
    routes = [line("A", (0, 0), (100, 0), containment="duct")]
    folder = write_estate(tmp_path, toml, routes=routes, points=[camera("C", 100, 0), recorder("R", 0, 0)])
    out = workflow.design(folder)[2]
    quantities = {item: float(row["quantity"]) for item, row in bill_of(out).items()}
    assert quantities["cable-os2"] == 100
    assert quantities["slack-os2"] == 5
    assert quantities["ends-os2"] == 6
    assert quantities["waste-os2"] == 11.1


@given(
    st.floats(0, 2000), st.floats(0, 50), st.floats(0, 40), st.floats(0, 1)
)  # fmt: skip
def test_net_slack_and_ends_make_the_design_length(way_m, end_m, slack_percent, share):
    lengths = LengthsSection(end_m=end_m, slack_percent=slack_percent)
    whole = way_m * (1 + slack_percent / 100) + 2 * end_m * share
    found = split_length(whole, lengths, share)
    assert found.net == pytest.approx(way_m, abs=1e-6)
    assert found.whole == pytest.approx(whole, abs=1e-9)


@pytest.mark.parametrize(
    ("depth_mm", "words"),
    [
        (500, "depth to 0.5 m"),
        (500.1, "depth over 0.5 to 1 m"),
        (1000, "depth over 0.5 to 1 m"),
        (1001, "depth over 1 m"),
    ],
)
def test_depth_bands_include_their_upper_end(depth_mm, words):
    assert depth_band(depth_mm, [500, 1000])[1] == words


def test_pits_entries_tests_and_records_are_items(tmp_path):
    """A new duct leaves a building over a new pit and joins an existing duct at an old pit."""
    routes = [
        line("N", (0, 5), (60, 5), status="proposed", containment="duct", surface="grass"),
        line("E", (60, 5), (90, 5), containment="duct"),
    ]
    points = [
        recorder("R", 0, 5), {"id": "P1", "kind": "pit", "x": 40, "y": 5}, {"id": "P2", "kind": "pit", "x": 60, "y": 5},
        camera("C", 90, 5),
    ]  # fmt: skip
    house = {"id": "B", "wkt": "POLYGON ((-5 0, 20 0, 20 10, -5 10, -5 0))"}
    folder = write_estate(tmp_path, LOCAL + FIBRE, routes=routes, points=points, buildings=[house])
    bill = bill_of(workflow.design(folder)[2])
    assert {item: bill[item]["quantity"] for item in ("pit-new", "pit-entered", "entry-new", "records")} == {
        "pit-new": "1", "pit-entered": "1", "entry-new": "1", "records": "1",
    }  # fmt: skip
    assert bill["pit-new"]["rate_from"] == "none given"
    assert bill["test-fibre-loss"]["quantity"] == "4"


RATES = """[prices]
unlisted = 1.237
[prices.items]
pit-new = 310.5
records = 99.99
"""


def test_a_priced_bill_of_own_rates_is_the_summarys_cost_to_the_cent(tmp_path):
    out = shared_trench(tmp_path, LOCAL + FIBRE + RATES)
    _, drawn = workflow.draw(tmp_path, priced=True)
    with (drawn / "bill.csv").open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    money = sum((Decimal(line["amount"]) for line in lines if line["amount"]), Decimal(0))
    assert money == Decimal(str(read_json(out / "summary.json")["cost"]["total"]))
    assert next(line["amount"] for line in lines if line["item"] == "records") == "99.99"
    book = openpyxl.load_workbook(drawn / "schedules.xlsx")
    last = list(book["Bill"].iter_rows(values_only=True))[-1]
    assert Decimal(str(last[6])) == money


def test_a_bill_has_no_rates_unless_it_is_asked_for(tmp_path):
    out = shared_trench(tmp_path, LOCAL + FIBRE + RATES)
    for folder in (out, workflow.draw(tmp_path)[1]):
        rows = read_csv(folder / "bill.csv")
        assert rows
        assert not any(row["rate"] or row["amount"] for row in rows)
        book = openpyxl.load_workbook(folder / "schedules.xlsx")
        cells = [str(c.value) for sheet in book for row in sheet for c in row if c.value is not None]
        assert not any("1.237" in text or "310.5" in text for text in cells)


def test_invented_rates_never_reach_a_bill(tmp_path):
    """One rate is the user's; lines without one stay blank and are listed."""
    shared_trench(tmp_path, LOCAL + FIBRE + "[prices.cable_m]\nos2 = 1.5\n")
    answer = CliRunner().invoke(main, ["draw", str(tmp_path), "--priced"])
    assert answer.exit_code == 0
    priced = {row["item"]: row for row in read_csv(tmp_path / "out" / "drawings" / "bill.csv")}
    assert {row["item"] for row in priced.values() if row["rate"]} == {
        item for item in priced if item.endswith("-os2")
    }
    assert "without a rate of yours, left blank: pull-duct" in answer.output
    sheet = openpyxl.load_workbook(tmp_path / "out" / "drawings" / "schedules.xlsx")["Bill"]
    sums = {row[2]: row[6] for row in sheet.iter_rows(values_only=True) if str(row[2]).startswith("Sum of")}
    count = sum(row["heading"] == "tests" for row in priced.values())
    assert sums["Sum of cable"] == 549.45  # (300 · 1.05 + 3 · 6) · 1.1 m at 1.5
    assert sums[f"Sum of tests without {count} lines that have no rate"] is None


def test_the_bill_to_be_filled_in_adds_up(tmp_path):
    """Amounts are quantity × rate as a spreadsheet works them out, headings sum their own lines."""
    out = shared_trench(tmp_path)
    sheet = openpyxl.load_workbook(out / "schedules.xlsx")["Bill"]
    rows = list(sheet.iter_rows(values_only=True))
    lines = [row for row in rows[1:] if row[1]]
    assert lines[0][6] == '=IF(F2="","",ROUND(E2*F2,2))'
    sums = {row[2]: row[6] for row in rows if row[2] and str(row[2]).startswith("Sum of")}
    headings = [row[0] for row in lines]
    for heading in dict.fromkeys(headings):
        first, count = headings.index(heading) + 2, headings.count(heading)
        assert sums[f"Sum of {heading}"] == f"=SUM(G{first}:G{first + count - 1})"
        assert headings[first - 2 : first - 2 + count] == [heading] * count, (
            "a heading's lines stand together"
        )


def test_a_rate_for_no_item_is_a_problem(tmp_path):
    folder = write_estate(tmp_path, LOCAL + "[prices.items]\npit-nwe = 5\n", routes=[], points=[])
    answer = CliRunner().invoke(main, ["check", str(folder)])
    assert answer.exit_code == 2
    assert "[prices] items" in answer.output


def test_the_same_result_gives_the_same_bill(tmp_path):
    shared_trench(tmp_path)
    first = workflow.draw(tmp_path, out=tmp_path / "a")[1]
    second = workflow.draw(tmp_path, out=tmp_path / "b")[1]
    for path in sorted(first.iterdir()):
        if path.name != "run.json":
            assert path.read_bytes() == (second / path.name).read_bytes(), path.name
    assert json.loads((first / "run.json").read_text(encoding="utf-8"))["program"] == "estate"
    assert io.StringIO((first / "bill.csv").read_text(encoding="utf-8")).readline().startswith("heading,item")
