"""report.html as text: self-contained, whole, in words for people, harmless whatever things are called."""

import re
from base64 import b64encode
from dataclasses import replace
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files
from urllib.parse import unquote

import pytest

from estate import workflow
from estate.output import page_words
from estate.output.page import page_text
from estate.output.page_map import DEFINITIONS
from estate.output.result import Table, read_result, table
from tests.estates import camera, line, recorder, write_estate
from tests.page_estate import whole_estate


class Read(HTMLParser):
    """The page as a list of elements (name, attributes) and their text."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.texts, self.inside = [], [], []
        self.scripts, self.styles = [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.inside.append(tag)

    def handle_endtag(self, tag):
        while self.inside and self.inside.pop() != tag:
            pass

    def handle_data(self, data):
        kind = self.inside[-1] if self.inside else ""
        {"script": self.scripts, "style": self.styles}.get(kind, self.texts).append(data)

    @property
    def text(self):
        return " ".join(self.texts)

    def all(self, tag, **wanted):
        return [a for t, a in self.elements if t == tag and all(a.get(k) == v for k, v in wanted.items())]


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    folder = whole_estate(tmp_path_factory.mktemp("page"))
    _, _, out = workflow.design(folder, alternatives=1)
    return read_result(out)


@pytest.fixture(scope="module")
def page(result):
    return Read(page_text(result))


def table_of(text, name):
    """The heads and rows of a table, as cells without markup."""
    body = re.search(rf'<table data-name="{name}".*?</table>', text, re.DOTALL).group()
    cells = [
        [re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)]
        for row in re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.DOTALL)
    ]
    return cells[0], cells[1:]


# Self-contained


def test_nothing_is_loaded_and_only_its_own_script_may_run(result, page):
    """Content Security Policy Level 3: a hash source is the base64 of the SHA-256 of the element's text."""
    for tag, attributes in page.elements:
        assert tag not in ("link", "img", "iframe", "object", "embed", "base", "form"), tag
        for name, value in attributes.items():
            assert not name.startswith("on"), name
            assert name not in ("src", "srcset", "style", "action"), name
            if name in ("href", "xlink:href"):
                assert value.startswith("#"), value
    (first, script), (style,) = page.scripts, page.styles
    assert script == files("estate.output").joinpath("page.js").read_text("utf-8")
    assert "url(" not in style
    assert "@import" not in style
    (policy,) = (m["content"] for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy")
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == "'none'"
    for rule, texts in (("script-src", (first, script)), ("style-src", (style,))):
        hashes = [b64encode(sha256(text.encode()).digest()).decode() for text in texts]
        assert rules[rule] == " ".join(f"'sha256-{each}'" for each in hashes)


def test_the_policy_stands_before_what_it_governs(result):
    text = page_text(result)
    assert text.index("Content-Security-Policy") < text.index("<script") < text.index("<style")


def test_same_result_same_bytes(result):
    assert page_text(result) == page_text(result)


# Whole


def test_every_table_with_rows_is_shown_with_all_its_rows(result, page):
    text = page_text(result)
    beside = {"budget_notes", "link_facts"}  # shown beside the budget lines and the links
    for name, each in result.tables.items():
        if each.rows and name not in beside:
            assert len(table_of(text, name)[1]) == len(each.rows), name
    assert {"cuts", "phases", "terminations", "runs", "equipment", "alternatives", "misses"} <= {
        a["data-name"] for a in page.all("table")
    }


def test_tables_of_any_name_are_shown_by_rule(result):
    """What is known has a good title; what isn't is shown under its own name, with units from its columns."""
    sag = table(("span", "sag_mm", "pull_n", "camera"), [("S1", 12.34, None, "C1")])
    programme = Table(
        result.tables["programme"].columns,
        ((1, "x", "A.1", "relocate", 5.0, 5.0, "C1;C2", 2, True, "move it"),),
    )
    text = page_text(replace(result, tables={**result.tables, "wire_sags": sag, "programme": programme}))
    heads, rows = table_of(text, "wire_sags")
    assert heads == ["span", "sag [mm]", "pull [N]", "camera"]
    assert rows == [["S1", "12", "", "C1"]]
    assert ">Wire sags</h2>" in text
    assert ">Programme of works</h2>" in text
    for name in ("survey", "assets", "remedies", "programme", "reuse", "containment", "records", "tests"):
        assert name in page_words.TITLES


def test_budget_lines_have_their_notes_beside_them(result):
    heads, rows = table_of(page_text(result), "budget")
    notes = [row["note"] for row in result.tables["budget_notes"].records()]
    assert [row[heads.index("note")] for row in rows] == [
        note.replace("&", "&amp;").replace("'", "&#39;") for note in notes
    ]


def test_words_on_the_page_are_for_people(result):
    """No value or key of a program: a design that was not proven, a setting that is not set, a cut."""
    summary = {**result.summary, "solver_status": "best_found", "gap_percent": 3.0}
    read = Read(page_text(replace(result, summary=summary)))
    assert "best found, not proven the cheapest" in read.text
    for word in ("best_found", "None", "cameras_lost", "nan", "NaN", "True", "False", "cable_length_m"):
        assert not re.search(rf"(?<![\w.\]] ){word}\b", read.text), word
    assert "cameras without another way" in read.text
    assert "not set" in read.text


def test_every_setting_is_told_with_its_meaning_and_origin(result):
    heads, rows = table_of(page_text(result), "assumptions")
    assert heads == ["setting or column", "value", "origin", "rows", "meaning"]
    told = {row[0]: row for row in rows}
    assert told["[design] gap_percent"][2:] == [
        "default taken",
        "",
        "how far from the bound the solver may stop",
    ]
    assert told["[network] spur_max_m"][1:3] == ["5", "set by the estate"]
    assert told["points.load_night_w"][2] == "not known, judged over its range"


def test_sources_are_told_with_edition_and_status(result):
    heads, rows = table_of(page_text(result), "sources")
    assert heads == ["source", "edition", "status", "value is", "times"]
    statuses = {row[2] for row in rows}
    assert {"second hand", "common practice"} <= statuses
    assert not [row for row in rows if "(second hand)" in row[0]]
    counts = sum(int(row[4]) for row in rows if row[3] != "finding" and not row[0].startswith("night load"))
    assert counts >= sum(bool(row["source"]) for row in result.tables["budget"].records())


def test_cautions_and_notes_stand_on_the_page(result, page):
    for text in (*result.cautions, *result.notes):
        assert text in page.text


def test_numbers_are_right_aligned_and_say_thousands(result):
    text = page_text(
        replace(
            result, tables={**result.tables, "prices": table(("item", "cost"), [("a", 1234.5), ("b", None)])}
        )
    )
    assert '<td class="n">1,234.50</td>' in text
    assert re.search(r'<th scope="col" data-c="cost" class="n">', text)


def test_counts_are_no_ids_and_years_no_thousands(result):
    """A column of counts under a name that elsewhere holds ids, and a year."""
    assets = table(("cable", "year", "links", "cameras"), [("K1", 2019, 1200, 3)])
    text = page_text(replace(result, tables={**result.tables, "assets": assets}))
    assert table_of(text, "assets")[1] == [["K1", "2019", "1,200", "3"]]
    body = re.search(r'<table data-name="assets".*?</table>', text, re.DOTALL).group()
    assert "href" not in body
    assert "data-r" not in body


# The plan


def test_each_camera_segment_and_finding_can_be_chosen_on_the_plan(result, page):
    things = {a["data-r"]: a for _, a in page.elements if "thing" in a.get("class", "")}
    assert {f"point:{name}" for name in ("R", "P", "C1", "C2", "C3", "C4")} <= set(things)
    assert {f"segment:{name}" for name in result.tables["segments"].column("segment")} <= set(things)
    placed = [row["finding"] for row in result.tables["findings"].records() if row["x"] is not None]
    assert placed
    assert {f"finding:{name}" for name in placed} <= set(things)
    assert {a["tabindex"] for a in things.values()} == {"-1"}
    assert {a["role"] for a in things.values()} == {"button"}
    titles = re.findall(r"<title>(.*?)</title>", page_text(result))
    assert "camera C1 (Gate), link within limits" in titles
    assert "camera C3, no link" in titles
    assert any(re.match(r"segment A\.1: tray, 20\.0 m, 2 links", title) for title in titles)


def test_a_place_on_the_plan_is_that_of_the_estate(result):
    """C1 lies 130 m east of R and as far north; the plan's y grows downwards, as C2 is 40 m north of R."""
    text = page_text(result)
    x, y = {}, {}
    for name in ("R", "C1", "C2"):
        found = re.search(rf'data-r="point:{name}"[^>]*transform="translate\(([\d.]+) ([\d.]+)\)', text)
        x[name], y[name] = map(float, found.groups())
    assert (x["C1"] - x["R"], y["C1"] - y["R"]) == pytest.approx((130, 0))
    assert (x["C2"] - x["R"], y["C2"] - y["R"]) == pytest.approx((0, -40))


def test_verdicts_and_severities_differ_by_shape_not_only_by_colour():
    shapes = {}
    for name, drawn in re.findall(r'<g id="y-((?:camera|finding)-\w+)">(.*?)</g>', DEFINITIONS):
        shape = re.sub(r'class="y \w+ ?(dashed)?"', r"\1", drawn)
        shapes.setdefault(shape, []).append(name)
    assert [names for names in shapes.values() if len(names) > 1] == []


def luminance(colour):
    """Relative luminance of an sRGB colour (WCAG 2.1)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_texts_and_lines_stand_out_from_the_paper(page):
    """WCAG 2.1: 4.5 for texts (1.4.3), 3 for lines that tell something (1.4.11), on white and on the heads' grey."""
    (style,) = page.styles
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", style))
    for paper in ("#ffffff", named["soft"]):
        for ink in ("ink", "quiet", "link"):
            assert (luminance(paper) + 0.05) / (luminance(named[ink]) + 0.05) >= 4.5, ink
    lines = re.findall(r"(\.(?:seg|near|mains|cure)[\w.-]*) \{ stroke: (#[0-9a-f]{6})", style)
    assert len(lines) >= 8
    for line_class, colour in lines:
        assert 1.05 / (luminance(colour) + 0.05) >= 3, line_class


# Links within the page


def test_every_link_leads_somewhere(page):
    ids = {a["id"] for _, a in page.elements if "id" in a}
    about = {key for _, a in page.elements for key in a.get("data-r", "").split(";")}
    for anchor in page.all("a"):
        target = anchor["href"][1:]
        if "=" in target:
            kind, name = target.split("=", 1)
            assert f"{kind}:{unquote(name)}" in about, target
        else:
            assert target in ids, target
    for name in {a.get("aria-labelledby") or a.get("aria-controls") for _, a in page.elements} - {None}:
        assert name in ids, name


def test_what_a_screen_reader_needs_is_there(page):
    assert page.all("html")[0]["lang"] == "en"
    assert (
        len(page.all("main")) == len(page.all("header")) == len(page.all("nav")) == len(page.all("h1")) == 1
    )
    first = next(a for t, a in page.elements if t in ("a", "button", "input"))
    assert first == {"class": "skip", "href": "#main"}
    assert {a["scope"] for a in page.all("th")} == {"col"}
    for box in page.all("div", tabindex="0"):
        assert box["role"] == "region"
        assert box["aria-label"]


# Other results, hostile names


def test_a_check_has_a_page_too(tmp_path):
    folder = whole_estate(tmp_path / "estate")
    workflow.check(folder, tmp_path / "out")
    read = Read((tmp_path / "out" / "report.html").read_text(encoding="utf-8"))
    assert "check of the survey" in read.text
    assert "camera C1 (Gate), not judged" in read.text
    for word in ("not used", "not needed", "carries no link"):  # nothing was designed yet
        assert word not in read.text, word
    assert {"findings", "segments", "proximity"} <= {a["data-name"] for a in read.all("table")}
    assert "Nothing in this result for:" in read.text


def test_an_estate_without_a_drawing_says_so(tmp_path):
    folder = write_estate(
        tmp_path, "[estate]\n", routes=[{"id": "A", "from": "R", "to": "C", "length_m": 40}],
        points=[
            {"id": "C", "kind": "camera", "signal": "ethernet-1g", "power": "unswitched"},
            {"id": "R", "kind": "recorder", "status": "candidate"},
        ],
    )  # fmt: skip
    _, _, out = workflow.design(folder)
    read = Read((out / "report.html").read_text(encoding="utf-8"))
    assert "No drawing" in read.text
    assert not [a for a in read.all("svg") if a.get("id") == "map"]
    assert "L-C" in read.text


HOSTILE = (
    "</script><script>document.title='X'</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</title></svg><b>",
    "{{ 7*7 }}<!--",
    "&lt;i&gt; ]]>",
)


def hostile_estate(folder):
    names = list(HOSTILE)
    toml = f"[estate]\ntitle = '''{names[0]}'''\nclient = '''{names[1]}'''\ncrs = \"local\"\n"
    return write_estate(
        folder, toml,
        routes=[line(f"A{names[3]}", (0, 0), (40, 0)), line(f"B{names[1]}", (40, 0), (80, 0))],
        points=[
            *(camera(f"C{k}{name.replace(chr(59), '')}", 10 * k, 0, name=name) for k, name in enumerate(names, 1)),
            camera("far" + names[0], 30, 200), {**recorder("R" + names[2], 0, 0), "name": names[0]},
        ],
        buildings=[{"id": "H" + names[0], "name": names[3], "wkt": "POLYGON ((-9 -9, 20 -9, 20 9, -9 9, -9 -9))"}],
    )  # fmt: skip


def test_names_stay_text_whatever_they_hold(tmp_path):
    _, result, out = workflow.design(hostile_estate(tmp_path))
    text = (out / "report.html").read_text(encoding="utf-8")
    read = Read(text)
    plain = Read(page_text(replace(result, estate={**result.estate, "title": "x", "client": "y"})))
    known = {
        "html", "head", "meta", "title", "style", "body", "a", "header", "h1", "p", "nav", "ul", "li", "main", "section",
        "h2", "strong", "dl", "dt", "dd", "div", "svg", "defs", "g", "path", "circle", "use", "text", "button", "label",
        "input", "output", "table", "thead", "tbody", "tr", "th", "td", "details", "summary", "footer", "script",
    }  # fmt: skip
    assert {tag for tag, _ in read.elements} <= known
    assert len(read.elements) == len(plain.elements)
    assert len(read.scripts) == 2
    assert not [name for _, a in read.elements for name in a if name.startswith("on") or name == "src"]
    for name in HOSTILE:
        assert name in read.text, name


def test_labels_and_ids_lead_to_their_rows_whatever_they_hold(tmp_path):
    _, result, _ = workflow.design(hostile_estate(tmp_path))
    read = Read(page_text(result))
    about = {key for _, a in read.elements for key in a.get("data-r", "").split(";")}
    chosen = [a["href"] for a in read.all("a") if "=" in a["href"]]
    assert chosen
    for href in chosen:
        kind, name = href[1:].split("=", 1)
        assert f"{kind}:{unquote(name)}" in about
