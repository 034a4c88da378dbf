"""What containment holds: listed cables, those not listed, what a design adds; per kind of containment."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.findings import Verdict
from estate.installed.fill import containment_of, fill_of, limit_percent, section_mm2
from estate.placement.fill_findings import most_alike
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

GLASS = '[design]\nmethods = ["ethernet-fibre"]\ncables = ["os2"]\n'
LENGTH_M = 60


def read(folder, routes, points=None, cables=()):
    """The containment of a small estate as read from disk."""
    points = points or [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    layers = {"routes": routes, "points": points} | ({"cables": list(cables)} if cables else {})
    given_estate = workflow.prepare(write_estate(folder, LOCAL + EXACT, **layers))
    return containment_of(given_estate.survey, given_estate.catalogue, given_estate.network)


def duct(**more):
    return line("A", (0, 0), (LENGTH_M, 0), **{"containment": "duct", "fill_percent": 0, **more})


def coax(n, **more):
    return {
        "id": f"K{n}",
        "from": "C",
        "to": "R",
        "cable": "rg59-cu",
        "status": "in_use",
        "routes": "A",
        **more,
    }


def designed(folder, routes, points, cables=(), toml=GLASS):
    layers = {"routes": routes, "points": points} | ({"cables": list(cables)} if cables else {})
    return workflow.design(write_estate(folder, LOCAL + EXACT + toml, **layers))[0]


# The worked numbers: NEC chapter 9 table 1, as quoted by public texts: 53, 31, 40 %


@pytest.mark.parametrize(("bore_mm", "filled", "fit"), [(25, 48.4, 6), (22, 62.5, 5)])
def test_eight_coax_in_a_bore(tmp_path, bore_mm, filled, fit):
    found = read(tmp_path, [duct(bore_mm=bore_mm)], cables=[coax(n) for n in range(8)])
    fill = fill_of(found, 0)
    assert fill.percent == pytest.approx(filled, abs=0.06)
    assert (fill.limit_percent, fill.verdict) == (40, Verdict.OUTSIDE)
    assert most_alike(found, 0, "rg59-cu") == fit


def test_five_dead_cables_recovered_make_room_for_a_fibre(tmp_path):
    cables = [coax(n, status="dead" if n < 5 else "in_use") for n in range(8)]
    found = read(tmp_path, [duct(bore_mm=25)], cables=cables)
    dead = frozenset(f"K{n}" for n in range(5))
    fill = fill_of(found, 0, {"os2": 1}, dead)
    assert fill.percent == pytest.approx(33, abs=0.5)
    assert (fill.cables, fill.limit_percent, fill.verdict) == (4, 40, Verdict.WITHIN)
    assert fill_of(found, 0, {"os2": 1}).verdict is Verdict.OUTSIDE


# By kind


def test_limits_by_kind(tmp_path):
    kinds = ["duct", "conduit", "trunking", "tray", "basket", "buried", "catenary", "surface", ""]
    routes = [line(f"A{k}", (0, k), (9, k), containment=kind) for k, kind in enumerate(kinds)]
    found = read(tmp_path, routes, points=[recorder("R", 0, 0), camera("C", 9, 0)])
    by_kind = {found.kind(s): [limit_percent(found, s, n) for n in (1, 2, 3, 9)] for s in range(len(kinds))}
    round_ones = [53, 31, 40, 40]
    assert by_kind["duct"] == by_kind["conduit"] == round_ones
    assert by_kind["trunking"] == [45] * 4
    assert by_kind["tray"] == by_kind["basket"] == [100] * 4
    assert all(np.isnan(by_kind[kind]).all() for kind in ("buried", "catenary", "surface", None))


def test_trunking_of_the_on_site_guide(tmp_path):
    """W10, IET On-Site Guide: cables of 1239.6 mm² need 75 × 50 at 45 %; 50 × 50 is too small."""
    room = [
        section_mm2(read(tmp_path / str(w), [duct(containment="trunking", area_mm2=w * 50)]), 0)
        for w in (75, 50)
    ]
    assert 0.45 * room[1] < 1239.6 <= 0.45 * room[0]


def test_a_tray_is_full_at_its_stacking_height(tmp_path):
    """EN 50174-2, from memory: 88 mm on supports 1 m apart; squares of 10 mm on 100 mm: 8 layers of 10 and 8 more."""
    found = read(tmp_path, [duct(containment="tray", width_mm=100, support_mm=1000)])
    layers_mm = 150 / 1.7
    assert section_mm2(found, 0) == pytest.approx(np.pi / 4 * 100 * layers_mm)
    od_mm = found.catalogue.cables["os2"].number("od_mm")
    fits = int(100 * layers_mm / od_mm**2)
    verdicts = [fill_of(found, 0, {"os2": n}).verdict for n in (fits, fits + 1)]
    assert verdicts == [Verdict.WITHIN, Verdict.OUTSIDE]


@pytest.mark.parametrize(("width", "support"), [(100, ""), ("", 1000)])
def test_a_tray_of_unknown_size_is_not_judged(tmp_path, width, support):
    found = read(tmp_path, [duct(containment="tray", width_mm=width, support_mm=support)])
    fill = fill_of(found, 0, {"os2": 1})
    assert np.isnan(fill.percent)
    assert fill.verdict is Verdict.VERIFY


@pytest.mark.parametrize(
    ("size", "mm2"),
    [
        ({"bore_mm": 25}, np.pi / 4 * 625),
        ({"bore_mm": 25, "ways": 4}, np.pi * 625),
        ({"area_mm2": 500, "ways": 2}, 1000),
        ({"bore_mm": 0}, np.nan),
        ({}, np.nan),
    ],
)
def test_the_section_is_that_of_all_ways(tmp_path, size, mm2):
    np.testing.assert_allclose(section_mm2(read(tmp_path, [duct(**size)]), 0), mm2)


# What is in it


@pytest.mark.parametrize(
    ("bore_mm", "verdict"),
    [(100, Verdict.WITHIN), (20, Verdict.VERIFY), (11, Verdict.OUTSIDE)],
)
def test_a_cable_of_unknown_type_is_each_of_the_catalogue(tmp_path, bore_mm, verdict):
    """Thinnest 5.2 mm, thickest 12 mm beside 6.15 mm: 31 % are kept by all in 100 mm, by some in 20, by none in 11."""
    found = read(tmp_path, [duct(bore_mm=bore_mm)], cables=[coax(1), coax(2, cable="unknown")])
    fill = fill_of(found, 0)
    assert np.isnan(fill.percent)
    assert fill.least_percent == pytest.approx(100 * (6.15**2 + 5.2**2) / bore_mm**2)
    assert fill.most_percent == pytest.approx(100 * (6.15**2 + 12**2) / bore_mm**2)
    assert fill.verdict is verdict


@pytest.mark.parametrize(("fill", "filled"), [("", np.nan), (0, 6.05), (20, 26.05)])
def test_cables_not_listed_come_on_top(tmp_path, fill, filled):
    found = read(tmp_path, [duct(bore_mm=25, fill_percent=fill)], cables=[coax(1)])
    np.testing.assert_allclose(fill_of(found, 0).percent, filled, atol=0.005)


def test_cables_not_listed_count_as_several(tmp_path):
    found = read(tmp_path, [duct(bore_mm=25, fill_percent=5)], cables=[coax(1)])
    assert fill_of(found, 0).limit_percent == 40


def test_a_cable_there_and_one_back_count_twice_on_the_spur(tmp_path):
    there = line("S", (30, 0), (30, 20), containment="duct", bore_mm=50, fill_percent=0)
    points = [recorder("R", 0, 0), {"id": "P", "kind": "patch", "x": 30, "y": 20}, camera("C", LENGTH_M, 0)]
    cables = [
        coax(1, **{"from": "R", "to": "P", "routes": "A|S"}),
        coax(2, **{"from": "P", "to": "C", "routes": "A|S"}),
    ]
    found = read(tmp_path, [duct(bore_mm=25), there], points, cables)
    spur = next(s for s in range(found.network.segments) if found.network.segment_id[s] == "S.1")
    assert [cable.id for cable in found.within[spur]] == ["K1", "K2"]
    assert fill_of(found, spur).cables == 2


def test_where_a_cable_lies_and_what_that_rests_on(tmp_path):
    other = line("B", (0, 0), (30, 30), (LENGTH_M, 0), containment="duct", bore_mm=50)
    loose = line("X", (0, 50), (9, 50), containment="duct", bore_mm=50)
    cables = [
        coax(1, routes="B"),
        coax(2, routes=""),
        coax(3, routes="X"),
    ]
    found = read(tmp_path, [duct(), other, loose], cables=cables)
    names = [[str(found.network.segment_id[s]) for s in each.segments] for each in found.lying]
    assert [(each.id, each.basis) for each in found.lying] == [
        ("K1", "way"),
        ("K2", "inferred"),
        ("K3", "routes"),
    ]
    assert names == [["B.1"], ["A.1"], ["X.1"]]


# Designs


def test_listed_cables_take_room_from_a_design(tmp_path):
    """One fibre of 9.5 mm in 25 mm is 14 %; four coaxes there make it 39 %, five 45: over 40, and 30 without it."""
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    for n, linked in ((4, True), (5, False)):
        made = designed(tmp_path / str(n), [duct(bore_mm=25)], points, [coax(k) for k in range(n)])
        assert bool(made.links[0].method) is linked
        said = [(f.severity, f.measured, f.remedy) for f in made.findings if "is filled to" in f.text]
        assert said == []


def test_what_is_full_already_is_said_with_what_recovery_gives(tmp_path):
    """Eight coaxes in 25 mm are 48 %, three 18; six may lie there."""
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    cables = [coax(n, status="dead" if n < 5 else "in_use") for n in range(8)]
    made = designed(tmp_path, [duct(bore_mm=25)], points, cables)
    assert not made.links[0].method
    (told,) = [f for f in made.findings if "filled to" in f.text]
    assert told.text == (
        "segment A.1 is filled to 48 % by 8 listed cables, 40 % may be filled; 6 of rg59-cu fit"
    )
    assert told.severity == "watch"
    assert told.remedy.startswith("recover K0, K1, K2, K3, K4: fill falls from 48 % to 18 %")


def test_the_old_cable_of_the_same_camera_takes_room_too(tmp_path):
    """A fibre alone fills 15 mm to 40 %, within 53; with the coax there they are two and 57 %, over 31."""
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    made = designed(tmp_path, [duct(bore_mm=15)], points, [coax(1)])
    assert not made.links[0].method
    alone = designed(tmp_path / "alone", [duct(bore_mm=15)], points)
    assert alone.links[0].method


def test_a_spare_that_is_taken_is_not_counted_twice(tmp_path):
    spare = coax(1, status="spare", joints=0)
    toml = '[design]\nmethods = ["coax-local"]\n'
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0, signal="composite")]
    made = designed(tmp_path, [duct(bore_mm=10)], points, [spare], toml)
    assert [run.installed for run in made.links[0].runs] == ["K1"]
    assert fill_of(made.containment, 0, made.laid.get(0, {})).percent == pytest.approx(100 * 6.15**2 / 10**2)


def test_an_unknown_fill_is_surveyed_before_ordering(tmp_path):
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    made = designed(tmp_path, [duct(bore_mm=25)], points, [coax(1, cable="unknown")])
    assert made.links[0].method
    (told,) = [f for f in made.findings if f.subject_kind == "route" and f.action == "survey"]
    assert "the type or diameter of K1 isn't known" in told.text
    assert told.cameras == ("C",)


def test_a_cable_that_lies_nowhere_known_is_said(tmp_path):
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    made = designed(tmp_path, [duct(bore_mm=25)], points, [coax(1, routes="", to="unknown")])
    assert "where K1 lies isn't known: no fill counts it" in [f.text for f in made.findings]


def test_nothing_is_asked_of_ways_that_nothing_limits(tmp_path):
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    made = designed(tmp_path, [duct(containment="surface", fill_percent="")], points, [coax(1)])
    assert not [f for f in made.findings if f.subject_kind == "route"]


def test_a_dead_cable_is_recovered_with_what_that_gives(tmp_path):
    points = [recorder("R", 0, 0), camera("C", LENGTH_M, 0)]
    made = designed(tmp_path, [duct(bore_mm=50)], points, [coax(1, status="dead"), coax(2)])
    (told,) = [f for f in made.findings if f.subject == "K1"]
    # 2 · 6.15² + 9.5² of 50² are 6.6 %, 5.1 without one coax
    assert told.text.endswith("recovered, the fill of segment A.1 falls from 7 % to 5 %")
    assert "recover K1" in told.remedy


@pytest.mark.parametrize(("bore_mm", "jam"), [(27, True), (32, False)])
def test_three_cables_alike_can_jam(tmp_path, bore_mm, jam):
    """NEC chapter 9, note to table 1: 27/9.5 is 2.8, 32/9.5 is 3.4."""
    points = [recorder("R", 0, 0), *(camera(f"C{k}", LENGTH_M, 0) for k in range(3))]
    made = designed(tmp_path, [duct(bore_mm=bore_mm)], points)
    assert sum(bool(link.method) for link in made.links) == 3
    assert any("can jam" in f.text for f in made.findings) is jam


# Properties


@given(
    bore_mm=st.floats(10, 150),
    unlisted=st.floats(0, 60),
    counts=st.lists(st.sampled_from(["rg59-cu", "cat6-utp", "os2"]), max_size=6),
)
def test_more_cables_never_fill_less_and_taking_all_out_leaves_the_unlisted(
    tmp_path_factory, bore_mm, unlisted, counts
):
    found = _one(tmp_path_factory)
    routes = replace(
        found.survey.routes,
        columns={
            **found.survey.routes.columns,
            "bore_mm": np.array([bore_mm]),
            "fill_percent": np.array([unlisted]),
        },
    )
    found = replace(found, survey=replace(found.survey, routes=routes))
    laid: dict[str, int] = {}
    before = fill_of(found, 0, laid).percent
    assert before >= unlisted
    for cable in counts:
        laid[cable] = laid.get(cable, 0) + 1
        now = fill_of(found, 0, laid).percent
        assert now > before
        before = now
    assert fill_of(found, 0, without=frozenset({"K1", "K2"})).percent == pytest.approx(unlisted)


_READ = []


def _one(factory):
    if not _READ:
        _READ.append(read(factory.mktemp("one"), [duct(bore_mm=25)], cables=[coax(1), coax(2)]))
    return _READ[0]
