"""Coordinates of every origin come to one plane in metres; those that can't be meant are told."""

import json

import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from pyproj import CRS, Geod, Transformer

from estate.errors import InputError
from estate.survey.coordinates import in_metres, parsed, scale_error, utm_at
from estate.survey.read import read_survey

LON, LAT = -1.5, 52.0
EAST, NORTH = 602972.98, 5762100.49  # the same place in EPSG:32630


def geojson(layer_rows, crs=None):
    content = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": p, "geometry": json.loads(shapely.to_geojson(g))}
            for p, g in layer_rows
        ],
    }
    if crs:
        content["crs"] = {"type": "name", "properties": {"name": crs}}
    return json.dumps(content)


def route(*places):
    return [({"id": "R1"}, shapely.LineString(places))]


def write(folder, toml="", **files):
    (folder / "estate.toml").write_text(toml)
    for name, text in files.items():
        (folder / name.replace("_", ".")).write_text(text)
    return folder


def problems_of(folder):
    with pytest.raises(InputError) as caught:
        read_survey(folder)
    return {(p.file, p.field): p for p in caught.value.problems}


DEGREES = route((LON, LAT), (LON + 0.001, LAT))
LONLAT_POINTS = f"id,kind,lon,lat\nC1,camera,{LON},{LAT}\n"
XY_POINTS = f"id,kind,x,y\nC1,camera,{EAST},{NORTH}\n"
XY_ROUTES = f'id,wkt\nR1,"LINESTRING ({EAST} {NORTH}, {EAST + 60} {NORTH})"\n'
UTM = '[estate]\ncrs = "EPSG:32630"\n'


def test_a_thousandth_of_a_degree_of_longitude_at_52_north_is_68_7_m(tmp_path):
    survey = read_survey(write(tmp_path, routes_geojson=geojson(DEGREES), points_csv=LONLAT_POINTS))
    length = survey.routes.geometry[0].length
    assert survey.crs == "EPSG:32630"
    assert length == pytest.approx(68.7, abs=0.1)
    # pyproj's geodesic on WGS 84 (Karney 2013); UTM may be off by 0.04 to 0.1 %
    geodesic = Geod(ellps="WGS84").line_length([LON, LON + 0.001], [LAT, LAT])
    assert length == pytest.approx(geodesic, rel=0.001)
    assert any("EPSG:32630" in note for note in survey.notes)


@pytest.mark.parametrize(
    ("lon", "lat"), [(-1.5, 52), (151.2, -33.9), (-179.99, 5), (179.99, -5), (24.9, 60.2)]
)
def test_the_zone_is_the_one_that_the_epsg_register_gives(lon, lat):
    place = pyproj.aoi.AreaOfInterest(lon, lat, lon, lat)
    registered = pyproj.database.query_utm_crs_info(datum_name="WGS 84", area_of_interest=place)
    assert utm_at(lon, lat).to_epsg() in {int(found.code) for found in registered}


def test_csv_in_the_crs_and_geojson_meet(tmp_path):
    x, y = Transformer.from_crs("OGC:CRS84", "EPSG:32630", always_xy=True).transform(LON, LAT)
    points = f"id,kind,x,y\nC1,camera,{x},{y}\n"
    survey = read_survey(write(tmp_path, UTM, routes_geojson=geojson(DEGREES), points_csv=points))
    start = shapely.Point(survey.routes.geometry[0].coords[0])
    assert start.distance(survey.points.geometry[0]) < 0.001
    assert survey.notes == ()


def test_us_survey_feet_become_metres_in_the_same_projection(tmp_path):
    toml = '[estate]\ncrs = "EPSG:2229"\n'
    routes = 'id,wkt\nR1,"LINESTRING Z (6500000 1800000 100, 6500393.7 1800000 110)"\n'
    survey = read_survey(
        write(tmp_path, toml, routes_csv=routes, points_csv="id,kind,x,y\nC1,camera,6500000,1800000\n")
    )
    assert survey.crs == "EPSG:2229 in metres"
    # 1 US survey foot = 1200/3937 m (NIST SP 811, B.6)
    foot = 1200 / 3937
    places = shapely.get_coordinates(survey.routes.geometry[0], include_z=True)
    expected = np.array([[6500000, 1800000, 100], [6500393.7, 1800000, 110]]) * foot
    np.testing.assert_allclose(places, expected, atol=1e-6)
    assert "US survey foot" in survey.notes[0]
    back = Transformer.from_crs(survey.crs_wkt, "EPSG:2229", always_xy=True).transform(*places[0, :2])
    assert back == pytest.approx((6500000, 1800000), abs=1e-5)


