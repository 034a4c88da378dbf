"""The reader and the graph on open data from package registries, through files as a user would hand them in.

momepy's Bubenec streets and buildings (BSD-3; OpenStreetMap contributors), pandapower's Schutterwald supply network
(BSD-3; OpenStreetMap contributors), libpysal's geodanet streets (BSD-3).
"""

import json
from pathlib import Path

import geopandas as gpd
import libpysal
import momepy
import numpy as np
import pandapower
import pytest
from pyproj import Geod
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from estate import workflow
from tests.estates import read_csv, write_csv


def parts(network):
    """Number of connected components among nodes that have a segment."""
    ends = (network.segment_from, network.segment_to)
    matrix = coo_array((np.ones(network.segments), ends), shape=(network.nodes, network.nodes))
    labels = connected_components(matrix, directed=False)[1]
    return len(set(labels[np.concatenate(ends)]))


def joined(folder):
    survey, _ = workflow.load(folder)
    return survey, workflow.build_network(survey)


def far_point(folder, x, y):
    """A recorder is required input; one at a street's end changes nothing in the graph."""
    write_csv(folder / "points.csv", [{"id": "R1", "kind": "recorder", "x": x, "y": y}])


@pytest.fixture(scope="module")
def bubenec(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bubenec")
    source = momepy.datasets.get_path("bubenec")
    streets = gpd.read_file(source, layer="streets")
    streets["id"] = [f"S{n:02}" for n in range(len(streets))]
    streets.to_file(folder / "routes.gpkg", layer="routes", driver="GPKG")
    buildings = gpd.read_file(source, layer="buildings")
    buildings["id"] = [f"B{n:03}" for n in range(len(buildings))]
    buildings[["id", "geometry"]].to_file(folder / "buildings.gpkg", layer="buildings", driver="GPKG")
    start = streets.geometry.iloc[0].coords[0]
    far_point(folder, *start)
    (folder / "estate.toml").write_text('[estate]\ncrs = "EPSG:3857"\n', encoding="utf-8")
    return folder


def test_bubenec_in_web_mercator_is_measured_in_true_metres(bubenec):
    """5948.5 m in EPSG:3857 are 3815.3 m on the ground; 35 streets, 29 nodes, 1 component."""
    survey, network = joined(bubenec)
    assert survey.crs == "EPSG:32633"
    assert any("3857" in note or "scale" in note for note in survey.notes), survey.notes
    assert network.segments == 35
    assert network.nodes == 29
    assert parts(network) == 1
    assert network.segment_length_m.sum() == pytest.approx(3815.3, rel=0.001)


def test_bubenec_streets_enter_no_building_and_144_are_read(bubenec):
    survey, network = joined(bubenec)
    assert len(survey.buildings) == 144
    assert {route.split(".")[0] for route in network.segment_id} == set(survey.routes["id"])


@pytest.fixture(scope="module")
def schutterwald():
    path = Path(pandapower.__file__).parent / "networks" / "lv_schutterwald.json"
    return pandapower.from_json(path)


def features(rows):
    return {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "properties": p, "geometry": g} for p, g in rows],
    }


def write_schutterwald(folder, net, layer, **properties):
    lines = [
        (
            {"id": f"L{n:04}", **properties},
            {"type": "LineString", "coordinates": json.loads(geo)["coordinates"]},
        )
        for n, geo in enumerate(net.line["geo"])
    ]
    (folder / f"{layer}.geojson").write_text(json.dumps(features(lines)), encoding="utf-8")
    return lines


