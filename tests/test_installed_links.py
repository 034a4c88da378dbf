"""Installed cables as links: ways, lengths, joints, methods, feeds, equipment; what is not known stays open."""

import pytest

from estate import workflow
from estate.errors import InputError
from estate.findings import Verdict
from tests.audit_cases import at, audited, cable, deciding, findings, lines, link
from tests.estates import LOCAL, line, write_estate

PATCH = {"id": "P1", "kind": "patch", "x": 100, "y": 0, "power": "unswitched"}
TWO = [line("A", (0, 0), (100, 0)), line("B", (100, 0), (160, 0))]


def test_a_cable_with_every_fact_is_a_link_like_a_designed_one(tmp_path):
    """229 m of cautious reach for composite video on RG-59 class (trade rule of thumb, facts of the catalogue)."""
    audit = audited(tmp_path, [cable("K1", routes="A", length_m=210)], [at(200)])
    found = link(audit)
    assert found.link.verdict is Verdict.WITHIN
    assert (found.link.method, found.link.feed, found.link.head) == ("coax-local", "local", "R1")
    assert found.link.cable_length_m == 210
    assert [(run.installed, run.purchase_m) for run in found.link.runs] == [("K1", 0)]
    (reach,) = lines(audit, "reach")
    assert (reach.value, reach.limit) == (210, 229)
    assert not found.unknowns
    assert found.inferred == ()


def test_a_way_that_is_not_recorded_is_the_shortest_and_marked(tmp_path):
    loop = [line("A", (0, 0), (200, 0)), line("B", (0, 0), (0, 150), (200, 150), (200, 0))]
    audit = audited(tmp_path, [cable("K1")], [at(200)], loop)
    assert link(audit).inferred == ("K1",)
    assert link(audit).link.length_m == pytest.approx(200)
    assert findings(audit, "no routes on record")


def test_given_routes_bind_even_where_another_way_is_shorter(tmp_path):
    loop = [
        line("A", (0, 0), (150, 0)),
        line("B", (0, 0), (0, 150), (150, 150), (150, 0)),
        line("C", (150, 0), (200, 0)),
    ]
    audit = audited(tmp_path, [cable("K1", routes="B;C")], [at(200)], loop)
    assert link(audit).link.length_m == pytest.approx(500)
    assert link(audit).link.verdict is Verdict.OUTSIDE


def test_given_routes_that_dont_join_the_ends_are_to_be_verified(tmp_path):
    routes = [line("A", (0, 0), (200, 0)), line("B", (500, 500), (600, 500))]
    audit = audited(tmp_path, [cable("K1", routes="B")], [at(200)], routes)
    assert link(audit).link.verdict is Verdict.VERIFY
    assert link(audit).found is None
    assert deciding(audit) == [("K1", "routes")]
    assert "tone" in link(audit).deciding[0].test


# Joints, types, methods


@pytest.mark.parametrize(("joints", "verdict"), [(0, "within"), (3, "outside")])
def test_joints_cost_reach(tmp_path, joints, verdict):
    """180 m with three joints behave like 330 m and pass neither reach, 229 or 305 m (common practice: 50 m a joint)."""
    audit = audited(tmp_path, [cable("K1", joints=joints)], [at(180)])
    assert link(audit).link.verdict == verdict
    if joints:
        assert [x.value for x in link(audit).link.lines if x.quantity == "reach"] == [330, 330]


def test_unknown_joints_decide_only_where_they_matter(tmp_path):
    """457 m of cautious reach on RG-11 class; up to five joints at 50 m each are 250 m."""
    cables = [cable(f"K{n}", f"C{n}", joints="", cable="rg11-cu") for n in (1, 2, 3)]
    audit = audited(tmp_path, cables, [at(150), at(250, "C2"), at(460, "C3")])
    verdicts = [link(audit, name).link.verdict for name in ("C1", "C2", "C3")]
    assert verdicts == [Verdict.WITHIN, Verdict.VERIFY, Verdict.OUTSIDE]
    assert deciding(audit, "C1") == []
    assert deciding(audit, "C2") == [("K2", "joints")]
    assert [(fact.subject, fact.values) for fact in link(audit, "C1").unknowns] == [("K1", ("0", "5"))]


