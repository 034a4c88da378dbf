"""How far each method goes: against closed forms, by halving, as page, CSV, JSON and plot."""

import csv
import io
import json
import math

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from estate.catalogue.load import load_catalogue
from estate.cli import main
from estate.errors import InputError
from estate.findings import Verdict
from estate.formulas.dc_feed import greatest_loop_ohm
from estate.formulas.poe import port_power_through_extenders_w
from estate.links.link import BudgetLine
from estate.links.reach import farthest_m, reach_question, reach_row, reach_rows
from estate.links.variants import Variant

CATALOGUE = load_catalogue()[0]


def run(*args):
    return CliRunner().invoke(main, ["reach", *map(str, args)])


def asked(values=None, **names):
    wanted = {key: names.get(key, ()) for key in ("signal", "method", "feed", "cable")}
    return reach_question(wanted, values or {}, CATALOGUE)


def rows(values=None, *, brief=False, **names):
    return reach_rows(asked(values, **names), brief=brief)


def only(values=None, **names):
    (row,) = rows(values, **names)
    return row


# Halving


def length_line(length_m, limit_m, quantity="length"):
    verdict = Verdict.WITHIN if length_m <= limit_m else Verdict.OUTSIDE
    return BudgetLine(quantity, "", length_m, limit_m, "m", 0.0, verdict, "calculated", "")


@given(st.floats(1.0, 50_000))
def test_halving_closes_on_the_limit_from_both_sides(limit_m):
    low, high = farthest_m(lambda m: [length_line(m, limit_m)], 100_000.0)
    assert low <= limit_m < high
    assert high - low <= 1e-6 * high


def test_halving_at_its_ends():
    assert farthest_m(lambda m: [length_line(m, 0.5)], 1000.0) == (0.0, 1.0)
    assert farthest_m(lambda m: [length_line(m, 2000)], 1000.0) == (1000.0, math.inf)
    # the greatest volts fail near the supply and not far from it: no sign that a longer link fails
    low, _ = farthest_m(lambda m: [length_line(m, 70), length_line(100 - m, 50, "volts max")], 1000.0)
    assert low == pytest.approx(70, rel=1e-5)


# Against closed forms and the standards' lengths


@settings(max_examples=25, deadline=None)
@given(st.floats(2, 20), st.sampled_from(["0.5", "1.0", "2.5"]), st.sampled_from([20.0, 50.0]))
def test_a_feed_reaches_as_far_as_the_closed_form_says(load_w, area, ambient_c):
    # V·(Vs - V)/P over the loop of IEC 60228, hot by α = 0.00393 of IEC 60287-1-1
    values = {"load": str(load_w), "load_night": str(load_w), "temperature": str(ambient_c)}
    question = asked(values, method=("coax-power-pair",), feed=("dc12",))
    row = reach_row(question, "composite", Variant("coax-power-pair", "dc12", "rg11-cu", f"power-2x{area}"))
    ohm = CATALOGUE.cables[f"power-2x{area}"].number("conductor_ohm_per_km") * (
        1 + 0.00393 * (ambient_c - 20)
    )
    reach_m = greatest_loop_ohm(12.0, load_w, 10.8) / (2 * ohm) * 1000
    assert row.night.length_m == pytest.approx(min(reach_m, 457), abs=0.11)


@pytest.mark.parametrize(
    ("method", "cable", "reach_m", "stop"),
    [
        ("ethernet", "cat6-utp", 90, "fixed part 90 m"),  # ANSI/TIA-568, ISO/IEC 11801
        ("ethernet-fibre", "om1", 275, "fibre reach 275 m"),  # IEEE 802.3, 1000BASE-SX
        ("ethernet-fibre", "om2", 550, "fibre reach 550 m"),
        ("ethernet-fibre", "os2", 5000, "fibre reach 5000 m"),  # IEEE 802.3, 1000BASE-LX
        ("ethernet-extender", "cat5e-utp", 180, "fixed part 90 m"),
        ("coax-local", "rg59-cu", 229, "trade reach"),  # common practice, no source
    ],
)
def test_lengths_of_standards_and_trade(method, cable, reach_m, stop):
    found = [r for r in rows(method=(method,), cable=(cable,), feed=("local",)) if r.signal != "sdi-hd"]
    assert [(r.day.length_m, r.day.stop) for r in found] == [(reach_m, stop)]


def test_profile_and_temperature_govern():
    assert only({"profile": "typical"}, method=("pair-video",), cable=("cat5e-utp",)).day.length_m == 300
    hot = only({"temperature": "40"}, method=("ethernet",), cable=("cat5e-utp",), feed=("local",))
    assert hot.day.length_m == pytest.approx(90 / 1.08, abs=0.1)  # ANSI/TIA-568-C.2: 0.4 %/K


def test_an_extender_takes_its_own_load_out_of_the_port():
    # 12.95 W is all that IEEE 802.3 type 1 gives: with an extender's 2.5 W on the way the port has too little
    row = only({"load": "3", "load_night": "12.95"}, method=("ethernet-extender",), feed=("poe1",),
               cable=("cat5e-utp",))  # fmt: skip
    assert row.day.length_m == 180
    stretch_m = row.night.length_m / 2
    assert 0 <= stretch_m < 90
    assert row.night.stop == "PoE port power 15.4 W"
    loop_ohm = 93.8 * stretch_m / 1000 + 1.4
    watts = port_power_through_extenders_w(44.0, [loop_ohm, loop_ohm], 12.95, 2.5)
    assert watts > 15.4 - 0.01


