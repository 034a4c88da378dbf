"""Cures of a segment too near mains: the moved line, the barrier, the screened cable, fibre, and their money.

Required distances by EN 50174-2:2009 tables 4 and 5 (public texts): class b beside 12 single-phase 20 A circuits 80 mm,
behind an open barrier 60 mm, perforated 40 mm; class c 40 mm. Geometry is held against shapely's own distance on
dense samples.
"""

from dataclasses import replace

import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from estate import workflow
from estate.links.cures import cures_for
from estate.links.search import LinkSearch
from estate.links.site import recorder_sites
from estate.network.shifted import keep_out, shifted_line
from estate.placement.design import make_design
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate

FREE = "[prices]\nunlisted = 0\n"
SHARP = "[network]\nsurvey_accuracy_m = 0\n"
TWELVE = {"amps": 20, "circuits": 12, "phases": 1, "volts": 230, "placement": "indoor", "screened": "no"}


# Geometry


def samples(line_of, step_m=0.01):
    return shapely.line_interpolate_point(line_of, np.arange(0.0, line_of.length, step_m))


def test_moved_line_beside_a_run_is_the_edge_of_what_is_kept_clear():
    """A 40 m stretch in the middle of 100 m, 0.3 m from a run, moved to 1 m: 0.7 m aside and back."""
    run = LineString([(30, 0.3), (70, 0.3)])
    way = LineString([(0, 0), (100, 0)])
    found = shifted_line(way, keep_out([run], [1.0]))
    assert found is not None
    assert found.leads_m == 0
    assert found.line.coords[0] == (0, 0)
    assert found.line.coords[-1] == (100, 0)
    assert found.line.distance(run) == pytest.approx(1.0, abs=0.02)
    assert found.line.bounds[1] == pytest.approx(-0.7, abs=0.02)  # on the side away from the run
    # Chord of the end arcs is 0.954 m each side, replaced by arcs; the straight part stays 40 m.
    assert found.line.length == pytest.approx(100.5, abs=0.2)


def test_an_end_inside_keeps_its_place_by_a_lead():
    run = LineString([(-10, 0.3), (70, 0.3)])
    found = shifted_line(LineString([(0, 0), (100, 0)]), keep_out([run], [1.0]))
    assert found is not None
    assert found.line.coords[0] == (0, 0)
    assert found.leads_m == pytest.approx(0.7, abs=0.02)


def test_it_goes_round_the_other_side_where_a_building_stands():
    run = LineString([(30, 0.0), (50, 0.0)])
    way = LineString([(0, -0.1), (80, -0.1)])
    zone = keep_out([run], [2.0])
    below = shifted_line(way, zone)
    above = shifted_line(way, zone, barred=[box(35, -6, 45, -1)])
    assert below is not None
    assert above is not None
    assert below.line.bounds[1] == pytest.approx(-2, abs=0.05)
    assert above.line.bounds[3] == pytest.approx(2, abs=0.05)
    assert shifted_line(way, zone, barred=[box(35, -6, 45, -1), box(35, 1, 45, 6)]) is None


def test_it_stays_in_the_building_it_runs_in():
    zone = keep_out([LineString([(30, 0.0), (50, 0.0)])], [2.0])
    way = LineString([(0, -0.1), (80, -0.1)])
    assert shifted_line(way, zone, within=box(-1, -5, 81, 5)) is not None
    assert shifted_line(way, zone, within=box(-1, -1, 81, 1)) is None


def test_nothing_near_is_nothing_to_move():
    assert (
        shifted_line(LineString([(0, 5), (80, 5)]), keep_out([LineString([(0, 0), (80, 0)])], [2.0])) is None
    )