def test_an_unknown_type_is_settled_only_if_every_type_agrees(tmp_path):
    """Ethernet: 90 m of fixed part (TIA-568) on every type but copper-clad aluminium, which fails from 70 m on."""
    net = {"signal": "ethernet-1g", "feeds": "local"}
    cables = [cable(f"K{n}", f"C{n}", cable="unknown", method="ethernet") for n in (1, 2, 3)]
    audit = audited(tmp_path, cables, [at(50, **net), at(75, "C2", **net), at(95, "C3", **net)])
    assert [link(audit, f"C{n}").link.verdict for n in (1, 2, 3)] == ["within", "verify", "outside"]
    assert deciding(audit, "C2") == [("K2", "cable")]
    assert link(audit, "C2").best is Verdict.WITHIN
    assert "sheath print" in link(audit, "C2").deciding[0].test


def test_a_type_without_a_known_reach_leaves_a_link_open(tmp_path):
    """No trade reach is known for copper-clad steel, so an untyped coaxial run isn't settled however short it is."""
    audit = audited(tmp_path, [cable("K1", cable="unknown")], [at(5)])
    assert link(audit).link.verdict is Verdict.VERIFY
    assert deciding(audit) == [("K1", "cable")]


def test_legacy_types_count_among_what_an_untyped_cable_could_be(tmp_path):
    audit = audited(tmp_path, [cable("K1", cable="")], [at(20)])
    (fact,) = link(audit).unknowns
    assert {"rg59-ccs", "rg6-ccs", "rg11-cu"} <= set(fact.values)


def test_a_method_that_is_not_recorded_is_judged_over_all_that_could_be(tmp_path):
    facts = {"method": "", "cable": "unknown"}
    audit = audited(tmp_path, [cable("K1", **facts), cable("K2", "C2", **facts)], [at(15), at(300, "C2")])
    assert link(audit).values > 5
    assert link(audit, "C2").link.verdict is Verdict.VERIFY
    assert ("K2", "cable") in deciding(audit, "C2")


def test_records_that_contradict_are_to_be_verified_and_said(tmp_path):
    audit = audited(
        tmp_path, [cable("K1", cable="cat6-utp"), cable("K2", "C2")], [at(20), at(30, "C2", power="none", feeds="dc12")]
    )  # fmt: skip
    assert link(audit).link.verdict is Verdict.VERIFY
    assert "coax-local does not join C1 (composite) over K1 (cat6-utp)" in link(audit).link.limiting
    assert deciding(audit, "C2") == [("C2", "feeds")]


def test_a_camera_whose_signal_is_not_known(tmp_path):
    audit = audited(tmp_path, [cable("K1")], [at(20, signal="")])
    assert deciding(audit) == [("C1", "signal")]


def test_tees_are_to_be_verified(tmp_path):
    audit = audited(tmp_path, [cable("K1", tees=1)], [at(20)])
    assert deciding(audit) == [("K1", "tees")]


# Circuits


def test_cables_are_put_in_order_over_a_passive_patch(tmp_path):
    """Two lengths patched through count a joint of unknown quality: 160 m behave like 210 m."""
    cables = [cable("K2", routes="A", **{"from": "R1", "to": "P1"}), cable("K1", to="P1")]
    audit = audited(tmp_path, cables, [at(160), PATCH], TWO)
    assert link(audit).cables == ("K2", "K1")
    (reach,) = lines(audit, "reach")
    assert reach.value == pytest.approx(210)


def test_different_types_in_a_row_share_one_reach(tmp_path):
    cables = [cable("K2", **{"from": "R1", "to": "P1"}), cable("K1", to="P1", cable="rg6-cu")]
    audit = audited(tmp_path, cables, [at(160), PATCH], TWO)
    (shared,) = lines(audit, "several media")
    assert shared.value == pytest.approx(100 * (100 / 229 + 60 / 305))


