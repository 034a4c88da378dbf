"""What would give a camera a link: worked by hand, and against the same estate with the change really made."""

from dataclasses import replace

import pytest

from estate import workflow
from estate.links.changes import changes_for
from estate.output.build import design_result
from estate.placement.design import link_search
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

ONE = "[prices]\nunlisted = 1\n"
"""Every metre of cable, every metre pulled, every end and every item costs 1."""

A, B = line("A", (0, 0), (70, 0)), line("B", (70, 0), (130, 0))


def checked(folder, toml, routes, points, **layers):
    estate = write_estate(folder, LOCAL + EXACT + toml, routes=routes, points=points, **layers)
    return workflow.prepare(estate)


def changes(folder, toml, routes, points, **layers):
    """The changes for the first camera, which has no link as things are."""
    each = checked(folder, toml, routes, points, **layers)
    search = link_search(each.survey, each.catalogue, each.network, each.separation)
    direct = replace(search, sites=search.sites[: search.recorders])
    assert not direct.candidates([0], with_verify="never" not in toml, progress=lambda _: None)
    return changes_for(search, [0])[0]


def designed_cost(folder, toml, routes, points, **layers):
    """The money of the camera's link once the change is made, works included."""
    made = workflow.designed(checked(folder, toml, routes, points, **layers))
    (link,) = [link for link in made.links if link.camera == "C"]
    assert link.method
    return link.own_cost + sum(made.works.get(s, 0.0) for s in set(link.segments))


def patch(identity, x, y, **more):
    return {"id": identity, "kind": "patch", "x": x, "y": y, **more}


def only(found, kind):
    (change,) = [change for change in found if change.kind == kind]
    return change


# Power at a patch point


def unpowered(power="none", **more):
    return [recorder("R", 0, 0), patch("P", 70, 0, power=power, **more), camera("C", 130, 0, feeds="local")]


def test_power_at_a_patch_point_is_the_only_cure(tmp_path):
    """130 m bought and pulled, four ends, four connectors and a switch at 1 each; 250 for the power."""
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    found = changes(tmp_path, toml, [A, B], unpowered(power_cost=250))
    (change,) = [c for c in found if c.kind != "other method"]
    assert change.told == "power at patch point P (250.00): ethernet from R, 519.00 in all"
    assert change.money == 250
    powered = unpowered(power="unswitched")
    assert designed_cost(tmp_path / "made", toml, [A, B], powered) == pytest.approx(519 - 250)


def test_the_finding_has_the_least_change_as_its_remedy(tmp_path):
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    points = unpowered(power_cost=250)
    result = design_result(workflow.designed(checked(tmp_path, toml, [A, B], points)))
    (finding,) = [f for f in result.tables["findings"].records() if "no link that stands" in f["text"]]
    least = result.tables["would_stand"].records()[0]
    assert finding["remedy"] == f"would stand with: {least['text']}: ethernet from R, 519.00 in all"
    assert finding["cost"] == least["cost"] == 519
    (link,) = [row for row in result.tables["links"].records() if row["camera"] == "C"]
    assert "130.0 m against 90 m" in link["limiting"]


def test_power_without_its_own_cost_takes_the_price_of_a_power_point(tmp_path):
    toml = ONE + 'power_point = 300\n[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    change = only(changes(tmp_path, toml, [A, B], unpowered()), "power point")
    assert (change.money, change.total) == (300, pytest.approx(569))


def test_the_cheaper_of_two_places_for_power(tmp_path):
    """P costs 250; Q, 5 m off in a spur, 100: 10 m more of cable and pulling, out and back, still cost less."""
    routes = [A, B, line("S", (70, 0), (70, 5))]
    points = [*unpowered(power_cost=250), patch("Q", 70, 5, power="none", power_cost=100)]
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    change = only(changes(tmp_path, toml, routes, points), "power point")
    assert change.text == "power at patch point Q (100.00)"
    assert change.total == pytest.approx(519 - 250 + 100 + 20)


# Methods, cables, feeds


def test_an_extender_that_methods_rule_out(tmp_path):
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'
    points = [recorder("R", 0, 0), patch("P", 70, 0), camera("C", 130, 0, feeds="poe1", power="none", load_w=5, load_night_w=5)]  # fmt: skip
    change = only(changes(tmp_path, toml, [A, B], points), "other method")
    assert change.text == "ethernet-extender allowed in [design] methods"
    wider = toml.replace('["ethernet"]', '["ethernet", "ethernet-extender"]')
    assert change.total == pytest.approx(designed_cost(tmp_path / "made", wider, [A, B], points))


