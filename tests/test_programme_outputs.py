"""Tables and plot of a programme: what they say, and that the same programme gives the same bytes."""

from estate.audit.programme import make_programme
from estate.audit.programme_task import programme_task
from estate.audit.remedy import Refused, Remedies
from estate.findings import NAN, Action
from estate.output.programme_plot import plot_programme
from estate.output.remedy_tables import (
    programme_curve_table,
    programme_table,
    refused_table,
    remedies_table,
    repairs_table,
)
from tests.test_programme import remedy, repair

KNOWN = Remedies(
    (remedy("fibre", 100), remedy("p1", 5), remedy("p2", 5.25), remedy("q1", 60), remedy("test", NAN)),
    (repair("C1", "q1"), repair("C1", "fibre", "p1"), repair("C2", "fibre", "p2")),
    (Refused("C2", Action.REPEATER, "extender", "36.2 W over 30 W"),),
)
TASK = programme_task(KNOWN, {"C1": 5, "C2": 5})


def test_tables():
    made = make_programme(TASK, 80)
    rows = programme_table(made, KNOWN).records()
    assert [(r["order"], r["remedy"], r["cost"], r["cost_total"], r["cameras"], r["cameras_total"]) for r in rows] == [
        (1, "q1", 60, 60, "C1", 1), (2, "fibre", 100, 160, "", 1), (3, "p2", 5.25, 165.25, "C2", 2),
    ]  # fmt: skip
    assert [r["in_budget"] for r in rows] == [True, False, False]
    curve = programme_curve_table(made).records()
    assert [(r["cured"], r["cost"], r["remedies"]) for r in curve] == [
        (1, 60, "q1"),
        (2, 110.25, "fibre;p1;p2"),
    ]
    listed = {r["remedy"]: r for r in remedies_table(KNOWN).records()}
    assert (listed["fibre"]["cameras"], listed["test"]["cost"]) == ("C1;C2", None)
    ranks = [(r["camera"], r["rank"], r["cost"]) for r in repairs_table(KNOWN).records()]
    assert ranks == [("C1", 1, 60), ("C1", 2, 105), ("C2", 1, 105.25)]
    assert refused_table(KNOWN).records()[0]["why"] == "36.2 W over 30 W"


def test_plot_is_the_same_each_time(tmp_path):
    rows = programme_curve_table(make_programme(TASK)).records()
    files = []
    for name in "ab":
        (tmp_path / name).mkdir()
        files.append(plot_programme(tmp_path / name, rows, "GBP", ["rates are invented"], 80))
    assert [path.name for path in files[0]] == ["programme.png", "programme.svg", "programme.pdf"]
    assert [path.read_bytes() for path in files[0]] == [path.read_bytes() for path in files[1]]
    svg = (tmp_path / "a" / "programme.svg").read_text(encoding="utf-8")
    assert "Money [GBP]" in svg
    assert "budget 80" in svg


def test_nothing_to_cure_draws_nothing(tmp_path):
    assert plot_programme(tmp_path, [], "", [], None) == []
    assert list(tmp_path.iterdir()) == []
