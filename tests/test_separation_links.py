"""The separation command, the rule set of a design, stretches by kind of source, and findings near mains.

W1, W2 and W4 are published worked examples of EN 50174-2:2009 (public texts; the answer of W4 was not printed, both
roundings are given). Pair distances: EN 50174-2:2000, as quoted by public texts.
"""

import math

import numpy as np
import pytest
from click.testing import CliRunner

from estate import workflow
from estate.cli import main
from estate.errors import InputError
from estate.findings import Verdict
from estate.links.induced import induced_rows
from estate.links.separation import exposures_by_kind, separation_rules
from estate.network.build import build_network
from estate.network.proximity import find_exposures
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate


def asked(*arguments: str) -> str:
    result = CliRunner().invoke(main, ["separation", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def answer(lists=None, *, safety=True, screened=False, **words):
    wanted = {key: str(value) for key, value in words.items()}
    given = {key: tuple(map(str, values)) for key, values in (lists or {}).items()}
    return workflow.separation(wanted, given, safety=safety, screened=screened)


# Published examples

W1 = {"amps": [20], "phases": [1], "circuits": [8]}
W2 = {"amps": [140], "phases": [3], "circuits": [1]}
W4 = {"amps": [63, 16], "phases": [3, 1], "circuits": [3, 10]}


def test_w1_interference_alone_and_with_the_safety_distance():
    bare = answer(W1, barrier="perforated", safety=False)
    assert (bare.base_mm, bare.circuits, bare.factor) == (50, 8, 0.6)
    assert bare.required_mm == pytest.approx(30)
    assert answer(W1, barrier="perforated").required_mm == 50
    assert answer(W1, barrier="perforated").governs == "safety"


def test_w2_three_phases_of_140_amps():
    found = answer(W2)
    assert (found.circuits, found.factor) == (21, 2)


@pytest.mark.parametrize(("rounding", "circuits", "required_mm"), [("up", 46, 200), ("nearest", 37, 150)])
def test_w4_by_both_roundings(rounding, circuits, required_mm):
    found = answer(W4, barrier="perforated", rounding=rounding)
    assert (found.circuits, found.required_mm) == (circuits, required_mm)


def test_w4_tells_both_answers():
    groups = [
        "--amps",
        "63",
        "--phases",
        "3",
        "--circuits",
        "3",
        "--amps",
        "16",
        "--phases",
        "1",
        "--circuits",
        "10",
    ]
    told = asked("--barrier", "perforated", "--unscreened", *groups)
    assert "200 mm required" in told
    assert "parts rounded nearest: N 37, P 3, 150 mm" in told


@pytest.mark.parametrize(
    ("declared", "verdict"), [(60, "outside"), (79.9, "outside"), (80, "within"), (90, "within")]
)
def test_declared_distance_beside_twelve_circuits(declared, verdict):
    found = answer({"amps": [20], "phases": [1], "circuits": [12]}, declared=declared)
    assert found.required_mm == pytest.approx(80)
    assert found.verdict == verdict


# What is not known


def test_unknown_mains_leave_a_range_and_verify_inside_it():
    found = workflow.separation({"declared": "150"}, {})
    # One 20 A circuit behind a screen: 50 × 0.2, so the safety distance; without bound: 100 × 6.
    assert (found.least_mm, found.required_mm) == (50, 600)
    assert found.verdict is Verdict.VERIFY
    assert len(found.unknown) == 4
    assert workflow.separation({"declared": "40"}, {}).verdict is Verdict.OUTSIDE
    assert workflow.separation({"declared": "600"}, {}).verdict is Verdict.WITHIN


def test_unknown_screening_alone():
    found = answer({"amps": [20], "phases": [1], "circuits": [12]}, screened=None, declared=60)
    assert (found.least_mm, found.required_mm, found.verdict) == (50, 80, Verdict.VERIFY)
    assert found.unknown == ("whether the mains cable is screened",)


def test_unknown_phases_are_one_to_three():
    found = answer({"amps": [20], "circuits": [6]}, safety=False)
    assert (found.least_mm, found.required_mm) == pytest.approx((40, 200))  # N 6: P 0.4; N 18: P 2


# Outdoors and other sources


@pytest.mark.parametrize(
    ("words", "required_mm"),
    [
        ({"placement": "buried"}, 300),
        ({"placement": "buried", "volts": 11000}, 450),
        ({"placement": "overhead"}, 1000),
        ({"kind": "discharge_lamp"}, 130),
        ({"kind": "fence"}, 10000),
    ],
)
def test_the_larger_rule_governs(words, required_mm):
    """NEC and UFGS 12 in direct-buried, UK utilities 450 mm (from memory), BS 7671 444.6.2 130 mm, fence 10 m."""
    found = answer({"amps": [20], "phases": [1], "circuits": [1]}, **words)
    assert found.required_mm == required_mm
    assert math.isclose(answer(W4, placement="buried").required_mm, 400)  # S × P is the larger there


def test_fibre_without_metal_keeps_the_safety_distance_only():
    assert answer(W2, cable="os2").required_mm == 50
    assert answer(W2, cable="os2", safety=False).required_mm == 0


def test_lightning_conductor_is_never_settled_here():
    found = answer(kind="lightning_protection", declared=5000)
    assert found.verdict is Verdict.VERIFY
    assert "IEC 62305-3" in asked("--kind", "lightning_protection", "--declared", "5000")


def test_depths_and_heights_are_told_with_their_source():
    told = asked("--placement", "buried", "--amps", "20")
    assert "field: 1000 mm; BS 7671 section 705" in told
    assert "network operator" in told
    assert "carriageway: 5.5 m" in asked("--placement", "overhead")


# Superseded rule set


@pytest.mark.parametrize(
    ("screened", "cable", "divider", "base_mm"),
    [
        (False, "cat6-utp", "none", 200),
        (False, "cat6-utp", "aluminium", 100),
        (False, "cat6-utp", "steel", 50),
        (False, "cat6a-ftp", "none", 50),
        (False, "cat6a-ftp", "steel", 5),
        (True, "cat6-utp", "none", 30),
        (True, "cat6a-ftp", "none", 0),
    ],
)
def test_pairs_of_the_2000_edition(screened, cable, divider, base_mm):
    found = answer(W1, rules="pairs-2000", cable=cable, barrier=divider, screened=screened, safety=False)
    assert found.required_mm == base_mm


def test_superseded_rules_are_refused_in_a_design(tmp_path):
    points = [camera("C", 10, 0), recorder("R", 0, 0)]
    toml = LOCAL + '[limits]\nseparation = "pairs-2000"\n'
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    with pytest.raises(InputError, match="superseded"):
        workflow.design(folder)
    workflow.check(folder)


def test_bad_words_are_told_at_once():
    result = CliRunner().invoke(main, ["separation", "--class", "e", "--barrier", "opne", "--amps", "0"])
    assert result.exit_code == 2
    assert "3 problems" in result.output
    assert "did you mean 'open'?" in result.output


def test_groups_must_match():
    with pytest.raises(InputError, match="one for each of 3 groups"):
        answer({"amps": [20, 32, 40], "circuits": [1, 2]})


# Induced voltage


def test_induced_voltage_of_the_published_table():
    """20 A line pair (7 mm), 50 m, 1 mm pair, 200 mm: 11 µV; 1 A net in a 0.5 m loop: 3.9 mV (calculated before)."""
    at_50, at_60 = induced_rows(20.0, 0.196, workflow.catalogue())  # 200 mm between centres
    assert at_50.untwisted_v == pytest.approx(11e-6, rel=0.05)
    assert at_50.loop_v == pytest.approx(3.9e-3, rel=0.03)
    assert at_60.untwisted_v == pytest.approx(at_50.untwisted_v * 60 / 50)
    assert at_50.balanced_v == pytest.approx(at_50.loop_v / 100)
    assert at_50.screened_v <= at_50.loop_v


def test_explanation_lowers_nothing():
    plain, explained = (asked("--amps", "63", *more) for more in ((), ("--explain",)))
    assert plain.splitlines()[0] == explained.splitlines()[0]
    assert "never a basis for reducing the distance" in explained


# Stretches by kind of source


def prepared(tmp_path, routes, mains, points=(), buildings=(), toml=""):
    layers = {"routes": routes, "mains": mains, "points": points or [camera("C", 0, 0), recorder("R", 0, 0)]}
    if buildings:
        layers["buildings"] = buildings
    return write_estate(tmp_path, LOCAL + EXACT + toml, **layers)


def test_a_fence_does_not_lengthen_stretches_beside_mains(tmp_path):
    """A fence is looked for ten metres around, mains only as far as any table can ask: 6 × 300 mm and accuracies."""
    routes = [line("A", (0, 0), (100, 0))]
    mains = [
        line("F", (0, 8), (100, 8), kind="fence"),
        line("M", (40, 1), (60, 1), kind="mains", survey_accuracy_m=0),
    ]
    folder = prepared(tmp_path, routes, mains, toml="[network]\nsurvey_accuracy_m = 0\n")
    survey, catalogue = workflow.load(folder)
    network = build_network(survey)
    found = exposures_by_kind(network, survey, separation_rules(catalogue, "50mm"))
    spans = {
        str(survey.mains["id"][m]): (a, b)
        for m, a, b in zip(found.mains, found.from_m, found.to_m, strict=True)
    }
    assert spans["F"] == pytest.approx((0, 100))
    beyond = math.sqrt(1.8**2 - 1)
    assert spans["M"] == pytest.approx((40 - beyond, 60 + beyond), abs=0.01)
    wide = find_exposures(network, survey, 10.0)
    assert max(wide.to_m[wide.mains == 1] - wide.from_m[wide.mains == 1]) > 35


def test_declared_distance_without_a_run_replaces_what_is_near_only(tmp_path):
    routes = [line("A", (0, 0), (20, 0), separation_mm=60)]
    mains = [line("F", (0, 8), (20, 8), kind="fence"), line("M", (0, 1), (20, 1), kind="mains")]
    survey, catalogue = workflow.load(prepared(tmp_path, routes, mains))
    found = exposures_by_kind(build_network(survey), survey, separation_rules(catalogue, "50mm"))
    told = {str(survey.mains["id"][m]): d for m, d in zip(found.mains, found.declared, strict=True)}
    assert told == {"F": False, "M": True}


def findings_of(folder):
    _, _, out = workflow.design(folder)
    return read_csv(out / "findings.csv")


def test_aerial_cable_under_an_overhead_line_is_a_danger(tmp_path):
    routes = [line("A", (0, 0), (60, 0), containment="catenary")]
    mains = [line("O", (30, -50), (30, 50), placement="overhead", volts=11000, owner="network operator")]
    found = findings_of(prepared(tmp_path, routes, mains, [camera("C", 60, 0), recorder("R", 0, 0)]))
    (danger,) = [f for f in found if f["severity"] == "danger"]
    assert "crosses overhead line O" in danger["text"]
    (operator,) = [f for f in found if f["subject_kind"] == "mains"]
    assert operator["action"] == "survey"
    assert "operator" in operator["remedy"]


def test_fence_corridor_flags_what_runs_alongside_only(tmp_path):
    """Fence alongside at 40 m for 120 m: told; a square crossing: not (common guidance, 100 m alongside)."""
    fence = line("F", (0, 40), (120, 40), kind="fence", survey_accuracy_m=0)
    toml = '[network]\nsurvey_accuracy_m = 0\n[design]\nmethods = ["coax-local"]\n'
    for name, way, expected in (("along", (120, 0), True), ("across", (0, 90), False)):
        points = [camera("C", *way, signal="composite"), recorder("R", 0, 0)]
        routes = [line("A", (0, 0), way, containment="duct")]
        found = findings_of(prepared(tmp_path / name, routes, [fence], points, toml=toml))
        told = [f for f in found if f["subject"] == "F" and "alongside" in f["text"]]
        assert bool(told) is expected
        if told:
            assert told[0]["text"].startswith("120 m of copper")


def test_trench_30_cm_from_a_feeder_cannot_be_settled_by_its_record(tmp_path):
    """Recorded 0.30 m ± 0.5 m from a three-phase 100 A cable."""
    routes = [line("A", (0, 0), (40, 0), containment="duct", survey_accuracy_m=0.3)]
    mains = [
        line("M", (0, 0.3), (40, 0.3), placement="buried", volts=400, phases=3, amps=100, circuits=1,
             screened="no", survey_accuracy_m=0.2)
    ]  # fmt: skip
    points = [camera("C", 40, 0, feeds="poe1", load_w=5, load_night_w=5, power="none"), recorder("R", 0, 0)]
    toml = '[design]\nmethods = ["ethernet"]\ncables = ["cat6-utp"]\n'
    found = findings_of(prepared(tmp_path, routes, mains, points, toml=toml))
    (near,) = [f for f in found if f["subject"] == "A.1" and f["action"] == "survey"]
    assert "the drawing can't tell" in near["text"]
    assert "as a new trench" in near["remedy"]


def test_switched_off_safety_is_named(tmp_path):
    points = [camera("C", 10, 0), recorder("R", 0, 0)]
    toml = LOCAL + '[limits]\nseparation_safety = "none"\n'
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (10, 0))], points=points)
    _, result, out = workflow.design(folder)
    assert any("50 mm" in note for note in result.notes)
    subjects = {a["subject"]: a["value"] for a in read_json(out / "summary.json")["assumptions"]}
    assert subjects["[limits] separation_safety"] == "none"


def test_lightning_conductor_beside_a_proposed_route_stays_to_be_verified(tmp_path):
    routes = [line("A", (0, 0), (20, 0), status="proposed", containment="duct", surface="grass")]
    mains = [line("L", (0, 1), (20, 1), kind="lightning_protection")]
    survey, catalogue = workflow.load(prepared(tmp_path, routes, mains))
    separation = workflow.segment_separation(build_network(survey), survey, catalogue)
    assert np.all(separation.verdicts("b") == Verdict.VERIFY)
