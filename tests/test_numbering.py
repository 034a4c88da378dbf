"""Cable numbers: one for each cable, the same in every table."""

import pytest

from estate.number_pattern import pattern_complaint
from estate.output.numbering import numbered_runs
from estate.output.result import Table
from estate.survey.settings_file import settings_from

LINKS = Table(
    ("link", "kind", "camera", "head"),
    (
        ("L-C1", "camera", "C1", "R1"),
        ("L-C2", "camera", "C2", "P1"),
        ("U-P1", "uplink", None, "R1"),
        ("U-P2", "uplink", None, "R1"),
    ),
)
RUNS = Table(
    ("link", "stretch", "role", "cable", "installed", "nodes"),
    (
        ("L-C1", 1, "signal", "rg59-cu", None, "N1;N4"),
        ("L-C1", 2, "signal", "rg59-cu", "K7", "N4;N5"),
        ("L-C1", 2, "power", "power-2x1.0", None, "N4;N5"),
        ("L-C2", 1, "signal", "cat6-utp", None, "N6;N7"),
        ("U-P1", 1, "signal", "os2", "T1", "R1;N2;P1"),
        ("U-P2", 1, "signal", "os2", "T1", "R1;N2;P1"),
        ("U-P2", 2, "signal", "os2", "T2", "P1;P2"),
    ),
)


def numbers(pattern, runs=RUNS):
    return numbered_runs(runs, LINKS, pattern, "QM-1").column("number")


def test_plain_numbers_name_link_stretch_and_power_and_keep_what_has_an_id():
    assert numbers("") == ["L-C1.1", "K7", "L-C1.2P", "L-C2.1", "T1", "T1", "T2"]


def test_numbers_run_among_cables_that_are_otherwise_alike():
    assert numbers("{number}-{kind}-{n:03}") == [
        "QM-1-C-001", "K7", "QM-1-P-001", "QM-1-C-002", "QM-1-T-001", "QM-1-T-001", "QM-1-T-002",
    ]  # fmt: skip


def test_ends_are_head_and_camera_or_the_nodes_between():
    assert numbers("{from}/{to}/{n}") == [
        "R1/N4/1",
        "K7",
        "N4/C1/1",
        "P1/C2/1",
        "R1/P1/1",
        "R1/P1/1",
        "P1/P2/1",
    ]


@pytest.mark.parametrize("pattern", ["", "K{n}", "{link}{n}", "{n}"])
def test_no_two_cables_have_one_number(pattern):
    found = numbers(pattern)
    assert len(set(found)) == 6
    assert found[4] == found[5]


def test_a_number_that_an_installed_cable_has_is_not_given_again():
    rows = tuple(("L-C1", 1, "signal", "rg59-cu", None, "N1;N4") for _ in range(8))
    found = numbers("K{n}", Table(RUNS.columns, (*rows, RUNS.rows[1])))
    assert found == ["K1", "K2", "K3", "K4", "K5", "K6", "K8", "K9", "K7"]


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{kind}-{link}", "holds {n}"),
        ("{room}-{n}", "of the fields"),
        ("{n:x}", "width"),
        ("{link:9}{n}", "width"),
        ("{n!r}", "width"),
        ("{link.__class__}{n}", "of the fields"),
        ("{n", "braces"),
        ("{}{n}", "of the fields"),
    ],
)
def test_a_pattern_that_is_no_good_is_refused(pattern, said):
    _, problems = settings_from({"drawing": {"numbering": pattern}})
    assert len(problems) == 1
    assert said in str(problems[0])
    assert "[drawing] numbering" in str(problems[0])


def test_braces_can_be_part_of_a_number():
    assert pattern_complaint("{{{n:02}}}") == ""
    assert numbers("{{{n:02}}}")[0] == "{01}"


@pytest.mark.parametrize("row", [{"revison": "A"}, {"date": 20260102}])
def test_a_revision_that_is_no_good_is_refused(row):
    _, problems = settings_from({"drawing": {"revisions": [row]}})
    assert "revision, date, text, drawn, checked, approved" in str(problems[0])
