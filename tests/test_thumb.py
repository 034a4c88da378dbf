"""Rules of thumb of the trade beside the physics. The rules are common practice, no source; they are no limits."""

import pytest

from estate.catalogue.load import load_catalogue
from estate.formulas.dc_feed import greatest_load_w, loop_resistance_ohm
from estate.links.reach import reach_question, reach_rows
from estate.output.reach import told_reach

CATALOGUE = load_catalogue()[0]
THUMB = {name: figure.value for name, figure in CATALOGUE.rules["thumb"].items()}


def reach(values=None, **names):
    wanted = {key: names.get(key, ()) for key in ("signal", "method", "feed", "cable")}
    return reach_rows(reach_question(wanted, values or {}, CATALOGUE), brief=False)


def test_the_rules_are_held_as_common_practice_without_a_source():
    # common practice, no source: combined baluns 150 m, quoted to 200 m; powered coax 200 m; 12 V beside coax 60 m
    assert THUMB == {
        "pair_video_power_m": 150,
        "pair_video_power_quoted_m": 200,
        "coax_powered_m": 200,
        "coax_power_pair_12v_m": 60,
    }
    assert {figure.status for figure in CATALOGUE.rules["thumb"].values()} == {"common_practice"}


@pytest.mark.parametrize(("each_way", "at_10_8_v", "at_most"), [(2, 0.92, 2.56), (3, 1.38, 3.84)])
def test_150_m_is_no_12_v_rule(each_way, at_10_8_v, at_most):
    # 93.8 Ω/km of ANSI/TIA-568: 14.07 and 9.38 Ω; V·(Vs - V)/R and Vs²/(4·R) by hand
    loop = loop_resistance_ohm(93.8, THUMB["pair_video_power_m"], each_way, each_way)
    assert greatest_load_w(12.0, loop, 10.8) == pytest.approx(at_10_8_v, abs=0.005)
    assert greatest_load_w(12.0, loop) == pytest.approx(at_most, abs=0.005)


@pytest.mark.parametrize(("load_w", "serves"), [("1.38", True), ("1.39", False)])
def test_combined_baluns_serve_150_m_at_12_v_only_a_camera_of_1_38_w(load_w, serves):
    values = {"load": load_w, "load_night": load_w}
    (row,) = reach(values, method=("pair-video-power",), feed=("dc12",), cable=("cat5e-utp",))
    assert (row.night.length_m >= THUMB["pair_video_power_m"]) is serves


def test_combined_baluns_at_24_v_bear_the_rule_out_by_day():
    (row,) = reach(method=("pair-video-power",), feed=("dc24",), cable=("cat5e-utp",))
    assert row.day.length_m >= THUMB["pair_video_power_quoted_m"]
    assert row.night.length_m < THUMB["pair_video_power_m"]


def test_powered_coax_is_quoted_between_what_it_reaches_by_day_and_at_night():
    (row,) = reach(method=("coax-powered",), cable=("rg59-cu",))
    assert row.night.length_m < THUMB["coax_powered_m"] <= row.day.length_m


def test_12_v_beside_coax_seldom_serves_beyond_60_m_at_night():
    # common practice, no source; on the usual 0.5 to 1.5 mm² physics agrees, 2.5 mm² goes farther
    rows = reach(method=("coax-power-pair",), feed=("dc12",), cable=("rg59-cu",), signal=("analogue-1080p",))
    night = {row.variant.power_cable: row.night.length_m for row in rows}
    assert all(night[f"power-2x{a}"] < THUMB["coax_power_pair_12v_m"] for a in ("0.5", "0.75", "1.0", "1.5"))
    assert night["power-2x2.5"] > THUMB["coax_power_pair_12v_m"]


def test_an_isolator_in_a_pair_link_costs_50_m_of_reach():
    # common practice, no source
    figure = CATALOGUE.items["isolator-pair"].figures["reach_m"]
    assert (figure.value, figure.status) == (50, "common_practice")


def test_copper_clad_aluminium_is_audited_and_never_designed():
    # common practice, no source: patch cable of copper-clad aluminium is not to be used
    assert [c.id for c in CATALOGUE.cables.values() if c.conductor == "cca" and not c.legacy] == []


def test_unscreened_pair_asks_for_no_less_distance_from_mains_than_screened_coax():
    # common practice, no source: unscreened pair picks up interference beside mains where coax does not
    order = "dcba"
    pair, coax = (CATALOGUE.cables[c].separation_class for c in ("cat5e-utp", "rg59-cu"))
    assert order.index(pair) >= order.index(coax)


def test_the_page_tells_rule_and_physics_side_by_side():
    question = reach_question(dict.fromkeys(("signal", "method", "feed", "cable"), ()), {}, CATALOGUE)
    page = "\n".join(told_reach(question, reach_rows(question, brief=True)))
    assert "common practice, no source" in page
    assert "150 m at 12 V delivers 1.38 W at 10.8 V" in page
