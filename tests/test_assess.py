"""Budget lines of every medium, joints, profiles and states, through the one function that makes them."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate.catalogue.load import load_catalogue
from estate.findings import Verdict
from estate.formulas.dc_feed import greatest_loop_ohm
from estate.links.assess import assess
from estate.links.camera import CameraFacts
from estate.links.conditions import Conditions, Joints, SupplyVolts
from estate.links.lines import profile_note, states_in_words, verdict_of
from estate.links.variants import Variant, blocked_feeds, feed_through
from estate.settings import LengthsSection, LimitsSection

CATALOGUE = load_catalogue()[0]
NAN = math.nan


def conditions(catalogue=CATALOGUE, ambient_c=20.0, profile="cautious", supplies=None):
    limits = replace(LimitsSection(), profile=profile, ambient_c=ambient_c)
    return Conditions(catalogue, limits, LengthsSection(), ambient_c, supplies or {})


def camera(signal="composite", load_w=3.6, load_night_w=9.6, **more):
    facts = CameraFacts(
        id="C", row=0, signal=signal, feeds=(), power="unswitched", load_w=load_w, load_night_w=load_night_w,
        volts=NAN, volts_min=NAN, volts_max=NAN, mbps=NAN, priority=5, height_m=0.0,
    )  # fmt: skip
    return replace(facts, **more)


def lines_of(method, feed, cable, length_m, power="", facts=None, joints=None, **given):
    variant = Variant(method, feed, cable, power)
    more = () if joints is None else (joints,)
    return assess(variant, facts or camera(), length_m, conditions(**given), *more)


def line_of(lines, quantity, state=None, profile=None):
    found = [
        line
        for line in lines
        if line.quantity == quantity
        and (state is None or line.state == state)
        and (profile is None or line.profile == profile)
    ]
    assert len(found) == 1, [(x.quantity, x.state, x.profile) for x in lines]
    return found[0]


def with_ohm(cable, ohm_per_km):
    entry = CATALOGUE.cables[cable]
    figure = replace(entry.figures["conductor_ohm_per_km"], value=ohm_per_km)
    changed = replace(entry, figures={**entry.figures, "conductor_ohm_per_km": figure})
    return replace(CATALOGUE, cables={**CATALOGUE.cables, cable: changed})


# Feeds over conductors


IDEAL_1MM2 = 1000 / 58
"""ρ/A of annealed copper, IEC 60028: 80 m out and back are 2.76 Ω."""


@pytest.mark.parametrize(
    ("length_m", "load_w", "volts"),
    [(80, 3.6, 11.1), (80, 9.6, 9.08), (160, 3.6, 10.0), (160, 9.6, None)],
)
def test_constant_power_on_one_square_millimetre(length_m, load_w, volts):
    # V² - 12·V + P·R = 0 by hand: 2.76 Ω, 9.6 W: (12 + √(144 - 106))/2 = 9.08 V; 5.52 Ω, 9.6 W: 144 < 212
    catalogue = with_ohm("power-2x1.0", IDEAL_1MM2)
    facts = camera(load_w=load_w, load_night_w=load_w)
    lines = lines_of(
        "coax-power-pair", "dc12", "rg59-cu", length_m, "power-2x1.0", facts, catalogue=catalogue
    )
    line = line_of(lines, "volts", "night")
    if volts is None:
        assert math.isnan(line.value)
        assert (line.verdict, line.text) == (Verdict.OUTSIDE, "no working point at night")
    else:
        assert line.value == pytest.approx(volts, abs=0.05)


def test_hot_class_5_conductor_fails_where_cold_ideal_copper_passes():
    # IEC 60228 class 5: 7.98 Ω/km; α of IEC 60287-1-1: 0.00393
    facts = camera(load_w=3.6, load_night_w=9.6)
    hot = lines_of("coax-power-pair", "dc12", "rg59-cu", 80, "power-2x2.5", facts, ambient_c=50.0)
    assert line_of(hot, "volts", "night").value == pytest.approx(10.7, abs=0.05)
    assert line_of(hot, "volts", "night").verdict is Verdict.OUTSIDE
    ideal = with_ohm("power-2x2.5", IDEAL_1MM2 / 2.5)
    cold = lines_of("coax-power-pair", "dc12", "rg59-cu", 80, "power-2x2.5", facts, catalogue=ideal)
    assert line_of(cold, "volts", "night").value == pytest.approx(11.04, abs=0.005)
    assert line_of(cold, "volts", "night").verdict is not Verdict.OUTSIDE


def test_power_over_coax_and_what_a_steel_centre_does_to_it():
    # 8 W in all: the camera's 7.5 W and 0.5 W of the splitter; 33.3 + 8.5 Ω/km over 180 m are 7.5 Ω, and of
    # copper-clad steel (ASTM B452) 31.7 Ω: 24² = 576 < 4 · 8 · 31.7
    own_w = CATALOGUE.items["coax-power-splitter"].number("own_w")
    facts = camera(load_w=8 - own_w, load_night_w=8 - own_w, volts=24.0)
    copper = lines_of("coax-powered", "coax-dc", "rg59-cu", 180, facts=facts)
    assert line_of(copper, "volts", "day").value == pytest.approx(21.2, abs=0.05)
    steel = lines_of("coax-powered", "coax-dc", "rg59-ccs", 180, facts=facts)
    assert line_of(steel, "volts", "day").text == "no working point by day"
    assert line_of(steel, "volts", "night").text == "no working point at night"


def test_power_over_coax_takes_the_supply_that_gives_the_camera_its_volts():
    supplies = {
        "dc24": SupplyVolts(22.0, 26.0, "declared", "supply"),
        "dc12": SupplyVolts(11, 13, "declared", ""),
    }
    near = lines_of("coax-powered", "coax-dc", "rg59-cu", 1, facts=camera(volts=24.0), supplies=supplies)
    assert line_of(near, "volts", "day").value == pytest.approx(22.0, abs=0.05)
    assert line_of(near, "volts max").value == pytest.approx(26.0, abs=0.05)


def test_conductors_out_and_back_count_apart():
    # Ohm's law: two out and one back of 93.8 Ω/km over 100 m are 4.69 + 9.38 = 14.07 Ω; 3 W from 24 V
    method = replace(CATALOGUE.methods["pair-video-power"], power_out=2, power_back=1)
    catalogue = replace(CATALOGUE, methods={**CATALOGUE.methods, method.id: method})
    lines = lines_of(
        "pair-video-power",
        "dc24",
        "cat5e-utp",
        100,
        facts=camera(load_w=3, load_night_w=3),
        catalogue=catalogue,
    )
    expected = (24 + math.sqrt(24**2 - 4 * 3 * 14.07)) / 2
    assert line_of(lines, "volts", "day").value == pytest.approx(expected)


def test_ac_is_judged_by_magnitude_and_says_what_power_factor_it_takes():
    # on a resistive loop at power factor 1 the magnitude is that of DC (two-bus equation, P. Kundur, 14.1)
    ac, dc = (lines_of("coax-power-pair", f, "rg59-cu", 120, "power-2x1.0") for f in ("ac24", "dc24"))
    assert line_of(ac, "volts", "night").value == pytest.approx(line_of(dc, "volts", "night").value)
    assert line_of(ac, "volts", "night").text == "at power factor 1"


def test_near_cameras_over_their_greatest_volts():
    supplies = {"dc12": SupplyVolts(11.0, 14.4, "declared", "supply")}
    near, far = (
        line_of(
            lines_of("coax-power-pair", "dc12", "rg59-cu", m, "power-2x0.5", supplies=supplies), "volts max"
        )
        for m in (1, 60)
    )
    assert near.limit == pytest.approx(13.2)  # ±10 % of 12 V, as camera manuals state it
    assert (near.verdict, far.verdict) == (Verdict.OUTSIDE, Verdict.WITHIN)


@given(st.floats(0.5, 25), st.sampled_from(["dc12", "dc24"]), st.sampled_from(["power-2x0.5", "power-2x2.5"]))
def test_volts_pass_exactly_up_to_the_closed_form(load_w, feed, power):
    volts = CATALOGUE.feeds[feed].number("source_volts")
    loop = greatest_loop_ohm(volts, load_w, 0.9 * volts)
    reach_m = loop / (2 * CATALOGUE.cables[power].number("conductor_ohm_per_km")) * 1000
    facts = camera(load_w=load_w, load_night_w=load_w)
    for share, outside in ((0.999, False), (1.001, True)):
        lines = lines_of("coax-power-pair", feed, "rg59-cu", reach_m * share, power, facts)
        assert (line_of(lines, "volts", "day").verdict is Verdict.OUTSIDE) is outside


# Power over Ethernet


def test_poe_type_1_over_a_full_channel():
    # IEEE 802.3 type 1: 44 V and 15.4 W at the port, 37 V and 12.95 W at the device. 90 m of 9.38 Ω/100 m and
    # 10 m of cords of 14 Ω/100 m: 9.842 Ω for two conductors each way, well under the 20 Ω of the type
    facts = camera("ethernet-100m", 12.95, 12.95)
    lines = lines_of("ethernet", "poe1", "cat5e-utp", 90, facts=facts)
    volts = (44 + math.sqrt(44**2 - 4 * 12.95 * 9.842)) / 2
    assert line_of(lines, "volts", "day").value == pytest.approx(volts, abs=1e-3)
    port = line_of(lines, "PoE port power", "day")
    assert (port.limit, port.value) == (15.4, pytest.approx(44 * 12.95 / volts, abs=1e-3))
    assert verdict_of(lines) is not Verdict.OUTSIDE
    over = lines_of("ethernet", "poe1", "cat5e-utp", 90, facts=camera("ethernet-100m", 12.96, 12.96))
    assert line_of(over, "PoE power", "day").verdict is Verdict.OUTSIDE


def test_poe_anchor_of_type_1_lies_on_all_its_limits():
    # 20 Ω of loop: 37.00 V at the device, 15.40 W at the port, the figures of IEEE 802.3 itself
    length_m = (20 - 1.4) / 93.8 * 1000
    lines = lines_of("ethernet", "poe1", "cat5e-utp", length_m, facts=camera("ethernet-100m", 12.95, 12.95))
    assert line_of(lines, "volts", "day").value == pytest.approx(37.0, abs=0.01)
    assert line_of(lines, "PoE port power", "day").value == pytest.approx(15.4, abs=0.01)


@pytest.mark.parametrize(("night_w", "verdict"), [(NAN, Verdict.VERIFY), (10.0, Verdict.WITHIN)])
def test_a_blank_night_load_decides_poe_type_1_only_where_it_is_blank(night_w, verdict):
    lines = lines_of("ethernet", "poe1", "cat5e-utp", 50, facts=camera("ethernet-100m", 6.0, night_w))
    assert line_of(lines, "PoE power", "night").verdict is verdict
    # type 2 gives 25.5 W, the greatest load listed for the kind: blank decides nothing
    type_2 = lines_of("ethernet", "poe2", "cat5e-utp", 50, facts=camera("ethernet-100m", 6.0, night_w))
    assert verdict_of(type_2) is not Verdict.VERIFY


# Joints


def test_three_unknown_joints_of_180_m_count_as_330_m():
    # common practice, no source: a joint is about 50 m of cable
    lines = lines_of("coax-local", "local", "rg59-cu", 180, joints=Joints(bad_or_unknown=3))
    governs = line_of(lines, "reach", profile="cautious")
    assert (governs.value, governs.verdict) == (330.0, Verdict.OUTSIDE)
    assert "3 joints" in governs.text
    assert verdict_of(lines_of("coax-local", "local", "rg59-cu", 180)) is Verdict.WITHIN


@given(st.integers(0, 4), st.integers(0, 4))
def test_a_joint_is_decibels_or_reach_never_both(good, bad):
    plain = lines_of("coax-local", "local", "rg59-cu", 100)
    jointed = lines_of("coax-local", "local", "rg59-cu", 100, joints=Joints(good, bad))
    each_db = CATALOGUE.items["joint-coax"].number("loss_db")
    assert line_of(jointed, "loss").value == pytest.approx(line_of(plain, "loss").value + good * each_db)
    for profile in ("cautious", "typical"):
        assert line_of(jointed, "reach", profile=profile).value == 100 + 50 * bad


@pytest.mark.parametrize("joints", [Joints(good=1), Joints(bad_or_unknown=2)])
@pytest.mark.parametrize("method", ["ethernet", "ethernet-single-pair"])
def test_a_joint_in_a_data_cable_is_to_be_verified(method, joints):
    facts = camera("ethernet-100m")
    assert verdict_of(lines_of(method, "local", "cat6-utp", 50, facts=facts)) is Verdict.WITHIN
    assert verdict_of(lines_of(method, "local", "cat6-utp", 50, facts=facts, joints=joints)) is Verdict.VERIFY


def test_joints_under_the_methods_own_reach_and_where_no_reach_counts_them():
    coax = lines_of(
        "ethernet-coax",
        "local",
        "rg59-cu",
        260,
        facts=camera("ethernet-100m"),
        joints=Joints(bad_or_unknown=1),
    )
    assert line_of(coax, "reach", profile="cautious").verdict is Verdict.OUTSIDE  # 310 m of 300 m
    sdi = [
        line_of(
            lines_of("coax-local", "local", "rg59-cu", m, facts=camera("sdi-hd"), joints=j), "loss"
        ).verdict
        for m, j in ((50, Joints(good=1)), (50, Joints(bad_or_unknown=1)), (90, Joints(bad_or_unknown=1)))
    ]
    assert sdi == [Verdict.WITHIN, Verdict.VERIFY, Verdict.OUTSIDE]


# Signals


def test_sdi_is_judged_at_half_its_clock():
    # SMPTE ST 292-1: 20 dB at 742.5 MHz; a·√f + b·f + c/√f of the cable by hand: 24.0 dB/100 m, and two connectors
    cable = CATALOGUE.cables["rg59-cu"]
    a, b, c = (cable.number(f"attenuation_{k}") for k in "abc")
    per_100m = a * math.sqrt(742.5) + b * 742.5 + c / math.sqrt(742.5)
    line = line_of(lines_of("coax-local", "local", "rg59-cu", 80, facts=camera("sdi-hd")), "loss")
    assert line.value == pytest.approx(0.8 * per_100m + 2 * 0.1)
    assert line.limit == 20


def test_baluns_cost_their_loss_at_both_ends():
    plain = CATALOGUE.cables["cat5e-utp"]
    per_100m = plain.number("attenuation_a") * math.sqrt(5) + plain.number("attenuation_b") * 5
    per_100m += plain.number("attenuation_c") / math.sqrt(5)
    line = line_of(lines_of("pair-video", "local", "cat5e-utp", 100), "loss")
    assert line.value == pytest.approx(per_100m + 2 * CATALOGUE.items["balun-passive"].number("loss_db"))
    assert line.informs


@pytest.mark.parametrize(
    ("cable", "ambient_c", "limit_m"),
    [("cat5e-utp", 20, 90), ("cat5e-utp", 40, 83.3), ("cat6a-ftp", 40, 86.5)],
)
def test_ethernet_is_shorter_when_hot(cable, ambient_c, limit_m):
    # ANSI/TIA-568-C.2, 6.4.7: 0.4 %/K unscreened to 40 °C, 0.2 %/K screened
    lines = lines_of("ethernet", "local", cable, 80, facts=camera("ethernet-100m"), ambient_c=ambient_c)
    assert line_of(lines, "fixed part").limit == pytest.approx(limit_m, abs=0.05)


def test_single_pair_ethernet_is_judged_by_loss_over_its_range():
    # IEEE 802.3cg, link segment of 10BASE-T1L (from memory): at 20 MHz 10·(1.23·√20 + 0.2 + 0.2/√20) + 0.2·√20
    at_20 = 10 * (1.23 * math.sqrt(20) + 0.2 + 0.2 / math.sqrt(20)) + 0.2 * math.sqrt(20)
    cable = CATALOGUE.cables["cat5e-utp"]
    per_100m = cable.number("attenuation_a") * math.sqrt(20) + cable.number("attenuation_b") * 20
    per_100m += cable.number("attenuation_c") / math.sqrt(20)
    facts = camera("ethernet-100m")
    line = line_of(lines_of("ethernet-single-pair", "local", "cat5e-utp", 700, facts=facts), "loss")
    assert (line.value, line.limit) == (pytest.approx(7 * per_100m), pytest.approx(at_20))
    assert line.verdict is Verdict.OUTSIDE
    assert "at 20 MHz" in line.text
    assert "from memory" in line.source
    near = lines_of("ethernet-single-pair", "local", "cat5e-utp", 500, facts=facts)
    assert verdict_of(near) is Verdict.WITHIN


def test_fibre_by_application():
    # TIA-568.3: 3.0 dB/km at 850 nm, 0.75 dB a connector, 0.3 dB a splice; IEEE 802.3, 1000BASE-SX: 550 m, 3.56 dB
    facts = camera("ethernet-1g")
    lines = lines_of("ethernet-fibre", "local", "om3", 400, facts=facts, joints=Joints(good=2))
    loss = line_of(lines, "fibre loss")
    assert (loss.value, loss.limit) == (pytest.approx(0.4 * 3.0 + 2 * 0.75 + 2 * 0.3), 3.56)
    assert line_of(lines, "fibre reach").limit == 550
    om1 = lines_of("ethernet-fibre", "local", "om1", 280, facts=facts)
    assert line_of(om1, "fibre reach").verdict is Verdict.OUTSIDE  # 275 m on 200 MHz·km
    bad = lines_of("ethernet-fibre", "local", "om3", 100, facts=facts, joints=Joints(bad_or_unknown=1))
    assert verdict_of(bad) is Verdict.VERIFY


@pytest.mark.parametrize(("length_m", "verdict"), [(60, Verdict.WITHIN), (71, Verdict.OUTSIDE)])
def test_copper_clad_aluminium_has_a_length_of_its_own(length_m, verdict):
    # about 70 m: common practice, no source
    lines = lines_of("ethernet", "local", "cca-utp", length_m, facts=camera("ethernet-100m"))
    assert verdict_of(lines) is verdict


# Profiles and states in words


@pytest.mark.parametrize("profile", ["cautious", "typical"])
def test_a_link_between_the_two_profiles_says_so(profile):
    lines = lines_of("coax-local", "local", "rg59-cu", 250, profile=profile)
    assert verdict_of(lines) is (Verdict.OUTSIDE if profile == "cautious" else Verdict.WITHIN)
    note = "passes the typical reach of 305 m, fails the cautious one of 229 m"
    assert profile_note(lines) == note
    informing = next(line for line in lines if line.quantity == "reach" and line.informs)
    assert informing.text == note


@pytest.mark.parametrize("length_m", [200, 400])
def test_a_link_on_which_the_profiles_agree_says_nothing(length_m):
    assert profile_note(lines_of("coax-local", "local", "rg59-cu", length_m)) == ""


@pytest.mark.parametrize(
    ("length_m", "facts", "words"),
    [
        (30, camera(), "within limits by day and at night"),
        (80, camera(), "within limits by day, outside limits at night (volts 8.46 V against 10.8 V)"),
        (90, camera(load_night_w=15.0), "within limits by day, no working point at night"),
        (300, camera(load_w=NAN, load_night_w=NAN),
         "feed to be verified by day and at night (the load is not known)"),
    ],
)  # fmt: skip
def test_the_words_name_the_state_that_fails(length_m, facts, words):
    lines = lines_of("coax-power-pair", "dc12", "rg59-cu", length_m, "power-2x1.0", facts)
    assert states_in_words(lines) == words


def test_a_camera_fed_where_it_stands_has_no_states():
    assert states_in_words(lines_of("coax-local", "local", "rg59-cu", 100)) == ""


# What end equipment does to a feed


def test_feeds_at_items():
    items = CATALOGUE.items
    assert feed_through(items["balun-passive"], "coax-dc") == "shorts"  # a winding is a short for DC
    assert feed_through(items["repeater-coax"], "coax-dc") == "blocks"
    assert feed_through(items["coax-power-inserter"], "coax-dc") == "passes"
    assert feed_through(items["isolator-ethernet"], "poe1") == "blocks"
    assert feed_through(items["protector-ethernet"], "poe4") == "passes"


def test_every_method_passes_its_own_feeds():
    assert blocked_feeds(CATALOGUE) == []


def test_a_method_whose_item_stops_its_feed_is_a_problem():
    method = replace(CATALOGUE.methods["coax-powered"], at_head=("protector-coax",))
    (problem,) = blocked_feeds(replace(CATALOGUE, methods={method.id: method}))
    assert (problem.id, problem.value) == ("coax-powered", "shorts coax-dc")


def every_variant():
    for method in CATALOGUE.methods.values():
        for signal in method.signals:
            for feed in method.feeds:
                for cable in method.signal_cables:
                    needs = method.power_cables if method.power_cables and feed != "local" else ("",)
                    yield from ((signal, Variant(method.id, feed, cable, power)) for power in needs)


def test_no_line_of_any_medium_gets_better_with_length():
    rank = {Verdict.WITHIN: 0, Verdict.MARGINAL: 1, Verdict.VERIFY: 2, Verdict.OUTSIDE: 3}
    at = conditions()
    for signal, variant in every_variant():
        ranks = []
        for length_m in (1, 40, 95, 250, 700, 6000, 30_000):
            lines = assess(variant, camera(signal), length_m, at)
            assert lines
            assert all(np.isfinite(x.value) or x.text for x in lines)
            ranks.append(max(rank[x.verdict] for x in lines if not x.informs and x.quantity != "volts max"))
        assert ranks == sorted(ranks), (signal, variant)
