"""What nobody knows of switches and streams: nothing is taken for granted, and what to establish is told."""

import math
from dataclasses import replace

import pytest

from estate import workflow
from estate.findings import Action, Verdict
from estate.placement.choosing import choose
from estate.placement.design import link_search
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate
from tests.test_trunks import BOTH, FED, at_end_of_a_trench, designed


def unknown_power(folder, *, toml="", **more):
    """Three cameras on a cabinet whose switch of eight ports doesn't say what power it has.

    The duct to it takes one fibre: 9.5² / 14² = 46 %.
    """
    routes, points = at_end_of_a_trench(3)
    routes[0] |= {"bore_mm": 14}
    points[1] |= {"poe_w": "", **more}
    return designed(folder, routes, points, BOTH + toml)


def test_a_switch_of_unknown_power_is_to_be_verified(tmp_path):
    made, _ = unknown_power(tmp_path)
    fed = [link for link in made.links if link.kind == "camera"]
    assert [(link.head, link.verdict) for link in fed] == [("P", Verdict.VERIFY)] * 3
    assert fed[0].limiting == "switch power: what the switch at P has for PoE is not known"
    (told,) = [f for f in made.findings if f.subject == "P" and f.action is Action.SURVEY]
    # IEEE 802.3 type 1 allocates 15.4 W at the port
    assert told.measured == pytest.approx(3 * 15.4)
    assert told.cameras == ("C0", "C1", "C2")
    assert "before" not in told.text
    assert "poe_w" in told.remedy


def test_a_known_one_is_not(tmp_path):
    made, _ = unknown_power(tmp_path, poe_w=240)
    assert {link.verdict for link in made.links} == {Verdict.WITHIN}


def test_nor_is_it_used_where_a_sure_link_is_there(tmp_path):
    """A link over 60 m from the recorder itself is dearer than one over 10 m from the cabinet, and sure."""
    routes = [line("A", (0, 0), (50, 0)), line("S", (50, 0), (60, 0))]
    box = {
        "id": "P",
        "kind": "patch",
        "x": 50,
        "y": 0,
        "power": "unswitched",
        "status": "existing",
        "ports": 8,
    }
    points = [recorder("R", 0, 0), box, camera("C", 60, 0, **FED)]
    made, _ = designed(
        tmp_path, routes, points, BOTH + "[prices]\nunlisted = 0\n[prices.cable_m]\ncat5e-utp = 9\n"
    )
    (link,) = [each for each in made.links if each.kind == "camera"]
    assert (link.head, link.verdict) == ("R", Verdict.WITHIN)


def test_where_nothing_unverified_is_wanted_it_serves_nobody(tmp_path):
    made, _ = unknown_power(tmp_path, toml='[limits]\nverify_in_design = "never"\n')
    assert "P" not in {link.head for link in made.links}
    assert Verdict.VERIFY not in {link.verdict for link in made.links}


def test_unknown_streams_are_told_and_not_counted_as_nothing(tmp_path):
    """The planning value of the signal is taken out of the catalogue: one camera of three says what it streams."""
    routes, points = at_end_of_a_trench(3)
    for point in points[-2:]:
        del point["mbps"]
    checked = workflow.prepare(write_estate(tmp_path, LOCAL + EXACT + BOTH, routes=routes, points=points))
    signals = dict(checked.catalogue.signals)
    known = signals["ethernet-1g"]
    signals["ethernet-1g"] = replace(
        known, figures={name: figure for name, figure in known.figures.items() if name != "mbps"}
    )
    made = workflow.designed(replace(checked, catalogue=replace(checked.catalogue, signals=signals)))
    assert [link.mbps for link in made.links if link.kind == "camera"] == pytest.approx(
        [4.0, math.nan, math.nan], nan_ok=True
    )
    assert math.isnan(made.recorders[0].mbps)
    (told,) = [f for f in made.findings if "streams" in f.text]
    assert (told.measured, told.cameras) == (4.0, ("C1", "C2"))


def test_the_program_sees_what_is_to_be_verified(tmp_path):
    routes, points = at_end_of_a_trench(2)
    points[1] |= {"poe_w": ""}
    checked = workflow.prepare(write_estate(tmp_path, LOCAL + EXACT + BOTH, routes=routes, points=points))
    search = link_search(checked.survey, checked.catalogue, checked.network, checked.separation)
    chosen = choose(search, lambda _: None)
    assert {link.verify for link in chosen.task.candidates if link.cabinet == 0} == {True}
