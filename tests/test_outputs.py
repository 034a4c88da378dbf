"""What a run writes, read back by other programs."""

import csv
import json

import geopandas as gpd
import numpy as np
import openpyxl
import pyogrio
import pytest

from estate import workflow
from tests.estates import LOCAL, camera, line, read_csv, read_json, recorder, write_estate

FILES = {
    "result.json", "summary.json", "run.json", "links.csv", "budget.csv", "recorders.csv", "cabinets.csv",
    "segments.csv", "proximity.csv", "findings.csv", "cuts.csv", "terminations.csv", "alternatives.csv", "survey.csv",
    "programme.csv", "cores.csv", "phases.csv", "quantities.csv", "network.gpkg", "network.geojson", "layers",
    "schedules.xlsx", "report.html", "map.pdf", "map.svg", "map.png",
}  # fmt: skip

COLUMNS = {
    "links": "link,kind,camera,head,recorder,method,cable,length_m,cable_length_m,verdict,margin_percent,limiting,"
    "loss_db,volts_day,volts_night,segments,equipment,basis,cost",
    "budget": "link,quantity,state,profile,value,limit,unit,margin_percent,verdict,basis,source,stretch",
    "recorders": "recorder,status,model,channels,used,used_analogue,used_network,spare,mbps,gb_per_day,cost",
    "cabinets": "patch,switch,ports,used,spare,poe_w,poe_used_w,uplink,cost",
    "segments": "segment,route,from,to,length_m,containment,links,cables,fill_percent,actions",
    "proximity": "segment,route,mains,from_m,to_m,distance_m,accuracy_m,angle_deg,circuits,cable_class,required_m,"
    "verdict",
    "findings": "finding,severity,effect,action,subject_kind,subject,x,y,measured,limit,unit,source,text,remedy,cost,"
    "cameras",
    "cuts": "subject_kind,subject,cameras_lost,cameras_stranded,cameras",
    "terminations": "link,end,conductor,pair,terminal,purpose,strip_mm,number",
    "alternatives": "camera,rank,head,method,cable_length_m,cost,margin_percent,avoids",
    "survey": "rank,subject_kind,subject,fact,test,verdicts,cameras,building",
    "programme": "order,remedy,subject,action,cost,cost_total,cameras,cameras_total,in_budget,text",
    "cores": "cable,core,link,from,to",
    "phases": "phase,step,subject_kind,subject,length_m,cost",
    "quantities": "item,description,unit,quantity,rate,amount,heading,rate_from",
}


@pytest.fixture(scope="module")
def lonlat_estate(tmp_path_factory):
    """A route of 0.001° of longitude at 52° N, in GeoJSON."""
    folder = tmp_path_factory.mktemp("lonlat")

    def feature(shape, coordinates, **properties):
        return {
            "type": "Feature",
            "properties": properties,
            "geometry": {"type": shape, "coordinates": coordinates},
        }

    layers = {
        "routes": [feature("LineString", [[-1.5, 52.0], [-1.499, 52.0]], id="A", containment="duct")],
        "points": [
            feature("Point", [-1.499, 52.0], id="C", kind="camera", signal="ethernet-1g", power="ups"),
            feature("Point", [-1.5, 52.0], id="R", kind="recorder", status="candidate"),
        ],
    }
    (folder / "estate.toml").write_text('[estate]\ntitle = "Line"\n', encoding="utf-8")
    for name, features in layers.items():
        text = json.dumps({"type": "FeatureCollection", "features": features})
        (folder / f"{name}.geojson").write_text(text, encoding="utf-8")
    _, _, out = workflow.design(folder)
    return out