def test_plain_feet_become_metres(tmp_path):
    toml = '[estate]\ncrs = "local"\nunits = "ft"\n'
    routes = 'id,wkt\nR1,"LINESTRING Z (0 0 10, 100 0 10)"\n'
    survey = read_survey(
        write(tmp_path, toml, routes_csv=routes, points_csv="id,kind,x,y\nC1,camera,100,0\n")
    )
    places = shapely.get_coordinates(survey.routes.geometry[0], include_z=True)
    np.testing.assert_allclose(places, [[0, 0, 3.048], [30.48, 0, 3.048]])  # 1 ft = 0.3048 m, exact
    assert survey.points.geometry[0].x == pytest.approx(30.48)
    assert survey.crs is None
    assert "feet" in survey.notes[0]


def test_web_mercator_is_reprojected_and_said(tmp_path):
    to_mercator = Transformer.from_crs("OGC:CRS84", "EPSG:3857", always_xy=True)
    (x0, y0), (x1, y1) = to_mercator.transform(LON, LAT), to_mercator.transform(LON + 0.001, LAT)
    survey = read_survey(
        write(
            tmp_path,
            '[estate]\ncrs = "EPSG:3857"\n',
            routes_csv=f'id,wkt\nR1,"LINESTRING ({x0} {y0}, {x1} {y1})"\n',
            points_csv=f"id,kind,x,y\nC1,camera,{x0},{y0}\n",
        )
    )
    assert survey.crs == "EPSG:32630"
    assert survey.routes.geometry[0].length == pytest.approx(68.7, abs=0.1)
    assert "EPSG:3857 is off by 62.5 %" in survey.notes[0]  # 1/cos 52° = 1.624 on the sphere


@pytest.mark.parametrize(("code", "lon", "lat"), [("EPSG:32630", -3, 52), ("EPSG:27700", -2, 53)])
def test_scale_error_is_the_projections_own(code, lon, lat):
    # central scale factors as registered: UTM 0.9996, British National Grid 0.9996012717; the grid stands
    # on the Airy ellipsoid, so its scale against WGS 84 differs by some 3e-5
    central = CRS(code).coordinate_operation.params[2].value
    assert scale_error(CRS(code), lon, lat) == pytest.approx(1 - central, abs=5e-5)


def test_a_utm_zone_far_from_the_site_is_replaced(tmp_path):
    toml = '[estate]\ncrs = "EPSG:32633"\n'
    survey = read_survey(write(tmp_path, toml, routes_geojson=geojson(DEGREES), points_csv=LONLAT_POINTS))
    assert survey.crs == "EPSG:32630"
    assert "EPSG:32633" in survey.notes[0]


def test_an_old_crs_member_is_honoured_and_said(tmp_path):
    line = route((3500000, 5700000), (3500100, 5700000))
    survey = read_survey(
        write(
            tmp_path,
            routes_geojson=geojson(line, crs="urn:ogc:def:crs:EPSG::31467"),
            points_csv="id,kind,lon,lat\nC1,camera,8.999,51.4346\n",
        )
    )
    assert survey.crs == "EPSG:31467"
    assert survey.routes.geometry[0].length == pytest.approx(100)
    assert "31467" in survey.files[0].note
    assert any("datum shift" in note and "points.csv" in note for note in survey.notes)


@pytest.mark.parametrize("name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326", "urn:ogc:def:crs:EPSG::4326"])
def test_an_old_crs_member_that_says_wgs84_changes_nothing(tmp_path, name):
    folder = write(tmp_path, routes_geojson=geojson(DEGREES, crs=name), points_csv=LONLAT_POINTS)
    survey = read_survey(folder)
    assert survey.routes.geometry[0].length == pytest.approx(68.7, abs=0.1)
    assert survey.files[0].note == ""


def test_heights_are_kept_in_metres(tmp_path):
    line = route((LON, LAT, 80), (LON + 0.001, LAT, 82.5))
    survey = read_survey(write(tmp_path, routes_geojson=geojson(line), points_csv=LONLAT_POINTS))
    assert shapely.get_coordinates(survey.routes.geometry, include_z=True)[:, 2].tolist() == [80, 82.5]


