"""The graph and the stretches near mains on real geometry, against what other libraries find in it.

momepy's Bubenec streets (BSD-3; OpenStreetMap contributors), pandapower's Schutterwald supply network (BSD-3;
OpenStreetMap contributors), libpysal's geodanet streets (BSD-3).
"""

import json
from pathlib import Path

import geopandas as gpd
import libpysal
import momepy
import networkx as nx
import numpy as np
import pandapower
import pytest
import shapely

from estate.network.build import build_network
from estate.network.paths import matrix, tree
from estate.network.proximity import find_exposures
from tests.layers import layer, survey


def lines(name, geometry, **columns):
    rows = [{"id": f"{name[0].upper()}{k:04}", **columns} for k in range(len(geometry))]
    return layer(name, rows, list(geometry))


def connected_parts(network):
    view = network.graph()
    return sum(1 for part in nx.connected_components(view) if view.subgraph(part).number_of_edges())


@pytest.fixture(scope="module")
def bubenec():
    streets = gpd.read_file(momepy.datasets.get_path("bubenec"), layer="streets")
    return streets.to_crs(streets.estimate_utm_crs())


@pytest.fixture(scope="module")
def schutterwald():
    """Lines and places of the loads, in metres."""
    file = Path(pandapower.__file__).parent / "networks" / "lv_schutterwald.json"
    net = json.loads(file.read_text(encoding="utf-8"))["_object"]
    frames = {name: json.loads(net[name]["_object"]) for name in ("line", "bus", "load")}
    table = {name: [dict(zip(f["columns"], r, strict=True)) for r in f["data"]] for name, f in frames.items()}
    drawn = gpd.GeoSeries(shapely.from_geojson([r["geo"] for r in table["line"]]), crs=4326)
    bus = dict(zip(frames["bus"]["index"], (r["geo"] for r in table["bus"]), strict=True))
    # Heat pumps stand at the same buses as the households.
    homes = [r["bus"] for r in table["load"] if r["type"] != "HP"]
    loads = gpd.GeoSeries(shapely.from_geojson([bus[b] for b in homes]), crs=4326)
    crs = drawn.estimate_utm_crs()
    return drawn.to_crs(crs).to_numpy(), loads.to_crs(crs).to_numpy()


def test_bubenec_is_the_graph_that_momepy_makes(bubenec):
    network = build_network(survey(routes=lines("routes", bubenec.geometry)))
    oracle = momepy.gdf_to_nx(bubenec, length="length")
    assert (
        (network.nodes, network.segments) == (oracle.number_of_nodes(), oracle.number_of_edges()) == (29, 35)
    )
    assert connected_parts(network) == nx.number_connected_components(oracle) == 1
    # UTM is 0.04 % short at most here; 5948.5 m in the file's Web Mercator.
    assert network.segment_length_m.sum() == pytest.approx(3815.3, rel=1e-3)


def test_ways_in_bubenec_are_those_of_networkx(bubenec):
    network = build_network(survey(routes=lines("routes", bubenec.geometry)))
    oracle = momepy.gdf_to_nx(bubenec, length="length")
    graph = matrix(network, network.segment_length_m)
    place = {
        (round(x, 3), round(y, 3)): n
        for n, (x, y) in enumerate(zip(network.node_x, network.node_y, strict=True))
    }
    number = {node: place[round(node[0], 3), round(node[1], 3)] for node in oracle}
    for source in oracle:
        distance = tree(graph, number[source]).distance
        expected = nx.single_source_dijkstra_path_length(oracle, source, weight="length")
        assert {n: distance[number[n]] for n in oracle} == pytest.approx(expected)


def test_geodanet_in_us_feet(tmp_path):
    streets = gpd.read_file(libpysal.examples.get_path("streets.shp"))
    metres = shapely.transform(streets.geometry.to_numpy(), lambda xy: xy * 1200 / 3937)
    network = build_network(survey(routes=lines("routes", metres)))
    assert (network.segments, network.nodes) == (293, 220)
    assert network.segment_length_m.sum() == pytest.approx(31_800, rel=2e-3)


def test_a_village_s_supply_lines_as_routes_with_its_loads_as_cameras(schutterwald):
    drawn, loads = schutterwald
    cameras = layer("points", [{"id": f"C{k:04}", "kind": "camera"} for k in range(len(loads))], list(loads))
    network = build_network(survey(routes=lines("routes", drawn), points=cameras))
    assert len(drawn) == 3000
    assert len(loads) == 1506
    # 62.3 km by the data's own lengths; the drawing is 0.3 % short of that, 0.04 % of it UTM's.
    assert network.segment_length_m[network.segment_route >= 0].sum() == pytest.approx(62_300, rel=5e-3)
    assert (network.point_node >= 0).all()
    for row in np.linspace(0, len(drawn) - 1, 40).astype(int):
        parts = network.segment_length_m[network.segment_route == row].sum()
        assert parts == pytest.approx(drawn[row].length, abs=1e-3)


def test_a_village_s_supply_lines_as_mains_beside_each_other(schutterwald):
    """Every third line as mains, the others as routes: the pairs within reach are shapely's, with its distances."""
    drawn, _ = schutterwald
    mains, routes = drawn[::3], np.delete(drawn, np.s_[::3])
    whole = survey(routes=lines("routes", routes), mains=lines("mains", mains), survey_accuracy_m=0.25)
    network = build_network(whole)
    found = find_exposures(network, whole, 1.5)
    assert set(found.accuracy_m) == {0.5}
    pairs = shapely.STRtree(mains).query(network.segment_geometry, predicate="dwithin", distance=2.0)
    expected = set(zip(*pairs.tolist(), strict=True))
    assert set(zip(found.segment.tolist(), found.mains.tolist(), strict=True)) == expected
    assert len(expected) > 1000
    nearest = shapely.distance(network.segment_geometry[found.segment], mains[found.mains])
    assert (found.distance_m >= nearest - 1e-6).all()
    group = found.segment * len(mains) + found.mains
    order = np.lexsort((found.distance_m, group))
    first = order[np.unique(group[order], return_index=True)[1]]
    assert found.distance_m[first] == pytest.approx(nearest[first], abs=1e-6)
    inside = shapely.buffer(mains[found.mains[first]], 2.0, quad_segs=64)
    length = shapely.length(shapely.intersection(network.segment_geometry[found.segment[first]], inside))
    assert (found.to_m - found.from_m).sum() == pytest.approx(length.sum(), rel=1e-3)
