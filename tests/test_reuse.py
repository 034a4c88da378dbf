"""Reuse of coax and pair for network cameras. The field order (one piece, no tees, copper, tested with the converters) is
common practice, no source; reaches are the catalogue's: coax 300 m cautious, 500 m typical, 50 m less for each joint."""

import numpy as np
import pytest

from estate.audit.reuse import Can, reuse_verdicts
from tests.estates import camera, line, recorder
from tests.installed_cases import cable, checked


def verdict_of(folder, kind, profile="cautious", power="unswitched", **more):
    each = checked(
        folder, f'[limits]\nprofile = "{profile}"\n', [line("A", (0, 0), (60, 0))],
        [recorder("R", 0, 0, status="existing"), camera("C", 60, 0, signal="composite", power=power)],
        cables=[{**cable("K", "C", kind), "tees": 0, **more}],
    )  # fmt: skip
    found = reuse_verdicts(each.survey, each.network, each.catalogue)
    return found[0] if found else None


@pytest.mark.parametrize(
    ("kind", "more", "can", "words"),
    [
        ("rg59-cu", {"length_m": 180, "joints": 1}, Can.YES, "180 m within the reach of 250 m"),
        ("rg59-cu", {"length_m": 180, "tees": 1}, Can.AFTER, "not until its 1 tee is out"),
        ("rg59-cu", {"length_m": 180, "tees": ""}, Can.VERIFY, "whether it has tees is not known"),
        ("rg59-cu", {"length_m": 251, "joints": 1}, Can.VERIFY, "within one of 450 m"),
        ("rg59-cu", {"length_m": 451, "joints": 1}, Can.NO, "beyond the reach of 450 m with 1 joint"),
        ("rg59-cu", {"length_m": 50, "joints": ""}, Can.YES, "50 m within"),
        ("rg59-cu", {"length_m": 51, "joints": ""}, Can.VERIFY, "how many it has is not known"),
        ("rg59-cu", {"status": "dead"}, Can.NO, "it is dead"),
        ("rg59-cu", {"camera": ""}, Can.NO, "a shared run"),
        ("rg59-cu", {"condition": "aluminium braid"}, Can.NO, "aluminium screen: replace"),
        ("rg59-cu", {"condition": "marked CCA"}, Can.VERIFY, "speaks of CCA"),
        ("rg59-cu", {"method": "coax-powered"}, Can.AFTER, "inserter and splitter come out"),
        ("rg59-ccs", {}, Can.NO, "copper-clad steel"),
        ("cca-utp", {}, Can.NO, "copper-clad aluminium"),
        ("unknown", {"length_m": 100}, Can.VERIFY, "its type is not known"),
        ("cat5e-utp", {"length_m": 90}, Can.YES, "90 m within the reach of 90 m"),
        ("cat5e-utp", {"length_m": 91}, Can.YES, "91 m within the reach of 1000 m"),
        ("cat5e-utp", {"length_m": 1001}, Can.NO, "beyond the reach of 1000 m"),
        ("cat5e-utp", {"joints": 1}, Can.AFTER, "joint is made good"),
    ],
)  # fmt: skip
def test_verdict_and_why(tmp_path, kind, more, can, words):
    found = verdict_of(tmp_path, kind, **more)
    assert found.can is can
    assert words in found.why


def test_the_converter_test_is_always_asked_for_and_power_is_apart(tmp_path):
    found = verdict_of(tmp_path, "rg59-cu", length_m=180, power="none")
    assert "converter pair" in found.test
    assert "separate, shorter limit" in found.power
    assert found.mbps == 1000
    assert (
        verdict_of(tmp_path / "on", "rg59-cu", length_m=180).power == "there is power where the camera stands"
    )


def test_a_long_pair_carries_10_mbps_by_one_pair(tmp_path):
    """10BASE-T1L, IEEE 802.3cg: 10 Mb/s to 1,000 m, second hand."""
    found = verdict_of(tmp_path, "cat5e-utp", length_m=400)
    assert (found.method, found.mbps) == ("ethernet-single-pair", 10)


def test_the_typical_profile_takes_its_own_reach(tmp_path):
    assert verdict_of(tmp_path, "rg59-cu", profile="typical", length_m=451, joints=0).can is Can.YES


def test_without_a_measured_length_that_of_the_way_counts(tmp_path):
    assert verdict_of(tmp_path, "rg59-cu").length_m == 60
    assert np.isnan(verdict_of(tmp_path / "u", "unknown").length_m)


def test_power_cables_and_fibre_are_no_matter(tmp_path):
    assert verdict_of(tmp_path, "power-2x1.0") is None
    assert verdict_of(tmp_path / "f", "om3") is None
