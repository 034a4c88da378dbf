"""Two audits of one small estate held against each other: before and after a survey and a repair."""

import pytest

from estate import comparing, workflow
from estate.output.audit_changes import told_audit_changes
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate
from tests.installed_cases import cable
from tests.test_cli import run

ROUTES = [line("A", (0, 0), (100, 0)), line("B", (100, 0), (250, 0))]
POINTS = [
    recorder("R", 0, 0, status="existing", channels=8),
    *(
        camera(name, x, 0, signal="composite", load_w=4, load_night_w=4)
        for name, x in (("C", 100), ("D", 200), ("E", 250))
    ),
]
TOML = '[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu", "rg11-cu"]\n[prices]\nunlisted = 1\n'


def rows(type_of_e, joints_of_d, *more):
    return [
        cable("K1", "C", "rg59-cu", method="coax-local"),
        cable("K2", "D", "rg59-cu", method="coax-local", joints=joints_of_d),
        cable("K3", "E", type_of_e, method="coax-local"),
        *more,
    ]


@pytest.fixture(scope="module")
def audits(tmp_path_factory):
    """D's joints are counted and are none; E's cable of 250 m, too long on RG-59, is replaced by RG-11."""
    folder = tmp_path_factory.mktemp("audits")
    found = []
    for name, cables in (("before", rows("rg59-cu", "")), ("after", rows("rg11-cu", 0))):
        estate = write_estate(
            folder / name, LOCAL + EXACT + TOML, routes=ROUTES, points=POINTS, cables=cables
        )
        found.append(workflow.audit(estate)[2])
    return found


def test_links_cables_facts_and_money_are_told(audits, tmp_path):
    shown, out = comparing.compare(audits, out=tmp_path / "out")
    rows = {(r["kind"], r["subject"], r["fact"]): r for r in read_csv(out / "audit_changes.csv")}
    assert [(r["change"], r["before"], r["after"]) for r in read_csv(out / "changes.csv")] == [
        ("better", "verify", "within"), ("better", "outside", "within"),
    ]  # fmt: skip
    assert (rows["cable", "K2", "verdict"]["change"], rows["cable", "K3", "verdict"]["change"]) == (
        "better",
        "better",
    )
    assert ("cable", "K1", "verdict") not in rows
    assert rows["cable", "K2", "joints"]["change"] == "settled"
    failing, cost = rows["programme", "remedies", "failing"], rows["programme", "remedies", "cost"]
    assert (failing["before"], failing["after"]) == ("1", "0")
    assert float(cost["before"]) > float(cost["after"]) == 0
    assert shown.audit_changes is not None


def test_the_command_says_so(audits, tmp_path):
    done = run("compare", *audits, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    assert "settled: joints of K2" in done.stdout
    assert "programme: 1 of 1 failing cameras curable for" in done.stdout
    assert "→ no camera fails" in done.stdout


def test_the_other_way_round_is_worse(audits, tmp_path):
    _, out = comparing.compare(audits[::-1], out=tmp_path / "out")
    rows = {(r["kind"], r["subject"], r["fact"]): r["change"] for r in read_csv(out / "audit_changes.csv")}
    assert rows["cable", "K3", "verdict"] == "worse"
    assert rows["cable", "K2", "joints"] == "new"


def test_nothing_changed(audits, tmp_path):
    shown, out = comparing.compare([audits[0], audits[0]], out=tmp_path / "out")
    assert [r["kind"] for r in read_csv(out / "audit_changes.csv")] == ["programme"] * 3
    assert shown.changes.rows == ()
    told = told_audit_changes(shown.audit_changes, "GBP", every=False)
    assert len(told) == 1
    assert told[0].startswith("programme, unchanged: 1 of 1 failing cameras curable for ")


def test_a_budget_is_marked(audits, tmp_path):
    done = run("audit", audits[0].parent.parent, "--budget", "1", "--out", tmp_path / "poor")
    assert done.exit_code == 0, done.stderr
    assert "a budget of 1.00 cures 0 cameras, for 0.00" in done.stdout
    assert {r["in_budget"] for r in read_csv(tmp_path / "poor" / "programme.csv")} == {"no"}
    assert (tmp_path / "poor" / "programme.png").is_file()
    rich = run("audit", audits[0].parent.parent, "--budget", "5000", "--out", tmp_path / "rich")
    assert "a budget of 5,000.00 cures 1 camera, for " in rich.stdout
    assert {r["in_budget"] for r in read_csv(tmp_path / "rich" / "programme.csv")} == {"yes"}
    assert run("audit", audits[0].parent.parent, "--budget", "-1").exit_code == 2
