"""report.html of an audit: summary and tables in words for people, the programme's curve, what is not on record."""

import re
from dataclasses import replace

import pytest

from estate import workflow
from estate.output.page import page_text
from estate.output.page_curve import BOTTOM, LEFT, curve
from estate.output.page_summary import completeness, told_judged, told_summary
from estate.output.page_words import FOLDED
from estate.output.programme_told import told_sum
from estate.output.result import Table, read_result, table
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate
from tests.installed_cases import cable
from tests.test_page import Read, table_of

TOML = (
    LOCAL
    + EXACT
    + '[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu", "rg11-cu"]\n[prices]\nunlisted = 1\n'
)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """C stands, D has joints nobody counted, E is too far for its cable, F is on no record."""
    folder = write_estate(
        tmp_path_factory.mktemp("audit"), TOML,
        routes=[line("A", (0, 0), (100, 0)), line("B", (100, 0), (250, 0))],
        points=[
            recorder("R", 0, 0, status="existing", channels=8),
            *(
                camera(name, x, 0, signal="composite", load_w=4, load_night_w=4)
                for name, x in (("C", 100), ("D", 200), ("E", 250), ("F", 50))
            ),
        ],
        cables=[
            cable("K1", "C", "rg59-cu", method="coax-local"),
            cable("K2", "D", "rg59-cu", method="coax-local", joints=""),
            cable("K3", "E", "rg59-cu", method="coax-local"),
        ],
    )  # fmt: skip
    _, _, out = workflow.audit(folder, budget=10_000.0)
    return read_result(out)


@pytest.fixture(scope="module")
def text(result):
    return page_text(result)


def test_the_summary_is_in_sentences(result, text):
    """No key of a program and no dictionary is left where people read first."""
    told = dict(told_summary(result))
    summary = result.summary
    assert told["cables in links"] == [told_judged(summary)]
    assert told["remedies"][0].startswith(f"{summary['programme']['failing']} camera")
    assert re.match(r"a budget of 10,000\.00 cures \d camera", told["remedies"][1])
    assert any("joints of K2: walk its way" in line for line in told["to find out first"])
    dl = re.search(r'<section id="summary".*?</section>', text, re.DOTALL).group()
    for word in (
        "judged</dt>",
        "deciding",
        "in_budget",
        "percent ",
        "needed ",
        "without remedy",
        "draft rows",
    ):
        assert word not in dl, word


@pytest.mark.parametrize(
    ("judged", "waiting", "told"),
    [
        (19, 4, "19 of 23 cables in links are judged; 4 stand in links to be verified: a fact is not known"),
        (2, 1, "2 of 3 cables in links are judged; 1 stands in a link to be verified: a fact is not known"),
        (3, 0, "3 of 3 cables in links are judged"),
        (0, 0, "none on record"),
    ],
)
def test_judged_and_waiting_cables_are_one_sentence(judged, waiting, told):
    assert told_judged({"judged": judged, "verify": waiting}) == told


def test_a_programme_is_told_with_its_budget_and_with_whom_it_leaves(result):
    programme = {
        "failing": 3, "curable": 2, "cost": 1234.5, "budget": 500.0, "in_budget": {"cameras": 1, "cost": 99.0},
        "without_remedy": ["C9"],
    }  # fmt: skip
    estate = {**result.estate, "currency": "EUR"}
    assert told_sum(replace(result, estate=estate, summary={"programme": programme})) == [
        "3 cameras with a link outside its limits; 2 can be cured, for 1,234.50 EUR",
        "a budget of 500.00 EUR cures 1 camera, for 99.00 EUR",
        "no remedy stands for C9: a design may have another way",
    ]
    assert told_sum(replace(result, summary={"programme": {"failing": 0, "curable": 0}})) == [
        "no link is outside its limits"
    ]


def test_how_much_is_known_is_a_table_by_layer(result, text):
    rows = {row[0]: row[1:] for row in completeness(result.summary)}
    total = result.summary["completeness"]["all"]
    assert rows["all layers"] == (
        *(str(total[k]) for k in ("needed", "known", "assumed")),
        f"{total['percent']:.1f}",
    )
    assert sum(int(row[0]) for name, row in rows.items() if name != "all layers") == total["needed"]
    assert ">How much of the survey is known</h3>" in text


