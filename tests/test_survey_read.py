"""Layers in every form read into checked columns, and every kind of bad input told with its place."""

import json
import re

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estate.errors import InputError
from estate.survey.fields import LAYERS
from estate.survey.read import read_survey

LOCAL = '[estate]\ncrs = "local"\n'
ROUTES = "id,wkt\nR1,LINESTRING (0 0; 100 0)\n".replace(";", ",").replace("LINE", '"LINE').replace(")", ')"')
POINTS = "id,kind,x,y\nC1,camera,100,0\nREC,recorder,0,0\n"
KNOWN = {
    "signals": frozenset({"composite", "analogue-1080p", "ethernet-100m"}),
    "feeds": frozenset({"local", "dc12", "poe1"}),
    "cables": frozenset({"rg59-cu", "cat6-utp"}),
    "methods": frozenset({"ethernet", "coax-local"}),
    "items": frozenset({"joint-box", "pair-isolator"}),
}


@pytest.fixture
def estate(tmp_path):
    """Write an estate of the given files beside a whole small one; a file given as None is left out."""

    def write(toml=LOCAL, **files):
        content = {"routes.csv": ROUTES, "points.csv": POINTS}
        content |= {name.replace("__", "-").replace("_", "."): text for name, text in files.items()}
        (tmp_path / "estate.toml").write_text(toml, encoding="utf-8")
        for name, text in content.items():
            if text is not None:
                raw = text if isinstance(text, bytes) else text.encode()
                (tmp_path / name).write_bytes(raw)
        return tmp_path

    return write


def problems_of(folder, known=KNOWN):
    with pytest.raises(InputError) as caught:
        read_survey(folder, known)
    return caught.value.problems


def only_problem(folder, known=KNOWN):
    (problem,) = problems_of(folder, known)
    return problem


def features(*rows, crs=None):
    content = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": p, "geometry": {"type": t, "coordinates": c} if t else None}
            for p, t, c in rows
        ],
    }
    if crs:
        content["crs"] = {"type": "name", "properties": {"name": crs}}
    return json.dumps(content)


# Forms of CSV


def test_a_small_estate_is_read_and_sorted_by_id(estate):
    survey = read_survey(estate(), KNOWN)
    assert survey.routes.ids == ["R1"]
    assert survey.points.ids == ["C1", "REC"]
    assert survey.crs is None
    assert survey.routes.geometry[0].length == 100
    assert list(survey.points.origin) == ["points.csv row 2", "points.csv row 3"]
    assert len(survey.cables) == 0
    assert set(survey.cables.columns) == {c.name for c in LAYERS["cables"].columns}


def test_vertex_rows_make_lines_in_order_of_seq(estate):
    rows = "id,seq,x,y,z,status\nR1,2,10,0,2,\nR1,1,0,0,1,proposed\nR2,1,5,5,,\nR1,3,10,10,3,\nR2,2,6,5,,\n"
    survey = read_survey(estate(routes_csv=rows))
    first, second = survey.routes.geometry
    assert shapely.get_coordinates(first, include_z=True).tolist() == [[0, 0, 1], [10, 0, 2], [10, 10, 3]]
    assert not second.has_z
    assert list(survey.routes["status"]) == ["proposed", "existing"]
    assert survey.files[0].features == 2


def test_schematic_rows_keep_their_ends_and_may_have_no_length_to_speak_of(estate):
    folder = estate(
        routes_csv="id,from,to,length_m\nR1,REC,C1,84\nR2,REC,C2,0\n",
        points_csv="id,kind\nC1,camera\nC2,camera\nREC,recorder\n",
        toml="",
    )
    routes = read_survey(folder).routes
    assert list(routes.geometry) == [None, None]
    assert list(routes["from"]) == ["REC", "REC"]
    assert routes["length_m"].tolist() == [84, 0]


def test_the_three_forms_mix_in_one_estate_and_one_file(estate):
    rows = (
        "id,wkt,seq,x,y,from,to,length_m\n"
        'R1,"LINESTRING (0 0, 9 0)",,,,,,\nR2,,1,0,0,,,\nR2,,2,0,7,,,\nR3,,,,,REC,C1,12\n'
    )
    routes = read_survey(estate(routes_csv=rows)).routes
    assert [g and g.length for g in routes.geometry] == [9, 7, None]


