"""Which recorders serve which cameras: small cases with known answers."""

import threading
from dataclasses import replace
from math import isnan
from types import SimpleNamespace

import highspy
import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from estate.placement import solve, solver
from estate.placement.channels import cameras_allowed, channels_needed, fitting_size
from estate.placement.solve import solve_placement
from estate.placement.verify import violations
from tests.placement_cases import answer_value, at, link, random_task, site, task, used

PLACES_M = (0, 120, 260, 400)
CAMERAS = (6, 3, 3, 8)


def line_of_buildings(**other):
    """Four buildings in a line, a candidate recorder in each, every camera at its building."""
    where = [x for x, count in zip(PLACES_M, CAMERAS, strict=True) for _ in range(count)]
    links = [
        link(c, s, 0.0, cable_m=float(abs(x - to)))
        for c, x in enumerate(where)
        for s, to in enumerate(PLACES_M)
    ]
    sites = [site(f"{x} m", (32, 100)) for x in PLACES_M]
    return task(sites, links, objective="cable_length", **other)


@pytest.mark.parametrize(
    ("recorders", "places", "length_m"),
    [(1, ["260 m"], 3100), (2, ["0 m", "400 m"], 780), (3, ["0 m", "260 m", "400 m"], 360), (4, None, 0)],
)
def test_four_buildings_in_a_line(recorders, places, length_m):
    # by hand, for one at 260 m: 6 × 260 + 3 × 140 + 8 × 140 = 3100
    given = line_of_buildings(recorders_exactly=recorders)
    answer = solve_placement(given)
    assert answer.objective_value == pytest.approx(length_m)
    assert used(answer, given) == (places or [f"{x} m" for x in PLACES_M])
    assert (answer.choice >= 0).all()
    assert (answer.status, answer.gap_percent) == ("optimal", 0)


def test_at_most_is_a_ceiling_not_a_target():
    given = replace(line_of_buildings(recorders_at_most=3), objective="cost")
    answer = solve_placement(given)
    assert used(answer, given) in [[f"{x} m"] for x in PLACES_M]
    assert answer.objective_value == 100


@pytest.mark.parametrize(
    ("cameras", "needed", "chosen"), [(11, 14, 16), (12, 15, 16), (13, 17, 32), (20, 25, 32), (25, 32, 32)]
)
def test_spare_channels_choose_the_size(cameras, needed, chosen):
    sizes = [(8, 80), (16, 160), (32, 320), (64, 640)]
    given = task([site("R", *sizes)], [link(c, 0) for c in range(cameras)], spare_percent=25.0)
    answer = solve_placement(given)
    assert channels_needed(cameras, 25) == needed
    assert given.sites[0].sizes[answer.size[0]][0] == chosen


