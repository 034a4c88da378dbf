"""The schedules: lengths that add up, rows that lack facts, texts that stay texts."""

import csv
import warnings

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estate import workflow
from estate.output.bill_file import BILL, Bill
from estate.output.result import Result, Table
from estate.output.schedules import write_workbook
from estate.output.store import write_csv
from estate.survey.cells import as_meant, harmless
from estate.survey.csv_file import read_csv as read_layer
from estate.survey.fields import LAYERS
from tests.estates import LOCAL, camera, line, read_csv, read_json, recorder, write_estate

DC = {"feeds": "dc12", "load_w": 3, "load_night_w": 4, "power": "none"}


@pytest.fixture(scope="module")
def estate(tmp_path_factory):
    """Two cameras over a new duct and an old tray that rises 4 m; one lacks its night load, the duct its depth."""
    folder = tmp_path_factory.mktemp("schedules")
    toml = LOCAL + '[design]\nmethods = ["coax-power-pair", "ethernet"]\n[phases]\nnames = ["one"]\n'
    routes = [
        line(
            "D",
            (0, 0),
            (40, 0),
            status="proposed",
            containment="duct",
            surface="grass",
            bore_mm=50,
            phase="one",
        ),
        line("T", (40, 0), (60, 0), containment="tray", rise_m=4),
    ]
    points = [
        camera("C1", 60, 0, signal="composite", height_m=3, phase="one", **DC), camera("C2", 60, 0, height_m=2, load_w=5),
        recorder("R", 0, 0, height_m=1), {"id": "P", "kind": "pit", "x": 40, "y": 0},
    ]  # fmt: skip
    supplies = [{"id": "U1", "at": "R", "kind": "dc", "volts": 12, "watts": 60, "outputs": 4}]
    return workflow.design(write_estate(folder, toml, routes=routes, points=points, supplies=supplies))[2]


def test_lengths_of_a_cable_add_up(estate):
    """60 m in plan; 4 m of rise and 3 + 1 m of mounting heights; 5 % slack of 68 m; 3 m at each end."""
    (row,) = [
        r for r in read_csv(estate / "schedule_cables.csv") if r["link"] == "L-C1" and r["role"] == "signal"
    ]
    parts = [float(row[f"{name}_m"]) for name in ("plan", "vertical", "slack", "ends")]
    assert parts == pytest.approx([60, 8, 3.4, 6])
    assert sum(parts) == pytest.approx(float(row["design_m"]))
    assert float(row["purchase_m"]) == pytest.approx(77.4 * 1.1)
    assert (row["from"], row["to"], row["containment"], row["segments"]) == (
        "R",
        "C1",
        "duct;tray",
        "D.1;T.1",
    )
    assert row["phase"] == "one"
    assert row["status"] == "new"


def test_numbers_of_cables_are_unique_and_those_of_the_runs(estate):
    numbers = [row["number"] for row in read_csv(estate / "schedule_cables.csv")]
    assert numbers == [row["number"] for row in read_csv(estate / "runs.csv")]
    assert len(set(numbers)) == len(numbers)


def test_rows_that_lack_facts_make_a_draft(estate):
    draft = {(r["schedule"], r["row"]): r["lacks"] for r in read_csv(estate / "draft.csv")}
    assert draft == {
        ("schedule_cameras", "C2"): "load at night",
        ("schedule_ways", "D.1"): "depth",
        ("schedule_power", "C2"): "load at night",
    }
    assert read_json(estate / "summary.json")["draft_rows"] == 3
    assert any(
        note.startswith("DRAFT - 3 incomplete rows") for note in read_json(estate / "result.json")["notes"]
    )
    book = openpyxl.load_workbook(estate / "schedules.xlsx")
    assert "Draft" in book.sheetnames
    assert book["Ways and trenches"].oddHeader.center.text == "DRAFT: rows lack facts"
    assert book["Cables"].oddHeader.center.text is None