def test_a_layer_comes_in_several_files(estate):
    survey = read_survey(estate(points__gates_csv="id,kind,x,y\nC0,camera,50,1\n"))
    assert survey.points.ids == ["C0", "C1", "REC"]
    assert [count.file for count in survey.files] == ["routes.csv", "points-gates.csv", "points.csv"]


def test_bom_semicolons_and_decimal_commas_are_read_and_echoed(estate):
    text = "﻿ID;Kind;X;Y;Load_W;Feeds;Paint\nC1;camera;100,5;0;4,25;dc12|poe1;grün\nREC;recorder;0;0;;;\n"
    survey = read_survey(estate(points_csv=text), KNOWN)
    note = {count.file: count.note for count in survey.files}["points.csv"]
    assert note == "UTF-8 with BOM, delimiter semicolon, decimal comma"
    assert survey.points.geometry[0].x == 100.5
    assert survey.points["load_w"][0] == 4.25
    assert survey.points["feeds"][0] == ("dc12", "poe1")
    assert list(survey.points.extra["Paint"]) == ["grün", None]


def test_quoted_lists_stand_where_the_delimiter_is_a_semicolon(estate):
    text = 'id;kind;x;y;feeds\nC1;camera;1;0;"dc12;poe1"\nREC;recorder;0;0;\n'
    assert read_survey(estate(points_csv=text), KNOWN).points["feeds"][0] == ("dc12", "poe1")


@pytest.mark.parametrize(("encoding", "said"), [("cp1252", "Windows-1252"), ("utf-16", "UTF-16")])
def test_other_encodings_are_read_and_said(estate, encoding, said):
    text = "id,kind,name,x,y\nC1,camera,Stallgebäude,1,0\nREC,recorder,,0,0\n".encode(encoding)
    survey = read_survey(estate(points_csv=text))
    assert survey.points["name"][0] == "Stallgebäude"
    assert said in survey.files[1].note


def test_tabs_delimit(estate):
    survey = read_survey(estate(points_csv=POINTS.replace(",", "\t")))
    assert survey.files[1].note == "delimiter tab"


def test_a_list_in_a_comma_file_isnt_a_decimal_comma(estate):
    folder = estate(points_csv='id,kind,x,y,load_w\nC1,camera,1,0,"4,5"\nREC,recorder,0,0,\n')
    problem = only_problem(folder)
    assert (problem.file, problem.row, problem.id, problem.field) == ("points.csv", 2, "C1", "load_w")
    assert problem.fix == "use a decimal point"


def test_feet_become_metres_and_must_agree_with_metres(estate):
    rows = "id,from,to,length_m,length_ft\nR1,REC,C1,,100\nR2,REC,C1,30.48,100\n"
    survey = read_survey(estate(routes_csv=rows))
    assert survey.routes["length_m"].tolist() == pytest.approx([30.48, 30.48])  # 1 ft = 0.3048 m, exact
    assert "length_ft" not in survey.routes.columns
    problem = only_problem(estate(routes_csv=rows.replace("30.48", "31")))
    assert problem.field == "length_ft"
    assert "101.71 ft" in problem.expected


def test_defaults_are_taken_and_counted(estate):
    rows = (
        "id,from,to,length_m,status,containment\n"
        "R1,REC,C1,1,proposed,catenary\nR2,REC,C1,1,,duct\nR3,REC,C1,1,existing,buried\n"
    )
    survey = read_survey(estate(routes_csv=rows, buildings_csv="id,earth_zone\nB1,\nB2,Z\n"))
    assert list(survey.routes["status"]) == ["proposed", "existing", "existing"]
    assert list(survey.routes["environment"]) == ["aerial", None, "buried"]
    np.testing.assert_equal(survey.routes["fill_percent"], [0, np.nan, np.nan])
    assert list(survey.buildings["earth_zone"]) == ["B1", "Z"]
    assert survey.points["priority"][0] == 5
    assert np.isnan(survey.points["priority"][1])  # a recorder has none
    counted = {(a.subject, a.value): a.count for a in survey.assumptions}
    assert counted["routes.status", "existing"] == 1
    assert counted["routes.environment", "aerial"] == 1
    assert counted["routes.fill_percent", 0.0] == 1
    assert counted["points.priority", 5] == 1
    assert {a.kind for a in survey.assumptions} == {"default"}


