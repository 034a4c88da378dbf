"""Irreducible sets of cameras and limits, in words."""

from dataclasses import replace

import numpy as np

from estate.errors import Infeasible
from estate.placement import conflict
from estate.placement.conflict import conflicts
from estate.placement.explain import short
from estate.placement.refusal import OutOfTime, feasible
from estate.placement.solve import solve_placement
from tests.cabinet_cases import at_cabinet, cabinet, fibre, random_cabinet_task, switch
from tests.placement_cases import link, site, task


def told(given, **other):
    return [str(each) for each in conflicts(given, solve_placement(given), **other)]


def test_channels_short_for_all_left_out_and_too_many_by_one():
    given = task([site("A", (4, 1), (8, 2))], [link(c, 0) for c in range(11)])
    (found,) = conflicts(given, solve_placement(given))
    assert found.unserved == ("C9", "C10", "C11")
    assert found.cameras == tuple(f"C{n}" for n in range(1, 10))
    assert found.limits == ("recorder A: channels short by 3",)
    assert found.irreducible


def test_a_full_duct():
    links = [link(c, 0, fill=((3, 40.0),)) for c in range(3)]
    given = task([site("A", (8, 1))], links, fill_limits={3: 100.0}, segment_ids={3: "D7"})
    assert told(given) == ["C1, C2, C3 cannot all be served: segment D7 full, short by 20 mm²"]


def test_ports_of_a_switch_and_the_number_of_recorders():
    box = cabinet("P", switch(2, 1))
    links = [at_cabinet(c, 0) for c in range(4)] + [link(3, 1)]
    given = task(
        [site("A", (8, 1)), site("B", (8, 1))], links, cabinets=(box,), sections=(fibre(2, 0, (4, 1)),)
    )
    assert told(given) == ["C1, C2, C3 cannot all be served: cabinet P: switch ports short by 1"]
    one = replace(given, recorders_at_most=1)
    (found,) = told(one)
    assert found.endswith(
        "C4 cannot all be served: cabinet P: switch ports short by 2; recorders_at_most = 1"
    )


def test_a_cabinet_without_a_way_to_a_recorder():
    given = task([site("A", (8, 1))], [at_cabinet(0, 0)], cabinets=(cabinet("P", switch(2, 1)),))
    assert told(given) == ["no link for C1: its cabinets have no uplink"]


def test_one_camera_too_much_by_itself():
    given = task([site("A", (8, 1), poe_w=20.0)], [link(0, 0, poe_w=30.0)])
    assert told(given) == ["C1 cannot be served: recorder A: PoE power short by 10 W"]


def test_out_of_time_nothing_is_claimed():
    given = task([site("A", (2, 1))], [link(c, 0) for c in range(4)])
    assert conflicts(given, solve_placement(given), seconds=0.0) == []


def test_out_of_time_on_the_way_the_set_is_not_called_irreducible(monkeypatch):
    """Time runs out after the first camera is known not to fit: every limit and camera stays in."""
    given = task([site("A", (2, 1))], [link(c, 0) for c in range(3)])
    answer, asked = solve_placement(given), []

    def first_only(program, cost=None, seconds=0.0):
        asked.append(program)
        if len(asked) > 1:
            raise OutOfTime
        return feasible(program, cost)

    monkeypatch.setattr(conflict, "feasible", first_only)
    monkeypatch.setattr(conflict, "monotonic", lambda: 99.0 if len(asked) > 1 else 0.0)
    (found,) = conflicts(given, answer, seconds=9.0)
    assert not found.irreducible
    assert found.unserved == ("C3",)
    assert found.cameras == ("C1", "C2", "C3")


def test_no_trial_takes_longer_than_the_time_left(monkeypatch):
    given = task([site("A", (2, 1))], [link(c, 0) for c in range(4)])
    answer, seconds = solve_placement(given), []

    def noted(program, cost=None, *, seconds_left=seconds, **given_time):
        seconds_left.append(given_time["seconds"])
        return feasible(program, cost, **given_time)

    monkeypatch.setattr(conflict, "feasible", noted)
    conflicts(given, answer, seconds=9.0)
    assert len(seconds) > 2
    assert max(seconds) <= 9.0
    assert seconds == sorted(seconds, reverse=True)