def test_a_geographic_crs_is_projected(tmp_path):
    toml = '[estate]\ncrs = "EPSG:4326"\n'
    routes = f'id,wkt\nR1,"LINESTRING ({LON} {LAT}, {LON + 0.001} {LAT})"\n'
    survey = read_survey(write(tmp_path, toml, routes_csv=routes, points_csv=LONLAT_POINTS))
    assert survey.crs == "EPSG:32630"
    assert survey.routes.geometry[0].length == pytest.approx(68.7, abs=0.1)


# GeoPackage


def geopackage(path, layer, shapes, crs, **columns):
    fields = [np.array(values) for values in columns.values()]
    pyogrio.raw.write(
        path,
        geometry=None if shapes is None else shapely.to_wkb(np.array(shapes, dtype=object)),
        field_data=fields,
        fields=list(columns),
        layer=layer,
        driver="GPKG",
        geometry_type=None if shapes is None else shapes[0].geom_type,
        crs=crs,
    )


def test_a_geopackage_is_read_in_its_own_crs(tmp_path):
    line = shapely.LineString([(434423, 233624), (434523, 233624)])
    geopackage(
        tmp_path / "routes.gpkg",
        "ducts",
        [line],
        "EPSG:27700",
        id=["R1"],
        bore_mm=[np.nan],
        ways=[2],
        paint=["grey"],
    )
    survey = read_survey(write(tmp_path, points_csv=LONLAT_POINTS))
    assert survey.crs == "EPSG:27700"
    assert survey.routes.geometry[0].length == pytest.approx(100)
    assert survey.routes["ways"][0] == 2
    assert np.isnan(survey.routes["bore_mm"][0])
    assert survey.routes.extra["paint"][0] == "grey"
    assert survey.files[0].note == "table ducts"


def test_a_geopackage_and_the_estates_crs_meet(tmp_path):
    line = shapely.LineString([(LON, LAT), (LON + 0.001, LAT)])
    geopackage(tmp_path / "routes.gpkg", "routes", [line], "EPSG:4326", id=["R1"])
    survey = read_survey(write(tmp_path, UTM, points_csv=XY_POINTS))
    assert survey.crs == "EPSG:32630"
    assert survey.routes.geometry[0].distance(survey.points.geometry[0]) < 0.1


def test_a_geopackage_with_several_tables_needs_the_layers_name(tmp_path):
    line = shapely.LineString([(LON, LAT), (LON + 0.001, LAT)])
    for name in ("east", "west"):
        pyogrio.raw.write(
            tmp_path / "routes.gpkg",
            geometry=shapely.to_wkb(np.array([line], dtype=object)),
            field_data=[np.array(["R1"])],
            fields=["id"],
            layer=name,
            driver="GPKG",
            geometry_type="LineString",
            crs="EPSG:4326",
            append=(tmp_path / "routes.gpkg").exists(),
        )
    folder = write(tmp_path, points_csv=LONLAT_POINTS)
    assert "one named routes" in problems_of(folder)["routes.gpkg", ""].expected


# Coordinates that can't be meant


def test_coordinates_without_a_crs_are_refused(tmp_path):
    found = problems_of(write(tmp_path, routes_geojson=geojson(DEGREES), points_csv=XY_POINTS))
    assert "crs in estate.toml" in found["points.csv", "crs"].expected


def test_degrees_in_x_and_y_without_a_crs_are_told_apart(tmp_path):
    points = LONLAT_POINTS.replace("lon,lat", "x,y")
    found = problems_of(write(tmp_path, routes_geojson=geojson(DEGREES), points_csv=points))
    assert "name the columns lon, lat" in found["points.csv", "crs"].fix


@pytest.mark.parametrize("code", ["EPSG:99999", "Mars", "EPSG:5701"])  # the last maps heights only
def test_an_unknown_crs_is_told(tmp_path, code):
    folder = write(tmp_path, f'[estate]\ncrs = "{code}"\n', routes_csv=XY_ROUTES, points_csv=XY_POINTS)
    found = problems_of(folder)
    assert list(found) == [("estate.toml", "[estate] crs")]
    assert found["estate.toml", "[estate] crs"].value == code