def test_every_file_and_column_is_there(lonlat_estate):
    assert {path.name for path in lonlat_estate.iterdir()} >= FILES
    for name, columns in COLUMNS.items():
        with (lonlat_estate / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
            assert ",".join(next(csv.reader(stream))) == columns, name


def test_length_of_a_thousandth_of_a_degree(lonlat_estate):
    """0.001° of longitude at 52° N is 68.7 m (WGS 84; pyproj's geodesic 68.68 m)."""
    (row,) = read_csv(lonlat_estate / "links.csv")
    assert float(row["length_m"]) == pytest.approx(68.7, abs=0.1)


def test_geodata_reads_back_in_both_systems(lonlat_estate):
    names = {name for name, _ in pyogrio.list_layers(lonlat_estate / "network.gpkg")}
    assert names == {"segments", "links", "points", "findings", "proximity", "cures"}
    segments = gpd.read_file(lonlat_estate / "network.gpkg", layer="segments")
    assert segments.crs.is_projected
    assert segments.length.sum() == pytest.approx(68.7, abs=0.1)
    world = gpd.read_file(lonlat_estate / "network.geojson")
    bounds = world.total_bounds
    np.testing.assert_allclose(bounds, [-1.5, 52.0, -1.499, 52.0], atol=1e-6)


def test_layers_are_an_estate_that_can_be_read_again(lonlat_estate, tmp_path):
    _, _, again = workflow.design(lonlat_estate / "layers", tmp_path / "again")
    first, second = (read_csv(out / "links.csv") for out in (lonlat_estate, again))
    for one, other in zip(first, second, strict=True):
        assert float(one["length_m"]) == pytest.approx(float(other["length_m"]), abs=0.02)
        assert one["verdict"] == other["verdict"]


def test_same_input_same_bytes(lonlat_estate, tmp_path):
    _, _, again = workflow.design(lonlat_estate.parents[1], tmp_path / "again")
    for path in sorted(lonlat_estate.rglob("*")):
        if path.is_file() and path.name != "run.json":
            assert path.read_bytes() == (again / path.relative_to(lonlat_estate)).read_bytes(), path.name


def test_workbook_holds_the_tables(lonlat_estate):
    book = openpyxl.load_workbook(lonlat_estate / "schedules.xlsx")
    links = book["Links"]
    assert links.freeze_panes is not None
    assert links.auto_filter.ref is not None
    heads = [cell.value for cell in links[1]]
    assert "cable length [m]" in heads
    assert links.cell(2, 1).value == "L-C"


def read_rows(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


HOSTILE = '=HYPERLINK("x")<script>alert(1)</script>$x_1$'


def test_names_that_would_run_are_harmless(tmp_path):
    toml = f"[estate]\ntitle = '{HOSTILE}'\ncrs = \"local\"\n"
    points = [
        camera("=1+1", 9, 0), {**recorder("R", 0, 0), "name": HOSTILE}, camera("<b>$y^2$</b>", 5, 0),
    ]  # fmt: skip
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    _, _, out = workflow.design(folder)
    cells = [cell for path in out.glob("*.csv") for row in read_rows(path) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "@"))]
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert "<b>$y" not in page
    book = openpyxl.load_workbook(out / "schedules.xlsx")
    formulas = [c for sheet in book for row in sheet for c in row if c.data_type == "f"]
    assert {c.parent.title for c in formulas} == {"Bill"}
    assert {c.column_letter for c in formulas} == {"G"}


def test_local_coordinates_give_no_geojson(tmp_path):
    points = [camera("C", 9, 0), recorder("R", 0, 0)]
    folder = write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (10, 0))], points=points)
    _, _, out = workflow.design(folder)
    assert not (out / "network.geojson").exists()
    assert (out / "network.gpkg").is_file()


def test_schematic_estate_is_designed_without_a_drawing(tmp_path):
    routes = [
        {"id": "A", "from": "R", "to": "P", "length_m": 40},
        {"id": "B", "from": "P", "to": "C", "length_m": 20},
    ]
    points = [
        {"id": "C", "kind": "camera", "signal": "ethernet-1g", "power": "unswitched"},
        {"id": "R", "kind": "recorder", "status": "candidate"},
        {"id": "P", "kind": "patch"},
    ]
    folder = write_estate(tmp_path, "[estate]\n", routes=routes, points=points)
    _, _, out = workflow.design(folder)
    (row,) = read_csv(out / "links.csv")
    assert float(row["length_m"]) == 60
    assert row["segments"] == "A.1;B.1"
    assert (out / "map.pdf").is_file()


def test_assumptions_tell_defaults_and_assumed_values(tmp_path):
    toml = LOCAL + "[assume]\npoints.load_w = 5\npoints.load_night_w = 9\n"
    points = [camera("C", 9, 0, feeds="poe1", power="none"), recorder("R", 0, 0)]
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    _, _, out = workflow.design(folder)
    assumed = [row for row in read_csv(out / "assumptions.csv") if row["kind"] == "assumed"]
    assert {(row["subject"], row["count"]) for row in assumed} == {
        ("points.load_w", "1"),
        ("points.load_night_w", "1"),
    }
    (link,) = read_csv(out / "links.csv")
    assert link["basis"] == "assumed"
    summary = read_json(out / "summary.json")
    assert {"subject": "points.load_w", "value": "5", "count": 1, "kind": "assumed"} in summary["assumptions"]