PAIR = (
    ONE
    + "[prices.cable_m]\n"
    + "".join(f'"power-2x{size}" = {size}\n' for size in (0.5, 0.75, 1.0, 1.5, 2.5))
    + '[design]\nmethods = ["coax-power-pair"]\ncables = ["rg59-cu", "power-2x0.5"]\n'
)


def fed(**more):
    return [
        recorder("R", 0, 0),
        camera("C", 50, 0, signal="composite", feeds="dc12", volts=12, power="none", load_w=6, load_night_w=6, **more),
    ]  # fmt: skip


FIFTY = [line("A", (0, 0), (50, 0))]


def test_a_thicker_pair(tmp_path):
    """IEC 60228 class 5 at 20 °C: 39.0, 26.0, 19.5 and 13.3 Ω/km for 0.5, 0.75, 1.0 and 1.5 mm².

    6 W at 10.8 V from 12 V need a loop of 10.8 × 1.2 / 6 = 2.16 Ω at most; over 50 m that is 21.6 Ω/km: 1.0 mm².
    """
    change = only(changes(tmp_path, PAIR, FIFTY, fed()), "other cable")
    assert change.text == "power-2x1.0 allowed in [design] cables"
    thicker = PAIR.replace('"power-2x0.5"]', '"power-2x0.5", "power-2x1.0"]')
    assert change.total == pytest.approx(designed_cost(tmp_path / "made", thicker, FIFTY, fed()))


def test_24_volts_in_place_of_12(tmp_path):
    """6 W at 21.6 V from 24 V stand a loop of 21.6 × 2.4 / 6 = 8.64 Ω; 0.5 mm² has 3.9 Ω over 50 m."""
    change = only(changes(tmp_path, PAIR, FIFTY, fed()), "other feed")
    assert change.text.startswith("feed dc24 (24 V DC) in place of dc12 12 V")
    assert change.money == 0
    other = fed()
    other[1] |= {"feeds": "dc24", "volts": 24}
    assert change.total == pytest.approx(designed_cost(tmp_path / "made", PAIR, FIFTY, other))


def test_the_cheapest_change_comes_first(tmp_path):
    found = changes(tmp_path, PAIR, FIFTY, fed())
    assert [c.total for c in found] == sorted(c.total for c in found)
    assert {c.kind for c in found} >= {"other cable", "other feed"}


def test_power_where_the_camera_stands(tmp_path):
    toml = ONE + 'power_point = 180\n[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n'
    points = [recorder("R", 0, 0), camera("C", 50, 0, signal="composite", feeds="local", power="none")]
    (change,) = changes(tmp_path, toml, FIFTY, points)
    assert (change.kind, change.text) == ("power at the camera", "unswitched power at the camera (180.00)")
    points[1]["power"] = "unswitched"
    assert change.total - 180 == pytest.approx(designed_cost(tmp_path / "made", toml, FIFTY, points))


def test_two_changes_are_told_together_only_where_no_single_one_helps(tmp_path):
    """No power at the camera, and the one method that carries its signal is ruled out."""
    toml = ONE + 'power_point = 180\n[design]\nmethods = ["pair-video"]\ncables = ["rg59-cu"]\n'
    points = [recorder("R", 0, 0), camera("C", 50, 0, signal="composite", feeds="local", power="none")]
    (change,) = changes(tmp_path, toml, FIFTY, points)
    assert change.kind == "several changes"
    assert "unswitched power at the camera (180.00)" in change.text
    assert "allowed in [design]" in change.text


def test_nothing_is_told_that_does_not_help(tmp_path):
    """The only segment is forbidden, and there is no drawing to dig by."""
    routes = [{"id": "A", "from": "R", "to": "C", "length_m": 50, "use": "forbidden"}]
    points = [{"id": "R", "kind": "recorder", "status": "candidate"}, {"id": "C", "kind": "camera", "signal": "ethernet-1g", "feeds": "local", "power": "unswitched"}]  # fmt: skip
    assert changes(tmp_path, ONE, routes, points) == []


# Near mains, unknown facts


MAINS = [{"id": "M", "wkt": "LINESTRING (0 100, 50 100)", "amps": 20, "phases": 1, "circuits": 12, "placement": "indoor", "volts": 230, "screened": "no"}]  # fmt: skip
UTP = '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n'


