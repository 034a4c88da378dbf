"""Shapefile and estate.gpkg in, GeoJSON and GeoPackage out and in again, the backdrop."""

import json
import warnings

import geopandas as gpd
import numpy as np
import pytest
import shapely

from estate import workflow
from estate.errors import InputError
from estate.output.drawing import plan_content
from estate.output.result import read_result
from estate.survey.fields import LAYERS
from estate.survey.read import input_hashes, read_survey
from estate.survey.shapefile_file import full_names
from tests.estates import LOCAL, camera, line, read_csv, recorder, write_csv, write_estate
from tests.test_formats_cad import LAYERS as CAD
from tests.test_formats_cad import TOML, drawn_estate

UTM = '[estate]\ntitle = "Test"\ncrs = "EPSG:32630"\n'
X, Y = 500_000.0, 5_760_000.0


def shapefile(path, rows, shapes, crs="EPSG:32630"):
    """A shapefile as GIS programs write it: names cut to ten characters."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        gpd.GeoDataFrame(rows, geometry=shapes, crs=crs).to_file(path, driver="ESRI Shapefile")


def shape_estate(folder, toml=UTM, crs="EPSG:32630"):
    folder.mkdir(parents=True)
    (folder / "estate.toml").write_text(toml, encoding="utf-8")
    rows = [
        {
            "id": "A",
            "containment": "duct",
            "environment": "duct_wet",
            "separation_mm": 300.0,
            "fill_percent": 5.0,
        }
    ]
    shapefile(folder / "routes.shp", rows, [shapely.LineString([(X, Y), (X + 60, Y)])], crs)
    points = [camera("C", X + 60, Y), recorder("R", X, Y)]
    write_csv(folder / "points.csv", points)
    return folder


def test_cut_names_of_a_shapefile_are_put_back(tmp_path):
    survey = read_survey(shape_estate(tmp_path / "e"))
    routes = survey.routes
    assert list(routes["containment"]) == ["duct"]
    assert list(routes["environment"]) == ["duct_wet"]
    assert list(routes["separation_mm"]) == [300]
    assert list(routes["fill_percent"]) == [5]
    (note,) = [count.note for count in survey.files if count.file == "routes.shp"]
    assert "containmen is containment" in note


def test_a_shapefile_without_prj_is_in_the_estates_crs_and_that_is_said(tmp_path):
    folder = shape_estate(tmp_path / "e")
    (folder / "routes.prj").unlink()
    survey = read_survey(folder)
    assert survey.routes.geometry[0].length == pytest.approx(60)
    assert "no .prj" in next(count.note for count in survey.files if count.file == "routes.shp")


def test_a_shapefile_without_prj_and_an_estate_without_crs_is_a_problem(tmp_path):
    folder = shape_estate(tmp_path / "e")
    (folder / "routes.prj").unlink()
    (folder / "estate.toml").write_text("[estate]\n", encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_survey(folder)
    assert any(p.file == "routes.shp" and p.field == "crs" for p in raised.value.problems)


def test_a_shapefile_without_its_fields_is_a_problem(tmp_path):
    folder = shape_estate(tmp_path / "e")
    (folder / "routes.dbf").unlink()
    with pytest.raises(InputError) as raised:
        read_survey(folder)
    assert any(p.file == "routes.shp" and "routes.dbf" in p.expected for p in raised.value.problems)


def test_every_part_of_a_shapefile_is_hashed(tmp_path):
    names = set(input_hashes(shape_estate(tmp_path / "e")))
    assert {"routes.shp", "routes.dbf", "routes.shx", "routes.prj", "points.csv", "estate.toml"} <= names


def test_the_type_of_a_field_tells_a_number_from_a_text():
    """separation_mm and separation_from are both separation when cut."""
    schema = LAYERS["routes"]
    for numeric, name in (({"separation"}, "separation_mm"), (set(), "separation_from")):
        assert full_names({"separation": []}, numeric, schema, "f.shp") == ({"separation": name}, [])
    # the later of two that are alike ends in _1 after eight characters
    both, problems = full_names({"separation": [], "separati_1": []}, {"separation"}, schema, "f.shp")
    assert both == {"separation": "separation_mm", "separati_1": "separation_from"}
    assert not problems


def test_a_field_that_could_be_several_columns_is_a_problem():
    """channels_analogue and channels_network both begin so; both are numbers."""
    _, problems = full_names({"channels_1": []}, {"channels_1"}, LAYERS["points"], "f.shp")
    assert [p.field for p in problems] == ["channels_1"]
    assert "channels_analogue or channels_network" in problems[0].expected


@pytest.mark.parametrize("toml", [UTM, LOCAL, LOCAL + 'units = "ft"\n'])
def test_estate_gpkg_is_the_estate_again(tmp_path, toml):
    x, y = (X, Y) if "EPSG" in toml else (0.0, 0.0)
    points = [
        camera("=C1", x + 60, y, feeds="poe1|poe2", insulated="yes"), recorder("R", x, y), camera("007", x + 30, y),
    ]  # fmt: skip
    cables = [
        {
            "id": "K",
            "from": "R",
            "to": "007",
            "status": "spare",
            "cable": "cat6-utp",
            "routes": "A",
            "length_m": 40,
        }
    ]
    routes = [line("A", (x, y), (x + 60, y), containment="duct", length_m=62)]
    folder = write_estate(tmp_path / "e", toml, routes=routes, points=points, cables=cables)
    _, _, out = workflow.design(folder)
    again = tmp_path / "again"
    again.mkdir()
    for name in ("estate.toml", "estate.gpkg"):
        source = out / name if name.endswith("gpkg") else folder / name
        (again / name).write_bytes(source.read_bytes())
    first, second = read_survey(folder), read_survey(again)
    for name in LAYERS:
        one, other = getattr(first, name), getattr(second, name)
        assert list(one["id"]) == list(other["id"])
        for column in LAYERS[name].by_name:
            if column not in one.columns:
                continue
            np.testing.assert_array_equal(one[column], other[column], err_msg=f"{name}.{column}")
        shapes = list(zip(one.geometry, other.geometry, strict=True))
        assert all(a is None or shapely.equals_exact(a, b, 1e-6) for a, b in shapes)
    _, _, out_again = workflow.design(again)
    assert read_csv(out / "links.csv") == read_csv(out_again / "links.csv")


def test_estate_gpkg_without_a_layer_of_ours_is_a_problem(tmp_path):
    folder = write_estate(
        tmp_path / "e", LOCAL, routes=[line("A", (0, 0), (9, 0))], points=[recorder("R", 0, 0)]
    )
    gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(0, 0)], crs="EPSG:32630").to_file(
        folder / "estate.gpkg", layer="x"
    )
    with pytest.raises(InputError) as raised:
        read_survey(folder)
    assert any(p.file == "estate.gpkg" and "routes" in p.expected for p in raised.value.problems)


BUILDING = "POLYGON ((500000 5760000, 500000 5760020, 500020 5760020, 500020 5760000, 500000 5760000))"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """An estate with a building drawn clockwise, which RFC 7946 wants the other way round."""
    folder = tmp_path_factory.mktemp("utm")
    points = [camera("C", X + 60, Y + 5), recorder("R", X, Y + 5)]
    routes = [line("A", (X, Y + 5), (X + 60, Y + 5), containment="duct", status="proposed")]
    write_estate(folder, UTM, routes=routes, points=points, buildings=[{"id": "B", "wkt": BUILDING}])
    return workflow.design(folder)[2]


def coordinates(places):
    """All places of a geometry's coordinates, however deep they lie."""
    return [places] if isinstance(places[0], float) else [xy for part in places for xy in coordinates(part)]