def test_ways_once_by_segment(estate):
    rows = {r["segment"]: r for r in read_csv(estate / "schedule_ways.csv")}
    assert set(rows) == {"D.1", "T.1"}
    assert (rows["D.1"]["status"], rows["D.1"]["bore_mm"], rows["D.1"]["pits"]) == ("new", "50.0", "P")
    assert rows["D.1"]["links"] == "L-C1;L-C2"
    assert (rows["T.1"]["fill_percent"], rows["T.1"]["depth_mm"]) == ("", "")


def test_power_by_source(estate):
    rows = {r["place"]: r for r in read_csv(estate / "schedule_power.csv") if r["purpose"] != "recorder"}
    assert (rows["R"]["supply"], rows["R"]["rating_w"], rows["R"]["cameras"]) == ("U1", "60.0", "C1")
    assert (rows["R"]["load_w"], rows["R"]["load_night_w"]) == ("3.0", "4.0")
    assert rows["C2"]["feed"] == "mains"


def test_workbook_is_ready_for_people(estate):
    book = openpyxl.load_workbook(estate / "schedules.xlsx")
    for sheet in book.worksheets[1:]:
        assert sheet.freeze_panes == "B2", sheet.title
        assert sheet.auto_filter.ref, sheet.title
        assert sheet.print_title_rows == "$1:$1", sheet.title
        assert sheet.page_setup.fitToHeight == 0, sheet.title
        assert sheet.print_area, sheet.title
    cables = book["Cables"]
    heads = [cell.value for cell in cables[1]]
    assert {"plan [m]", "design [m]", "od [mm]", "margin [%]"} <= set(heads)
    assert cables.cell(2, heads.index("design [m]") + 1).number_format == "0.0"
    assert "cost" not in [cell.value for sheet in book for cell in sheet[1]], "money stands in the bill only"


def test_an_audit_has_schedules_of_what_is_installed(tmp_path):
    routes = [line("A", (0, 0), (60, 0), containment="duct")]
    points = [
        camera("C", 60, 0, signal="composite", height_m=3, load_w=3, load_night_w=4),
        recorder("R", 0, 0),
    ]
    cables = [{"id": "K7", "from": "R", "to": "C", "camera": "C", "status": "in_use", "cable": "rg59-cu", "joints": 1,
               "method": "coax-local", "routes": "A", "length_m": 71}]  # fmt: skip
    folder = write_estate(tmp_path, LOCAL, routes=routes, points=points, cables=cables)
    _, _, out = workflow.audit(folder)
    (row,) = read_csv(out / "schedule_cables.csv")
    assert (row["number"], row["status"], row["joints"]) == ("K7", "installed, used", "1.0")
    assert (row["plan_m"], row["vertical_m"], row["design_m"]) == ("60.0", "", "71.0")
    assert "Bill" not in openpyxl.load_workbook(out / "schedules.xlsx").sheetnames
    assert not (out / "bill.csv").exists()


def test_an_installed_cable_of_unknown_type_stays_unknown_and_makes_a_draft(tmp_path):
    routes = [line("A", (0, 0), (60, 0), containment="duct")]
    points = [
        camera("C", 60, 0, signal="composite", height_m=3, load_w=3, load_night_w=4),
        recorder("R", 0, 0),
    ]
    cables = [
        {"id": "K7", "from": "R", "to": "C", "camera": "C", "status": "in_use", "routes": "A", "length_m": 71}
    ]
    _, _, out = workflow.audit(write_estate(tmp_path, LOCAL, routes=routes, points=points, cables=cables))
    (row,) = read_csv(out / "schedule_cables.csv")
    assert (row["cable"], row["type"], row["od_mm"], row["lacks"]) == (
        "unknown",
        "type not known",
        "",
        "cable",
    )
    assert {"schedule": "schedule_cables", "row": "K7", "lacks": "cable"} in read_csv(out / "draft.csv")


# Texts that would run

texts = st.text(min_size=0, max_size=12) | st.builds(
    lambda a, b: a + b, st.sampled_from(["=", "+", "-", "@", "'", "'=", "\t"]), st.text(max_size=8)
)


@given(texts)
def test_a_harmless_text_comes_back_as_it_was(text):
    assert as_meant(harmless(text)) == text
    assert not harmless(text).startswith(("=", "+", "-", "@", "\t", "\r"))


def printable(text):
    return text.strip() == text and text.isprintable() and text != ""