def test_a_chain_that_ends_nowhere_is_traced_with_a_tone(tmp_path):
    audit = audited(tmp_path, [cable("K1", to="P1")], [at(160), PATCH], TWO)
    assert link(audit).link.verdict is Verdict.VERIFY
    assert "no cable leads on from patch P1" in link(audit).link.limiting
    assert link(audit).deciding[0].test == "trace it with a tone"


def test_a_cable_beside_the_way_is_not_left_out_silently(tmp_path):
    cables = [cable("K1"), cable("K2", to="P1")]
    audit = audited(tmp_path, cables, [at(160), PATCH], TWO)
    assert "all lead on from C1" in link(audit).link.limiting


def test_which_of_two_untyped_cables_carries_the_picture_is_asked(tmp_path):
    cables = [cable("K1", cable="", method=""), cable("K2", cable="", method="")]
    audit = audited(tmp_path, cables, [at(100, feeds="dc12", power="none")])
    assert "which of K1, K2 carries the picture is not known" in link(audit).link.limiting


def test_an_untyped_cable_beside_a_coaxial_one_is_its_power_cable(tmp_path):
    cables = [cable("K1", method="coax-power-pair"), cable("K2", cable="unknown", method="coax-power-pair")]
    camera = at(30, feeds="dc12", power="none", volts=12, load_w=4, load_night_w=8)
    audit = audited(tmp_path, cables, [camera])
    assert deciding(audit) == [("K2", "cable")]
    assert set(link(audit).unknowns[0].values) == {
        f"power-2x{mm2}" for mm2 in ("0.5", "0.75", "1.0", "1.5", "2.5")
    }


def test_a_power_cable_that_is_not_recorded_is_every_one_it_could_be(tmp_path):
    camera = at(30, feeds="dc12", power="none", volts=12, load_w=4, load_night_w=8)
    audit = audited(tmp_path, [cable("K1", method="coax-power-pair")], [camera])
    assert deciding(audit) == [("K1", "power cable")]


# Equipment on the way


def test_a_repeater_on_the_way_starts_the_signal_afresh(tmp_path):
    """400 m in two stretches of 200 m, each within 229 m."""
    mid = {"id": "P1", "kind": "patch", "x": 200, "y": 0, "power": "unswitched"}
    audit = audited(tmp_path, [cable("K1", equipment="repeater-coax@P1", routes="A")], [at(400), mid])
    assert [round(x.value, 6) for x in lines(audit, "reach")] == [200, 200]
    assert link(audit).link.verdict is Verdict.WITHIN
    assert [(e.item, e.node) for e in link(audit).link.equipment if e.item == "repeater-coax"] == [
        ("repeater-coax", "P1")
    ]


def test_an_extender_on_record_and_one_that_is_not(tmp_path):
    mid = {"id": "P1", "kind": "patch", "x": 70, "y": 0, "power": "none"}
    net = {"signal": "ethernet-100m", "feeds": "poe1", "power": "none", "load_w": 4, "load_night_w": 5}
    facts = {"cable": "cat6-utp", "method": "ethernet-extender"}
    audit = audited(
        tmp_path, [cable("K1", equipment="extender-poe@P1", **facts), cable("K2", "C2", **facts)],
        [at(140, **net), at(141, "C2", **net), mid],
    )  # fmt: skip
    assert link(audit).link.verdict is Verdict.WITHIN
    assert [round(x.value, 6) for x in lines(audit, "fixed part")] == [70, 70]
    assert deciding(audit, "C2") == [("K2", "equipment")]


# Cabinets and uplinks


def cabinet_estate(tmp_path, **trunk):
    net = {"signal": "ethernet-100m", "feeds": "poe1", "power": "none", "load_w": 4, "load_night_w": 5}
    facts = {"cable": "cat6-utp", "method": "ethernet"}
    cables = [
        cable("K1", to="P1", **facts), cable("K2", "C2", to="P1", **facts),
        cable("T1", **{"from": "R1", "to": "P1", "camera": "", "cable": "om3", "method": "ethernet-fibre", **trunk}),
    ]  # fmt: skip
    switch = {**PATCH, "ports": 8, "poe_w": 120}
    return audited(tmp_path, cables, [at(150, **net), at(160, "C2", **net), switch], TWO)