def test_a_barrier_where_only_separation_fails(tmp_path):
    """EN 50174-2, class b: 100 mm × 0.8 for 10 to 12 circuits is 80 mm without a barrier, 60 mm behind an open one.

    Declared 60 mm; an open barrier over 50 m at 1 each metre, and a link of 50 m with two ends and two connectors.
    """
    near = line(
        "A", (0, 0), (50, 0), containment="tray", barrier="none", separation_mm=60, separation_from="M"
    )
    points = [recorder("R", 0, 0), camera("C", 50, 0, feeds="poe1", power="none", load_w=5, load_night_w=5)]
    change = only(changes(tmp_path, ONE + UTP, [near], points, mains=MAINS), "clear of mains")
    assert "open metal barrier" in change.text
    assert change.money == pytest.approx(50)
    assert change.total == pytest.approx(50 + 50 + 50 + 2 + 2)
    near["barrier"] = "open"
    assert change.total - 50 == pytest.approx(
        designed_cost(tmp_path / "made", ONE + UTP, [near], points, mains=MAINS)
    )


def test_a_distance_to_be_established_where_unproven_links_are_not_wanted(tmp_path):
    mains = [MAINS[0] | {"wkt": "LINESTRING (0 0.1, 50 0.1)"}]
    toml = ONE + UTP + '[limits]\nverify_in_design = "never"\n'
    points = [recorder("R", 0, 0), camera("C", 50, 0, feeds="poe1", power="none", load_w=5, load_night_w=5)]
    change = only(changes(tmp_path, toml, FIFTY, points, mains=mains), "survey")
    assert "A.1" in change.text
    assert "if it is kept" in change.text


def test_an_earthing_to_be_established(tmp_path):
    """A screened pair between a building of unknown earthing and one on TN-S: with an earth from the supply it may run."""
    buildings = [
        {"id": "B1", "earthing": "TN-S", "wkt": "POLYGON ((-5 -5, 5 -5, 5 5, -5 5, -5 -5))"},
        {"id": "B2", "wkt": "POLYGON ((45 -5, 55 -5, 55 5, 45 5, 45 -5))"},
    ]
    points = [recorder("R", 0, 0), camera("C", 50, 0, feeds="poe1", power="none", load_w=5, load_night_w=5, insulated="no")]  # fmt: skip
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat7-sftp"]\n'
    found = [c for c in changes(tmp_path, toml, FIFTY, points, buildings=buildings) if c.kind == "earthing"]
    assert [c.text for c in found] == ["the earthing of B2 established and found to be TN-S or TN-C-S"]
    buildings[1]["earthing"] = "TN-C-S"
    cost = designed_cost(tmp_path / "made", toml, FIFTY, points, buildings=buildings)
    assert found[0].total == pytest.approx(cost)


def test_only_the_segment_too_near_for_the_cable_is_cured(tmp_path):
    """Class c asks for 40 mm, 30.4 mm behind an open barrier: 35 mm beside A are too few, 60 mm beside B enough.

    Class b would want 80 mm there, but isn't laid.
    """
    near = {"containment": "tray", "barrier": "none", "separation_from": "M"}
    routes = [
        line("A", (0, 0), (40, 0), separation_mm=35, **near),
        line("B", (40, 0), (80, 0), separation_mm=60, **near),
    ]
    points = [recorder("R", 0, 0), camera("C", 80, 0, feeds="poe1", power="none", load_w=5, load_night_w=5)]
    toml = (
        ONE
        + '[design]\nmethods = ["ethernet"]\ncables = ["cat6a-ftp"]\n[limits]\nseparation_safety = "none"\n'
    )
    change = only(changes(tmp_path, toml, routes, points, mains=MAINS), "clear of mains")
    assert change.money == pytest.approx(40)
    assert change.total == pytest.approx(40 + 80 + 80 + 2 + 2)


def test_the_earthing_of_the_recorders_building(tmp_path):
    """As above, the other way round; a third building of unknown earthing has no part in it."""
    buildings = [
        {"id": "B1", "wkt": "POLYGON ((-5 -5, 5 -5, 5 5, -5 5, -5 -5))"},
        {"id": "B2", "earthing": "TN-S", "wkt": "POLYGON ((45 -5, 55 -5, 55 5, 45 5, 45 -5))"},
        {"id": "B3", "wkt": "POLYGON ((45 45, 55 45, 55 55, 45 55, 45 45))"},
    ]
    points = [recorder("R", 0, 0), camera("C", 50, 0, feeds="poe1", power="none", load_w=5, load_night_w=5, insulated="no")]  # fmt: skip
    toml = ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat7-sftp"]\n'
    found = [c for c in changes(tmp_path, toml, FIFTY, points, buildings=buildings) if c.kind == "earthing"]
    assert [c.text for c in found] == ["the earthing of B1 established and found to be TN-S or TN-C-S"]
    buildings[0]["earthing"] = "TN-S"
    cost = designed_cost(tmp_path / "made", toml, FIFTY, points, buildings=buildings)
    assert found[0].total == pytest.approx(cost)


# Several changes, and what others have


