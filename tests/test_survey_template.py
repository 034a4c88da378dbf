"""A new folder can be read at once, and a survey written can be read again."""

import json
import tomllib

import numpy as np
import pytest
import shapely

from estate.catalogue.tables import ENVIRONMENTS
from estate.errors import OutputRefused
from estate.settings import Settings
from estate.survey.fields import LAYERS
from estate.survey.layers_out import write_layers
from estate.survey.read import read_survey
from estate.survey.settings_file import settings_from
from estate.survey.template import settings_text, write_template


def same(first, second):
    """Assert that two surveys hold the same rows."""
    for name in LAYERS:
        one, two = getattr(first, name), getattr(second, name)
        assert set(one.columns) == set(two.columns)
        for column in one.columns:
            np.testing.assert_array_equal(one[column], two[column], err_msg=f"{name}.{column}")
        drawn = one.geometry != None  # noqa: E711
        np.testing.assert_array_equal(drawn, two.geometry != None)  # noqa: E711
        assert shapely.equals_exact(one.geometry[drawn], two.geometry[drawn], tolerance=0.001).all()
        assert {k: list(v) for k, v in one.extra.items()} == {k: list(v) for k, v in two.extra.items()}
        assert {k: list(v) for k, v in one.assumed.items()} == {k: list(v) for k, v in two.assumed.items()}
    assert first.crs == second.crs
    assert first.assumptions == second.assumptions


def test_a_new_folder_can_be_read_at_once(tmp_path):
    paths = write_template(tmp_path / "farm")
    survey = read_survey(tmp_path / "farm")
    assert {path.name for path in paths} == set(survey.hashes)
    assert all(len(getattr(survey, name)) for name in LAYERS)
    assert sorted(survey.points["kind"]) == ["camera", "patch", "recorder"]
    assert survey.settings == Settings(catalogue={}, assume={})
    assert {path.parent for path in paths} == {tmp_path / "farm"}
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]


def test_an_empty_folder_is_filled_and_any_other_refused(tmp_path):
    (tmp_path / "farm").mkdir()
    write_template(tmp_path / "farm")
    before = {path.name: path.read_bytes() for path in (tmp_path / "farm").iterdir()}
    with pytest.raises(OutputRefused, match="isn't an empty folder"):
        write_template(tmp_path / "farm")
    assert {path.name: path.read_bytes() for path in (tmp_path / "farm").iterdir()} == before
    with pytest.raises(OutputRefused):
        write_template(tmp_path / "farm" / "estate.toml")


def test_every_setting_stands_in_the_new_file_with_its_default():
    text = settings_text()
    assert not any(tomllib.loads(text).values())
    lines = [
        line.removeprefix("# ") if " = " in line and "layer.column" not in line else line
        for line in text.splitlines()
    ]
    kept = [line for line in lines if " =  #" not in line and "cables.joints" not in line]
    settings, problems = settings_from(tomllib.loads("\n".join(kept)))
    assert problems == []
    defaults = Settings()
    for name in ("estate", "design", "limits", "network", "lengths", "prices", "phases", "drawing"):
        assert getattr(settings, name) == getattr(defaults, name)
    assert {line.partition(" =  #")[0] for line in lines if " =  #" in line} == {
        "recorders_exactly", "recorders_at_most", "power_point", "scale",
    }  # fmt: skip


def test_environments_are_the_catalogues():
    assert LAYERS["routes"].by_name["environment"].choices == ENVIRONMENTS


def test_the_new_folder_survives_writing_and_reading(tmp_path):
    write_template(tmp_path / "farm")
    first = read_survey(tmp_path / "farm")
    write_layers(first, tmp_path / "again")
    same(first, read_survey(tmp_path / "again"))


def test_a_mixed_estate_survives_writing_and_reading(tmp_path):
    (tmp_path / "estate.toml").write_text(
        '[estate]\ntitle = "Mixed"\n[assume]\ncables.joints = 1\npoints.load_w = 5\n', encoding="utf-8"
    )
    line = {
        "type": "MultiLineString",
        "coordinates": [[[-1.5, 52, 80], [-1.499, 52, 81]], [[-1.499, 52, 81], [-1.498, 52, 82]]],
    }
    routes = [
        {"type": "Feature", "properties": {"id": "R1", "length_m": 140, "bends": 3, "status": "proposed", "tag": {"a": [1]}}, "geometry": line},
        {"type": "Feature", "properties": {"id": "R2", "containment": "catenary", "fill_percent": 0}, "geometry": {"type": "LineString", "coordinates": [[-1.5, 52], [-1.5, 52.001]]}},
    ]  # fmt: skip
    (tmp_path / "routes.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": routes}))
    (tmp_path / "routes-indoor.csv").write_text("id,from,to,length_ft,environment\nR3,C1,C2,100,riser\n")
    (tmp_path / "points.csv").write_text(
        "id,kind,lon,lat,feeds,insulated,load_w,Colour\nC1,camera,-1.5,52,dc12|poe1,no,4,red\nC2,camera,,,,,,\n"
    )
    (tmp_path / "cables.csv").write_text(
        'id,from,to,routes,joints,year\nK1,C1,C2,"R1;R3",,2011\nK2,C2,C1,,0,\n'
    )
    first = read_survey(tmp_path)
    again = tmp_path / "again"
    paths = write_layers(first, again)
    assert [path.name for path in paths] == [
        "estate.toml", "routes.geojson", "routes.csv", "points.geojson", "points.csv", "cables.csv",
    ]  # fmt: skip
    second = read_survey(again)
    same(first, second)
    assert second.settings.estate.title == "Mixed"
    assert second.settings.estate.crs == "EPSG:32630"


@pytest.mark.parametrize(
    "toml",
    ['[estate]\ncrs = "local"\n', '[estate]\ncrs = "local"\nunits = "ft"\n', '[estate]\ncrs = "EPSG:2229"\n'],
)
def test_csv_estates_survive_writing_and_reading(tmp_path, toml):
    (tmp_path / "estate.toml").write_text(toml)
    (tmp_path / "routes.csv").write_text(
        'id,wkt\nR1,"LINESTRING Z (6500000 1800000 1, 6500333.3 1800111.1 2.5)"\n'
    )
    (tmp_path / "points.csv").write_text("id,kind,x,y\nC1,camera,6500000,1800000\n")
    (tmp_path / "buildings.csv").write_text(
        'id,wkt\nB1,"MULTIPOLYGON (((6500000 1800000, 6500050 1800000, 6500050 1800050, 6500000 1800000)), '
        '((6500100 1800000, 6500150 1800000, 6500150 1800050, 6500100 1800000)))"\n'
    )
    first = read_survey(tmp_path)
    write_layers(first, tmp_path / "again")
    same(first, read_survey(tmp_path / "again"))


def test_a_crs_that_came_with_the_data_is_written_down(tmp_path):
    write_template(tmp_path / "farm")
    first = read_survey(tmp_path / "farm")
    write_layers(first, tmp_path / "again")
    text = (tmp_path / "again" / "estate.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["estate"] == {"crs": "EPSG:32630"}
    assert settings_text() == text.replace('crs = "EPSG:32630"\n', "", 1)