def test_all_served_has_no_conflict():
    assert told(task([site("A", (2, 1))], [link(0, 0)])) == []


def test_the_cameras_alone_are_too_many_and_any_fewer_are_not():
    """Checked by solving each part of the set by itself, on random tasks where every limit can bind."""
    seen = 0
    for seed in range(14):
        given = random_cabinet_task(np.random.default_rng(seed), cameras=5)
        try:
            answer = solve_placement(given)
        except Infeasible:
            continue
        assert "solver stopped" not in " ".join(short(given, answer))
        found = conflicts(given, answer)
        left_out = {link.camera for link in given.candidates} - set(
            np.flatnonzero(answer.choice >= 0).tolist()
        )
        assert {given.cameras[c] for c in left_out} == {name for each in found for name in each.unserved}
        for each in found:
            seen += 1
            cameras = {given.cameras.index(name) for name in each.cameras}
            assert served(given, cameras) < len(cameras)
            for camera in cameras:
                assert served_without_other_limits(given, cameras - {camera}, each)
    assert seen >= 12


def served(given, cameras):
    """How many of some cameras can be served when there are no others."""
    only = tuple(link for link in given.candidates if link.camera in cameras)
    return int((solve_placement(replace(given, candidates=only)).choice >= 0).sum())


def served_without_other_limits(given, cameras, conflict):
    """Whether fewer cameras fit, with all but the limits of channels, ports and counts named in the conflict lifted."""
    text = "; ".join(conflict.limits)
    sites = tuple(
        replace(
            place,
            forbid=place.forbid and f"forbid_recorders has {place.id}" in text,
            **{
                name: getattr(place, name) if f"recorder {place.id}: {words}" in text else None
                for name, words in LIMIT_WORDS.items()
            },
            sizes=place.sizes if f"recorder {place.id}: channels" in text else ((99, 0.0, "large"),),
        )
        for place in given.sites
    )
    cabinets = tuple(
        replace(
            place,
            switches=tuple(_lifted(each, f"cabinet {place.id}: ", text) for each in place.switches),
            uplink_mbps=place.uplink_mbps if f"cabinet {place.id}: throughput" in text else None,
        )
        for place in given.cabinets
    )
    lifted = replace(
        given,
        sites=tuple(replace(place, keep=False) for place in sites),
        cabinets=cabinets,
        candidates=tuple(
            replace(
                link,
                spares=link.spares if "spare cable" in text else (),
                poe_w=link.poe_w if "PoE power to allocate" in text or link.cabinet < 0 else 0.0,
                draw_w=link.draw_w if "PoE power drawn" in text else 0.0,
            )
            for link in given.candidates
            if link.camera in cameras
        ),
        sections=tuple(
            replace(
                section,
                sizes=section.sizes
                if "cores of" in text
                else tuple(replace(size, cores=99) for size in section.sizes),
            )
            for section in given.sections
        ),
        recorders_exactly=given.recorders_exactly if "recorders_exactly" in text else None,
        recorders_at_most=given.recorders_at_most if "recorders_at_most" in text else None,
        apart=given.apart if "apart" in text else (),
        fill_limits={n: room for n, room in given.fill_limits.items() if f"segment {n} " in text},
    )
    if "keep" in text:
        return True
    return int((solve_placement(lifted).choice >= 0).sum()) == len(cameras)


def _lifted(each, cabinet_words, text):
    """A switch with the limits that the text names."""
    ports = each.ports if cabinet_words + "switch ports" in text else 99
    return replace(each, ports=ports, poe_w=each.poe_w if cabinet_words + "PoE power" in text else None)


LIMIT_WORDS = {
    "channels_analogue": "analogue channels",
    "channels_network": "network channels",
    "mbps_max": "throughput",
    "poe_ports": "PoE ports",
    "poe_w": "PoE power",
}