def test_assumed_values_fill_blanks_and_are_marked(estate):
    toml = LOCAL + "[assume]\npoints.load_w = 6\npoints.power = 'none'\ncables.joints = 0\n"
    folder = estate(
        toml,
        points_csv="id,kind,x,y,load_w\nC1,camera,1,0,\nC2,camera,2,0,4\nREC,recorder,0,0,\n",
        cables_csv="id,from,to,joints\nK1,C1,REC,\nK2,C2,REC,2\n",
    )
    survey = read_survey(folder)
    np.testing.assert_equal(survey.points["load_w"], [6, 4, np.nan])
    assert list(survey.points["power"]) == ["none"] * 3
    assert survey.cables["joints"].tolist() == [0, 2]
    assert survey.points.is_assumed("load_w", 0)
    assert not survey.points.is_assumed("load_w", 1)
    counted = {a.subject: (a.value, a.count) for a in survey.assumptions if a.kind == "assumed"}
    assert counted == {"points.load_w": (6, 1), "points.power": ("none", 3), "cables.joints": (0, 1)}


@pytest.mark.parametrize(
    ("line", "field", "fix"),
    [
        ("cabels.joints = 0", "[assume]", "did you mean 'cables'?"),
        ("cables.joint = 0", "[assume] cables.joint", "did you mean 'joints'?"),
        ("cables.joints = -1", "[assume] cables.joints", ""),
        ("routes.containment = 'duckt'", "[assume] routes.containment", "did you mean 'duct'?"),
    ],
)
def test_assumptions_are_checked(estate, line, field, fix):
    problem = only_problem(estate(f"{LOCAL}[assume]\n{line}\n"))
    assert (problem.file, problem.field, problem.fix) == ("estate.toml", field, fix)


def test_unknown_is_a_word_for_blank(estate):
    folder = estate(cables_csv="id,from,to,cable\nK1,C1,REC,unknown\nK2,C1,REC,\nK3,C1,REC,RG59-CU\n")
    assert list(read_survey(folder, KNOWN).cables["cable"]) == [None, None, "rg59-cu"]


def test_a_misspelt_column_is_guessed_and_kept(estate):
    survey = read_survey(estate(points_csv=POINTS.replace("x,y", "x,y,laod_w").replace("0\n", "0,4\n")))
    assert any("'laod_w'" in note and "did you mean 'load_w'?" in note for note in survey.notes)
    assert "laod_w" in survey.points.extra


# Lines of several parts


def test_lines_of_several_parts_are_cut_and_share_their_length(estate):
    folder = estate(
        routes_csv='id,wkt,length_m\nR1,"MULTILINESTRING ((0 0, 30 0), (30 0, 40 0))",44\n'
        'R2,"MULTILINESTRING ((0 0, 5 5))",\n',
        cables_csv="id,from,to,routes\nK1,C1,REC,R2;R1\n",
    )
    survey = read_survey(folder)
    assert survey.routes.ids == ["R1/1", "R1/2", "R2"]
    assert survey.routes["length_m"][:2].tolist() == pytest.approx([33, 11])
    assert survey.cables["routes"][0] == ("R2", "R1/1", "R1/2")
    assert survey.files[0].features == 2
    assert any("R1 is drawn in 2 parts" in note for note in survey.notes)


# GeoJSON


def test_geojson_keeps_native_values_and_extra_properties(estate):
    folder = estate(
        "",
        routes_csv=None,
        points_csv=None,
        routes_geojson=features(
            ({"id": 7, "Ways": 2, "laid": [1, {"a": 2}]}, "LineString", [[-1.5, 52], [-1.499, 52, 5]]),
            ({"id": "S", "from": "REC", "to": "C1", "length_m": 9.5}, None, None),
        ),
        points_geojson=features(
            (
                {"id": "C1", "kind": "camera", "insulated": True, "feeds": ["dc12", "poe1"]},
                "Point",
                [-1.499, 52],
            ),
            ({"id": "REC", "kind": "recorder"}, "Point", [-1.5, 52, 80.0]),
        ),
    )
    survey = read_survey(folder, KNOWN)
    assert survey.routes.ids == ["7", "S"]
    assert survey.routes["ways"][0] == 2
    assert survey.routes.extra["laid"][0] == [1, {"a": 2}]
    assert not survey.routes.geometry[0].has_z  # one vertex of two has a height
    assert survey.routes.geometry[1] is None
    assert survey.points["insulated"][0] is True
    assert survey.points["feeds"][0] == ("dc12", "poe1")
    assert survey.points.geometry[1].z == 80