@drawn(st.integers(0, 2000), st.integers(0, 400), st.integers(0, 2000))
def test_spare_is_whole_number_arithmetic(cameras, spare_percent, channels):
    exact = -(-cameras * (100 + spare_percent) // 100)
    assert channels_needed(cameras, spare_percent) == exact
    assert (cameras <= cameras_allowed(channels, spare_percent)) == (exact <= channels)


def test_the_cheapest_size_that_fits_then_the_smallest():
    place = site("R", (4, 10), (8, 30), (16, 30), (32, 20))
    assert [fitting_size(place, n, 0) for n in (4, 5, 33)] == [0, 3, -1]
    free = site("R", (16, 0), (8, 0))
    assert fitting_size(free, 3, 0) == 1


def test_an_existing_recorder_may_use_its_spare_and_costs_nothing():
    old = site("old", (8, 500), existing=True)
    new = site("new", (16, 100))
    links = [link(c, s, 1.0) for c in range(8) for s in (0, 1)]
    given = task([old, new], links, spare_percent=25.0)
    answer = solve_placement(given)
    assert used(answer, given) == ["old"]
    assert answer.objective_value == 8


def test_works_are_paid_once():
    # three cameras over one trench of 80: sharing it beats three links of 40 each
    shared = [link(c, 0, 5.0, works=(7, 7)) for c in range(3)]
    alone = [link(c, 0, 40.0) for c in range(3)]
    answer = solve_placement(task([site("R", (4, 0))], shared + alone, works_cost={7: 80.0}))
    assert answer.objective_value == 95
    assert answer.choice.tolist() == [0, 1, 2]


@pytest.mark.parametrize(("watts", "served"), [(15.4, 7), (30.0, 4), (60.0, 2), (90.0, 1)])
def test_poe_by_allocation(watts, served):
    # IEEE 802.3-2018 power at the port: type 1 15.4 W, type 2 30 W, type 3 60 W, type 4 90 W (from memory);
    # a budget of 120 W holds so many whole ports
    given = task([site("R", (16, 0), poe_w=120.0)], [link(c, 0, poe_w=watts) for c in range(9)])
    assert (solve_placement(given).choice >= 0).sum() == served


def test_a_budget_met_exactly_is_met():
    given = task(
        [site("R", (16, 0), poe_w=8 * 15.4, mbps_max=0.8)],
        [link(c, 0, poe_w=15.4, mbps=0.1) for c in range(8)],
    )
    assert (solve_placement(given).choice >= 0).all()


def test_unknown_throughput_is_not_counted():
    given = task([site("R", (4, 0), mbps_max=4.0)], [link(c, 0, mbps=float("nan")) for c in range(3)])
    assert (solve_placement(given).choice >= 0).all()


def test_an_urgent_camera_beats_several_others():
    # one port of 60 W or two of 30 W: priority 1 goes first, though fewer cameras are served
    links = [link(0, 0, poe_w=60.0), link(1, 0, poe_w=30.0), link(2, 0, poe_w=30.0)]
    given = task([site("R", (4, 0), poe_w=60.0)], links, priorities=(1, 2, 2))
    assert (solve_placement(given).choice >= 0).tolist() == [True, False, False]
    equal = replace(given, priorities=(2, 2, 2))
    assert (solve_placement(equal).choice >= 0).tolist() == [False, True, True]


def test_unverified_and_discouraged_links_only_where_nothing_else_serves():
    links = [link(0, 0, 1.0, verify=True), link(0, 0, 2.0, discouraged=True), link(0, 0, 900.0)]
    assert solve_placement(task([site("R", (4, 0))], links)).choice.tolist() == [2]
    assert solve_placement(task([site("R", (4, 0))], links[:2])).choice.tolist() == [1]
    assert solve_placement(task([site("R", (4, 0))], links[:1])).choice.tolist() == [0]


def test_cable_length_breaks_ties_by_cost():
    links = [link(0, 0, 30.0, cable_m=50.0), link(0, 1, 20.0, cable_m=50.0), link(0, 1, 1.0, cable_m=51.0)]
    given = task([site("A", (4, 0)), site("B", (4, 5))], links, objective="cable_length")
    answer = solve_placement(given)
    assert answer.choice.tolist() == [1]
    assert answer.objective_value == 50


def test_kept_and_forbidden_recorders():
    links = [link(c, s, float(s)) for c in range(2) for s in range(3)]
    given = task([site("A", (4, 0), forbid=True), site("B", (4, 0)), site("C", (4, 9), keep=True)], links)
    answer = solve_placement(given)
    assert used(answer, given) == ["B", "C"]
    assert {at(answer, given, c) for c in (0, 1)} == {"B"}
    assert answer.objective_value == 2 + 9


def test_cameras_apart_stand_at_different_recorders():
    links = [link(c, s, float(10 * s)) for c in range(3) for s in range(2)]
    given = task([site("A", (4, 0)), site("B", (4, 0))], links, apart=((0, 1),))
    answer = solve_placement(given)
    assert at(answer, given, 0) != at(answer, given, 1)
    assert at(answer, given, 2) == "A"


def test_a_recorder_stays_empty_only_where_the_count_asks_for_it():
    sites = [site("A", (4, 0), existing=True), site("B", (4, 0), existing=True)]
    given = task(sites, [link(0, 0)])
    assert used(solve_placement(given), given) == ["A"]
    both = replace(given, recorders_exactly=2)
    assert used(solve_placement(both), both) == ["A", "B"]


def test_nothing_to_choose():
    answer = solve_placement(task([site("A", (4, 1))], [], cameras=2))
    assert (answer.status, answer.objective_value) == ("none", 0)
    assert answer.choice.tolist() == [-1, -1]
    kept = solve_placement(task([site("A", (4, 7), keep=True)], [], cameras=1))
    assert (kept.status, kept.objective_value, kept.size.tolist()) == ("optimal", 7, [0])


def test_the_same_task_gives_the_same_answer():
    rng = np.random.default_rng(3)
    for _ in range(5):
        given = random_task(rng, cameras=12, sites=4)
        given = replace(given, recorders_exactly=None, recorders_at_most=None)
        first, second = solve_placement(given), solve_placement(given)
        assert np.array_equal(first.choice, second.choice)
        assert np.array_equal(first.size, second.size)
        assert (first.objective_value, first.bound) == (second.objective_value, second.bound)


def hard_task(**other):
    """A task that no run settles at once: dear recorders, works in common, limits that bind."""
    rng = np.random.default_rng(11)
    cameras, sites = 40, 8
    cost = rng.uniform(10, 100, (cameras, sites))
    links = [
        link(
            c,
            s,
            cost[c, s],
            mbps=float(rng.integers(3, 9)),
            works=(int(rng.integers(20)), int(rng.integers(20))),
        )
        for c in range(cameras)
        for s in range(sites)
    ]
    places = [site(f"R{s}", (8, 150), (16, 280), mbps_max=60.0) for s in range(sites)]
    works = {w: float(rng.integers(20, 120)) for w in range(20)}
    return task(places, links, works_cost=works, spare_percent=25.0, **other)


def test_without_time_the_first_answer_stands_and_claims_nothing():
    given = hard_task(time_limit_s=0.0)
    answer = solve_placement(given)
    assert answer.status == "time_limit"
    assert isnan(answer.bound)
    assert isnan(answer.gap_percent)
    assert (answer.choice >= 0).sum() > 30
    assert violations(given, answer) == []


def test_the_gap_allowed_is_the_gap_kept():
    given = hard_task(gap_percent=20.0)
    answer = solve_placement(given)
    assert answer.status == "optimal"
    assert answer.bound <= answer.objective_value
    assert answer.gap_percent <= 20
    assert answer.gap_percent == pytest.approx(100 * (1 - answer.bound / answer.objective_value))


@pytest.mark.parametrize(("bound", "proven"), [(10.0, True), (9.9, True), (8.0, False)])
def test_the_word_optimal_counts_only_within_the_gap(monkeypatch, bound, proven):
    def claims(self):
        info = highspy.Highs.getInfo(self)
        return SimpleNamespace(primal_solution_status=info.primal_solution_status, mip_dual_bound=bound)

    quiet = solver._quiet_solver()
    monkeypatch.setattr(type(quiet), "getInfo", claims, raising=False)
    monkeypatch.setattr(solver, "_quiet_solver", lambda: quiet)
    answer = solve_placement(task([site("A", (1, 10))], [link(0, 0, 0.0)], gap_percent=5.0))
    assert (answer.objective_value, answer.bound) == (10, bound)
    assert answer.status == ("optimal" if proven else "time_limit")


def test_interrupted_in_the_solver_the_best_found_stands(monkeypatch):
    beats = []

    class Interrupted(threading.Thread):
        def join(self, timeout=None):
            if timeout is not None:
                beats.append(timeout)
                raise KeyboardInterrupt
            super().join()

    monkeypatch.setattr(solver, "Thread", Interrupted)
    given = hard_task()
    answer = solve_placement(given)
    assert len(beats) == 1
    assert answer.status == "interrupted"
    assert violations(given, answer) == []


def test_interrupted_between_stages_the_best_found_stands():
    def interrupt(text):
        if text.startswith("cost"):
            raise KeyboardInterrupt

    given = hard_task()
    answer = solve_placement(given, interrupt)
    assert answer.status == "interrupted"
    assert violations(given, answer) == []


def test_progress_names_the_stages():
    told = []
    solve_placement(line_of_buildings(recorders_exactly=2), told.append)
    assert any(text.startswith("metres of cable: ") for text in told)


def test_a_cost_that_is_not_a_number_is_refused():
    with pytest.raises(ValueError, match="candidate 1: cost"):
        solve_placement(task([site("A", (4, 0))], [link(0, 0), link(1, 0, float("nan"), cable_m=1.0)]))


def test_an_answer_that_breaks_a_rule_never_comes_out(monkeypatch):
    monkeypatch.setattr(solve, "violations", lambda task, answer: ["recorder A: 5 channels of 4"])
    with pytest.raises(RuntimeError, match="5 channels of 4"):
        solve_placement(task([site("A", (4, 0))], [link(0, 0)]))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"sites": {"sizes": ((2, 10.0, "r2"),)}}, "3 channels of 2"),
        ({"sites": {"channels_network": 2}}, "channels_network 3 of 2"),
        ({"sites": {"channels_analogue": 0}}, ""),
        ({"sites": {"mbps_max": 11.0}}, "mbps_max 12 of 11"),
        ({"sites": {"poe_ports": 2}}, "poe_ports 3 of 2"),
        ({"sites": {"poe_w": 20.0}}, "poe_w 21 of 20"),
        ({"sites": {"forbid": True}}, "must not be used"),
        ({"spare_percent": 50.0}, "4.5 channels of 4"),
        ({"apart": ((0, 2),)}, "C1, C3 must stand apart"),
        ({"recorders_exactly": 2}, "exactly 2 asked for"),
        ({"recorders_at_most": 0}, "at most 0 asked for"),
        ({"objective": "cable_length"}, "objective 73.0, its parts sum to 3"),
        ({"works_cost": {4: 61.0}}, "objective 73.0, its parts sum to 74"),
    ],
)
def test_every_rule_is_checked_again(change, words):
    links = [link(c, 0, 1.0, poe_w=7.0, works=(4,)) for c in range(3)]
    given = task([site("A", (4, 10))], links, works_cost={4: 60.0})
    answer = solve_placement(given)
    assert (answer.objective_value, violations(given, answer)) == (73, [])
    if "sites" in change:
        change = {"sites": (replace(given.sites[0], **change["sites"]),)}
    found = violations(replace(given, **change), answer)
    assert bool(found) == bool(words)
    assert words in "".join(found)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"choice": [0, 1, 7]}, "camera C3 has candidate 7"),
        ({"choice": [0, 0, 2]}, "camera C2 has candidate 0"),
        ({"choice": [0, 1]}, "not of this task's size"),
        ({"size": [-1]}, "recorder A is unused but has cameras"),
        ({"size": [1]}, "recorder A has size 1"),
        ({"choice": [-1, -1, -1]}, "recorder A is used without need"),
        ({"bound": 14.0}, "bound 14.0 above the value 13"),
    ],
)
def test_an_answer_misread_is_found(change, words):
    given = task([site("A", (4, 10))], [link(c, 0) for c in range(3)])
    arrays = {name: np.array(found) for name, found in change.items() if name != "bound"}
    broken = replace(solve_placement(given), **(arrays or change))
    assert any(words in text for text in violations(given, broken))


def test_a_kept_recorder_left_out_is_found():
    given = task([site("A", (4, 10))], [link(0, 0)])
    kept = replace(given, sites=(*given.sites, site("B", (4, 0), keep=True)))
    answer = solve_placement(given)
    assert violations(kept, replace(answer, size=np.array([0, -1]))) == ["recorder B must be used"]


def test_the_order_of_candidates_does_not_change_the_value():
    rng = np.random.default_rng(8)
    given = random_task(rng, cameras=10, sites=4, most_links=6)
    given = replace(given, recorders_exactly=None, recorders_at_most=3)
    turned = replace(given, candidates=given.candidates[::-1])
    assert answer_value(given, solve_placement(given)) == answer_value(turned, solve_placement(turned))


def test_spare_of_a_third_rounds_up():
    assert channels_needed(3, 100 / 3) == 4
