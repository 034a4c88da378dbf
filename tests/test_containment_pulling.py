"""Pulling cables into ducts: sections between pull points, bends, slopes, the kinder end, the cable's own limit."""

from math import exp, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.catalogue.load import load_catalogue
from estate.findings import Verdict
from estate.links.pulling import (
    GRAVITY_M_PER_S2,
    PullSection,
    best_pit,
    greatest_tension_n,
    pull,
    pull_parts,
    pull_section,
)
from estate.network.courses import Course, course_of
from estate.network.paths import matrix, tree, way
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

N_PER_LBF = 4.448222
M_PER_FT = 0.3048
CATALOGUE = load_catalogue()[0]


def course(lengths, bends, slopes=None):
    slopes = [0.0] * len(lengths) if slopes is None else slopes
    return Course(np.array(lengths, float), np.array(slopes, float), np.array(bends, float), None, None)


def section(lengths, bends, slopes=None):
    return PullSection((0, 1), (0,), course(lengths, bends, slopes))


def joined(folder, routes, points, toml=""):
    return workflow.prepare(write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points))


def sections_between(made, start, end):
    """The pull sections of the way between two points, by the names of their ends."""
    rows, network = made.survey.points.row_of(), made.network
    nodes = [int(network.point_node[rows[name]]) for name in (start, end)]
    graph = matrix(network, network.segment_length_m)
    found = way(graph, tree(graph, nodes[0]), nodes[1])
    return [pull_section(made.survey, network, part) for part in pull_parts(network, *found)]


def named(made, sections):
    return [tuple(str(made.network.node_id[n]) for n in each.nodes) for each in sections]


# Published worked examples, public cable-pulling guides


def test_a_pull_of_36_lbf_into_a_right_angle_is_79():
    """W8; 160 N become 351 N, above the 110 N of a 4-pair cable."""
    mass = CATALOGUE.cables["cat6-utp"].number("mass_kg_per_km") / 1000 * GRAVITY_M_PER_S2
    straight_m = 36 * N_PER_LBF / (mass * 0.5)
    tension = greatest_tension_n(course([straight_m, 0], [90]), mass, 0.5)
    assert tension / N_PER_LBF == pytest.approx(79, abs=0.5)
    assert tension == pytest.approx(351, abs=0.5)
    both = pull(section([straight_m, straight_m], [90]), "cat6-utp", CATALOGUE, 0.5)
    assert both.limit_n == 110
    assert both.verdict is Verdict.OUTSIDE


def test_a_pull_along_and_round():
    """W8b: 1.5 lb/ft, 200 ft, 0.3, then 90°: 144 lbf."""
    weight = 1.5 * N_PER_LBF / M_PER_FT
    tension = greatest_tension_n(course([200 * M_PER_FT, 0], [90]), weight, 0.3)
    assert tension / N_PER_LBF == pytest.approx(144, abs=0.5)


# The kinder end


def test_the_end_near_the_bend_is_kinder_to_feed():
    """10 m, a right angle, 100 m: fed at the near end the bend multiplies the 10 m only."""
    found = pull(section([10, 100], [90]), "cat6-utp", CATALOGUE, 0.5)
    per_m = 0.042 * GRAVITY_M_PER_S2 * 0.5
    assert found.forward_n == pytest.approx(per_m * (10 * exp(0.5 * pi / 2) + 100))
    assert found.backward_n == pytest.approx(per_m * 100 * exp(0.5 * pi / 2) + per_m * 10)
    assert (found.kinder_n, found.feed_node) == (found.forward_n, 0)


def test_downhill_is_kinder_and_the_greatest_tension_counts():
    """Steeper than the friction holds, the cable runs by itself; up the same slope its weight pulls back."""
    found = pull(section([50, 50], [0], [0, -45]), "cat6-utp", CATALOGUE, 0.5)
    per_m = 0.042 * GRAVITY_M_PER_S2
    assert found.forward_n == pytest.approx(per_m * 0.5 * 50)
    assert found.backward_n == pytest.approx(per_m * (50 * (0.5**0.5 + 0.5 * 0.5**0.5) + 25))


@pytest.mark.parametrize("cable", ["rg59-ccs", "cca-utp"])
def test_a_cable_without_figures_is_not_evaluated(cable):
    assert pull(section([10], []), cable, CATALOGUE, 0.5).verdict is Verdict.VERIFY


lengths = st.lists(st.floats(0, 200), min_size=1, max_size=5)


