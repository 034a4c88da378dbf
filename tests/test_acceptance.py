"""Pass values of the tests to be made, held against published resistances, losses and worked lengths."""

import re

import pytest

from estate import workflow
from estate.catalogue.load import load_catalogue
from estate.formulas.attenuation import volts_after_loss
from estate.placement.acceptance import NAMES
from estate.settings import BILL_ITEMS
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate


def due_in(folder, toml, points, length_m=80.0, **route):
    routes = [line("A", (0, 0), (length_m, 0), containment="duct", **route)]
    _, _, out = workflow.design(write_estate(folder, toml, routes=routes, points=points))
    return read_csv(out / "tests.csv")


def one(rows, kind, **wanted):
    (row,) = [r for r in rows if r["kind"] == kind and all(r[k] == v for k, v in wanted.items())]
    return row


def test_loss_as_a_ratio_of_volts():
    """20 dB is a tenth, 6.0206 dB a half of the voltage: the decibel's definition."""
    assert volts_after_loss(1.0, 20.0) == pytest.approx(0.1)
    assert volts_after_loss(1.0, 6.0206) == pytest.approx(0.5, abs=1e-5)


def test_every_kind_of_test_is_an_item_of_the_bill():
    assert {f"test-{kind.replace(' ', '-')}" for kind in NAMES} == {
        i for i in BILL_ITEMS if i.startswith("test-")
    }


def test_power_pair_by_night(tmp_path):
    """80 m of 2 × 2.5 mm², 7.98 Ω/km (IEC 60228 class 5): 1.277 Ω; 9.6 W from 12 V leaves 10.873 V.

    V = (12 + √(144 - 4·9.6·1.2768))/2 = 10.873 V, worked by hand.
    """
    toml = LOCAL + EXACT + '[design]\nmethods = ["coax-power-pair"]\ncables = ["rg59-cu", "power-2x2.5"]\n'
    point = camera("C", 80, 0, signal="composite", feeds="dc12", load_w=3.6, load_night_w=9.6, power="none")
    rows = due_in(tmp_path, toml, [point, recorder("R", 0, 0)])
    loop = one(rows, "loop", cable="power-2x2.5")
    assert float(loop["expected"]) == pytest.approx(1.277, abs=0.001)
    assert float(loop["limit"]) == pytest.approx(1.1 * 1.2768, abs=0.001)
    assert loop["relation"] == "at most"
    volts = one(rows, "volts")
    assert (volts["at"], volts["state"], volts["relation"]) == ("camera", "night", "at least")
    assert float(volts["expected"]) == pytest.approx(10.873, abs=0.001)
    assert float(volts["limit"]) == pytest.approx(10.8)
    assert float(one(rows, "volts max")["limit"]) == pytest.approx(13.2)
    assert volts["record"] == "volts_night"


def test_video_level_and_screens_of_composite_on_coax(tmp_path):
    """1 V sent (ITU-R BT.1700); the loss is the link's own line, and dB are a ratio of volts."""
    toml = LOCAL + EXACT + '[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n'
    point = camera("C", 200, 0, signal="composite")
    rows = due_in(tmp_path, toml, [point, recorder("R", 0, 0)], 200.0)
    (link,) = read_csv(tmp_path / "out" / "design" / "links.csv")
    level = one(rows, "video")
    assert (level["expected"], level["limit"], level["record"]) == ("1.0", "0.7", "video_vpp")
    video = one(rows, "video detail")
    assert float(video["expected"]) == pytest.approx(10 ** (-float(link["loss_db"]) / 20), abs=0.002)
    assert float(video["limit"]) == pytest.approx(0.9 * float(video["expected"]), abs=0.002)
    screen = one(rows, "screen")
    assert (screen["limit"], screen["unit"]) == ("200.0", "mV")
    # (33.3 + 8.5) Ω/km of centre and screen over 200 m
    assert float(one(rows, "loop")["expected"]) == pytest.approx(8.36, abs=0.01)


def test_a_level_that_is_not_published_is_not_made_up(tmp_path):
    toml = LOCAL + EXACT + '[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n'
    rows = due_in(tmp_path, toml, [camera("C", 80, 0, signal="analogue-1080p"), recorder("R", 0, 0)])
    video = one(rows, "video")
    assert (video["expected"], video["limit"]) == ("", "")
    assert "analogue-1080p" in video["text"]


def test_fixed_part_of_ethernet(tmp_path):
    """90 m of fixed part (ISO/IEC 11801, ANSI/TIA-568); a pair of Category 6 out and back."""
    toml = LOCAL + EXACT + '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
    rows = due_in(tmp_path, toml, [camera("C", 80, 0), recorder("R", 0, 0)])
    fixed = one(rows, "fixed part")
    assert (float(fixed["expected"]), float(fixed["limit"])) == (80, 90)
    per_km = load_catalogue()[0].cables["cat6-utp"].number("conductor_ohm_per_km")
    assert float(one(rows, "loop")["expected"]) == pytest.approx(2 * per_km * 0.08, abs=0.001)
    assert not [r for r in rows if r["kind"] in ("screen", "volts", "video")]


def test_fibre_both_ways_at_each_wavelength(tmp_path):
    """OM3: 3.0 dB/km at 850 nm, 1.5 at 1300 nm, 0.75 dB a connector (ANSI/TIA-568.3): 80 m 1.74 and 1.62 dB."""
    toml = LOCAL + EXACT + '[design]\nmethods = ["ethernet-fibre"]\ncables = ["om3"]\n'
    rows = due_in(tmp_path, toml, [camera("C", 80, 0), recorder("R", 0, 0)])
    found = {(r["state"], r["at"]): float(r["limit"]) for r in rows if r["kind"] == "fibre loss"}
    assert set(found.values()) == {1.74, 1.62}
    assert len(found) == 4
    assert {state for state, _ in found} == {"850 nm", "1300 nm"}
    assert len([r for r in rows if r["kind"] == "trace"]) == 1
    assert not [r for r in rows if r["kind"] in ("loop", "screen")]


def test_every_cable_is_labelled_and_every_test_says_where_its_limit_is_from(tmp_path):
    toml = LOCAL + '[design]\nmethods = ["coax-power-pair"]\n'
    points = [
        *(camera(f"C{n}", 20 * n, 0, signal="composite", feeds="dc12", load_w=3, load_night_w=4, power="none") for n in (1, 2, 3)),
        recorder("R", 0, 0),
    ]  # fmt: skip
    rows = due_in(tmp_path, toml, points)
    numbers = [r["number"] for r in read_csv(tmp_path / "out" / "design" / "runs.csv")]
    assert sorted(r["number"] for r in rows if r["kind"] == "labels") == sorted(numbers)
    assert all(r["source"] for r in rows if r["limit"])
    assert [r["test"] for r in rows] == [f"A{n}" for n in range(1, len(rows) + 1)]
    assert all(
        re.fullmatch(r"loop_ohm|volts_day|volts_night|video_vpp|screen_mv|", r["record"]) for r in rows
    )