def test_a_camera_off_record_has_not_failed(result, text):
    heads, rows = table_of(text, "links")
    own = {row[heads.index("camera")]: dict(zip(heads, row, strict=True)) for row in rows}
    assert own["F"]["verdict"] == "not on record"
    assert own["F"]["at best"] == own["F"]["as calculated"] == ""
    assert own["E"]["verdict"] == "outside"
    assert 'data-v="none"' not in text
    titles = re.findall(r"<title>(.*?)</title>", text)
    assert "camera F, no cable on record" in titles
    assert "1 not on record" in text
    summary = re.search(r'<section id="summary".*?</section>', text, re.DOTALL).group()
    assert "without a link" not in summary


def test_what_is_installed_has_no_price_beside_it(text):
    heads, _ = table_of(text, "links")
    assert not {"cost", "works used, in full"} & set(heads)


def about(text, name):
    body = re.search(rf'<table data-name="{name}".*?</table>', text, re.DOTALL).group()
    return [set(keys.split(";")) for keys in re.findall(r'<tr data-r="([^"]*)"', body)]


def test_choosing_a_camera_gathers_remedies_unknown_facts_and_tests(text):
    """What is about a camera or its link is shown when it is chosen."""
    assert any({"point:E", "link:L-E"} & keys for keys in about(text, "repairs"))
    assert any("point:E" in keys for keys in about(text, "remedies"))
    assert any({"point:E", "link:L-E"} & keys for keys in about(text, "programme"))
    assert {"link:L-D"} in about(text, "survey")
    heads, rows = table_of(text, "survey")
    (row,) = (dict(zip(heads, row, strict=True)) for row in rows)
    assert (row["not known"], row["which"]) == ("joints", "K2")
    assert "reflectometer" in row["test"]


def test_the_curve_has_a_step_for_every_sum_that_cures_more(result):
    """Worked by hand: 3 steps; 5 and 20 money, where two plans cost the same the better counts."""
    rows = table(("cured", "cost", "cameras", "remedies"), [(1, 5.0, "A", "x"), (2, 20.0, "A;B", "x;y")])
    programme = {**result.summary["programme"], "budget": 10.0}
    drawn = curve(
        replace(result, tables={"programme_curve": rows}, summary={**result.summary, "programme": programme})
    )
    spots = [(float(x), float(y)) for x, y in re.findall(r'cx="([\d.]+)" cy="([\d.]+)"', drawn)]
    assert len(spots) == 2
    (x1, y1), (x2, y2) = spots
    assert (x2 - LEFT) / (x1 - LEFT) == pytest.approx(4, rel=0.01)
    assert (BOTTOM - y2) / (BOTTOM - y1) == pytest.approx(2, rel=0.01)
    (budget,) = (float(x) for x in re.findall(r'class="budget" d="M([\d.]+)', drawn))
    assert (budget - LEFT) / (x1 - LEFT) == pytest.approx(2, rel=0.01)
    assert re.findall("<title>(.*?)</title>", drawn) == ["1 camera for 5.00", "2 cameras for 20.00"]
    assert curve(replace(result, tables={})) == ""


def test_what_rests_on_assumptions_is_marked(result):
    links = result.tables["links"]
    place = links.columns.index("assumed")
    rows = tuple((*row[:place], "load_w" if row[0] == "L-C" else "", *row[place + 1 :]) for row in links.rows)
    text = page_text(replace(result, tables={**result.tables, "links": Table(links.columns, rows)}))
    heads, shown = table_of(text, "links")
    verdicts = {row[heads.index("link")]: row[heads.index("verdict")] for row in shown}
    assert verdicts["L-C"].endswith(" assumed")
    assert not verdicts["L-E"].endswith("assumed")


def test_tables_for_drawings_come_last_and_are_folded(result):
    facts = {name: table(("segment", "bore_mm"), [("A", 50.0)]) for name in FOLDED}
    other = {"wire_sags": table(("span", "sag_mm"), [("S1", 12.0)])}
    text = page_text(replace(result, tables={**result.tables, **facts, **other}))
    names = re.findall(r'<table data-name="(\w+)"', text)
    assert tuple(names[-len(FOLDED) :]) == FOLDED
    folded = re.search(r'<details class="folded">.*?</details>', text, re.DOTALL).group()
    assert set(re.findall(r'data-name="(\w+)"', folded)) == set(FOLDED)


def test_every_link_on_the_page_leads_somewhere(text):
    read = Read(text)
    ids = {a["id"] for _, a in read.elements if "id" in a}
    targets = [a["href"][1:] for a in read.all("a") if "=" not in a["href"]]
    assert targets
    assert set(targets) <= ids
