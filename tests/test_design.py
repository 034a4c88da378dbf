"""The main job on small estates whose answer is known by hand."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estate import workflow
from estate.errors import Infeasible
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate


def designed(folder):
    _, result, out = workflow.design(folder)
    return result, out


BUILDINGS = ((0, 6), (120, 3), (260, 3), (400, 8))


def four_buildings(tmp_path, recorders: int):
    """Four buildings in a line, a recorder site in each, cameras at their building."""
    cameras = [camera(f"C{x}-{n}", x, 0) for x, count in BUILDINGS for n in range(count)]
    sites = [recorder(f"R{x}", x, 0) for x, _ in BUILDINGS]
    toml = (
        LOCAL + EXACT + '[design]\nobjective = "cable_length"\nmethods = ["ethernet-fibre"]\n'
        f"gap_percent = 0\nrecorders_exactly = {recorders}\n"
    )
    routes = [line("D", *((x, 0) for x, _ in BUILDINGS), containment="duct")]
    return write_estate(tmp_path, toml, routes=routes, points=[*cameras, *sites])


@pytest.mark.parametrize(
    ("recorders", "places", "cable_m"),
    [
        (1, {"R260"}, 3100),
        (2, {"R0", "R400"}, 780),
        (3, {"R0", "R260", "R400"}, 360),
        (4, {"R0", "R120", "R260", "R400"}, 0),
    ],
)
def test_recorders_on_a_line(tmp_path, recorders, places, cable_m):
    _, out = designed(four_buildings(tmp_path, recorders))
    summary = read_json(out / "summary.json")
    assert set(summary["recorders"]) == places
    assert summary["objective_value"] == pytest.approx(cable_m, abs=1e-6)
    assert summary["bound"] == pytest.approx(cable_m, abs=1e-4)
    assert summary["linked"] == 20
    assert sum(float(row["cable_length_m"]) for row in read_csv(out / "links.csv")) == pytest.approx(cable_m)


def test_more_recorders_than_sites_is_refused(tmp_path):
    with pytest.raises(Infeasible) as refused:
        designed(four_buildings(tmp_path, 5))
    assert any("recorders_exactly" in reason for reason in refused.value.reasons)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("cameras", "channels"), [(11, 16), (20, 32)])
def test_spare_chooses_the_size(tmp_path, cameras, channels):
    points = [camera(f"C{n:02}", 10, 0) for n in range(cameras)]
    folder = write_estate(
        tmp_path, LOCAL, routes=[line("D", (0, 0), (10, 0))], points=[*points, recorder("R", 0, 0)]
    )
    _, out = designed(folder)
    (row,) = read_csv(out / "recorders.csv")
    assert (int(row["channels"]), int(row["used"])) == (channels, cameras)


def test_existing_recorder_below_its_spare_is_a_finding(tmp_path):
    points = [camera(f"C{n:02}", 10, 0) for n in range(15)]
    head = recorder("R", 0, 0, status="existing", channels=16)
    folder = write_estate(tmp_path, LOCAL, routes=[line("D", (0, 0), (10, 0))], points=[*points, head])
    _, out = designed(folder)
    (finding,) = [f for f in read_csv(out / "findings.csv") if f["subject_kind"] == "recorder"]
    assert finding["action"] == "enlarge"
    assert "6.7 % spare" in finding["text"]  # 1 free on 15 in use


def test_plan_length_with_rises_is_over_the_fixed_part(tmp_path):
    """84.0 m of plan, rises of 3.5 and 4.0 m, ends of 3.0 m together: 94.5 m of cable, over 90 m."""
    routes = [
        line("A", (0, 0), (40, 0), rise_m=3.5, containment="tray"),
        line("B", (40, 0), (84, 0), rise_m=4.0, containment="tray"),
    ]
    toml = LOCAL + "[lengths]\nend_m = 1.5\nslack_percent = 0\n" + '[design]\nmethods = ["ethernet"]\n'
    points = [camera("C", 84, 0, load_w=5, load_night_w=8, feeds="poe1"), recorder("R", 0, 0)]
    _, out = designed(write_estate(tmp_path, toml, routes=routes, points=points))
    (row,) = read_csv(out / "links.csv")
    assert row["verdict"] == "none"
    assert row["limiting"] == "ethernet: fixed part 94.5 m against 90 m"


def test_nearest_miss_is_told_in_words_and_flags_the_segment(tmp_path):
    routes = [line("A", (0, 0), (50, 0), containment="tray"), line("B", (50, 0), (97, 0), containment="tray")]
    toml = LOCAL + EXACT + '[design]\nmethods = ["ethernet"]\n'
    points = [camera("C", 97, 0, load_w=5, load_night_w=8), recorder("R", 0, 0)]
    _, out = designed(write_estate(tmp_path, toml, routes=routes, points=points))
    (row,) = read_csv(out / "links.csv")
    assert row["limiting"] == "ethernet: fixed part 97.0 m against 90 m"
    flags = {s["segment"]: s["actions"] for s in read_csv(out / "segments.csv")}
    assert flags == {"A.1": "", "B.1": "repeater"}
    (finding,) = [f for f in read_csv(out / "findings.csv") if f["cameras"] == "C"]
    assert (finding["severity"], finding["action"], finding["effect"]) == ("fault", "repeater", "picture")


def test_camera_that_fails_only_by_night(tmp_path):
    """12 V over 80 m of 2 × 1.0 mm², 19.5 Ω/km (IEC 60228 class 5): 3.6 W stands, 9.6 W gives 8.46 V."""
    toml = LOCAL + EXACT + '[design]\nmethods = ["coax-power-pair"]\ncables = ["rg59-cu", "power-2x1.0"]\n'
    day = camera("DAY", 80, 0, signal="composite", feeds="dc12", load_w=3.6, load_night_w=3.6, power="none")
    night = {**day, "id": "NIGHT", "load_night_w": 9.6}
    routes = [line("A", (0, 0), (80, 0), containment="duct")]
    folder = write_estate(tmp_path, toml, routes=routes, points=[day, night, recorder("R", 0, 0)])
    _, out = designed(folder)
    rows = {row["camera"]: row for row in read_csv(out / "links.csv")}
    assert rows["DAY"]["verdict"] == "marginal" or rows["DAY"]["verdict"] == "within"
    assert rows["NIGHT"]["verdict"] == "none"
    expected = "coax-power-pair: within limits by day, outside limits at night (volts 8.46 V against 10.8 V)"
    assert rows["NIGHT"]["limiting"] == expected
    assert {f["effect"] for f in read_csv(out / "findings.csv") if f["cameras"] == "NIGHT"} == {"night"}


def test_proposed_route_is_paid_once(tmp_path):
    """Three cables share 80 m, then split 20, 30 and 10 m: 140 m of trench."""
    routes = [
        line("T", (0, 0), (80, 0), status="proposed", containment="duct", surface="grass"),
        line("A", (80, 0), (100, 0), status="proposed", containment="duct", surface="grass"),
        line("B", (80, 0), (80, 30), status="proposed", containment="duct", surface="grass"),
        line("C", (80, 0), (80, -10), status="proposed", containment="duct", surface="grass"),
    ]
    prices = "[prices]\nunlisted = 0\n[prices.trench_m]\ngrass = 10\n"
    toml = LOCAL + EXACT + prices + '[design]\nmethods = ["ethernet-fibre"]\n'
    points = [camera("CA", 100, 0), camera("CB", 80, 30), camera("CC", 80, -10), recorder("R", 0, 0)]
    _, out = designed(write_estate(tmp_path, toml, routes=routes, points=points))
    items = {row["item"]: row for row in read_csv(out / "quantities.csv")}
    assert float(items["trench-grass"]["quantity"]) == 140
    assert float(items["cable-os2"]["quantity"]) == 300
    summary = read_json(out / "summary.json")
    assert summary["cost"]["total"] == 1400
    assert summary["objective_value"] == pytest.approx(1400)


def test_catalogue_rates_reach_no_bill(tmp_path):
    points = [camera("C", 30, 0), recorder("R", 0, 0)]
    toml = LOCAL + "[prices.cable_m]\nos2 = 2.0\n"
    _, out = designed(write_estate(tmp_path, toml, routes=[line("A", (0, 0), (30, 0))], points=points))
    rows = {row["item"]: row for row in read_csv(out / "quantities.csv")}
    assert rows["cable-os2"]["rate"] == "2.0" if "cable-os2" in rows else True
    assert rows["recorder-4"]["rate"] == ""
    assert rows["recorder-4"]["amount"] == ""
    assert read_json(out / "summary.json")["cost_rests_on_invented_rates"] is True


def test_cost_is_the_sum_of_the_bill(tmp_path):
    points = [camera(f"C{n}", 7.3 * n + 3.1, 0) for n in range(1, 6)]
    prices = "[prices]\nunlisted = 1.237\n"
    folder = write_estate(
        tmp_path, LOCAL + prices, routes=[line("A", (0, 0), (60, 0))], points=[*points, recorder("R", 0, 0)]
    )
    _, out = designed(folder)
    amounts = [float(row["amount"]) for row in read_csv(out / "quantities.csv") if row["amount"]]
    assert read_json(out / "summary.json")["cost"]["total"] == pytest.approx(sum(amounts), abs=1e-6)


def test_unfit_cable_is_not_designed_in_the_ground(tmp_path):
    """os2 is no direct-burial cable; the armoured one is."""
    toml = LOCAL + '[design]\nmethods = ["ethernet-fibre"]\n'
    routes = [line("A", (0, 0), (60, 0), containment="buried")]
    points = [camera("C", 60, 0), recorder("R", 0, 0)]
    _, out = designed(write_estate(tmp_path, toml, routes=routes, points=points))
    (row,) = read_csv(out / "links.csv")
    assert row["cable"] == "os2-armoured"


def test_declared_separation_bars_a_way(tmp_path):
    """60 mm declared beside 12 single-phase 20 A circuits, class b, no barrier: 80 mm required (EN 50174-2)."""
    near = line("NEAR", (0, 0), (40, 0), containment="tray", separation_mm=60, separation_from="M")
    far = line("FAR", (0, 0), (0, 20), (40, 20), (40, 0), containment="tray")
    mains = [
        line(
            "M",
            (0, -1),
            (40, -1),
            amps=20,
            circuits=12,
            phases=1,
            volts=230,
            placement="indoor",
            screened="no",
        )
    ]
    points = [camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"), recorder("R", 0, 0)]
    toml = (
        LOCAL
        + EXACT
        + '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n[network]\nsurvey_accuracy_m = 0.05\n'
    )
    _, out = designed(write_estate(tmp_path, toml, routes=[near, far], points=points, mains=mains))
    (row,) = read_csv(out / "links.csv")
    assert row["segments"] == "FAR.1"
    (proximity,) = [p for p in read_csv(out / "proximity.csv") if p["segment"] == "NEAR.1"]
    assert float(proximity["required_m"]) == pytest.approx(0.080)
    assert proximity["verdict"] == "outside"


def test_recorder_that_accepts_no_analogue_serves_none(tmp_path):
    """Without an encoder no analogue camera comes to a recorder that takes Ethernet only; with one it does."""
    points = [camera("C", 10, 0, signal="composite"), recorder("R", 0, 0, accepts="ethernet")]
    layers = {"routes": [line("A", (0, 0), (10, 0))], "points": points}
    analogue = LOCAL + '[design]\nmethods = ["coax-local", "pair-video"]\n'
    _, out = designed(write_estate(tmp_path / "a", analogue, **layers))
    (row,) = read_csv(out / "links.csv")
    assert row["verdict"] == "none"
    assert "the recorder accepts ethernet" in row["limiting"]
    _, out = designed(write_estate(tmp_path / "b", LOCAL, **layers))
    (row,) = read_csv(out / "links.csv")
    assert "encoder@R" in row["equipment"]


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_choice_of_recorders_equals_brute_force(tmp_path_factory, data):
    """On random lines, every set of recorder sites is tried; the least total cable wins."""
    places = data.draw(st.lists(st.integers(0, 200), min_size=2, max_size=5, unique=True))
    spots = data.draw(st.lists(st.integers(0, 200), min_size=1, max_size=6))
    count = data.draw(st.integers(1, len(places)))
    folder = tmp_path_factory.mktemp("line")
    toml = (
        LOCAL
        + EXACT
        + '[design]\nobjective = "cable_length"\nmethods = ["ethernet-fibre"]\ngap_percent = 0\n'
        f"recorders_exactly = {count}\n"
    )
    points = [recorder(f"R{x}", x, 0) for x in places] + [camera(f"C{n}", x, 0) for n, x in enumerate(spots)]
    write_estate(folder, toml, routes=[line("D", (0, 0), (200, 0), containment="duct")], points=points)
    survey, catalogue = workflow.load(folder)
    network = workflow.build_network(survey)
    separation = workflow.segment_separation(network, survey, catalogue)
    made = workflow.make_design(survey, catalogue, network, separation, workflow.silent)
    least = min(
        sum(min(abs(x - site) for site in chosen) for x in spots)
        for chosen in itertools.combinations(places, count)
    )
    assert made.answer.objective_value == pytest.approx(least, abs=1e-6)


def test_a_shared_trench_is_seen_and_the_bound_holds(tmp_path):
    """By itself A would dig T (2000 against 2020) and B would dig N (1980 against 2000); together T serves both."""
    routes = [
        line("T", (0, 0), (60, 0), status="proposed", containment="duct", surface="grass"),
        line("A", (60, 0), (70, 0), containment="duct"),
        line("B", (60, 0), (60, 10), containment="duct"),
        line("L", (0, 0), (0, 40), containment="duct"),
        line(
            "N", (0, 40), (0, 70), (60, 70), (60, 10), status="proposed", containment="duct", surface="field"
        ),
    ]
    prices = "[prices]\nunlisted = 1\n[prices.trench_m]\ngrass = 30\nfield = 9.667\n"
    toml = LOCAL + EXACT + prices + '[design]\nmethods = ["ethernet-fibre"]\ncables = ["os2"]\n'
    points = [camera("CA", 70, 0), camera("CB", 60, 10), recorder("R", 0, 0)]
    _, out = designed(write_estate(tmp_path, toml, routes=routes, points=points))
    rows = {row["camera"]: row["segments"] for row in read_csv(out / "links.csv")}
    assert rows == {"CA": "T.1;A.1", "CB": "T.1;B.1"}
    summary = read_json(out / "summary.json")
    assert summary["bound"] <= summary["objective_value"]
    assert summary["solver_status"] == "best_found"
    assert summary["gap_percent"] > 0.1
