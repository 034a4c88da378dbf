"""DXF in and out. Drawings to be read are made with ezdxf, and what is written is read back with it."""

import os
import subprocess
import sys

import ezdxf
import numpy as np
import pytest

from estate import workflow
from estate.errors import InputError
from estate.output.cad_drawing import plain
from estate.survey.read import read_survey
from tests.estates import camera, line, read_csv, recorder, write_estate

LAYERS = """
[drawing.cad_layers]
"E-DUCT" = { layer = "routes", containment = "duct", status = "proposed", surface = "grass" }
"E-TRAY" = "routes"
"E-CAM" = { layer = "points", kind = "camera", signal = "ethernet-1g", power = "unswitched" }
"E-REC" = { layer = "points", kind = "recorder", status = "candidate" }
"A-WALL" = "buildings"
"""
TOML = '[estate]\ntitle = "Drawn"\ncrs = "local"\n'


def drawing(path, unit=4, scale=1000.0):
    """A drawing of a duct of 60 m, an arc of 10 m radius from its end, a building, a camera block and a recorder."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = unit
    for name in ("E-DUCT", "E-TRAY", "E-CAM", "E-REC", "A-WALL", "NOTES"):
        document.layers.add(name)
    space = document.modelspace()

    def at(*places):
        return [(x * scale, y * scale) for x, y in places]

    space.add_lwpolyline(at((0, 0), (60, 0)), dxfattribs={"layer": "E-DUCT"})
    (centre,) = at((60, 10))
    space.add_arc(centre, 10 * scale, -90, 0, dxfattribs={"layer": "E-TRAY"})
    space.add_text("duct", dxfattribs={"layer": "E-DUCT"})
    space.add_lwpolyline(at((-5, -5), (5, -5), (5, 5), (-5, 5)), close=True, dxfattribs={"layer": "A-WALL"})
    block = document.blocks.new("CAMERA")
    block.add_circle((0, 0), 0.3 * scale)
    block.add_attdef("ID", (0, 0))
    block.add_attdef("LOAD_W", (0, 0))
    (place,) = at((70, 10))
    inserted = space.add_blockref("CAMERA", place, dxfattribs={"layer": "E-CAM"})
    inserted.add_auto_attribs({"ID": "GATE", "LOAD_W": "5"})
    space.add_point(at((0, 0))[0], dxfattribs={"layer": "E-REC"})
    document.saveas(path)


def drawn_estate(folder, toml=TOML + LAYERS, **more):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "estate.toml").write_text(toml, encoding="utf-8")
    drawing(folder / "site.dxf", **more)
    return folder


@pytest.mark.parametrize(
    ("unit", "scale"), [(4, 1000.0), (6, 1.0), (1, 1 / 0.0254), (2, 1 / 0.3048), (0, 1.0)]
)
def test_a_drawing_in_any_unit_is_the_same_estate(tmp_path, unit, scale):
    """$INSUNITS 4 mm, 6 m, 1 inch, 2 feet, 0 none: numbers of the published DXF reference."""
    survey = read_survey(drawn_estate(tmp_path / "e", unit=unit, scale=scale))
    lengths = sorted(shape.length for shape in survey.routes.geometry)
    # a quarter of a circle of 10 m radius
    assert lengths[0] == pytest.approx(np.pi / 2 * 10, abs=0.02)
    assert lengths[1] == pytest.approx(60)
    (building,) = survey.buildings.geometry
    assert building.area == pytest.approx(100)


def test_constants_attributes_and_handles_become_columns(tmp_path):
    survey = read_survey(drawn_estate(tmp_path / "e"))
    rows = {name: k for k, name in enumerate(survey.points["id"])}
    gate = rows.pop("GATE")
    assert survey.points["kind"][gate] == "camera"
    assert survey.points["load_w"][gate] == 5
    (other,) = rows
    assert other.startswith("site-")
    assert survey.points["kind"][rows[other]] == "recorder"
    kinds = dict(zip(survey.routes["containment"], survey.routes["status"], strict=True))
    assert kinds == {"duct": "proposed", None: "existing"}


def test_what_is_passed_over_is_said(tmp_path):
    survey = read_survey(drawn_estate(tmp_path / "e"))
    (note,) = [count.note for count in survey.files if count.file == "site.dxf (routes)"]
    assert note == "units mm, passed over: 1 TEXT"


def test_a_drawing_is_designed(tmp_path):
    _, _, out = workflow.design(drawn_estate(tmp_path / "e"))
    (link,) = read_csv(out / "links.csv")
    assert link["camera"] == "GATE"
    assert float(link["length_m"]) == pytest.approx(60 + np.pi / 2 * 10, abs=0.02)


def test_every_wrong_entry_of_the_table_is_told(tmp_path):
    toml = TOML + (
        "[drawing.cad_layers]\n"
        '"E-DUCT" = "rutes"\n"E-TRAY" = { containment = "tray" }\n"E-CAM" = { layer = "points", knd = "camera" }\n'
        '"E-NONE" = "mains"\n'
    )
    with pytest.raises(InputError) as raised:
        read_survey(drawn_estate(tmp_path / "e", toml))
    told = [str(problem) for problem in raised.value.problems]
    assert any("E-DUCT" in text and "'routes'" in text for text in told)
    assert any("E-TRAY" in text and "layer" in text for text in told)
    assert any("E-CAM" in text and "'kind'" in text for text in told)
    assert any("E-NONE" in text and "A-WALL" in text for text in told)


def test_without_a_table_a_drawing_is_not_read_and_that_is_said(tmp_path):
    points = [camera("C", 9, 0), recorder("R", 0, 0)]
    folder = write_estate(tmp_path / "e", TOML, routes=[line("A", (0, 0), (10, 0))], points=points)
    drawing(folder / "site.dxf")
    survey = read_survey(folder)
    assert len(survey.routes) == 1
    assert any("site.dxf" in note and "cad_layers" in note for note in survey.notes)


def test_a_file_that_is_no_drawing_is_a_problem(tmp_path):
    folder = drawn_estate(tmp_path / "e")
    (folder / "site.dxf").write_text("not a drawing", encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_survey(folder)
    assert any(p.file == "site.dxf" and "DXF" in p.expected for p in raised.value.problems)


@pytest.mark.parametrize("share", [0.1, 0.35, 0.6, 0.85, 0.99])
def test_a_drawing_cut_short_is_a_problem(tmp_path, share):
    folder = drawn_estate(tmp_path / "e")
    whole = (folder / "site.dxf").read_bytes()
    (folder / "site.dxf").write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(InputError):
        read_survey(folder)


def test_blocks_are_taken_apart_and_layer_0_is_the_blocks(tmp_path):
    folder = drawn_estate(tmp_path / "e")
    document = ezdxf.readfile(folder / "site.dxf")
    block = document.blocks.new("RUN")
    block.add_line((0, 0), (30000, 0), dxfattribs={"layer": "0"})
    document.modelspace().add_blockref("RUN", (0, 40000), dxfattribs={"layer": "E-TRAY", "rotation": 90})
    document.saveas(folder / "site.dxf")
    survey = read_survey(folder)
    ends = {tuple(np.round(shape.coords[-1], 3)) for shape in survey.routes.geometry}
    assert (0.0, 70.0) in ends


def network(tmp_path):
    routes = [
        line("A", (0, 0), (60, 0), containment="duct"),
        line("B", (60, 0), (60, 20), status="proposed", containment="duct"),
    ]
    points = [camera("C%%u1\\U+0041", 60, 20, name="a\nb"), recorder("R", 0, 0)]
    folder = write_estate(tmp_path / "e", TOML, routes=routes, points=points)
    return workflow.design(folder)[2]


def test_the_drawing_written_has_our_layers_in_metres(tmp_path):
    out = network(tmp_path)
    document = ezdxf.readfile(out / "network.dxf")
    assert document.header["$INSUNITS"] == 6
    assert not document.audit().errors
    space = document.modelspace()
    proposed = space.query('LWPOLYLINE[layer=="ROUTES-PROPOSED"]')
    length_m = sum(float(np.hypot(*np.diff(p.get_points("xy"), axis=0).T).sum()) for p in proposed)
    assert length_m == pytest.approx(20)
    (recorder_block,) = space.query('INSERT[layer=="POINTS-RECORDER"]')
    assert recorder_block.get_attrib_text("ID") == "R"


def test_the_drawing_is_the_same_however_a_process_hashes_texts(tmp_path):
    out = network(tmp_path)
    code = (
        "import sys; from pathlib import Path; from estate.output.result import read_result; "
        "from estate.output.cad_drawing import write_dxf; write_dxf(Path(sys.argv[2]), read_result(Path(sys.argv[1])))"
    )
    written = set()
    for seed in "1234":
        path = tmp_path / f"{seed}.dxf"
        env = {**os.environ, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", code, out, path], check=True, env=env)
        written.add(path.read_bytes())
    assert len(written) == 1


def test_names_are_no_codes_in_a_drawing(tmp_path):
    space = ezdxf.readfile(network(tmp_path) / "network.dxf").modelspace()
    (block,) = space.query('INSERT[layer=="POINTS-CAMERA"]')
    assert block.get_attrib("ID").plain_text() == plain("C%%u1\\U+0041")
    assert all("\n" not in text.dxf.text for text in space.query("TEXT"))


def test_what_is_drawn_can_be_read_again(tmp_path):
    """Points by their ids, routes by their layers."""
    out = network(tmp_path)
    toml = TOML + (
        "[drawing.cad_layers]\n"
        '"ROUTES-EXISTING" = { layer = "routes", containment = "duct" }\n'
        '"ROUTES-PROPOSED" = { layer = "routes", containment = "duct", status = "proposed" }\n'
        '"POINTS-RECORDER" = { layer = "points", kind = "recorder" }\n'
        '"POINTS-CAMERA" = { layer = "points", kind = "camera" }\n'
    )
    again = tmp_path / "again"
    again.mkdir()
    (again / "estate.toml").write_text(toml, encoding="utf-8")
    (again / "network.dxf").write_bytes((out / "network.dxf").read_bytes())
    survey = read_survey(again)
    assert sorted(survey.points["id"]) == sorted(["R", plain("C%%u1\\U+0041")])
    assert sum(shape.length for shape in survey.routes.geometry) == pytest.approx(80)