def test_a_feature_of_its_own_id_is_named_by_it(estate):
    content = json.loads(features(({"kind": "pit"}, "Point", [-1.5, 52])))
    content["features"][0]["id"] = "P9"
    folder = estate(
        "",
        routes_csv=None,
        points_csv=None,
        points_geojson=json.dumps(content),
        routes_geojson=features(({"id": "R"}, "LineString", [[-1.5, 52], [-1.49, 52]])),
    )
    assert read_survey(folder).points.ids == ["P9"]


# Bad input: one case each, with its place


def wkt_routes(text):
    return f'id,wkt\nR1,"LINESTRING (0 0, 100 0)"\nR2,"{text}"\n'


@pytest.mark.parametrize(
    ("files", "place", "says"),
    [
        ({"routes_csv": None}, ("routes", None, "", ""), "routes.geojson, .csv, .gpkg or .shp"),
        ({"points_csv": "id,kind,x,y\n"}, ("points.csv", None, "", ""), "at least one feature"),
        ({"points_csv": b""}, ("points.csv", None, "", ""), "at least one feature"),
        ({"cables_csv": "id,from,to\n"}, ("cables.csv", None, "", ""), "at least one feature"),
        ({"points_csv": POINTS + "C1,pit,3,3\n"}, ("points.csv", 4, "C1", "id"), "points.csv row 2"),
        ({"points_csv": POINTS + ",pit,3,3\n"}, ("points.csv", 4, "", "id"), "a value"),
        ({"points_csv": POINTS + "P,camrea,3,3\n"}, ("points.csv", 4, "P", "kind"), "did you mean 'camera'?"),
        ({"points_csv": POINTS + "P,,3,3\n"}, ("points.csv", 4, "P", "kind"), "a value"),
        ({"points_csv": POINTS.replace("kind", "kinds")}, ("points.csv", None, "", "kind"), "rename 'kinds'"),
        ({"points_csv": POINTS + "P,pit,3\n"}, ("points.csv", 4, "P", ""), "4 cells"),
        ({"points_csv": POINTS + "P,pit,3,3,9\n"}, ("points.csv", 4, "P", ""), "4 cells"),
        ({"points_csv": POINTS + "P,pit,3,\n"}, ("points.csv", 4, "P", "y"), "both x and y"),
        ({"points_csv": POINTS + "P,pit,3,nan\n"}, ("points.csv", 4, "P", "y"), "a finite number"),
        ({"points_csv": POINTS + "P,pit,3,1_0\n"}, ("points.csv", 4, "P", "y"), "a finite number"),
        (
            {"points_csv": POINTS + "P,pit,,\n"},
            ("points.csv", 4, "P", "geometry"),
            "coordinates, or a schematic",
        ),
        ({"points_csv": 'id,kind,x,y\n"C1,camera,1,1\n'}, ("points.csv", None, "", ""), "a readable CSV"),
        (
            {"points_csv": "id,id,kind,x,y\nA,B,pit,1,1\n"},
            ("points.csv", None, "", "id "),
            "each column once",
        ),
        ({"routes_csv": wkt_routes("LINESTRING (0 0)")}, ("routes.csv", 3, "R2", "wkt"), "well-known text"),
        ({"routes_csv": wkt_routes("LINESTRING EMPTY")}, ("routes.csv", 3, "R2", "geometry"), "a LineString"),
        ({"routes_csv": wkt_routes("POINT (1 1)")}, ("routes.csv", 3, "R2", "geometry"), "a LineString"),
        (
            {"routes_csv": wkt_routes("LINESTRING (1 1, 1 1)")},
            ("routes.csv", 3, "R2", "geometry"),
            "1 mm or more",
        ),
        (
            {"routes_csv": wkt_routes("LINESTRING (1 1, 1.0009 1)")},
            ("routes.csv", 3, "R2", "geometry"),
            "1 mm",
        ),
        (
            {"routes_csv": wkt_routes("LINESTRING (1 1, 9 nan)")},
            ("routes.csv", 3, "R2", "geometry"),
            "finite",
        ),
        (
            {"routes_csv": wkt_routes("LINESTRING (1 1, 9e999 1)")},
            ("routes.csv", 3, "R2", "geometry"),
            "finite",
        ),
        ({"routes_csv": wkt_routes("")}, ("routes.csv", 3, "R2", "geometry"), "a drawn line, or from, to"),
        (
            {"routes_csv": 'id,wkt,from,to\nR1,"LINESTRING (0 0, 1 0)",REC,C1\n'},
            ("routes.csv", 2, "R1", "wkt and from, to"),
            "one form of geometry",
        ),
        (
            {"routes_csv": 'id,wkt,x,y\nR1,"LINESTRING (0 0, 1 0)",1,1\n'},
            ("routes.csv", 2, "R1", "wkt and x, y"),
            "one form of geometry",
        ),
        ({"routes_csv": "id,from,to,length_m\nR1,REC,,5\n"}, ("routes.csv", 2, "R1", "to"), "both ends"),
        (
            {"routes_csv": "id,from,to,length_m\nR1,REC,C1,\n"},
            ("routes.csv", 2, "R1", "length_m"),
            "the length",
        ),
        (
            {"routes_csv": "id,from,to,length_m\nR1,REC,C9,5\n"},
            ("routes.csv", 2, "R1", "to"),
            "an id in the layer points",
        ),
        ({"routes_csv": "id,seq,x,y\nR1,1,0,0\nR1,1,9,0\n"}, ("routes.csv", 3, "R1", "seq"), "each seq once"),
        (
            {"routes_csv": "id,seq,x,y\nR1,1,0,0\nR1,,9,0\n"},
            ("routes.csv", 3, "R1", "seq"),
            "every vertex row",
        ),
        ({"routes_csv": "id,seq,x,y\nR1,1,0,0\n"}, ("routes.csv", 2, "R1", "seq"), "two vertex rows"),
        (
            {"routes_csv": "id,seq,x,y,ways\nR1,1,0,0,1\nR1,2,9,0,2\n"},
            ("routes.csv", 3, "R1", "ways"),
            "one value per line",
        ),
        (
            {"buildings_csv": "id,x,y\nB1,0,0\n"},
            ("buildings.csv", None, "", "x, y"),
            "outlines in a column wkt",
        ),
        (
            {"buildings_csv": 'id,wkt\nB1,"POLYGON ((0 0, 9 9, 9 0, 0 9, 0 0))"\n'},
            ("buildings.csv", 2, "B1", "geometry"),
            "doesn't cross itself",
        ),
        ({"mains_csv": "id,amps\nM1,20\n"}, ("mains.csv", 2, "M1", "geometry"), "separation_from"),
        ({"points_geojson": "{"}, ("points.geojson", None, "", ""), "readable JSON"),
        ({"points_geojson": "[]"}, ("points.geojson", None, "", ""), "a FeatureCollection"),
        ({"points_gpkg": "not a database"}, ("points.gpkg", None, "", ""), "a readable GeoPackage"),
    ],
)
def test_bad_features_are_told_with_their_place(estate, files, place, says):
    problem = only_problem(estate(**files))
    assert (problem.file, problem.row, problem.id, problem.field) == place
    assert says in str(problem)


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        ("load_w", "-1", "of 0 or more"),
        ("load_w", "four", "a finite number"),
        ("load_w", "nan", "a finite number"),
        ("load_w", "1e999", "a finite number"),
        ("load_w", "inf", "a finite number"),
        ("priority", "2.5", "a whole number from 1 to 9"),
        ("priority", "10", "a whole number from 1 to 9"),
        ("insulated", "perhaps", "true, false, yes, no, 1 or 0"),
        ("signal", "compsite", "did you mean 'composite'?"),
        ("feeds", "dc12;dc21", "did you mean 'dc12'?"),
        ("building", "B7", "an id in the layer buildings"),
        ("status", "exists", "one of existing, candidate"),
    ],
)
def test_bad_values_are_told_with_their_column(estate, column, value, says):
    problem = only_problem(
        estate(points_csv=f"id,kind,x,y,{column}\nC1,camera,1,0,{value}\nREC,recorder,0,0,\n")
    )
    assert (problem.row, problem.id, problem.field) == (2, "C1", column)
    assert says in str(problem)


