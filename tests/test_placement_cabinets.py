"""Cabinets, switches and uplinks chosen together with the recorders: small cases worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from estate.placement.channels import cores_needed, uplinks_allowed
from estate.placement.explain import short
from estate.placement.solve import solve_placement
from estate.placement.verify import cable_m, violations
from tests.cabinet_cases import at_cabinet, cabinet, fibre, switch
from tests.placement_cases import link, site, task

CLASS_4_W = 30.0
"""Allocated to a device above 12.95 W: IEEE 802.3-2018 type 2, 30 W at the port (from memory)."""


def pole(**other):
    """Eight cameras of 13 W, 60 m from a pole cabinet that is 180 m from the main building. Prices are invented."""
    direct = [link(c, 0, 240 * 5.0, cable_m=240.0, poe_w=CLASS_4_W, draw_w=14.0) for c in range(8)]
    there = [at_cabinet(c, 0, 60 * 5.0, cable_m=60.0, poe_w=CLASS_4_W, draw_w=14.0) for c in range(8)]
    switches = (switch(8, 200, 120.0), switch(8, 350, 250.0))
    given = task(
        [site("main", (16, 900))],
        direct + there,
        cabinets=(cabinet("pole", *switches, cost=400, power_cost=500),),
        sections=(fibre(1, 0, (4, 180 * 3), (12, 180 * 4), cable_m=180.0),),
        spare_percent=25.0,
    )
    return replace(given, **other)


def test_one_fibre_and_one_switch_beat_eight_runs():
    given = pole()
    answer = solve_placement(given)
    assert answer.choice.tolist() == list(range(8, 16))
    # 8 × 30 W = 240 W are allocated, so the switch of 120 W won't do, though 8 × 14 W = 112 W are drawn
    assert answer.switch.tolist() == [1]
    assert answer.cable.tolist() == [0]
    assert answer.home.tolist() == [0]
    assert answer.ways == (((0,),),)
    # by hand: recorder 900, cabinet 400, power 500, switch 350, fibre 540, eight runs of 300
    assert answer.objective_value == 900 + 400 + 500 + 350 + 540 + 8 * 300
    assert answer.recorders(given).tolist() == [0] * 8
    assert cable_m(given, answer) == 180 + 8 * 60


def test_the_small_switch_serves_as_many_as_its_power_is_allocated_to():
    given = pole(candidates=pole().candidates[8:])
    only_small = replace(given.cabinets[0], switches=given.cabinets[0].switches[:1])
    given = replace(given, cabinets=(only_small,))
    answer = solve_placement(given)
    assert (answer.choice >= 0).sum() == 4
    assert short(given, answer)[0].startswith("cabinet pole: PoE power to allocate short by 120 W for C")


def test_power_drawn_binds_where_it_passes_what_is_allocated():
    links = [at_cabinet(c, 0, poe_w=10.0, draw_w=30.0) for c in range(4)]
    given = task(
        [site("R", (8, 0))],
        links,
        cabinets=(cabinet("P", switch(8, 0, 70.0)),),
        sections=(fibre(1, 0, (4, 1)),),
    )
    assert (solve_placement(given).choice >= 0).sum() == 2
    unknown = replace(given, candidates=tuple(replace(k, draw_w=float("nan")) for k in links))
    assert (solve_placement(unknown).choice >= 0).sum() == 4


def test_three_cables_share_a_trench_and_split():
    # 80 m in common, then 20, 30 and 10 m: 140 m of trench, 300 m of cable
    metres = {0: 80.0, 1: 20.0, 2: 30.0, 3: 10.0}
    links = [link(n, 0, 80 + metres[n + 1], works=(0, n + 1)) for n in range(3)]
    answer = solve_placement(
        task([site("R", (4, 0))], links, works_cost={w: 50 * m for w, m in metres.items()})
    )
    assert answer.objective_value == 50 * 140 + 300


@pytest.mark.parametrize(("uplinks", "cores"), [(1, 4), (2, 6), (3, 9), (4, 12), (8, 24)])
def test_spare_cores_are_two_at_least_and_half_of_those_used(uplinks, cores):
    # common practice, no source: two cores an uplink; 1: 2 + 2; 2: 4 + 2; 3: 6 + 3; 4: 8 + 4; 8: 16 + 8
    given = task([], [])
    assert cores_needed(given, uplinks) == cores
    assert uplinks_allowed(given, fibre(0, 1, (cores, 0)), 0) == uplinks
    assert uplinks_allowed(given, fibre(0, 1, (cores - 1, 0)), 0) == uplinks - 1


def chain(cabinets, sizes, **other):
    """Cabinets in a line before one recorder, a camera at each, a section between neighbours."""
    links = [at_cabinet(p, p, 1.0) for p in range(cabinets)]
    sections = [fibre(p + 1, p, *sizes, cable_m=100.0) for p in range(cabinets)]
    boxes = tuple(cabinet(f"P{p}", switch(4, 10)) for p in range(cabinets))
    return task([site("R", (16, 5))], links, cabinets=boxes, sections=tuple(sections), **other)


def test_uplinks_beyond_a_cabinet_share_the_fibre_before_it():
    given = chain(4, [(4, 40), (6, 50), (12, 80)])
    answer = solve_placement(given)
    # nearest the recorder 4 uplinks (12 cores), then 3 (9: 12 cores), 2 (6 cores), 1 (4 cores)
    assert [given.sections[a].sizes[n].cores for a, n in enumerate(answer.cable)] == [12, 12, 6, 4]
    assert answer.ways[3] == ((3, 2, 1, 0),)
    assert answer.objective_value == 4 + 5 + 4 * 10 + 80 + 80 + 50 + 40


def test_cores_that_run_out_leave_the_last_cabinet_alone():
    given = chain(3, [(6, 50)], priorities=(1, 2, 3))
    answer = solve_placement(given)
    assert (answer.choice >= 0).tolist() == [True, True, False]
    assert short(given, answer) == ["cabinet P2: no uplink that fits for C3"]


def test_a_cabinet_that_is_only_passed_stands_without_a_switch():
    given = chain(2, [(4, 40)])
    given = replace(
        given,
        candidates=given.candidates[1:],
        cabinets=tuple(replace(p, cost=7.0, power_cost=3.0) for p in given.cabinets),
    )
    answer = solve_placement(given)
    assert answer.switch.tolist() == [-1, 0]
    assert answer.standing(given) == [0, 1]
    # two cabinets, but power and a switch for one
    assert answer.objective_value == 1 + 5 + 2 * 7 + 3 + 10 + 2 * 40


def test_the_recorder_counts_cameras_of_its_cabinets():
    links = [at_cabinet(c, 0, mbps=4.0) for c in range(6)] + [link(6, 0, mbps=4.0)]
    box = cabinet("P", switch(8, 0))
    base = task([site("R", (16, 0))], links, cabinets=(box,), sections=(fibre(1, 0, (4, 0)),))
    for limited, served in [
        (site("R", (4, 0)), 4),
        (site("R", (16, 0), channels_network=5), 5),
        (site("R", (16, 0), mbps_max=12.0), 3),
        (site("R", (16, 0), poe_ports=0, poe_w=0.0), 7),
    ]:
        assert (solve_placement(replace(base, sites=(limited,))).choice >= 0).sum() == served
    slow = replace(base, cabinets=(replace(box, uplink_mbps=20.0),))
    assert (solve_placement(slow).choice >= 0).sum() == 5 + 1


def test_cameras_apart_stand_apart_behind_cabinets_too():
    boxes = (cabinet("P", switch(4, 0)), cabinet("Q", switch(4, 0)))
    sections = (fibre(2, 0, (4, 1)), fibre(3, 0, (4, 1)), fibre(3, 1, (4, 50)))
    links = [at_cabinet(0, 0), at_cabinet(1, 1)]
    given = task(
        [site("A", (4, 0)), site("B", (4, 0))], links, cabinets=boxes, sections=sections, apart=((0, 1),)
    )
    answer = solve_placement(given)
    assert answer.home.tolist() == [0, 1]
    assert solve_placement(replace(given, apart=())).home.tolist() == [0, 0]


@pytest.mark.parametrize(("spare", "ports"), [(0.0, 8), (25.0, 16), (100.0, 16), (101.0, 24)])
def test_spare_ports_choose_the_switch(spare, ports):
    links = [at_cabinet(c, 0) for c in range(8)]
    box = cabinet("P", *(switch(n, n) for n in (8, 16, 24)))
    given = task(
        [site("R", (16, 0))],
        links,
        cabinets=(box,),
        sections=(fibre(1, 0, (4, 0)),),
        spare_ports_percent=spare,
    )
    assert given.cabinets[0].switches[solve_placement(given).switch[0]].ports == ports


def test_an_existing_switch_costs_its_power_alone_and_may_use_its_spare():
    links = [at_cabinet(c, 0, 0.0) for c in range(8)]
    box = cabinet("P", switch(8, 300, existing=True), power_cost=90)
    given = task(
        [site("R", (8, 0))], links, cabinets=(box,), sections=(fibre(1, 0, (4, 0)),), spare_ports_percent=50.0
    )
    answer = solve_placement(given)
    assert answer.objective_value == 90
    assert (answer.choice >= 0).all()


FOUR_M = (0, 120, 260, 400)


def four_buildings(**other):
    """A recorder at 260 m, eight cameras on a cabinet at 400 m; a second route from 400 m to 0. Prices are invented."""
    sections = (
        fibre(4, 2, (4, 140), cable_m=140.0, routes=("c",)),
        fibre(4, 0, (4, 900), cable_m=450.0, routes=("d",)),
        fibre(0, 1, (4, 120), cable_m=120.0, routes=("a",)),
        fibre(1, 2, (4, 140), cable_m=140.0, routes=("b",)),
        # cheap, but in the route of the first
        fibre(4, 2, (4, 10), cable_m=140.0, routes=("c",)),
    )
    sites = [site(f"{x} m", (32, 100), forbid=x != 260) for x in FOUR_M]
    box = cabinet("at 400 m", switch(8, 100))
    links = [at_cabinet(c, 0) for c in range(8)]
    return task(sites, links, cabinets=(box,), sections=sections, **other)


def test_two_way_uplinks_share_no_route():
    answer = solve_placement(four_buildings(diverse_uplinks=True))
    assert sorted(answer.ways[0], key=len) == [(4,), (1, 2, 3)]
    assert answer.objective_value == 8 + 100 + 100 + 10 + 900 + 120 + 140
    assert solve_placement(four_buildings()).ways == (((4,),),)


def test_two_cables_in_one_route_are_not_two_ways():
    given = four_buildings(diverse_uplinks=True)
    given = replace(given, sections=(given.sections[0], given.sections[4]))
    assert (solve_placement(given).choice < 0).all()


def test_a_spare_cable_is_used_once():
    links = [link(c, 0, 0.0, spares=("old 1",)) for c in range(3)] + [link(c, 0, 30.0) for c in range(3)]
    given = task([site("R", (4, 0))], links)
    assert solve_placement(given).objective_value == 60
    few = replace(given, candidates=tuple(links[:3]))
    answer = solve_placement(few)
    assert (answer.choice >= 0).sum() == 1
    assert short(few, answer)[0].startswith("spare cable old 1 in use for C")


def test_a_full_duct_sends_cables_another_way():
    # cable of 6.5 mm: π/4 · 6.5² = 33.2 mm²; 100 mm² hold three
    mm2 = np.pi / 4 * 6.5**2
    short_way = [link(c, 0, 1.0, fill=((7, mm2),)) for c in range(5)]
    long_way = [link(c, 0, 50.0) for c in range(5)]
    given = task([site("R", (8, 0))], short_way + long_way, fill_limits={7: 100.0}, segment_ids={7: "D7.1"})
    assert solve_placement(given).objective_value == 3 + 2 * 50
    assert solve_placement(replace(given, fill_limits={7: float("nan")})).objective_value == 5
    stuck = replace(given, candidates=tuple(short_way))
    assert short(stuck, solve_placement(stuck))[0].startswith("segment D7.1 full for C")


def test_a_way_that_passes_a_segment_twice_fills_it_twice():
    given = task(
        [site("R", (8, 0))],
        [link(c, 0, fill=((7, 10.0), (7, 10.0))) for c in range(3)],
        fill_limits={7: 40.0},
    )
    assert (solve_placement(given).choice >= 0).sum() == 2


def test_the_cable_of_a_section_takes_room_by_its_size():
    given = chain(4, [(4, 40), (12, 80, ((3, 50.0),))])
    assert (solve_placement(given).choice >= 0).all()
    full = replace(given, fill_limits={3: 60.0})
    # room for one cable of 12 cores, not two: past the first cabinet only one uplink
    assert (solve_placement(full).choice >= 0).sum() == 2


def test_sections_pay_their_works_once_with_the_links():
    links = [at_cabinet(0, 0, works=(1,)), link(1, 0, works=(1, 2))]
    given = task(
        [site("R", (4, 0))],
        links,
        works_cost={1: 100.0, 2: 10.0},
        cabinets=(cabinet("P", switch(4, 0)),),
        sections=(fibre(1, 0, (4, 0), works=(1, 2)),),
    )
    assert solve_placement(given).objective_value == 2 + 110


def test_sections_count_for_cable_length_and_marks():
    links = [at_cabinet(0, 0, 1.0, cable_m=5.0), link(0, 0, 1.0, cable_m=100.0)]
    given = task(
        [site("R", (4, 0))],
        links,
        cabinets=(cabinet("P", switch(4, 900)),),
        sections=(fibre(1, 0, (4, 900), cable_m=90.0),),
        objective="cable_length",
    )
    assert solve_placement(given).objective_value == 95
    assert solve_placement(replace(given, objective="cost")).objective_value == 1
    marked = replace(given, sections=(replace(given.sections[0], discouraged=True),))
    assert solve_placement(marked).objective_value == 100


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"cabinet": 0}, "ends at one of"),
        ({"site": -1}, "ends at one of"),
        ({"site": -1, "cabinet": 0, "port": "analogue"}, "analogue cannot end"),
    ],
)
def test_a_link_that_cannot_be_is_refused(other, words):
    given = chain(1, [(4, 40)])
    with pytest.raises(ValueError, match=words):
        solve_placement(replace(given, candidates=(replace(link(0, 0), **other),)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"spare_ports_percent": 50.0, "cabinets": {"switches": (switch(8, 350, 250.0),) * 2}},
            "8 cameras and 50 % spare at 8 ports",
        ),
        ({"cabinets": {"switches": (switch(8, 350, 239.0),) * 2}}, "240 W allocated of 239 W"),
        ({"candidates": {"draw_w": 40.0}}, "320 W drawn of 250 W"),
        ({"candidates": {"port": "analogue"}}, "an analogue link ends at a switch"),
        ({"cabinets": {"uplink_mbps": 30.0}}, "32 Mb/s over an uplink of 30 Mb/s"),
        ({"spare_cores": 3}, "2 cores used and 3 spare of 4"),
        ({"spare_cores_percent": 150.0}, "2 cores used and 3 spare of 4"),
        ({"diverse_uplinks": True}, "1 ways of the uplink, 2 asked for"),
        ({"candidates": {"spares": ("old",)}}, "spare cable old is used 8 times"),
        ({"candidates": {"fill": ((2, 5.0),)}, "fill_limits": {2: 39.0}}, "segment 2: 40 mm² in 39 mm²"),
        ({"sites": {"mbps_max": 31.0}}, "mbps_max 32 of 31"),
        ({"apart": ((0, 1),)}, "C1, C2 must stand apart"),
    ],
)
def test_every_rule_of_cabinets_is_checked_again(change, words):
    given = pole()
    answer = solve_placement(given)
    assert violations(given, answer) == []
    parts = {
        name: tuple(replace(each, **value) for each in getattr(given, name))
        if isinstance(value, dict) and name != "fill_limits"
        else value
        for name, value in change.items()
    }
    assert any(words in text for text in violations(replace(given, **parts), answer))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"switch": [-1]}, "has no switch but is used"),
        ({"home": [-1]}, "its uplink does not end at its recorder"),
        ({"cable": [-1]}, "a section that is not laid"),
        ({"choice": list(range(8))}, "has a switch without need"),
        ({"size": [-1]}, "recorder main is unused but has cabinets"),
        ({"switch": [2]}, "has switch 2 and home 0, not of its own"),
        ({"cable": [5]}, "section 0 has cable 5"),
        ({"home": []}, "not of this task's size"),
    ],
)
def test_a_misread_answer_with_cabinets_is_found(change, words):
    given = pole()
    arrays = {name: np.array(value, dtype=np.int64) for name, value in change.items()}
    broken = replace(solve_placement(given), **arrays)
    assert any(words in text for text in violations(given, broken))


@pytest.mark.parametrize(
    ("ways", "words"),
    [
        (((1, 2, 3), (0,)), ""),
        (((4,), (0,)), "share a route or a cable"),
        (((1, 3), (0,)), "don't join"),
        (((1, 2), (0,)), "does not end at its recorder"),
    ],
)
def test_broken_ways_are_found(ways, words):
    given = four_buildings(diverse_uplinks=True)
    answer = replace(solve_placement(given), ways=(ways,), cable=np.zeros(5, dtype=np.int64))
    found = [text for text in violations(given, answer) if "uplink" in text]
    assert bool(found) == bool(words)
    assert words in "".join(found)
