"""Installed cables as links may take them over: whole, and every length between two places where equipment can stand."""

from estate.links.reusable import cable_of, reusable_cables
from tests.estates import camera, line, recorder
from tests.installed_cases import cable, search_of

ROUTES = [line("A", (0, 0), (40, 0)), line("B", (40, 0), (100, 0)), line("D", (100, 0), (120, 0))]
POINTS = [
    recorder("R", 0, 0, status="existing"),
    {"id": "P", "kind": "patch", "x": 40, "y": 0, "power": "unswitched"},
    {"id": "Q", "kind": "patch", "x": 100, "y": 0, "power": "unswitched"},
    camera("C", 120, 0, signal="composite"),
]


def lengths(folder, stops=("P", "Q"), **more):
    search = search_of(folder, "", ROUTES, POINTS, cables=[cable("K1", "C", "rg59-cu", **more)])
    names = search.network.node_id.tolist()
    nodes = [names.index(stop) for stop in stops]
    return search, reusable_cables(search.survey, search.network, search.catalogue, ["K1"], nodes)


def test_every_length_between_two_stops_with_its_share_of_the_measured_length(tmp_path):
    """132 m measured on 120 m of way: 1.1 times; parts C–Q 20 m, Q–P 60 m, P–R 40 m of way."""
    search, found = lengths(tmp_path, length_m=132)
    by_id = {spare.id: spare for spare in found}
    metres = {"K1": 132, "K1 C–Q": 22, "K1 C–P": 88, "K1 Q–P": 66, "K1 Q–R": 110, "K1 P–R": 44}
    assert {name: round(spare.length_m, 6) for name, spare in by_id.items()} == metres
    assert by_id["K1"].taken == ("K1 C–Q", "K1 Q–P", "K1 P–R")
    assert by_id["K1 Q–R"].taken == ("K1 Q–P", "K1 P–R")
    assert {cable_of(name, search.survey) for name in by_id} == {"K1"}


def test_without_a_stop_it_is_whole(tmp_path):
    _, found = lengths(tmp_path, stops=())
    assert [(spare.id, spare.taken) for spare in found] == [("K1", ("K1",))]


def test_what_is_not_known_is_left(tmp_path):
    assert lengths(tmp_path, cable="unknown")[1] == ()
    assert lengths(tmp_path / "tees", tees=1)[1] == ()
