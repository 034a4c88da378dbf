"""Cabinets with switches and shared uplinks, through the whole design."""

import math

import pytest

from estate import workflow
from estate.output.bill import bill_lines
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate


def around(centre_x, radius, count):
    """Places on a circle."""
    angle = 2 * math.pi / count
    return [
        (round(centre_x + radius * math.cos(k * angle), 6), round(radius * math.sin(k * angle), 6))
        for k in range(count)
    ]


def pole(folder, toml="", load_w=13, **patch):
    """Eight 13 W cameras 60 m from a pole cabinet, 180 m from the main building."""
    places = around(180, 60, 8)
    routes = [line("A", (0, 0), (180, 0)), *(line(f"B{k}", (180, 0), p) for k, p in enumerate(places))]
    cabinet = {
        "id": "P",
        "kind": "patch",
        "x": 180,
        "y": 0,
        "power": "unswitched",
        "status": "candidate",
        **patch,
    }
    cameras = [
        camera(f"C{k}", *p, feeds="poe2", load_w=load_w, load_night_w=load_w, power="none")
        for k, p in enumerate(places)
    ]
    made, result, out = workflow.design(
        write_estate(
            folder, LOCAL + EXACT + toml, routes=routes, points=[recorder("R", 0, 0), cabinet, *cameras]
        )
    )
    return made, result, out


def test_a_pole_cabinet_takes_one_fibre_and_one_switch(tmp_path):
    made, _, _ = pole(tmp_path)
    (cabinet,) = made.cabinets
    assert cabinet.used == 8
    assert cabinet.poe_w == 240
    assert cabinet.switch.poe_w >= 240
    (trunk,) = made.trunks
    assert (trunk.start, trunk.end, trunk.cable_length_m) == ("R", "P", 180)
    assert {link.head for link in made.links if link.kind == "camera"} == {"P"}
    assert {link.recorder for link in made.links} == {"R"}


def test_a_switch_of_120_w_will_not_do(tmp_path):
    """Eight cameras are allocated 30 W each, 240 W: the cabinet's own switch of 120 W takes four of them."""
    made, _, _ = pole(tmp_path, status="existing", ports=8, poe_w=120)
    at_cabinet = [link for link in made.links if link.head == "P"]
    assert len(at_cabinet) == 4


def test_without_power_it_is_brought_at_its_price_or_not_at_all(tmp_path):
    made, _, _ = pole(tmp_path / "a", power="none", power_cost=400)
    assert made.cabinets[0].power_cost == 400
    made, _, _ = pole(tmp_path / "b", power="none")
    assert not made.cabinets


def test_the_bill_is_what_was_made_least(tmp_path):
    made, _, _ = pole(tmp_path, power="none", power_cost=400)
    total = sum(row.quantity * row.rate.value for row in bill_lines(made))
    assert total == pytest.approx(made.answer.objective_value, rel=1e-9)
    assert made.answer.status == "optimal"


def test_spare_ports_are_kept(tmp_path):
    """Eight cameras and a quarter more are ten ports: a switch of eight is too small."""
    made, _, _ = pole(tmp_path / "a")
    assert made.cabinets[0].switch.ports == 16
    made, _, _ = pole(tmp_path / "b", toml="[design]\nspare_percent = 0\n")
    assert made.cabinets[0].switch.ports == 8


def four_buildings(folder, *, ring):
    """Recorder at 260 m of a line of buildings at 0, 120, 260 and 400 m; with `ring` a way from 400 back to 0."""
    routes = [line("R1", (0, 0), (120, 0)), line("R2", (120, 0), (260, 0)), line("R3", (260, 0), (400, 0))]
    toml = LOCAL + EXACT + '[design]\nspare_percent = 0\nmethods = ["ethernet", "ethernet-fibre"]\n'
    if ring:
        routes.append(line("R4", (400, 0), (400, 90), (0, 90), (0, 0)))
        toml = toml.replace("spare_percent = 0\n", "spare_percent = 0\ndiverse_uplinks = true\n")
    points = [
        recorder("R", 260, 0, status="existing", channels=32),
        {"id": "P", "kind": "patch", "x": 400, "y": 0, "power": "unswitched", "status": "existing"},
        *({"id": f"J{x}", "kind": "junction", "x": x, "y": 0} for x in (0, 120)),
        *(
            camera(f"C{x}-{n}", x, 0, feeds="poe1" if x == 400 else "local", load_w=5, load_night_w=5)
            for x, count in ((0, 6), (120, 3), (260, 3), (400, 8))
            for n in range(count)
        ),
    ]
    return workflow.design(write_estate(folder, toml, routes=routes, points=points))


@pytest.mark.parametrize(("ring", "lost"), [(False, 8), (True, 0)])
def test_eight_cameras_behind_a_cabinet_with_two_ways_lose_nothing(tmp_path, ring, lost):
    made, _, out = four_buildings(tmp_path, ring=ring)
    far = [link for link in made.links if link.kind == "camera" and link.camera.startswith("C400")]
    assert {link.head for link in far} == {"P"}
    (cut,) = [r for r in read_csv(out / "cuts.csv") if (r["subject_kind"], r["subject"]) == ("route", "R3")]
    assert int(cut["cameras_lost"]) == lost
    assert len([link for link in made.links if link.kind == "standby"]) == (1 if ring else 0)


def test_a_candidate_with_ports_has_no_switch_yet(tmp_path):
    """Ten ports asked for: the cheapest switch with as many is bought, and takes no more than ten."""
    made, _, _ = pole(
        tmp_path, "[design]\nspare_percent = 0\n[prices.switch]\n16 = 500\n24 = 700\n48 = 900\n", ports=10
    )
    (cabinet,) = made.cabinets
    assert (cabinet.switch.existing, cabinet.switch.ports, cabinet.switch_cost) == (False, 10, 500)
    assert sum(row.quantity * row.rate.value for row in bill_lines(made)) == pytest.approx(
        made.answer.objective_value, rel=1e-9
    )


def test_power_is_due_for_a_switch_that_stands_without_it(tmp_path):
    made, _, _ = pole(tmp_path, status="existing", ports=8, poe_w=240, power="none", power_cost=400)
    (cabinet,) = made.cabinets
    assert (cabinet.cabinet_cost, cabinet.switch_cost, cabinet.power_cost) == (0, 0, 400)
    total = sum(row.quantity * row.rate.value for row in bill_lines(made))
    assert total == pytest.approx(made.answer.objective_value, rel=1e-9)
