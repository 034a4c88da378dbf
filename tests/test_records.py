"""Records of an estate held against each other, and how complete a survey is."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.audit.completeness import NEEDS, completeness, missing_facts
from estate.audit.record_findings import unfitting_findings
from estate.audit.records import ABOUT, records
from estate.audit.spellings import folded, nearest, spelt_alike
from estate.installed.fill import containment_of
from estate.output.records_table import completeness_summary
from estate.survey.fields import LAYERS
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate

POINTS = [
    recorder("REC-1", 0, 0, status="existing", channels=8),
    camera("C1", 60, 0, load_w=5, load_night_w=9, height_m=3),
    camera("C2", 60, 0, load_w=5),
    {"id": "PP1", "kind": "patch", "x": 30, "y": 0, "power": "unswitched"},
]
ROUTES = [
    line("D1", (0, 0), (30, 0), containment="duct", bore_mm=50, fill_percent=0),
    line("D2", (30, 0), (60, 0), containment="duct", bore_mm=50),
    line("D3", (0, 0), (0, 40), containment="duct", bore_mm=50, fill_percent=0),
]


def cable(identity, start="C1", end="REC-1", **more):
    return {
        "id": identity,
        "from": start,
        "to": end,
        "camera": start,
        "status": "in_use",
        "cable": "cat6-utp",
        **more,
    }


def read(folder, cables=(), points=POINTS, routes=ROUTES, toml="", **more):
    layers = {"routes": routes, "points": points} | ({"cables": list(cables)} if cables else {}) | more
    made = workflow.prepare(write_estate(folder, LOCAL + EXACT + toml, **layers))
    return containment_of(made.survey, made.catalogue, made.network)


def told(found, about):
    return [(r.subject, r.problem, r.suggestion) for r in records(found) if r.about == about]


# Spelling


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("C01", "C1"),
        ("CAM-7", "cam7"),
        ("R10", "RIO"),
        ("PP_3", "PP 3"),
        ("D-007", "d7"),
        ("P1", "Pl"),
        ("B.2", "B2"),
    ],
)
def test_ids_that_differ_only_in_spelling(one, other):
    assert folded(one) == folded(other)
    assert spelt_alike([one, other, "X9"]) == [tuple(sorted([one, other]))]


@pytest.mark.parametrize(
    ("one", "other"), [("C1", "C11"), ("C1-1", "C11"), ("C10", "C1"), ("R2", "D2"), ("C100", "C1")]
)
def test_ids_that_are_two(one, other):
    assert folded(one) != folded(other)


@given(st.text(st.characters(codec="ascii", categories=["L", "N", "P"]), min_size=1, max_size=8))
def test_folding_forgets_case_and_is_done_once(name):
    assert folded(name.upper()) == folded(name.lower())
    assert folded(folded(name)) == folded(name)


def test_the_nearest_id_is_the_one_spelt_alike():
    assert nearest("cam01", ["CAM-1", "CAM-10", "CAM-11"]) == "CAM-1"
    assert nearest("REC-NORT", ["REC-NORTH", "REC-SOUTH"]) == "REC-NORTH"
    assert nearest("shed", ["CAM-1"]) is None


# Records


def test_names_that_nothing_has_with_the_nearest_spelling(tmp_path):
    cables = [
        cable("K1", end="REC1"),
        cable("K2", "C2", end="unknown"),
        cable("K3", camera="C9", routes="D1|D4", equipment="joint-coax@PP9"),
    ]
    found = read(tmp_path, cables)
    assert told(found, "end") == [
        ("K1", "its to, REC1, isn't there", "is REC-1 meant?"),
        ("K2", "its to isn't known", "trace it with a tone"),
        ("K3", "the place of its joint-coax@PP9, PP9, isn't there", "trace it with a tone"),
    ]
    assert [problem for _, problem, _ in told(found, "camera")] == ["its camera, C9, isn't there"]
    assert [problem for _, problem, _ in told(found, "route")] == ["a route of it, D4, isn't there"]


def test_ways_that_do_not_go(tmp_path):
    island = line("X1", (0, 500), (60, 500), containment="duct")
    points = [*POINTS, {"id": "PP2", "kind": "patch", "x": 0, "y": 500}]
    cables = [
        cable("K1", routes="D1"),
        cable("K2", "C2", "PP2"),
        cable("K3", "C1", "C1"),
        cable("K4", routes="D1|D2"),
    ]
    assert [(s, p) for s, p, _ in told(read(tmp_path, cables, points, [*ROUTES, island]), "way")] == [
        ("K1", "its routes don't join C1 and REC-1"),
        ("K2", "no existing way joins C2 and PP2"),
        ("K3", "it starts and ends at C1"),
    ]


def test_ids_spelt_two_ways_in_one_layer(tmp_path):
    points = [*POINTS, camera("c-01", 60, 0)]
    assert [s for s, _, _ in told(read(tmp_path, [cable("K1"), cable("k-1")], points), "spelling")] == [
        "K1; k-1",
        "C1; c-01",
    ]


@pytest.mark.parametrize(
    ("more", "doubles"),
    [
        ({}, 1),
        ({"from": "REC-1", "to": "C1", "camera": "C1"}, 1),
        ({"cable": "power-2x0.75"}, 0),
        ({"length_m": 12}, 0),
        ({"status": "dead"}, 0),
        ({"camera": ""}, 0),
    ],
)
def test_a_cable_noted_twice(tmp_path, more, doubles):
    found = read(tmp_path, [cable("K1"), {**cable("K2"), **more}])
    assert len(told(found, "double")) == doubles


def test_points_that_no_cable_reaches(tmp_path):
    dead = cable("K2", "C2", status="dead")
    candidate = recorder("R9", 0, 40, status="candidate")
    found = read(tmp_path, [cable("K1"), dead], [*POINTS, candidate])
    assert [(s, p) for s, p, _ in told(found, "unreached")] == [
        ("C2", "only spare or dead cables reach camera C2"),
        ("PP1", "no cable reaches patch PP1"),
    ]
    assert told(read(tmp_path / "none"), "unreached") == []


def test_routes_that_no_cable_uses(tmp_path):
    others = line("D5", (0, 0), (9, 9), containment="duct", fill_percent=20)
    wanted = line("D6", (0, 0), (9, -9), containment="duct", status="proposed")
    found = read(tmp_path, [cable("K1")], routes=[*ROUTES, others, wanted])
    assert [(s, p) for s, p, _ in told(found, "unused")] == [
        ("D3", "no listed cable uses route D3, and none are said to lie there beside those listed")
    ]


def test_dead_cables_and_where_they_lie(tmp_path):
    found = read(tmp_path, [cable("K1", status="dead"), cable("K2", "C2")])
    assert told(found, "dead") == [("K1", "it is dead and lies in D2, D1", "recover it, or label it")]


def test_records_that_fit_say_nothing(tmp_path):
    points = [recorder("REC-1", 0, 0, status="existing", channels=8), POINTS[1]]
    found = read(tmp_path, [cable("K1")], points, [line("D1", (0, 0), (60, 0), containment="surface")])
    assert records(found) == ()


def test_findings_of_records(tmp_path):
    cables = [cable("K1", end="REC1"), cable("K2", "C2", status="dead")]
    found = read(tmp_path, cables)
    findings = unfitting_findings("Test", records(found), completeness(found.survey))
    assert {f.effect for f in findings} == {"records"}
    (named,) = [f for f in findings if f.subject_kind != "estate"]
    assert (named.subject, named.severity, named.cameras) == ("K1", "watch", ("C1",))
    assert named.text == "records of cable K1: its to, REC1, isn't there"
    unreached, unused, known = [f.text for f in findings if f.subject_kind == "estate"]
    assert unreached == "records: no cable in use reaches points PP1, REC-1"
    assert unused == "records: no listed cable uses route D3"
    assert "routes 53 % (8 of 15)" in known


# Completeness


def test_completeness_by_column_and_layer(tmp_path):
    """Three ducts: containment, bore and fill 3 + 3 + 2 of 9, surface and depth 0 of 6: 8 of 15."""
    shares = {(s.layer, s.kind, s.columns): s for s in completeness(read(tmp_path, [cable("K1")]).survey)}
    counts = {key: (s.known, s.needed) for key, s in shares.items()}
    assert counts["routes", "", ""] == (8, 15)
    assert counts["routes", "", "bore_mm or area_mm2"] == (3, 3)
    assert counts["routes", "", "fill_percent"] == (2, 3)
    assert counts["points", "camera", "load_night_w"] == (1, 2)
    assert counts["points", "patch", "power"] == (1, 1)
    assert counts["cables", "", "joints"] == (0, 1)
    assert shares["routes", "", ""].percent == pytest.approx(53.3, abs=0.05)
    assert np.isnan(shares["mains", "", ""].percent)


def test_what_is_assumed_or_a_default_is_not_known(tmp_path):
    toml = "[assume]\ncables.joints = 0\n"
    found = read(tmp_path, [cable("K1")], toml=toml)
    joints = next(s for s in completeness(found.survey) if s.columns == "joints")
    assert (joints.known, joints.assumed, joints.needed) == (0, 1, 1)


def test_summary_of_completeness(tmp_path):
    shares = completeness(read(tmp_path, [cable("K1")]).survey)
    summary = completeness_summary(shares)
    assert summary["routes"] == {"known": 8, "needed": 15, "assumed": 0, "percent": 53.3}
    assert summary["mains"]["percent"] is None
    layers = [each for name, each in summary.items() if name != "all"]
    assert summary["all"]["known"] == sum(each["known"] for each in layers)


def test_every_fact_that_is_needed_is_a_column():
    for need in NEEDS:
        assert {*need.columns, *need.when} <= set(LAYERS[need.layer].by_name)


@given(
    mask=st.lists(st.booleans(), min_size=2, max_size=2),
    column=st.sampled_from(["load_w", "load_night_w", "height_m"]),
)
def test_learning_a_fact_never_lowers_the_share(tmp_path_factory, mask, column):
    survey = _survey(tmp_path_factory)
    values = survey.points[column].copy()
    rows = [survey.points.row_of()[name] for name in ("C1", "C2")]
    values[rows] = np.where(mask, 1.0, values[rows])
    learnt = replace(survey, points=replace(survey.points, columns={**survey.points.columns, column: values}))
    before, after = (
        {(s.layer, s.kind, s.columns): s for s in completeness(each)} for each in (survey, learnt)
    )
    assert all(after[key].known >= before[key].known for key in before)
    lacking = sum(name in facts for _, _, facts in missing_facts(learnt) for name in [column])
    assert lacking == np.isnan(values[rows]).sum()


_READ = []


def _survey(factory):
    if not _READ:
        _READ.append(read(factory.mktemp("one"), [cable("K1")]).survey)
    return _READ[0]


def test_records_come_in_the_order_of_what_they_are_about(tmp_path):
    found = records(read(tmp_path, [cable("K1", end="REC1"), cable("K2", "C2", status="dead")]))
    order = [ABOUT.index(each.about) for each in found]
    assert order == sorted(order)


# The audit


def test_an_audit_has_records_completeness_and_what_is_full(tmp_path):
    """Eight coaxes, five of them dead, fill 25 mm to 48 %; without those to 18 %."""
    kinds = ["in_use"] * 3 + ["dead"] * 5
    cables = [cable(f"K{n}", cable="rg59-cu", status=status) for n, status in enumerate(kinds)]
    routes = [line("D1", (0, 0), (60, 0), containment="duct", bore_mm=25, fill_percent=0), ROUTES[2]]
    folder = write_estate(tmp_path / "in", LOCAL + EXACT, routes=routes, points=POINTS, cables=cables)
    _, result, out = workflow.audit(folder, out=tmp_path / "out")
    by_route = {row["route"]: row for row in read_csv(out / "containment.csv")}
    assert [by_route["D1"][c] for c in ("installed", "dead", "designed", "verdict")] == [
        "8",
        "5",
        "0",
        "outside",
    ]
    assert float(by_route["D1"]["fill_percent"]) == pytest.approx(48.4, abs=0.05)
    assert {row["about"] for row in read_csv(out / "records.csv")} >= {"dead", "double", "unused", "facts"}
    summary = read_json(out / "summary.json")
    assert summary["completeness"]["points"]["needed"] == 12
    assert summary["completeness"]["all"]["percent"] < 100
    (full,) = [f for f in result.tables["findings"].records() if "filled to" in f["text"]]
    assert (full["severity"], full["action"], full["measured"]) == (
        "watch",
        "enlarge",
        pytest.approx(48.4, abs=0.05),
    )
    assert full["remedy"].startswith("recover K3, K4, K5, K6, K7: fill falls from 48 % to 18 %")