def metres(low, high):
    """Coordinates to the millimetre, as surveys hold them."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda mm: mm / 1000)


steps = st.lists(st.tuples(metres(-3, 3), metres(2, 12)), min_size=2, max_size=5)


def walk(start, moves):
    x, y = start
    points = [(x, y)]
    for dy, dx in moves:
        x, y = x + dx, y + dy
        points.append((x, y))
    return LineString(points)


@settings(max_examples=150, deadline=None)
@given(
    steps,
    st.lists(st.tuples(metres(0, 20), metres(-4, 4), steps), min_size=1, max_size=3),
    metres(0.2, 2),
)
@example(
    [(0.0, 2.001), (-0.36, 2.0), (0.366, 2.088)],
    [
        (0.0, -0.076, [(0.0, 2.0), (-0.196, 3.192)]),
        (3.473, 0.212, [(0.0, 2.0), (0.0, 2.0), (0.0, 2.0)]),
        (5.602, -0.302, [(0.0, 2.515), (0.16, 2.0)]),
    ],
    0.2,
)  # the zone encloses a gap that the line ends in
def test_no_part_of_a_moved_line_but_its_leads_comes_too_near(moves, others, clear_m):
    way = walk((0, 0), moves)
    runs = [walk((x, y), run) for x, y, run in others]
    found = shifted_line(way, keep_out(runs, [clear_m] * len(runs)))
    assume(found is not None)
    assert found.line.coords[0] == pytest.approx(way.coords[0])
    assert found.line.coords[-1] == pytest.approx(way.coords[-1])
    every = samples(found.line)
    near = np.min([shapely.distance(every, run) for run in runs], axis=0) < clear_m
    assert near.sum() * 0.01 <= found.leads_m + 0.05
    for place in every[near]:
        assert min(place.distance(Point(found.line.coords[k])) for k in (0, -1)) <= found.leads_m + 0.02


# Cures of an estate


def designed(folder):
    survey, catalogue = workflow.load(folder)
    network = workflow.build_network(survey)
    separation = workflow.segment_separation(network, survey, catalogue)
    made = make_design(survey, catalogue, network, separation, workflow.silent)
    sites = recorder_sites(survey, network, catalogue)
    return made, LinkSearch(network, survey, catalogue, made.prices, separation, list(made.cameras), sites)


def beside_mains(tmp_path, declared_mm=60, prices=FREE, mains=TWELVE, toml="", **route):
    """40 m of tray a declared distance from a run of twelve circuits, unused: the camera has a way of its own."""
    near = {"containment": "tray", "separation_mm": declared_mm, "separation_from": "M", **route}
    routes = [
        line("NEAR", (0, 0), (40, 0), **near),
        line("FAR", (0, 0), (0, 20), (40, 20), (40, 0), containment="tray"),
    ]
    runs = [line("M", (5, -0.06), (35, -0.06), **mains)]
    points = [camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"), recorder("R", 0, 0)]
    design = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
    return write_estate(
        tmp_path, LOCAL + EXACT + SHARP + design + prices + toml, routes=routes, points=points, mains=runs
    )


def near_cures(folder):
    made, search = designed(folder)
    segment = list(search.network.segment_id).index("NEAR.1")
    return {cure.kind: cure for cure in cures_for(search, segment, made.links)}


@pytest.mark.parametrize(
    ("declared_mm", "safety", "barrier"),
    [(60, "50mm", "open"), (50, "50mm", "perforated"), (40, "none", "perforated"), (5, "none", "solid")],
)
def test_least_barrier_that_suffices(tmp_path, declared_mm, safety, barrier):
    """S × P: open 75 × 0.8 = 60 mm, perforated 50 × 0.8 = 40 mm, solid 0; no barrier gets below the safety distance."""
    folder = beside_mains(tmp_path, declared_mm, toml=f'[limits]\nseparation_safety = "{safety}"\n')
    assert near_cures(folder)["barrier"].text.startswith(f"{barrier} metal barrier")


def test_no_barrier_gets_below_the_safety_distance_or_into_the_ground(tmp_path):
    assert "barrier" not in near_cures(beside_mains(tmp_path / "a", 40))
    assert "barrier" not in near_cures(beside_mains(tmp_path / "b", 60, containment="duct"))


def test_barrier_between_two_earth_zones_is_not_offered(tmp_path):
    outlines = [
        {"id": name, "earthing": "TT", "wkt": f"POLYGON (({x} -5, {x + 4} -5, {x + 4} 30, {x} 30, {x} -5))"}
        for name, x in (("B1", -4), ("B2", 40))
    ]
    folder = beside_mains(tmp_path)
    write_estate(folder, (folder / "estate.toml").read_text(), buildings=outlines)
    assert "barrier" not in near_cures(folder)


def test_moved_tray_is_priced_by_its_length_and_joined_to_its_ends(tmp_path):
    prices = FREE + "[prices.containment_m]\ntray = 10\n"
    moved = near_cures(beside_mains(tmp_path, prices=prices, separation_mm="", separation_from=""))[
        "moved line"
    ]
    assert moved.geometry.coords[0] == (0, 0)
    assert moved.geometry.coords[-1] == (40, 0)
    run = LineString([(5, -0.06), (35, -0.06)])
    assert shapely.distance(samples(moved.geometry, 0.001), run).min() >= 0.08
    assert moved.cost == pytest.approx(10 * 30.1, rel=0.01)
    assert moved.added_m == pytest.approx(0, abs=0.1)


def test_duct_moves_as_a_new_trench_only(tmp_path):
    prices = FREE + "[prices.containment_m]\nduct = 7\n[prices.trench_m]\ngrass = 20\n"
    mains = {**TWELVE, "placement": "buried"}
    folder = beside_mains(
        tmp_path, "", prices, mains, containment="duct", surface="grass", separation_from=""
    )
    moved = near_cures(folder)["moved line"]
    assert "new trench" in moved.text
    assert "hand-dig" in moved.text
    span_m = 30 + 2 * np.sqrt(0.3**2 - 0.06**2)  # 300 mm between direct-buried cables (NEC and UFGS)
    assert moved.cost == pytest.approx(27 * span_m, rel=0.02)


def test_links_too_long_for_the_moved_line_are_named(tmp_path):
    """89.9 m of 90 m: the detour round a run with a drawn accuracy of 5 m is too long for the link."""
    routes = [line("NEAR", (0, 0), (89.9, 0), containment="duct", survey_accuracy_m=0)]
    mains = [line("M", (40, -0.5), (50, -0.5), survey_accuracy_m=5, **{**TWELVE, "placement": "buried"})]
    points = [camera("C", 89.9, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"), recorder("R", 0, 0)]
    toml = (
        LOCAL
        + EXACT
        + SHARP
        + '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n[limits]\nambient_c = 20\n'
    )
    made, search = designed(write_estate(tmp_path, toml, routes=routes, points=points, mains=mains))
    assert made.links[0].method == "ethernet"
    moved = next(c for c in cures_for(search, 0, made.links) if c.kind == "moved line")
    assert moved.added_m > 0.1
    assert moved.links_fail == ("L-C",)
    assert "then too long: L-C" in moved.text


def verified(tmp_path, toml=""):
    """A duct drawn 0.3 m from mains, half a metre sure: links over it are to be verified."""
    routes = [line("A", (0, 0), (40, 0), containment="tray")]
    mains = [line("M", (0, 0.3), (40, 0.3), survey_accuracy_m=0.27, **TWELVE)]
    points = [camera("C", 40, 0, feeds="poe1;local", load_w=5, load_night_w=5), recorder("R", 0, 0)]
    rules = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
    return write_estate(
        tmp_path, LOCAL + EXACT + SHARP + rules + toml, routes=routes, points=points, mains=mains
    )


def test_cheapest_cure_comes_first_and_is_the_findings_remedy(tmp_path):
    prices = FREE + "[prices.containment_m]\nbasket = 1\ntray = 2\ntrunking = 3\n"
    folder = verified(tmp_path, prices)
    made, search = designed(folder)
    cures = cures_for(search, 0, made.links)
    assert [c.cost for c in cures] == sorted(c.cost for c in cures)
    (finding,) = [f for f in made.findings if f.subject == "A.1" and f.unit == "mm"]
    assert finding.cost == pytest.approx(cures[0].cost)
    assert cures[0].text in finding.remedy


def test_screened_cable_comes_with_outlets_and_a_bonded_rack(tmp_path):
    prices = (
        FREE + "[prices.cable_m]\ncat6a-ftp = 1\n[prices.termination]\npair-screened = 3\nrack-bond = 11\n"
    )
    routes = [line("A", (0, 0), (40, 0), containment="tray")]
    mains = [line("M", (0, 0.10), (40, 0.10), survey_accuracy_m=0.03, **TWELVE)]
    points = [camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"), recorder("R", 0, 0)]
    toml = (
        LOCAL
        + EXACT
        + SHARP
        + '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp", "cat6a-ftp"]\ndiscouraged = ["cat6a-ftp"]\n'
    )
    folder = write_estate(tmp_path, toml + prices, routes=routes, points=points, mains=mains)
    made, search = designed(folder)
    forced = made.links[0]
    # The design takes the screened cable by itself; ask for the cure of the unscreened one.
    unscreened = _with_cable(forced, "cat6-utp")
    (cure,) = [c for c in cures_for(search, 0, [unscreened]) if c.kind == "screened cable"]
    assert forced.cables == ("cat6a-ftp",)
    assert "screened outlets and a bonded rack" in cure.text
    assert cure.cost == pytest.approx(40 * 1 + 2 * 3 + 11)


def _with_cable(link, cable):
    return replace(link, runs=tuple(replace(run, cable=cable) for run in link.runs))


def test_fibre_cures_interference_where_the_camera_is_fed_locally_but_not_the_safety_distance(tmp_path):
    """120 mm less 50 mm of accuracy is under the 80 mm of class b and over the safety distance; 90 mm is under both."""
    points = [camera("C", 40, 0, feeds="poe1;local", load_w=5, load_night_w=5), recorder("R", 0, 0)]
    rules = '[design]\nmethods = ["ethernet", "ethernet-fibre"]\n'
    offered = {}
    for apart_m in (0.12, 0.09):
        mains = [line("M", (0, apart_m), (40, apart_m), survey_accuracy_m=0.05, **TWELVE)]
        folder = write_estate(
            tmp_path / str(apart_m),
            LOCAL + EXACT + SHARP + rules,
            routes=[line("A", (0, 0), (40, 0), containment="tray")],
            points=points,
            mains=mains,
        )
        made, search = designed(folder)
        copper = replace(_with_cable(made.links[0], "cat6-utp"), method="ethernet", feed="poe1")
        offered[apart_m] = {c.kind: c.text for c in cures_for(search, 0, [copper])}
    assert "fibre os2 " in offered[0.12]["fibre"]
    assert "fibre" not in offered[0.09]


def test_moved_lines_stand_in_the_layer_of_cures(tmp_path):
    folder = beside_mains(tmp_path, prices="", separation_mm="", separation_from="")
    _, result, out = workflow.design(folder)
    rows = result.layers["cures"].records()
    assert [r["segment"] for r in rows] == ["NEAR.1"]
    layer = pyogrio.read_dataframe(out / "network.gpkg", layer="cures")
    assert layer.geometry.iloc[0].distance(LineString([(5, -0.06), (35, -0.06)])) >= 0.079
    (finding,) = [f for f in read_csv(out / "findings.csv") if f["subject"] == "NEAR.1"]
    assert float(finding["cost"]) > 0