@pytest.mark.parametrize(
    ("row", "field", "says"),
    [
        ("K1,C1,REC,REC,,,", "camera", "a camera, not a recorder"),
        ("K1,C1,REC,,,cat6-upt,", "cable", "did you mean 'cat6-utp'?"),
        ("K1,C1,REC,,,,joint-box", "equipment", "ID@NODE"),
        ("K1,C1,REC,,,,joint-bx@C1", "equipment", "did you mean 'joint-box'?"),
    ],
)
def test_cables_refer_to_what_is_there(estate, row, field, says):
    problem = only_problem(estate(cables_csv=f"id,from,to,camera,routes,cable,equipment\n{row}\n"))
    assert (problem.file, problem.row, problem.field) == ("cables.csv", 2, field)
    assert says in str(problem)


@pytest.mark.parametrize(
    ("row", "note"),
    [
        (
            "K1,C1,RECO,,",
            "cables.csv row 2 (K1), to = 'RECO': no id in the layer points; did you mean 'REC'?",
        ),
        ("K1,unknown,REC,,", "cables.csv row 2 (K1), from = 'unknown': no id in the layer points"),
        ("K1,C1,REC,C7,", "cables.csv row 2 (K1), camera = 'C7': no id in the layer points"),
        ("K1,C1,REC,,R7", "cables.csv row 2 (K1), routes = 'R7': no id in the layer routes"),
    ],
)
def test_old_records_may_name_what_is_not_there_and_it_is_noted(estate, row, note):
    survey = read_survey(estate(cables_csv=f"id,from,to,camera,routes\n{row}\n"))
    assert len(survey.cables) == 1
    assert note in " ".join(survey.notes)