@given(lengths=lengths, data=st.data())
def test_tension_grows_with_length_bends_and_friction_and_a_pit_never_hurts(lengths, data):
    bends = data.draw(st.lists(st.floats(0, 120), min_size=len(lengths) - 1, max_size=len(lengths) - 1))
    friction = data.draw(st.floats(0.05, 0.9))
    now = greatest_tension_n(course(lengths, bends), 0.5, friction)
    assert greatest_tension_n(course([*lengths, 5], [*bends, 10]), 0.5, friction) >= now
    assert greatest_tension_n(course(lengths, bends), 0.5, friction + 0.1) >= now
    found = pull(section(lengths, bends), "cat6-utp", CATALOGUE, friction)
    pit = best_pit(found.section, "cat6-utp", CATALOGUE, friction)
    assert pit.tension_n <= found.kinder_n + 1e-9
    assert 0 <= pit.from_start_m <= sum(lengths) + 1e-9
    turned = pull(PullSection((1, 0), (0,), found.section.course.back()), "cat6-utp", CATALOGUE, friction)
    assert turned.kinder_n == pytest.approx(found.kinder_n)


@given(bends=st.lists(st.floats(0, 90), min_size=1, max_size=5), friction=st.floats(0.1, 0.8))
def test_many_bends_are_one_of_their_sum(bends, friction):
    """Euler and Eytelwein: e^µa · e^µb = e^µ(a+b), so only the sum counts where no length lies between."""
    parts = course([10, *[0] * len(bends)], bends)
    whole = course([10, 0], [sum(bends)])
    assert greatest_tension_n(parts, 0.4, friction) == pytest.approx(greatest_tension_n(whole, 0.4, friction))


# Where cable can be pulled


def test_pits_part_a_duct_where_routes_merely_meet_they_do_not(tmp_path):
    routes = [
        line("A", (0, 0), (40, 0), containment="duct"),
        line("B", (40, 0), (40, 30), (90, 30), containment="duct"),
    ]
    points = [recorder("R", 0, 0), camera("C", 90, 30)]
    made = joined(tmp_path / "meet", routes, points)
    (one,) = sections_between(made, "R", "C")
    assert one.length_m == pytest.approx(120)
    assert one.bends_deg == pytest.approx(180)
    made = joined(tmp_path / "pit", routes, [*points, {"id": "P", "kind": "pit", "x": 40, "y": 0}])
    parted = sections_between(made, "R", "C")
    assert named(made, parted) == [("R", "P"), ("P", "C")]
    assert [round(each.bends_deg) for each in parted] == [0, 90]


def test_cable_is_laid_not_pulled_on_a_tray(tmp_path):
    kinds = ["duct", "tray", "conduit"]
    routes = [line(f"A{k}", (30 * k, 0), (30 * k + 30, 0), containment=kind) for k, kind in enumerate(kinds)]
    made = joined(tmp_path, routes, [recorder("R", 0, 0), camera("C", 90, 0)])
    assert [each.length_m for each in sections_between(made, "R", "C")] == [30, 30]


def test_a_wall_is_a_pull_point_only_where_a_route_ends(tmp_path):
    outline = {"id": "B1", "wkt": "POLYGON ((30 -9, 99 -9, 99 9, 30 9, 30 -9))"}
    points = [recorder("R", 0, 0), camera("C", 60, 0)]
    through = [line("A", (0, 0), (60, 0), containment="duct")]
    ending = [
        line("A", (0, 0), (30, 0), containment="duct"),
        line("B", (30, 0), (60, 0), containment="conduit"),
    ]
    for name, routes, count in (("through", through, 1), ("ending", ending, 2)):
        folder = write_estate(
            tmp_path / name, LOCAL + EXACT, routes=routes, points=points, buildings=[outline]
        )
        made = workflow.prepare(folder)
        assert "entry" in made.network.node_kind
        assert len(sections_between(made, "R", "C")) == count


# Bends


@pytest.mark.parametrize(
    ("more", "angle"),
    [({}, 90), ({"bends": 1}, 90), ({"bends": 3}, 270)],
)
def test_bends_are_the_drawn_ones_and_what_is_said_beyond(tmp_path, more, angle):
    corner = line("A", (0, 0), (30, 0), (30, 30), containment="conduit", **more)
    made = joined(tmp_path, [corner], [recorder("R", 0, 0), camera("C", 30, 30)])
    found = course_of(made.survey, made.network, 0)
    assert found.bend_deg.sum() == pytest.approx(angle)
    assert found.length_m.sum() == pytest.approx(60)
    assert len(found.bend_deg) == len(found.length_m) - 1