def test_network_geojson_keeps_rfc_7946(written):
    """RFC 7946: no crs member (4), longitude before latitude on WGS 84 (3.1.1, 4), no more digits than needed (11.2)."""
    content = json.loads((written / "network.geojson").read_text(encoding="utf-8"))
    assert set(content) == {"type", "features"}
    for feature in content["features"]:
        assert set(feature) == {"type", "properties", "geometry"}
        for x, y in coordinates(feature["geometry"]["coordinates"]) if feature["geometry"] else ():
            assert -3.1 < x < -2.9
            assert 51 < y < 53
            assert len(repr(x).partition(".")[2]) <= 7


def test_outlines_are_right_handed(written):
    """RFC 7946, 3.1.6: outer rings are counterclockwise."""
    content = json.loads((written / "layers" / "buildings.geojson").read_text(encoding="utf-8"))
    (feature,) = content["features"]
    assert shapely.LinearRing(feature["geometry"]["coordinates"][0]).is_ccw


BACKDROPS = {"back.geojson": "GeoJSON", "back.gpkg": "GPKG", "back.shp": "ESRI Shapefile"}


@pytest.mark.parametrize("name", BACKDROPS)
def test_a_backdrop_in_another_crs_comes_into_the_estates_plane(tmp_path, name):
    points = [camera("C", X + 60, Y), recorder("R", X, Y)]
    toml = UTM + f'[drawing]\nbackdrop = "{name}"\n'
    folder = write_estate(tmp_path / "e", toml, routes=[line("A", (X, Y), (X + 60, Y))], points=points)
    shapes = [
        shapely.LineString([(X, Y + 5), (X + 60, Y + 5)]),
        shapely.LineString([(X + 5000, Y), (X + 6000, Y)]),
        shapely.box(X, Y, X + 10, Y + 10),
    ]
    shapes = shapes[:2] if name.endswith("shp") else shapes
    frame = gpd.GeoDataFrame({"a": [1] * len(shapes)}, geometry=shapes, crs="EPSG:32630").to_crs("EPSG:4326")
    frame.to_file(folder / name, driver=BACKDROPS[name])
    _, _, out = workflow.design(folder)
    layer = read_result(out).layers["backdrop"]
    drawn = [shapely.from_wkt(text) for text in layer.geometry]
    assert len(drawn) == len(shapes) - 1, "what lies far off is left out"
    assert drawn[0].length == pytest.approx(60, abs=0.01)
    assert name in read_survey(folder).hashes
    content = plan_content(read_result(out))
    assert all(shape.geom_type in ("LineString", "MultiLineString") for shape in content.backdrop)
    assert content.bounds() == (X, Y, X + 60, Y), "it is no part of the plan's extent"
    # the layers written are an estate of their own, backdrop included
    again = read_survey(out / "layers")
    assert [shape.length for shape in again.backdrop] == pytest.approx(
        [shape.length for shape in drawn], abs=0.01
    )


def test_a_dxf_can_be_layers_and_backdrop_at_once(tmp_path):
    folder = drawn_estate(tmp_path / "e", TOML + '[drawing]\nbackdrop = "site.dxf"\n' + CAD)
    _, _, out = workflow.design(folder)
    assert len(read_result(out).layers["backdrop"].rows) >= 3
    again = read_survey(out / "layers")
    assert len(again.routes) == 2
    assert again.backdrop


@pytest.mark.parametrize("name", ["missing.gpkg", "points.csv"])
def test_a_backdrop_that_cannot_be_read_is_a_problem(tmp_path, name):
    points = [camera("C", 9, 0), recorder("R", 0, 0)]
    toml = LOCAL + f'[drawing]\nbackdrop = "{name}"\n'
    folder = write_estate(tmp_path / "e", toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    with pytest.raises(InputError) as raised:
        read_survey(folder)
    assert [p.field for p in raised.value.problems] == ["[drawing] backdrop"]