def test_supplies_and_separation_refer_to_what_is_there(estate):
    folder = estate(
        routes_csv='id,wkt,separation_from\nR1,"LINESTRING (0 0, 9 0)",M2\n',
        supplies_csv="id,at\nPS1,NOWHERE\n",
    )
    assert {(p.file, p.field) for p in problems_of(folder)} == {
        ("routes.csv", "separation_from"),
        ("supplies.csv", "at"),
    }


def test_phases_are_held_against_their_names_where_there_are_any(estate):
    points = "id,kind,x,y,phase\nC1,camera,1,0,two\nREC,recorder,0,0,one\n"
    assert read_survey(estate(points_csv=points)).points["phase"][0] == "two"
    problem = only_problem(estate(LOCAL + '[phases]\nnames = ["one"]\n', points_csv=points))
    assert (problem.id, problem.field) == ("C1", "phase")


@pytest.mark.parametrize(
    "geometry",
    [
        {"type": "LineString", "coordinates": [[-1.5, 52]]},
        {"type": "LineString", "coordinates": [[-1.5, 52], [-1.49]]},
        {"type": "LineString", "coordinates": [[-1.5, 52], ["a", 52]]},
        {"type": "LineString", "coordinates": 5},
        {"type": "LineString"},
        {"type": "Spline", "coordinates": [[-1.5, 52], [-1.4, 52]]},
        {"type": "LineString", "coordinates": [[-1.5, 52], [float("nan"), 52]]},
        {"type": "Polygon", "coordinates": [[[-1.5, 52], [-1.4, 52], [-1.4, 52.1], [-1.5, 52]]]},
    ],
)
def test_bad_geojson_geometry_rejects_its_feature_only(estate, geometry):
    good = {"id": "R1"}, "LineString", [[-1.5, 52], [-1.499, 52]]
    content = json.loads(features(good))
    content["features"].append({"type": "Feature", "properties": {"id": "R2"}, "geometry": geometry})
    folder = estate(
        "",
        routes_csv=None,
        points_csv="id,kind,lon,lat\nC1,camera,-1.5,52\n",
        routes_geojson=json.dumps(content),
    )
    with pytest.raises(InputError) as caught:
        read_survey(folder)
    (problem,) = caught.value.problems
    assert (problem.file, problem.row, problem.id, problem.field) == ("routes.geojson", 2, "R2", "geometry")
    assert "routes.geojson: 2 features = 1 accepted + 1 rejected" in caught.value.summary