def unpowered_dc(**more):
    return [
        recorder("R", 0, 0),
        camera("C", 50, 0, signal="composite", feeds="dc12", volts=12, power="none", **more),
    ]


NO_PAIR = ONE + 'power_point = 180\n[design]\nmethods = ["pair-video"]\ncables = ["rg59-cu"]\n'


def test_power_at_the_camera_is_weighed_where_several_things_change(tmp_path):
    """One pair cable for both costs no more than for the picture alone; power at the camera 180, and it doesn't take that."""
    (change,) = changes(tmp_path, NO_PAIR, FIFTY, unpowered_dc(load_w=3, load_night_w=3))
    assert (change.kind, change.method) == ("several changes", "pair-video-power")
    assert "unswitched power" not in change.text
    assert change.total == pytest.approx(50 + 50 + 4)


def test_a_feed_that_the_camera_does_not_take_is_told_beside_its_power(tmp_path):
    """100 W can't come over 50 m at 12 or 24 V: only mains at the camera are left."""
    (change,) = changes(tmp_path, NO_PAIR, FIFTY, unpowered_dc(load_w=100, load_night_w=100))
    assert change.method == "coax-local"
    assert "unswitched power at the camera (180.00)" in change.text
    assert "feed local" in change.text
    assert "in place of dc12 12 V" in change.text
    assert change.total == pytest.approx(180 + 50 + 50 + 4)


def test_a_spare_that_another_link_has_is_not_offered(tmp_path):
    """D has the spare cable; what would serve C is new cable all the way."""
    toml = ONE + 'power_point = 180\n[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n'
    points = [
        recorder("R", 0, 0),
        camera("C", 50, 0, signal="composite", feeds="local", power="none"),
        camera("D", 50, 0, signal="composite", feeds="local"),
    ]
    spare = {"id": "K", "from": "R", "to": "D", "status": "spare", "cable": "rg59-cu", "joints": 0, "length_m": 50}  # fmt: skip
    made = workflow.designed(checked(tmp_path, toml, FIFTY, points, cables=[spare]))
    assert [run.installed for link in made.links if link.camera == "D" for run in link.runs] == ["K"]
    (change,) = made.changes["C"]
    assert change.total == pytest.approx(180 + 50 + 50 + 4)


# A trench


def gate(**more):
    """A camera 50 m off the middle of a duct that leads to the recorder."""
    return [
        recorder("R", 0, 0),
        camera("C", 30, 50, feeds="poe1", power="none", load_w=5, load_night_w=5, **more),
    ]


DUCT = line("A", (0, 0), (100, 0), containment="duct")


def test_a_trench_to_a_camera_that_nothing_reaches(tmp_path):
    """50 m of trench and duct at 1 a metre each; 80 m of cable bought and pulled, two ends, two connectors."""
    (change,) = changes(tmp_path, ONE + UTP, [DUCT], gate())
    assert change.kind == "trench"
    assert change.text.startswith(
        "a trench of 50 m from C to route A (100.00; indicative, straight, not surveyed"
    )
    assert "hand-dig" in change.text
    assert change.money == pytest.approx(100)
    drawn = line("NEW", (30, 0), (30, 50), containment="duct", status="proposed")
    assert change.total == pytest.approx(designed_cost(tmp_path / "made", ONE + UTP, [DUCT, drawn], gate()))


def test_a_trench_between_two_parts(tmp_path):
    """The camera's own duct ends 10 m from the other: the trench is between the two, not to the camera."""
    own = line("Q", (30, 10), (30, 50), containment="duct")
    change = only(changes(tmp_path, ONE + UTP, [DUCT, own], gate()), "trench")
    assert change.text.startswith("a trench of 10 m from the routes at C to route A (20.00;")


def test_no_trench_through_a_building(tmp_path):
    house = [{"id": "H", "earthing": "TN-S", "wkt": "POLYGON ((20 20, 40 20, 40 30, 20 30, 20 20))"}]
    assert changes(tmp_path, ONE + UTP, [DUCT], gate(), buildings=house) == []


def test_a_trench_near_buried_mains_says_no_machine(tmp_path):
    mains = [{"id": "M", "wkt": "LINESTRING (0 20, 100 20)", "placement": "buried", "volts": 400, "amps": 63, "phases": 3, "circuits": 1}]  # fmt: skip
    change = only(changes(tmp_path, ONE + UTP, [DUCT], gate(), mains=mains), "trench")
    assert "no machine digging" in change.text


def test_a_camera_of_unknown_signal_has_no_change(tmp_path):
    points = [recorder("R", 0, 0), {**camera("C", 50, 0), "signal": ""}]
    assert changes(tmp_path, ONE, FIFTY, points) == []