# Unknowns


def test_a_blank_night_load_counts_as_the_greatest_listed():
    row = only({"load": "5"}, method=("coax-powered",), cable=("rg6-cu",))
    greatest = only({"load": "20"}, method=("coax-powered",), cable=("rg6-cu",))
    assert row.night.length_m == greatest.day.length_m
    assert row.night.stop == "load not known"


def test_an_unknown_reach_stays_unknown_and_still_tells_what_the_feed_allows():
    row = only(method=("coax-powered",), cable=("rg59-ccs",))
    assert math.isnan(row.day.length_m)
    assert row.legacy
    # (167 + 9) Ω/km of centre and braid, 3.6 W and 0.5 W of the splitter from 24 V to 21.6 V
    assert row.day.known.length_m == pytest.approx(21.6 * 2.4 / 4.1 / 0.176, abs=0.11)
    assert row.day.stop.startswith("at most 71 m: volts")


def test_a_camera_for_12_v_does_not_go_on_24_v():
    (row,) = rows({"volts": "12"}, method=("pair-video-power",), feed=("dc24",), cable=("cat6-utp",))
    assert (row.day.length_m, row.day.stop) == (0.0, "volts max 13.2 V")


# The command


def test_the_page_answers_everything_in_one_screen():
    shown = run()
    assert shown.exit_code == 0
    lines = shown.stdout.splitlines()
    assert len(lines) <= 45
    assert max(map(len, lines)) <= 110
    assert "3.6 W by day, 9.6 W at night" in lines[0]
    for method in CATALOGUE.methods.values():
        assert any(line.split()[:1] == [method.id] for line in lines) or not method.signal_cables
    words = "coax-power-pair rg59-cu + power-2x1.0 dc12 92 volts 10.8 V 34 volts 10.8 V"
    assert words in [" ".join(line.split()) for line in lines]
    assert shown.stdout == run().stdout


def test_cables_that_stand_together_are_told_with_the_least_of_them():
    found = [r for r in rows(method=("pair-video-power",), feed=("dc12",)) if not r.legacy]
    least = min(math.floor(r.day.length_m) for r in found)
    assert least < max(math.floor(r.day.length_m) for r in found)
    (line,) = [x for x in run().stdout.splitlines() if x.startswith("pair-video-power") and "dc12" in x]
    assert line.split()[1:4] == ["cat5e-utp…cat7-sftp", "dc12", str(least)]


def test_csv_and_json_hold_every_method_feed_and_cable():
    table = list(csv.DictReader(io.StringIO(run("--format", "csv").stdout)))
    records = json.loads(run("--format", "json").stdout)
    assert len(table) == len(records)
    for method in CATALOGUE.methods.values():
        found = [r for r in records if r["method"] == method.id]
        assert {r["signal_cable"] for r in found} == set(method.signal_cables)
        if method.signal_cables:
            assert {r["feed"] for r in found} == set(method.feeds)
    assert {
        row["reach_day_m"] for row, r in zip(table, records, strict=True) if r["reach_day_m"] is None
    } == {""}
    assert all(r["stop_night"] and (r["reach_night_m"] is None or r["reach_night_m"] >= 0) for r in records)


def test_every_bad_option_is_named_with_the_nearest_word():
    refused = run("--signal", "compsite", "--cable", "rg59cu", "--method", "coax", "--feed", "dc11", "--load", "-3",
                  "--load-night", "nan", "--volts", "x", "--temperature", "99", "--profile", "typcal")  # fmt: skip
    assert refused.exit_code == 2
    assert refused.stdout == ""
    assert "9 problems" in refused.stderr
    for word in ("'composite'", "'rg59-cu'", "'dc12'", "'typical'", "--load-night", "--temperature"):
        assert word in refused.stderr


@pytest.mark.parametrize(
    "options",
    [
        ("--method", "radio"),
        ("--signal", "sdi-hd", "--cable", "om3"),
        ("--volts", "12", "--volts-min", "13"),
        ("--plot", "plot.gif"),
        ("--plot", "no/such/folder/plot.png"),
        ("--format", "xml"),
    ],
)
def test_what_cannot_be_answered_is_refused(options):
    refused = run(*options)
    assert refused.exit_code == 2
    assert "Traceback" not in refused.stderr


@pytest.mark.parametrize(("ending", "magic"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_plots_are_alike_from_run_to_run(tmp_path, ending, magic):
    drawn = []
    for name in ("a", "b"):
        path = tmp_path / f"{name}.{ending}"
        assert run("--method", "coax-powered", "--plot", path).exit_code == 0
        drawn.append(path.read_bytes())
    assert drawn[0].startswith(magic)
    assert drawn[0] == drawn[1]


def test_a_plot_names_its_curves(tmp_path):
    path = tmp_path / "plot.svg"
    run("--method", "coax-powered", "--method", "ethernet-fibre", "--plot", path)
    text = path.read_text(encoding="utf-8")
    for words in (
        "rg59-cu, coax-powered, composite: 229 m trade reach",
        "om3, ethernet-fibre, ethernet-100m: 550 m fibre reach",
        "rg6-cu, coax-dc, coax-powered",
        "Cable length [m]",
    ):
        assert words in text


def test_bad_questions_are_refused_without_the_command_too():
    with pytest.raises(InputError) as refused:
        asked({"load": "1e9"}, cable=("nothing",))
    assert [p.field for p in refused.value.problems] == ["--cable", "--load"]