@pytest.mark.filterwarnings("ignore")
def test_schutterwald_as_routes_with_its_loads_as_cameras(schutterwald, tmp_path):
    """3000 lines of 62.3 km; 96 % within 1 % of their nominal length; loads hang on their buses."""
    net = schutterwald
    lines = write_schutterwald(tmp_path, net, "routes")
    buses = net.load["bus"].drop_duplicates()
    cameras = [
        ({"id": f"C{bus:04}", "kind": "camera", "signal": "ethernet-1g"}, json.loads(net.bus.loc[bus, "geo"]))
        for bus in buses
    ]
    head = ({"id": "R1", "kind": "recorder"}, {"type": "Point", "coordinates": lines[0][1]["coordinates"][0]})
    (tmp_path / "points.geojson").write_text(json.dumps(features([*cameras, head])), encoding="utf-8")
    (tmp_path / "estate.toml").write_text("[network]\nsnap_m = 0.05\n", encoding="utf-8")
    survey, network = joined(tmp_path)
    assert survey.crs == "EPSG:32632"
    geod = Geod(ellps="WGS84")
    true_m = sum(geod.line_length(*np.transpose(g["coordinates"])) for _, g in lines)
    assert network.segment_length_m[network.segment_route >= 0].sum() == pytest.approx(true_m, rel=1e-3)
    assert true_m == pytest.approx(62_300, rel=0.02)
    per_route = np.bincount(
        network.segment_route[network.segment_route >= 0],
        network.segment_length_m[network.segment_route >= 0],
    )
    nominal = net.line["length_km"].to_numpy() * 1000
    assert np.mean(np.abs(per_route / nominal - 1) < 0.011) > 0.94
    camera_rows = survey.points["kind"] == "camera"
    assert np.mean(network.point_node[camera_rows] >= 0) > 0.99


@pytest.mark.filterwarnings("ignore")
def test_schutterwald_as_mains_beside_one_route(schutterwald, tmp_path):
    """A route drawn upon one supply line is within reach of it from end to end."""
    lines = write_schutterwald(
        tmp_path, schutterwald, "mains", amps=100, circuits=1, phases=3, placement="buried"
    )
    _, geometry = max(lines, key=lambda row: len(row[1]["coordinates"]))
    (tmp_path / "routes.geojson").write_text(
        json.dumps(features([({"id": "D"}, geometry)])), encoding="utf-8"
    )
    head = ({"id": "R1", "kind": "recorder"}, {"type": "Point", "coordinates": geometry["coordinates"][0]})
    (tmp_path / "points.geojson").write_text(json.dumps(features([head])), encoding="utf-8")
    (tmp_path / "estate.toml").write_text("", encoding="utf-8")
    _, out = workflow.check(tmp_path, tmp_path / "out"), tmp_path / "out"
    rows = read_csv(out / "proximity.csv")
    length_m = sum(float(row["length_m"]) for row in read_csv(out / "segments.csv"))
    own = [row for row in rows if float(row["distance_m"]) == 0 and row["verdict"] != "crossing"]
    covered = max(
        sum(float(r["to_m"]) - float(r["from_m"]) for r in own if r["mains"] == m)
        for m in {r["mains"] for r in own}
    )
    assert covered == pytest.approx(length_m, rel=0.01)
    assert {row["verdict"] for row in own} == {"verify"}


def test_geodanet_in_feet_is_read_in_metres(tmp_path):
    """293 streets, 220 nodes, 31.8 km, drawn in US survey feet (ESRI:102649)."""
    streets = gpd.read_file(libpysal.examples.get_path("streets.shp"))
    streets = streets.to_crs("ESRI:102649")[["geometry"]]
    streets["id"] = [f"S{n:03}" for n in range(len(streets))]
    streets.to_file(tmp_path / "routes.gpkg", layer="routes", driver="GPKG")
    far_point(tmp_path, *streets.geometry.iloc[0].coords[0])
    (tmp_path / "estate.toml").write_text('[estate]\ncrs = "ESRI:102649"\n', encoding="utf-8")
    survey, network = joined(tmp_path)
    assert any("feet" in note or "foot" in note for note in survey.notes), survey.notes
    assert network.segment_length_m.sum() == pytest.approx(31_800, rel=0.005)
    assert len({route for route in network.segment_route if route >= 0}) == 293
    assert network.nodes == pytest.approx(220, abs=10)