def test_a_patch_with_a_switch_is_a_head_and_its_trunk_an_uplink(tmp_path):
    audit = cabinet_estate(tmp_path)
    assert [(e.link.head, e.link.recorder) for e in audit.installed[:2]] == [("P1", "R1")] * 2
    uplink = link(audit, "U-P1")
    assert (uplink.link.kind, uplink.link.head, uplink.cables) == ("uplink", "R1", ("T1",))
    assert uplink.link.verdict is Verdict.WITHIN
    assert len(audit.cuts[0].lost) == 2


def test_a_switch_with_too_few_ports_or_too_little_power(tmp_path):
    """Two cameras of type 1, 15.4 W allocated at each port (IEEE 802.3)."""
    net = {"signal": "ethernet-100m", "feeds": "poe1", "power": "none", "load_w": 4, "load_night_w": 5}
    facts = {"cable": "cat6-utp", "method": "ethernet"}
    cables = [cable("K1", to="P1", **facts), cable("K2", "C2", to="P1", **facts)]
    switch = {**PATCH, "ports": 1, "poe_w": 30}
    audit = audited(tmp_path, cables, [at(150, **net), at(160, "C2", **net), switch], TWO)
    told = [f.text for f in audit.findings if f.subject == "P1" and f.severity == "fault"]
    assert sorted(told) == [
        "cabinet P1: 2 ports in use by the records, 1 there are (ports)",
        "cabinet P1: 30.8 W in use by the records, 30 there are (poe_w)",
    ]


def test_an_uplink_of_unknown_type_is_judged_over_every_type(tmp_path):
    audit = cabinet_estate(tmp_path, cable="unknown", method="")
    uplink = link(audit, "U-P1")
    assert uplink.link.verdict is Verdict.VERIFY
    assert ("T1", "cable") in deciding(audit, "U-P1")
    ((first, *_),) = [audit.questions]
    assert (first.subject, first.cameras) == ("T1", 2)


def test_a_second_trunk_of_another_route_stands_by(tmp_path):
    """A cut of either route loses nothing; in the cabinet itself both cameras are lost."""
    net = {"signal": "ethernet-100m", "feeds": "local"}
    facts = {"cable": "cat6-utp", "method": "ethernet"}
    trunk = {"from": "R1", "to": "P1", "camera": "", "cable": "om3", "method": "ethernet-fibre"}
    cables = [
        cable("K1", to="P1", **facts), cable("K2", "C2", to="P1", **facts), cable("T1", routes="A", **trunk),
        cable("T2", routes="LOOP", **trunk),
    ]  # fmt: skip
    routes = [*TWO, line("LOOP", (0, 0), (0, 80), (100, 80), (100, 0))]
    audit = audited(tmp_path, cables, [at(150, **net), at(160, "C2", **net), {**PATCH, "ports": 8}], routes)
    assert [(link(audit, name).link.kind, link(audit, name).cables) for name in ("U-P1", "U2-P1")] == [
        ("uplink", ("T1",)), ("standby", ("T2",)),
    ]  # fmt: skip
    lost = {(cut.subject_kind, cut.subject): len(cut.lost) for cut in audit.cuts}
    assert (lost["route", "A"], lost["route", "LOOP"], lost["node", "P1"]) == (0, 0, 2)


def test_a_cabinet_without_a_trunk_on_record(tmp_path):
    audit = cabinet_estate(tmp_path, status="spare")
    assert "no trunk on record leads from P1 to a recorder" in link(audit, "U-P1").link.limiting
    assert link(audit, "U-P1").link.verdict is Verdict.VERIFY


def test_an_estate_without_cables_is_told_so(tmp_path):
    points = [{"id": "R1", "kind": "recorder", "x": 0, "y": 0}, at(20)]
    folder = write_estate(tmp_path, LOCAL, points=points, routes=[line("A", (0, 0), (50, 0))])
    with pytest.raises(InputError, match="installed cables"):
        workflow.audit(folder)
    assert not (folder / "out").exists()