@given(st.lists(texts.filter(printable), min_size=1, max_size=5, unique=True))
def test_ids_and_names_survive_our_own_csv(tmp_path_factory, names):
    """Written as a spreadsheet may open it, read back as it was; numbers stay numbers."""
    path = tmp_path_factory.mktemp("csv") / "points.csv"
    rows = tuple((name, name, -1.5) for name in names)
    write_csv(path, Table(("id", "name", "x"), rows))
    with path.open(encoding="utf-8", newline="") as stream:
        cells = list(csv.reader(stream))[1:]
    assert all(not row[0].startswith(("=", "+", "-", "@")) for row in cells)
    assert {row[2] for row in cells} == {"-1.5"}
    table, _, problems = read_layer(path, LAYERS["points"])
    assert not problems
    assert table.values["id"] == names
    assert table.values["name"] == names


def test_hostile_names_pass_through_a_whole_run_and_back(tmp_path):
    names = ["=cmd|' /C calc'!A0", "+1", "@SUM(1)", "-2+3", "'=x"]
    points = [*(camera(harmless(name), 5 + n, 0) for n, name in enumerate(names)), recorder("R", 0, 0)]
    folder = write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (10, 0))], points=points)
    _, result, out = workflow.design(folder)
    assert sorted(result.tables["schedule_cameras"].column("camera")) == sorted(names)
    for path in [*out.glob("*.csv"), *out.glob("layers/*.csv")]:
        with path.open(encoding="utf-8", newline="") as stream:
            cells = [cell for row in csv.reader(stream) for cell in row]
        running = [
            c for c in cells if c.startswith(("=", "@", "+")) or (c.startswith("-") and not _is_number(c))
        ]
        assert not running, path.name
    again = workflow.load(out / "layers")[0]
    assert sorted(again.points["id"]) == sorted([*names, "R"])
    cameras = openpyxl.load_workbook(out / "schedules.xlsx")["Cameras"]
    assert sorted(cell.value for cell in cameras["A"][1:]) == sorted(names)
    assert {cell.data_type for cell in cameras["A"]} == {"s"}


def _is_number(cell):
    try:
        float(cell)
    except ValueError:
        return False
    return True


HOSTILE = st.builds(
    lambda a, b: a + b,
    st.sampled_from(
        ["=", "{=", "http://", "mailto:a@b", "internal:Cover!A1", "1e5", "<b>", "&D", "_x0041_", ""]
    ),
    st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=10),
)


@settings(max_examples=25, deadline=None)
@given(HOSTILE, HOSTILE)
def test_a_workbook_holds_any_text_as_text(tmp_path_factory, title, name):
    """Read back with openpyxl: no formula, no address, no number, the same letters."""
    path = tmp_path_factory.mktemp("xlsx") / "schedules.xlsx"
    tables = {"links": Table(("link", "length_m"), ((name, 1.5),)), "quantities": Table(("item",), ())}
    estate = {"title": title, "number": name, "revision": name, "date": name, "currency": name}
    empty = Result("design", "0", estate, {}, "", "", {}, tables, {}, (name,), (name,))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        write_workbook(
            path, empty, Bill(Table(BILL, ((name,) * 4 + (1, None, None),)), priced=True, unrated=())
        )
    for sheet in openpyxl.load_workbook(path):
        for cell in (cell for row in sheet for cell in row if cell.value is not None):
            assert cell.data_type in ("s", "n")
            assert cell.hyperlink is None
    links = openpyxl.load_workbook(path)["Links"]
    assert (links["A2"].value or "") == name
    assert links["A2"].data_type == ("s" if name else "n")


def test_titles_are_no_codes_in_a_printed_header(tmp_path):
    toml = '[estate]\ntitle = "Barn &D & dairy"\ncrs = "local"\n'
    points = [camera("C", 9, 0), recorder("R", 0, 0)]
    _, _, out = workflow.design(
        write_estate(tmp_path, toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    )
    header = openpyxl.load_workbook(out / "schedules.xlsx")["Cover"].HeaderFooter.oddHeader.left.text
    assert header.strip() == "Barn &&D && dairy"