def test_every_problem_of_every_file_is_told_at_once(estate):
    folder = estate(
        LOCAL + "[desing]\nspare_percent = 1\n",
        routes_csv=wkt_routes("LINESTRING (0 0)"),
        points_csv="id,kind,x,y,load_w\nC1,camra,1,0,-4\nREC,recorder,0,0,\n",
        supplies_csv="id,at\nPS1,C7\n",
    )
    with pytest.raises(InputError) as caught:
        read_survey(folder)
    assert {(p.file, p.field) for p in caught.value.problems} == {
        ("estate.toml", "[desing]"),
        ("routes.csv", "wkt"),
        ("points.csv", "kind"),
        ("points.csv", "load_w"),
        ("supplies.csv", "at"),
    }
    assert caught.value.summary == (
        "routes.csv: 2 features = 1 accepted + 1 rejected",
        "points.csv: 2 features = 1 accepted + 1 rejected",
        "supplies.csv: 1 features = 0 accepted + 1 rejected",
    )


def test_a_row_with_bad_geometry_still_has_its_values_checked(estate):
    folder = estate(points_csv=POINTS + "P,pitt,x,3\n")
    assert {p.field for p in problems_of(folder)} == {"kind", "x"}


def test_an_id_twice_in_two_files_names_both_places(estate):
    problem = only_problem(estate(points__b_csv="id,kind,x,y\nC1,camera,5,5\n"))
    places = {f"{problem.file} row {problem.row}", *re.findall(r"points\S* row \d+", problem.expected)}
    assert places == {"points-b.csv row 2", "points.csv row 2"}


def test_a_misnamed_file_is_guessed(estate):
    folder = estate(routes_csv=None, route_csv=ROUTES)
    assert only_problem(folder).fix == "rename route.csv"


def test_a_missing_folder_is_told(tmp_path):
    with pytest.raises(InputError, match="a folder"):
        read_survey(tmp_path / "none")


@pytest.mark.parametrize(
    ("files", "name"),
    [
        ({"points_csv": POINTS.replace("C1", '"C;1"')}, "C;1"),
        ({"routes_csv": ROUTES.replace("R1", '"R;1"')}, "R;1"),
        ({"mains_csv": 'id,wkt\n"M;1","LINESTRING (0 9, 9 9)"\n'}, "M;1"),
        ({"buildings_csv": 'id,wkt\n"B;1","POLYGON ((0 5, 9 5, 9 9, 0 5))"\n'}, "B;1"),
        ({"cables_csv": 'id,from,to,status,cable\n"K;1",REC,C1,spare,rg59-cu\n'}, "K;1"),
        ({"supplies_csv": 'id,at,kind,volts\n"S;1",REC,dc,12\n'}, "S;1"),
    ],
)
def test_an_id_that_holds_the_separator_of_lists_is_refused(estate, files, name):
    problem = only_problem(estate(**files))
    assert (problem.field, problem.value) == ("id", name)
    assert f"write '{name.replace(';', '-')}'" in problem.fix


# Properties


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(order=st.permutations(range(6)))
def test_the_order_of_rows_never_matters(estate, order):
    rows = [f"C{i},camera,{i},{i},{i + 1}" for i in range(6)]
    first = read_survey(estate(points_csv="id,kind,x,y,load_w\n" + "\n".join(rows)))
    mixed = read_survey(estate(points_csv="id,kind,x,y,load_w\n" + "\n".join(rows[i] for i in order)))
    assert mixed.points.ids == first.points.ids
    assert mixed.points["load_w"].tolist() == first.points["load_w"].tolist()
    assert shapely.equals_exact(mixed.points.geometry, first.points.geometry).all()