def test_an_unknown_crs_of_a_file_is_told(tmp_path):
    routes = geojson(DEGREES, crs="EPSG:99999")
    found = problems_of(write(tmp_path, routes_geojson=routes, points_csv=LONLAT_POINTS))
    assert found["routes.geojson", "crs"].value == "EPSG:99999"


def test_geojson_has_no_place_in_plain_coordinates(tmp_path):
    folder = write(
        tmp_path, '[estate]\ncrs = "local"\n', routes_geojson=geojson(DEGREES), points_csv=XY_POINTS
    )
    assert list(problems_of(folder)) == [("routes.geojson", "crs")]


def test_degrees_in_a_projected_crs_are_told(tmp_path):
    points = LONLAT_POINTS.replace("lon,lat", "x,y")
    found = problems_of(write(tmp_path, UTM, routes_csv=XY_ROUTES, points_csv=points))
    assert list(found) == [("points.csv", "coordinates")]
    assert "name the columns lon, lat" in found["points.csv", "coordinates"].fix


def test_projected_numbers_in_geojson_are_told(tmp_path):
    routes = geojson(route((EAST, NORTH), (EAST + 60, NORTH)))
    found = problems_of(write(tmp_path, UTM, routes_geojson=routes, points_csv=XY_POINTS))
    assert list(found) == [("routes.geojson", "coordinates")]
    assert "look projected" in found["routes.geojson", "coordinates"].fix


@pytest.mark.parametrize(
    ("toml", "routes", "points"),
    [
        # outside ±90, whatever else there is
        (
            "",
            {"routes_geojson": geojson(route((151.2, -33.9), (151.201, -33.9)))},
            "lon,lat\nC1,camera,-33.9,151.2",
        ),
        # beside another layer
        ("", {"routes_geojson": geojson(DEGREES)}, f"lon,lat\nC1,camera,{LAT},{LON}"),
        # inside the CRS's area of use when exchanged
        (UTM, {"routes_geojson": geojson(DEGREES)}, f"lon,lat\nC1,camera,{LAT},{LON}"),
        (UTM, {"routes_csv": XY_ROUTES}, f"x,y\nC1,camera,{NORTH},{EAST}"),
        # plain coordinates, beside the routes
        (
            '[estate]\ncrs = "local"\n',
            {"routes_csv": 'id,wkt\nR1,"LINESTRING (1000 5000, 1400 5300)"\n'},
            "x,y\nC1,camera,5100,1100",
        ),
    ],
)
def test_swapped_axes_are_told_and_never_swapped(tmp_path, toml, routes, points):
    head, rows = points.split("\n", 1)
    found = problems_of(write(tmp_path, toml, **routes, points_csv=f"id,kind,{head}\n{rows}\n"))
    assert list(found) == [("points.csv", "coordinates")]
    problem = found["points.csv", "coordinates"]
    assert "before" in problem.expected
    assert "exchange" in problem.fix


def test_swapped_routes_are_told_where_the_crs_knows_its_area(tmp_path):
    routes = geojson(route((LAT, LON), (LAT, LON + 0.001)))
    found = problems_of(write(tmp_path, UTM, routes_geojson=routes, points_csv=XY_POINTS))
    assert list(found) == [("routes.geojson", "coordinates")]


def test_layers_far_apart_are_told(tmp_path):
    points = f"id,kind,lon,lat\nC1,camera,{LON + 3},{LAT}\n"
    found = problems_of(write(tmp_path, routes_geojson=geojson(DEGREES), points_csv=points))
    problem = found["points.csv", "coordinates"]
    # pyproj's geodesic: 3° of longitude at 52° N
    assert Geod(ellps="WGS84").line_length([LON, LON + 3], [LAT, LAT]) == pytest.approx(206e3, rel=0.01)
    assert problem.value.startswith("206 km")
    assert "100 km" in problem.expected


def test_a_camera_a_little_way_off_is_no_problem(tmp_path):
    points = LONLAT_POINTS + f"C2,camera,{LON + 0.05},{LAT}\n"
    assert len(read_survey(write(tmp_path, routes_geojson=geojson(DEGREES), points_csv=points)).points) == 2


def test_only_the_horizontal_part_of_a_crs_counts():
    assert parsed("EPSG:7405").to_epsg() == 27700  # British National Grid with Newlyn heights
    assert parsed("32630").to_epsg() == 32630
    assert in_metres(CRS(32630)) == CRS(32630)
