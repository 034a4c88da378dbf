"""Conductors: what each carries, where it ends, what is wrong with it, and the table of terminations."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate.catalogue.load import load_catalogue
from estate.errors import InputError
from estate.findings import Verdict
from estate.formulas.dc_feed import loop_resistance_ohm, volts_at_load
from estate.links.conductor_faults import (
    conductor_findings,
    pair_on_one_pole,
    plug_fault,
    spare_pair_power,
    split_pair,
)
from estate.links.conductors import (
    PURPOSES,
    colour_code,
    conductor_problems,
    conductor_use,
    end_termination,
    plug_order,
    terminal,
)
from estate.links.link import CableRun, Link
from estate.output.tables import COLUMNS
from estate.output.terminations import terminations_table

CATALOGUE, _ = load_catalogue()
CODE = colour_code(CATALOGUE)
NODES = ("R1", "C1")
NUMBERS = [f"K{n}" for n in range(1, 10)]

# ANSI/TIA-568, orders T568A and T568B and pair numbers, as public equipment guides print them (W-G: white-green)
T568A = ["white-green", "green", "white-orange", "blue", "white-blue", "orange", "white-brown", "brown"]
T568B = ["white-orange", "orange", "white-green", "blue", "white-blue", "green", "white-brown", "brown"]
PRINTED_PAIRS = {"t568a": [3, 3, 2, 1, 1, 2, 4, 4], "t568b": [2, 2, 3, 1, 1, 3, 4, 4]}
PAIR_METHODS = [
    m
    for m in CATALOGUE.methods.values()
    if any(CATALOGUE.cables[c].family == "pair" for c in m.signal_cables)
]
FED = [(m, f, c) for m in PAIR_METHODS for f in m.feeds for c in m.signal_cables]


def with_overlay(**tables):
    catalogue, problems = load_catalogue(tables)
    assert problems == []
    return catalogue


def uses(method, cable, feed, catalogue=CATALOGUE):
    found = conductor_use(
        catalogue.methods[method], catalogue.cables[cable], catalogue.feeds.get(feed), catalogue
    )
    return {use.conductor: use.purpose for use in found}


def link(method, feed, *cables, id_="L-C1"):
    runs = tuple(
        CableRun(
            "power" if CATALOGUE.cables[c].family == "power" else "signal", c, 50.0, 60.0, 66.0, method, feed,
            (0, 1), (0,), CATALOGUE.methods[method].at_head, CATALOGUE.methods[method].at_camera,
        )
        for c in cables
    )  # fmt: skip
    return Link(
        id=id_, kind="camera", camera="C1", head="R1", recorder="R1", method=method, feed=feed, port="analogue",
        runs=runs, nodes=(0, 1), segments=(0,), length_m=50.0, cable_length_m=60.0, equipment=(), lines=(),
        verdict=Verdict.WITHIN, limiting="",
    )  # fmt: skip


def ends(*links, catalogue=CATALOGUE):
    """Rows as tuples without the link, by end."""
    found = {"camera": [], "head": []}
    for row in terminations_table(links, catalogue, NODES, NUMBERS).rows:
        found[row[1]].append(row[2:-1])
    return found


# Colours and orders


@pytest.mark.parametrize(("order", "printed"), [("t568a", T568A), ("t568b", T568B)])
def test_plug_orders_are_the_printed_ones(order, printed):
    assert list(CODE.orders[order]) == printed
    assert [CODE.pair(colour) for colour in printed] == PRINTED_PAIRS[order]
    assert [CODE.position(colour, order) for colour in printed] == list(range(1, 9))


@pytest.mark.parametrize("order", ["t568a", "t568b"])
def test_poe_modes_are_on_the_positions_of_ieee_802_3(order):
    # IEEE 802.3, alternative A on positions 1, 2, 3, 6 and alternative B on 4, 5, 7, 8
    colours = CODE.orders[order]
    rules = CATALOGUE.rules["conductors"]
    assert {CODE.pair(colours[n - 1]) for n in (1, 2, 3, 6)} == set(rules["poe_mode_a_pairs"].value)
    assert {CODE.pair(colours[n - 1]) for n in (4, 5, 7, 8)} == set(rules["poe_mode_b_pairs"].value)


def test_a_colour_code_that_is_not_whole_is_named():
    wrong = with_overlay(rules={"conductors": {"t568a": ["green"] * 8, "pair_4": ["brown"]}})
    with pytest.raises(InputError) as caught:
        colour_code(wrong)
    told = str(caught.value)
    assert "pair_4" in told
    assert "t568a" in told


# What each method does with its conductors


def test_video_on_one_pair():
    for method in ("pair-video", "pair-active"):
        assert uses(method, "cat5e-utp", "local") == {
            "white-blue": "video +", "blue": "video −", "white-orange": "spare", "orange": "spare",
            "white-green": "spare", "green": "spare", "white-brown": "spare", "brown": "spare",
        }  # fmt: skip


def test_video_on_one_pair_and_power_on_three():
    assert uses("pair-video-power", "cat6-utp", "dc12") == {
        "white-blue": "video +", "blue": "video −", "white-orange": "power +", "orange": "power −",
        "white-green": "power +", "green": "power −", "white-brown": "power +", "brown": "power −",
    }  # fmt: skip


def test_alternating_current_has_no_plus():
    found = uses("pair-video-power", "cat6-utp", "ac24")
    assert found["white-orange"] == "power ~1"
    assert found["brown"] == "power ~2"
    assert not {"power +", "power −"} & set(found.values())


def test_power_without_a_known_feed_has_no_pole():
    assert uses("pair-video-power", "cat6-utp", "")["orange"] == "power"
    rows = ends(link("pair-video-power", "", "cat6-utp"))["head"]
    assert [row[2] for row in rows] == ["V+", "V−"] + [""] * 6
    assert [row[4] for row in rows] == [6.0, 6.0] + [None] * 6


def test_ethernet_goes_straight_through_and_tells_the_powered_pairs():
    assert set(uses("ethernet", "cat5e-utp", "local").values()) == {"data"}
    two_pairs = uses("ethernet", "cat5e-utp", "poe2")
    assert {c for c, what in two_pairs.items() if what == "data; power in mode A"} == {
        "white-orange", "orange", "white-green", "green",
    }  # fmt: skip
    assert {c for c, what in two_pairs.items() if what == "data; power in mode B"} == {
        "white-blue", "blue", "white-brown", "brown",
    }  # fmt: skip
    assert set(uses("ethernet", "cat5e-utp", "poe4").values()) == {"data and power"}


def test_single_pair_ethernet_takes_the_first_pair():
    found = uses("ethernet-single-pair", "cat5e-utp", "local")
    assert {c: what for c, what in found.items() if what != "spare"} == {
        "white-blue": "data +",
        "blue": "data −",
    }


def test_coax():
    assert uses("coax-local", "rg59-cu", "local") == {"centre": "video", "screen": "video return"}
    assert uses("coax-powered", "rg6-cu", "coax-dc") == {
        "centre": "video and power +",
        "screen": "video return and power −",
    }
    assert uses("ethernet-coax", "rg59-cu", "local") == {"centre": "data", "screen": "data return"}


def test_power_pair_beside_coax():
    assert uses("coax-power-pair", "power-2x1.0", "dc12") == {"1": "power +", "2": "power −"}
    assert uses("coax-power-pair", "power-2x1.0", "ac24") == {"1": "power ~1", "2": "power ~2"}
    assert uses("coax-power-pair", "rg59-cu", "dc12") == {"centre": "video", "screen": "video return"}


@pytest.mark.parametrize(("method", "feed", "cable"), FED)
def test_conductors_in_use_are_those_that_the_method_counts(method, feed, cable):
    found = conductor_use(method, CATALOGUE.cables[cable], CATALOGUE.feeds[feed], CATALOGUE)
    purposes = [use.purpose for use in found]
    assert len(found) == len({use.conductor for use in found}) == 8
    assert purposes.count("power +") + purposes.count("power ~1") == method.power_out
    assert purposes.count("power −") + purposes.count("power ~2") == method.power_back
    assert purposes.count("video +") == purposes.count("video −") == method.video_pairs
    data = sum(what.startswith("data") for what in purposes)
    assert data == 2 * (method.number("data_pairs") if "data_pairs" in method.figures else 0)
    assert set(purposes) <= set(PURPOSES)
    plan = {use.conductor: use.purpose for use in found}
    assert split_pair(plan, CATALOGUE) == pair_on_one_pole(plan, CATALOGUE) == ""


@given(video=st.integers(0, 2), out=st.integers(0, 5), back=st.integers(0, 5))
def test_any_count_uses_each_conductor_once_or_is_refused(video, out, back):
    method = replace(
        CATALOGUE.methods["pair-video-power"], video_pairs=video, power_out=out, power_back=back if out else 0
    )
    wanted = method.power_out + method.power_back
    args = (method, CATALOGUE.cables["cat5e-utp"], CATALOGUE.feeds["dc24"], CATALOGUE)
    if wanted > 8 - 2 * video:
        with pytest.raises(InputError, match="pair-video-power"):
            conductor_use(*args)
        return
    purposes = [use.purpose for use in conductor_use(*args)]
    counted = [purposes.count(what) for what in ("video +", "video −", "power +", "power −", "spare")]
    assert counted == [video, video, method.power_out, method.power_back, 8 - 2 * video - wanted]


def test_two_out_and_one_back_stay_in_the_pairs_after_the_video():
    method = replace(CATALOGUE.methods["pair-video-power"], power_out=2, power_back=1)
    found = conductor_use(method, CATALOGUE.cables["cat5e-utp"], CATALOGUE.feeds["dc12"], CATALOGUE)
    powered = {use.conductor: use.purpose for use in found if use.purpose.startswith("power")}
    assert powered == {"white-orange": "power +", "white-green": "power +", "orange": "power −"}


def test_counted_conductors_give_the_loop_of_the_feed():
    # ANSI/TIA-568: a conductor of at most 9.38 Ω per 100 m. Three out and three back over 150 m: 9.38 Ω of loop,
    # on which 1.38 W leave 10.8 V of 12 V by Ohm's law
    purposes = list(uses("pair-video-power", "cat5e-utp", "dc12").values())
    loop = loop_resistance_ohm(93.8, 150, purposes.count("power +"), purposes.count("power −"))
    assert loop == pytest.approx(9.38)
    assert volts_at_load(12.0, 1.38, loop) == pytest.approx(10.8, abs=0.005)


def test_the_packaged_catalogue_has_conductors_enough():
    assert conductor_problems(CATALOGUE) == []


def test_a_method_that_wants_too_many_is_named_once_before_any_run():
    greedy = with_overlay(
        methods={"pair-video-power": {"power_out": 4}},
        cables={"cat5e-utp": {"pairs": 2}, "power-2x1.0": {"cores": 1}},
    )
    told = [str(problem) for problem in conductor_problems(greedy)]
    assert len(told) == len(set(told))
    assert any("pair-video-power" in line and "cat6-utp" in line for line in told)
    assert any("(ethernet)" in line and "cat5e-utp" in line for line in told)
    assert any("coax-power-pair" in line and "power-2x1.0" in line for line in told)


def test_data_on_two_pairs_takes_those_of_positions_1_2_3_and_6():
    # IEEE 802.3, 100BASE-TX: positions 1, 2 and 3, 6; power on the others is then apart from the data
    spare_fed = with_overlay(
        methods={"pair-video-power": {"video_pairs": 0, "power_out": 2, "power_back": 2, "data_pairs": 2}}
    )
    found = uses("pair-video-power", "cat5e-utp", "dc24", spare_fed)
    assert {CODE.position(c, "t568b") for c, what in found.items() if what == "data"} == {1, 2, 3, 6}
    assert {CODE.position(c, "t568b") for c, what in found.items() if what.startswith("power")} == {
        4,
        5,
        7,
        8,
    }


@pytest.mark.parametrize(
    ("video", "data", "enough"), [(1, 1, True), (1, 3, True), (1, 4, False), (0, 5, False)]
)
def test_video_and_data_share_four_pairs_or_are_refused(video, data, enough):
    mixed = with_overlay(methods={"pair-video": {"video_pairs": video, "data_pairs": data}})
    assert bool(conductor_problems(mixed)) != enough
    if enough:
        found = list(uses("pair-video", "cat5e-utp", "local", mixed).values())
        assert sum(what.startswith("data") for what in found) == 2 * data


def test_a_cable_of_unknown_make_up_has_no_conductors():
    for cable, what in (("cat5e-utp", {"pairs": 0}), ("power-2x1.0", {"cores": 0})):
        catalogue = with_overlay(cables={cable: what})
        assert uses("coax-power-pair", cable, "dc12", catalogue) == {}


# Terminations


def test_rows_of_a_video_and_power_link():
    wanted = [
        ("white-blue", 1, "V+", "video +", 6.0),
        ("blue", 1, "V−", "video −", 6.0),
        ("white-orange", 2, "P+", "power +", 6.0),
        ("orange", 2, "P−", "power −", 6.0),
        ("white-green", 3, "P+", "power +", 6.0),
        ("green", 3, "P−", "power −", 6.0),
        ("white-brown", 4, "P+", "power +", 6.0),
        ("brown", 4, "P−", "power −", 6.0),
    ]
    assert ends(link("pair-video-power", "dc12", "cat5e-utp")) == {"camera": wanted, "head": wanted}


@pytest.mark.parametrize(("order", "printed"), [("t568a", T568A), ("t568b", T568B)])
def test_rows_of_an_ethernet_link_in_both_orders(order, printed):
    catalogue = with_overlay(methods={"ethernet": {"plug_order": order}})
    wanted = [
        (colour, pair, str(n), "data and power", None)
        for n, (colour, pair) in enumerate(zip(printed, PRINTED_PAIRS[order], strict=True), 1)
    ]
    found = ends(link("ethernet", "poe3", "cat6-utp"), catalogue=catalogue)
    assert found == {"camera": wanted, "head": wanted}


@pytest.mark.parametrize("order", ["t568a", "t568b"])
def test_combined_balun_with_plugs_has_the_same_purposes_in_both_orders(order):
    catalogue = with_overlay(
        items={"balun-video-power": {"termination": "plug"}},
        methods={"pair-video-power": {"plug_order": order}},
    )
    rows = ends(link("pair-video-power", "dc12", "cat5e-utp"), catalogue=catalogue)["head"]
    assert [(row[2], row[3]) for row in rows] == [
        ("1", "power +"), ("2", "power −"), ("3", "power +"), ("4", "video −"),
        ("5", "video +"), ("6", "power −"), ("7", "power +"), ("8", "power −"),
    ]  # fmt: skip
    assert {row[4] for row in rows} == {None}


def test_rows_of_coax_with_its_power_pair():
    wanted = [
        ("centre", None, "centre", "video", None),
        ("screen", None, "screen", "video return", None),
        ("1", None, "P+", "power +", 6.0),
        ("2", None, "P−", "power −", 6.0),
    ]
    assert ends(link("coax-power-pair", "dc12", "rg59-cu", "power-2x1.0")) == {
        "camera": wanted,
        "head": wanted,
    }


def test_spare_conductors_are_listed_without_a_terminal():
    rows = ends(link("pair-video", "local", "cat5e-utp"))["camera"]
    assert rows[0] == ("white-blue", 1, "V+", "video +", 6.0)
    assert [row[2:] for row in rows[2:]] == [("", "spare", None)] * 6


def test_single_pair_rows():
    rows = ends(link("ethernet-single-pair", "local", "cat6-utp"))["head"]
    assert [row[2] for row in rows] == ["D+", "D−"] + [""] * 6


def test_fibre_radio_and_a_camera_without_a_link_have_no_rows():
    nothing = terminations_table(
        [link("ethernet-fibre", "local", "os2"), link("radio", "local"), link("", "")],
        CATALOGUE,
        NODES,
        NUMBERS,
    )
    assert nothing.columns == COLUMNS["terminations"]
    assert nothing.rows == ()


def test_links_stay_in_their_order():
    pair = [link("pair-video", "local", "cat5e-utp", id_=i) for i in ("L-2", "L-1")]
    found = terminations_table(pair, CATALOGUE, NODES, NUMBERS)
    assert found.column("link") == ["L-2"] * 16 + ["L-1"] * 16
    assert found.column("end") == (["camera"] * 8 + ["head"] * 8) * 2
    assert found.column("number") == ["K1"] * 16 + ["K2"] * 16


@pytest.mark.parametrize("method", CATALOGUE.methods.values(), ids=lambda m: m.id)
def test_both_ends_agree_conductor_by_conductor(method):
    for feed in method.feeds:
        for cable in method.signal_cables:
            if CATALOGUE.cables[cable].family == "fibre":
                continue
            found = ends(link(method.id, feed, cable, *method.power_cables[:1]))
            assert found["camera"] == found["head"] != []
            assert len({row[0] for row in found["head"]}) == len(found["head"])


def test_every_pair_method_knows_how_its_ends_are_made():
    for method in PAIR_METHODS:
        for items in (method.at_camera, method.at_head):
            how = end_termination(items, CATALOGUE)
            assert how == "screw" or (how == "plug" and plug_order(method))


def test_an_end_of_unknown_make_has_no_terminals():
    found = conductor_use(
        CATALOGUE.methods["pair-video"], CATALOGUE.cables["cat5e-utp"], CATALOGUE.feeds["local"], CATALOGUE
    )
    assert {terminal(use, end_termination((), CATALOGUE), "t568b", CODE) for use in found} == {""}
    assert {terminal(use, "plug", "", CODE) for use in found} == {""}


def test_strip_length_is_the_top_of_the_usual_range():
    # 5 to 6 mm for a screw terminal: common practice, no source
    rules = CATALOGUE.rules["conductors"]
    assert (rules["strip_least_mm"].value, rules["strip_mm"].value) == (5, 6)
    assert rules["strip_mm"].status == "common_practice"


# What can be wrong

RIGHT = {"white-blue": "video +", "blue": "video −"}
SPLIT = {"white-blue": "video +", "white-orange": "video −"}
DOUBLED = {"white-blue": "video +", "blue": "video +", "white-orange": "video −", "orange": "video −"}
ONE_POLE = {"white-green": "video −", "green": "video −"}
POWER = {"white-orange": "power +", "orange": "power +", "white-green": "power −", "green": "power −"}


@pytest.mark.parametrize(
    ("use", "split", "one_pole"),
    [
        (RIGHT, False, False),
        ({"white-blue": "video −", "blue": "video +"}, False, False),
        (SPLIT, True, False),
        (SPLIT | {"blue": "power +", "orange": "power −"}, True, False),
        (ONE_POLE, False, True),
        (DOUBLED, True, True),
        (POWER, False, False),
        (RIGHT | POWER, False, False),
        ({}, False, False),
    ],
)
def test_split_pair_and_one_pole_are_two_matters(use, split, one_pole):
    assert bool(split_pair(use, CATALOGUE)) == split
    assert bool(pair_on_one_pole(use, CATALOGUE)) == one_pole
    assert len(conductor_findings(use, "L-C1", "C1", CATALOGUE)) == split + one_pole


def test_findings_name_the_conductors_and_the_cure():
    split, one_pole = conductor_findings(DOUBLED, "L-C1", "C1", CATALOGUE)
    assert "pairs 1 and 2" in split.text
    assert "white-orange (pair 2) video −" in split.text
    assert "pair 1 video +, pair 2 video −" in one_pole.text
    assert "right for power" in one_pole.text
    for finding in (split, one_pole):
        assert (finding.severity, finding.subject, finding.cameras) == ("fault", "L-C1", ("C1",))
        assert "power off" in finding.remedy
        assert "white-blue video +, blue video −" in finding.remedy


@given(st.dictionaries(st.sampled_from(T568B), st.sampled_from(PURPOSES)))
def test_against_the_plain_rules(use):
    printed = dict(zip(T568B, PRINTED_PAIRS["t568b"], strict=True))
    video = [(printed[c], what) for c, what in use.items() if what.startswith("video")]
    assert bool(split_pair(use, CATALOGUE)) == (len({pair for pair, _ in video}) > 1)
    assert bool(pair_on_one_pole(use, CATALOGUE)) == (len(set(video)) < len(video))


def test_an_unknown_conductor_or_purpose_is_refused_with_every_problem():
    with pytest.raises(InputError) as caught:
        split_pair({"wite-blue": "video +", "blue": "vidoe −", "green": "spare"}, CATALOGUE)
    told = str(caught.value)
    assert "did you mean 'white-blue'?" in told
    assert "did you mean 'video −'?" in told
    assert len(caught.value.problems) == 2


@pytest.mark.parametrize(
    ("signal", "feed", "words"),
    [
        # IEEE 802.3: 1000BASE-T takes all four pairs, 100BASE-TX two
        ("ethernet-1g", None, "takes all 4"),
        ("ethernet-1g", "poe1", "port"),
        ("ethernet-100m", None, ""),
        ("ethernet-100m", "local", ""),
        ("ethernet-100m", "dc12", ""),
        *[("ethernet-100m", poe, "port's own supply") for poe in ("poe1", "poe2", "poe3", "poe4")],
        ("composite", None, ""),
        ("composite", "poe2", "port's own supply"),
        ("sdi-hd", None, "not known"),
    ],
)
def test_power_on_spare_pairs(signal, feed, words):
    found = spare_pair_power(CATALOGUE.signals[signal], CATALOGUE.feeds.get(feed))
    assert words in found
    assert bool(found) == bool(words)


@pytest.mark.parametrize(("order", "held"), [("t568a", T568A), ("t568b", T568B)])
def test_a_right_plug_has_no_fault(order, held):
    assert plug_fault(held, order, CATALOGUE) == ""


@pytest.mark.parametrize(
    ("held", "words"),
    [
        (T568A, "the plug is T568A, not T568B"),
        (T568B[::-1], "the wrong way round"),
        # pairs side by side, the usual mistake: 3 and 6 then belong to two pairs
        (
            ["white-orange", "orange", "white-green", "green", "white-blue", "blue", "white-brown", "brown"],
            "split pair: positions 3 and 6, 4 and 5",
        ),
        (["orange", "white-orange", *T568B[2:]], "wrong in positions 1 and 2"),
        ([*T568B[:7], ""], "wrong in position 8"),
        (T568B[:6], "wrong in positions 7 and 8"),
        ([*T568B, "brown"], "more than 8 positions"),
    ],
)
def test_a_wrong_plug_and_its_cure(held, words):
    told = plug_fault(held, "t568b", CATALOGUE)
    assert words in told
    assert told.endswith("in order T568B: " + "; ".join(f"{n} {c}" for n, c in enumerate(T568B, 1)))


@given(st.permutations(T568B))
def test_every_other_order_is_a_fault(held):
    assert bool(plug_fault(held, "t568b", CATALOGUE)) == (list(held) != T568B)