def test_storage_is_10_8_gb_a_day_for_each_megabit_per_second(tmp_path):
    """86,400 s a day, 8 bits a byte, 1,000 Mb a Gb: 4 and 6 Mb/s fill 108 GB a day."""
    points = [camera("C1", 9, 0, mbps=4), camera("C2", 9, 0, mbps=6), recorder("R", 0, 0)]
    _, _, out = workflow.design(
        write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (10, 0))], points=points)
    )
    (row,) = read_csv(out / "recorders.csv")
    assert (row["mbps"], row["gb_per_day"]) == ("10.0", "108.0")


def noted(tmp_path, toml, **layers):
    _, result, out = workflow.design(write_estate(tmp_path, LOCAL + toml, **layers))
    return result, out


PRICED = (
    "[prices]\npower_point = 1\ntrench_m = { grass = 1 }\n"
    'cable_m = { "cat5e-utp" = 1 }\ntermination = { pair = 1 }\nrecorder = { other = 1, 8 = 1 }\n'
    "equipment = { connector-pair = 1 }\npull_m = { other = 1 }\n"
)


@pytest.mark.parametrize(("unlisted", "stamped"), [("", True), ("unlisted = 1\n", False)])
def test_invented_money_beside_a_bill_that_has_none_is_stamped(tmp_path, unlisted, stamped):
    """The bill is priced throughout; what camera D would need is a trench at a rate that no one gave."""
    toml = PRICED.replace("[prices]\n", "[prices]\n" + unlisted)
    toml += '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n[network]\nspur_max_m = 5\n'
    result, out = noted(
        tmp_path, toml, routes=[line("A", (0, 0), (9, 0))],
        points=[camera("C", 9, 0), camera("D", 9, 20), recorder("R", 0, 0, channels=8, cost=5)],
    )  # fmt: skip
    assert not result.summary["cost_rests_on_invented_rates"]
    assert result.tables["would_stand"].rows
    notes = [note for note in result.notes if "invented" in note]
    assert len(notes) == stamped
    if stamped:
        assert "changes that would give a link" in notes[0]
        assert notes[0] in (out / "report.html").read_text(encoding="utf-8")


def test_an_unknown_night_load_is_said_with_its_source_and_counted(tmp_path):
    """Judged up to 25.5 W, the most that a powered device of type 2 takes (IEEE 802.3); the day load is 5 W."""
    cameras = [
        camera("C", 9, 0, feeds="poe2", power="none", load_w=5),
        camera("D", 5, 0, feeds="poe2", power="none", load_w=5, load_night_w=6),
    ]
    result, out = noted(
        tmp_path, '[design]\nmethods = ["ethernet"]\n', routes=[line("A", (0, 0), (10, 0))],
        points=[*cameras, recorder("R", 0, 0)],
    )  # fmt: skip
    budget, notes = (read_csv(out / f"{name}.csv") for name in ("budget", "budget_notes"))
    said = [
        (row["link"], row["quantity"], row["state"])
        for row, note in zip(budget, notes, strict=True)
        if "night load not known: judged up to 25.5 W" in note["note"]
    ]
    assert {(link, state) for link, _, state in said} == {("L-C", "night")}
    assert {quantity for _, quantity, _ in said} == {"PoE power", "volts", "PoE port power"}
    sources = [row["source"] for row in budget if (row["link"], row["quantity"], row["state"]) in said]
    assert all("; night load: " in source for source in sources)
    (row,) = [row for row in result.tables["assumptions"].records() if row["kind"] == "unknown"]
    assert (row["subject"], row["count"]) == ("points.load_night_w", 1)
    assert row["value"].startswith("up to 25.5 W: ")


def test_best_found_says_what_the_bound_leaves_open(tmp_path):
    """One spare for two cameras: the bound lets both have it, the design gives it to one."""
    spare = {"id": "K1", "from": "R", "to": "P", "status": "spare", "cable": "rg59-cu", "joints": 0}
    result, _ = noted(
        tmp_path, '[design]\nmethods = ["coax-local"]\n', routes=[line("A", (0, 0), (100, 0), (120, 0))],
        points=[
            recorder("R", 0, 0), {"id": "P", "kind": "patch", "x": 100, "y": 0},
            camera("C", 120, 0, signal="composite"), camera("D", 100, 0, signal="composite"),
        ],
        cables=[spare],
    )  # fmt: skip
    assert result.summary["solver_status"] == "best_found"
    (note,) = [note for note in result.notes if note.startswith("Best found")]
    assert "spare cables as free to all" in note
    assert "proposed routes" not in note