def test_bends_not_drawn_are_spread_evenly(tmp_path):
    made = joined(
        tmp_path,
        [line("A", (0, 0), (80, 0), containment="conduit", bends=2)],
        [recorder("R", 0, 0), {"id": "P", "kind": "pit", "x": 40, "y": 0}, camera("C", 80, 0)],
    )
    for segment in range(2):
        found = course_of(made.survey, made.network, segment)
        assert found.bend_deg == pytest.approx([90])
        assert found.length_m == pytest.approx([20, 20])


def test_a_route_without_a_drawing_has_the_bends_that_are_said(tmp_path):
    rows = [{"id": "A", "from": "R", "to": "C", "length_m": 50, "containment": "duct"}]
    points = [{"id": "R", "kind": "recorder"}, {"id": "C", "kind": "camera"}]
    for bends, angle in (("", np.nan), (0, 0), (2, 180)):
        made = joined(tmp_path / f"b{bends}", [{**rows[0], "bends": bends}], points)
        (one,) = sections_between(made, "R", "C")
        np.testing.assert_allclose(one.bends_deg, angle)
        assert one.length_m == pytest.approx(50)


def test_heights_make_slopes(tmp_path):
    rows = [{"id": "A", "wkt": "LINESTRING Z (0 0 0, 30 0 40)", "containment": "duct"}]
    made = joined(tmp_path, rows, [recorder("R", 0, 0), camera("C", 30, 0)])
    (up,) = sections_between(made, "R", "C")
    (down,) = sections_between(made, "C", "R")
    assert up.course.slope_deg == pytest.approx([53.13], abs=0.01)
    assert down.course.slope_deg == pytest.approx([-53.13], abs=0.01)
    assert up.length_m == pytest.approx(50)


# In a design

PAIR = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'


def designed(folder, routes, points, toml=PAIR):
    return workflow.design(write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points))[0]


def winding(**more):
    """80 m of duct with four drawn right angles; with six said, e^(µ·3π) at 0.5 would multiply by 111."""
    corners = [(0, 0), (16, 0), (16, 16), (32, 16), (32, 32), (48, 32)]
    return line("A", *corners, **{"containment": "duct", "bore_mm": 50, "fill_percent": 0, **more})


def test_a_winding_duct_is_too_hard_for_a_pair_and_a_pit_is_offered(tmp_path):
    points = [recorder("R", 0, 0), camera("C", 48, 32), camera("D", 48, 32)]
    made = designed(tmp_path, [winding(bends=6)], points)
    (told,) = [f for f in made.findings if "pulling cat6-utp" in f.text]
    assert (told.severity, told.action, told.unit) == ("fault", "enlarge", "N")
    assert told.limit == 110 < told.measured
    assert told.cameras == ("C", "D")
    assert "build a pull point" in told.remedy
    assert "110 N" in CATALOGUE.cables["cat6-utp"].source("pull_max_n")


def test_lubricant_makes_it_easier(tmp_path):
    points = [recorder("R", 0, 0), camera("C", 48, 32)]
    made = designed(tmp_path, [winding(bends=6)], points, PAIR + "[limits]\nfriction = 0.2\n")
    assert not [f for f in made.findings if "pulling" in f.text]
    assert [f.measured for f in made.findings if "turns through" in f.text] == [pytest.approx(540)]


def test_thirty_metres_of_conduit_are_usual_and_ducts_outdoors_longer(tmp_path):
    """TIA-569, from memory: 30 m and two right angles between pull points, in buildings."""
    points = [recorder("R", 0, 0), camera("C", 40, 0)]
    for kind, count in (("conduit", 1), ("duct", 0)):
        route = line("A", (0, 0), (40, 0), containment=kind, bore_mm=50, fill_percent=0)
        made = designed(tmp_path / kind, [route], points)
        assert sum("are usual" in f.text for f in made.findings) == count


def test_an_unknown_number_of_bends_is_said(tmp_path):
    rows = [
        {
            "id": "A",
            "from": "R",
            "to": "C",
            "length_m": 50,
            "containment": "duct",
            "bore_mm": 50,
            "fill_percent": 0,
        }
    ]
    points = [
        {"id": "R", "kind": "recorder", "status": "candidate"},
        {"id": "C", "kind": "camera", "signal": "ethernet-1g", "power": "unswitched"},
    ]
    made = designed(tmp_path, rows, points)
    (told,) = [f for f in made.findings if "isn't evaluated" in f.text]
    assert "how many bends" in told.text
