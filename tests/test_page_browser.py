"""report.html in a real headless Chromium: what a person does with it. Run with `pytest -m browser`."""

import time
from dataclasses import replace

import pytest
from pypdf import PdfReader

from estate import workflow
from estate.output.page import page_text
from estate.output.result import read_result, table
from tests.chromium import BROWSER, browser
from tests.page_estate import whole_estate
from tests.test_page import HOSTILE, hostile_estate

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def chromium(tmp_path_factory):
    if BROWSER is None:  # whoever asks for these tests must learn that they did not run
        pytest.fail("these tests need Chromium on the PATH: install the system's package chromium")
    with browser(tmp_path_factory.mktemp("profile")) as page:
        yield page


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    _, _, out = workflow.design(whole_estate(tmp_path_factory.mktemp("estate")), alternatives=1)
    return out / "report.html"


@pytest.fixture
def page(chromium, report):
    """The report, freshly opened; nothing may have been complained of, and nothing asked of the network."""
    chromium.complaints.clear()
    chromium.requests.clear()
    chromium.open(report)
    yield chromium
    assert chromium.complaints == []
    assert set(chromium.requests) <= {report.as_uri()}


def place_of(page, key, along=0.5):
    """Where a thing of the plan lies in the window, brought into view; of a line the place `along` it."""
    return page.run(f"""(() => {{
        document.getElementById("map").scrollIntoView({{block: "center"}});
        const thing = [...document.querySelectorAll("#map .thing")].find((each) => each.dataset.r === {key!r});
        if (thing.tagName !== "path") {{
            const box = thing.querySelector("use").getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];
        }}
        const spot = thing.getPointAtLength(thing.getTotalLength() * {along}).matrixTransform(thing.getScreenCTM());
        return [spot.x, spot.y];
    }})()""")


def card(page):
    return page.run("document.getElementById('card').innerText")


def sections(page):
    """The tables of the card by title: how many rows each has."""
    return page.run("""Object.fromEntries([...document.querySelectorAll("#card h4")].map((head) => [
        head.textContent, head.nextElementSibling.querySelectorAll("tbody tr").length || 1]))""")


def chosen(page):
    return page.run("decodeURIComponent(location.hash)")


# The plan


def test_a_click_on_a_camera_shows_its_link_budget_and_findings_and_back_goes_back(page):
    page.click(*place_of(page, "point:C2"))
    page.until("location.hash !== ''")
    assert chosen(page) == "#point=C2"
    page.until("document.querySelector('#card h3').textContent.startsWith('camera C2')")
    shown = sections(page)
    assert next(iter(shown)) == "Links"
    assert {"Budget lines", "Equipment, link by link", "Terminations"} <= set(shown)
    assert "night load not known: judged up to 25.5 W" in card(page)
    lines = page.run(
        "[...document.querySelectorAll('#budget tr[data-r]')].filter((r) => r.dataset.r === 'link:L-C2').length"
    )
    assert shown["Budget lines"] == lines > 3
    way = page.run("[...document.querySelectorAll('#map .way')].map((each) => each.dataset.r)")
    assert way == ["segment:D.1", "segment:D.2"]
    page.run("history.back()")
    page.until("document.querySelector('#card h3').textContent === 'Nothing chosen'")
    assert page.run("document.querySelectorAll('#map .way, .on').length") == 0


def test_a_click_near_a_thin_line_takes_the_segment_and_shows_the_links_that_pass(page):
    x, y = place_of(page, "segment:A.1", along=0.8)
    page.click(x, y + 6)
    page.until("location.hash === '#segment=A.1'")
    page.until("document.querySelector('#card h3').textContent === 'Segment A.1'")
    shown = sections(page)
    assert next(iter(shown)) == "Segments"
    assert shown["Links"] == 2
    page.run("[...document.querySelectorAll('#card a')].find((each) => each.textContent === 'L-C1').click()")
    page.until("document.querySelector('#card h3').textContent === 'Link L-C1'")
    page.run("history.back()")
    page.until("document.querySelector('#card h3').textContent === 'Segment A.1'")


def test_a_click_on_a_finding_shows_it_with_what_it_is_about(page):
    finding = page.run("document.querySelector('#map .finding.watch').dataset.r")
    page.click(*place_of(page, finding))
    page.until("location.hash.startsWith('#finding=')")
    page.until("document.querySelector('#card h3').textContent.startsWith('Finding F')")
    assert next(iter(sections(page))) == "Findings"


def test_a_camera_without_a_link_shows_what_would_give_it_one(page):
    page.click(*place_of(page, "point:C3"))
    page.until("document.querySelector('#card h3').textContent === 'camera C3, no link'")
    assert {"Findings", "What would give a link", "Nearest misses of cameras without a link"} <= set(
        sections(page)
    )
    assert "a trench of" in card(page)


def test_the_plan_is_panned_and_zoomed_by_pointer_wheel_and_button(page):
    def box():
        return [float(v) for v in page.run("document.getElementById('map').getAttribute('viewBox')").split()]

    whole = box()
    x, y = place_of(page, "point:R")
    page.send("Input.dispatchMouseEvent", type="mouseWheel", x=x, y=y, deltaX=0, deltaY=-300)
    page.until(
        f"parseFloat(document.getElementById('map').getAttribute('viewBox').split(' ')[2]) < {whole[2] * 0.9}"
    )
    assert place_of(page, "point:R") == pytest.approx(
        [x, y], abs=1.0
    )  # what lies under the pointer stays there
    page.send("Input.dispatchMouseEvent", type="mousePressed", x=x, y=y, button="left", clickCount=1)
    for step in (10, 40):
        page.send("Input.dispatchMouseEvent", type="mouseMoved", x=x + step, y=y, button="left", buttons=1)
    page.send("Input.dispatchMouseEvent", type="mouseReleased", x=x + 40, y=y, button="left", clickCount=1)
    assert place_of(page, "point:R") == pytest.approx([x + 40, y], abs=1.0)
    assert chosen(page) == ""  # a drag is no choice
    page.run("document.querySelector('[data-act=fit]').click()")
    assert box() == pytest.approx(whole)


def test_layers_are_switched_off(page):
    shown = "getComputedStyle(document.getElementById('map-findings')).display"
    assert page.run(shown) == "inline"
    page.run("document.querySelector('[data-layer=findings]').click()")
    assert page.run(shown) == "none"


# Keyboard and screen reader


def test_the_keyboard_alone_reaches_a_camera_and_its_link(page):
    focus = "document.activeElement"
    page.key("Tab")
    assert page.run(f"{focus}.className") == "skip"
    page.run("document.getElementById('map').focus()")
    page.key("Enter")
    first = page.run(f"{focus}.dataset.r")
    assert first.startswith("point:C")
    page.run(
        "[...document.querySelectorAll('g.camera')].find((each) => each.dataset.r === 'point:C4').focus()"
    )
    page.key("ArrowRight")
    assert page.run(f"{focus}.dataset.r") == "point:P"  # 30 m east and 20 m north of C4
    for _ in range(4):  # past the findings that lie between them
        page.key("ArrowRight")
        if page.run(f"{focus}.dataset.r") == "point:C1":
            break
    assert page.run(f"{focus}.dataset.r") == "point:C1"
    page.key("Enter")
    page.until("location.hash === '#point=C1'")
    page.until(f"{focus}.tagName === 'H3'")  # the reader hears what was chosen
    assert page.run("document.querySelectorAll('#map .thing[tabindex=\"0\"]').length") == 1


def test_the_plan_is_moved_by_keys(page):
    page.run("document.getElementById('map').focus()")
    before = page.run("document.getElementById('map').getAttribute('viewBox')")
    page.key("+", "+")
    page.key("ArrowLeft")
    assert page.run("document.getElementById('map').getAttribute('viewBox')") != before
    page.key("0", "0")
    assert [
        float(v) for v in page.run("document.getElementById('map').getAttribute('viewBox')").split()
    ] == pytest.approx([float(v) for v in before.split()])


def test_everything_that_can_be_worked_has_a_name(page):
    """WCAG 2.1, 4.1.2 name, role, value: read from the browser's own accessibility tree."""
    page.run("location.hash = '#point=C1'")
    page.until("document.querySelectorAll('#card h4').length > 0")
    nodes = page.send("Accessibility.getFullAXTree")["nodes"]
    worked = {"button", "link", "checkbox", "searchbox", "textbox", "DisclosureTriangle", "region", "group"}
    seen = {}
    for node in nodes:
        role = node.get("role", {}).get("value")
        if node["ignored"] or role not in worked:
            continue
        seen[role] = seen.get(role, 0) + 1
        if role not in ("group", "DisclosureTriangle"):
            assert node.get("name", {}).get("value"), node
    assert seen["button"] > 20
    assert seen["searchbox"] > 5
    assert any(n.get("name", {}).get("value") == "camera C1 (Gate), link within limits" for n in nodes)


# Tables


def test_the_filter_filters_and_counts(page):
    rows = "[...document.querySelectorAll('#budget tbody tr')].filter((row) => row.offsetParent).length"
    every = page.run(rows)
    page.run("document.querySelector('#budget input').focus()")
    page.type("l-c4 NIGHT")
    page.until("document.querySelector('#budget output').textContent.includes(' of ')")
    texts = page.run(
        "[...document.querySelectorAll('#budget tbody tr')].filter((r) => r.offsetParent).map((r) => r.innerText)"
    )
    assert texts
    assert all("L-C4" in text and "night" in text for text in texts)
    assert page.run("document.querySelector('#budget output').textContent") == f"{len(texts)} of {every} rows"
    page.run("document.querySelector('#budget input').select()")
    page.type("")
    page.send("Input.dispatchKeyEvent", type="keyDown", key="Delete", windowsVirtualKeyCode=46)
    page.until(f"document.querySelector('#budget output').textContent === '{every} rows'")
    assert page.run(rows) == every


def test_a_long_table_shows_its_first_rows_filters_all_and_opens(chromium, tmp_path, report):
    result = read_result(report.parent)
    rows = [(f"S{k}", float(1000 - k)) for k in range(700)]
    long = replace(result, tables={**result.tables, "sags": table(("span", "sag_mm"), rows)})
    (tmp_path / "long.html").write_text(page_text(long), encoding="utf-8")
    chromium.open(tmp_path / "long.html")
    shown = "[...document.querySelectorAll('#sags tbody tr')].filter((row) => row.offsetParent).map((r) => r.cells[0].textContent)"
    said = "document.querySelector('#sags output').textContent"
    assert chromium.run(said) == "700 rows, the first 300 shown"
    assert chromium.run(shown) == [f"S{k}" for k in range(300)]
    chromium.run("document.querySelectorAll('#sags th button')[1].click()")
    assert chromium.run(shown) == [f"S{k}" for k in range(699, 399, -1)]
    chromium.run("document.querySelector('#sags input').focus()")
    chromium.type("s12")
    chromium.until(f"{said}.includes(' of ')")
    assert chromium.run(shown) == [f"S{k}" for k in (*range(129, 119, -1), 12)]
    chromium.run("document.querySelector('#sags input').value = ''")
    chromium.run(
        "document.querySelector('#sags input').dispatchEvent(new InputEvent('input', {bubbles: true}))"
    )
    chromium.until(f"{said}.includes('first')")
    chromium.run("document.querySelector('#sags .all').click()")
    assert len(chromium.run(shown)) == 700
    assert chromium.run(said) == "700 rows"


def test_a_head_sorts_numbers_as_numbers_and_says_so(page):
    def column(place):
        return page.run(
            f"[...document.querySelectorAll('#links tbody tr')].map((row) => row.cells[{place}].textContent)"
        )

    heads = page.run("[...document.querySelectorAll('#links th')].map((head) => head.dataset.c)")
    place = heads.index("cable_length_m")
    press = f"document.querySelectorAll('#links th button')[{place}].click()"
    sort = f"document.querySelectorAll('#links th')[{place}].getAttribute('aria-sort')"
    page.run(press)
    assert page.run(sort) == "ascending"
    lengths = [float(text) for text in column(place) if text]
    assert lengths == sorted(lengths)
    assert column(place)[-1] == ""  # C3 has none: blanks last
    page.run(press)
    assert page.run(sort) == "descending"
    assert [float(text) for text in column(place) if text] == lengths[::-1]
    assert column(place)[-1] == ""


def test_an_address_opens_what_it_names(page, report):
    page.open(report, choice="#link=L-C4")
    page.until("document.querySelector('#card h3').textContent === 'Link L-C4'")
    page.open(report, choice="#point=%E0%A4%A")  # no address of this page
    page.until("document.querySelector('#card h3').textContent === 'Nothing chosen'")


# Paper, narrow windows, hostile names


def test_printing_gives_pages_with_everything_and_repeats_heads(page, report, tmp_path):
    page.run("document.querySelector('#cuts input').focus()")
    page.pdf(tmp_path / "printed.pdf")
    pages = PdfReader(tmp_path / "printed.pdf").pages
    texts = [each.extract_text() for each in pages]
    assert len(pages) > 3
    assert (round(float(pages[0].mediabox.width)), round(float(pages[0].mediabox.height))) == (
        842,
        595,
    )  # A4, ISO 216
    everything = " ".join(texts)
    for words in (
        "Calculated, not tested",
        "Local codes and licensed practice govern",
        "Terminations",
        "camera, no link",
    ):
        assert words in everything, words
    assert "Skip to the summary" not in everything
    assert "Zoom in" not in everything
    heads = [text for text in texts if "terminal" in text and "purpose" in text]
    assert len(heads) >= 2  # a table over several pages has its heads on each


def test_nothing_is_wider_than_a_phone(page, report):
    page.open(report, width=390, height=844)
    assert page.run("document.scrollingElement.scrollWidth <= innerWidth")
    page.click(*place_of(page, "point:C4"))
    page.until("location.hash === '#point=C4'")
    assert page.run("document.scrollingElement.scrollWidth <= innerWidth")


def test_names_don_t_run_and_can_be_chosen_all_the_same(chromium, tmp_path):
    _, result, out = workflow.design(hostile_estate(tmp_path))
    chromium.complaints.clear()
    chromium.requests.clear()
    chromium.open(out / "report.html")
    assert chromium.run("document.title").startswith(HOSTILE[0])
    assert chromium.run("document.querySelectorAll('script, img').length") == 2
    for camera in result.tables["links"].column("camera"):
        key = f"point:{camera}"
        chromium.run(f"location.hash = '#point=' + encodeURIComponent({camera!r})")
        chromium.until(f"document.querySelector('#card h3').textContent.includes({camera!r})")
        assert chromium.run("document.querySelectorAll('#map .on').length") == 1, key
    assert chromium.complaints == []
    assert set(chromium.requests) == {(out / "report.html").as_uri()}


def test_a_script_that_is_not_its_own_is_refused_by_the_policy(chromium, report, tmp_path):
    spoilt = tmp_path / "spoilt.html"
    text = report.read_text(encoding="utf-8")
    spoilt.write_text(text.replace("</main>", "<script>window.ran = true</script></main>"), encoding="utf-8")
    chromium.complaints.clear()
    chromium.open(spoilt)
    assert chromium.run("window.ran === undefined")
    end = time.monotonic() + 10
    while not chromium.complaints and time.monotonic() < end:
        chromium.run("1")
    assert "Content Security Policy" in " ".join(chromium.complaints)
    chromium.complaints.clear()


# Crowded places, folded tables


def test_findings_at_one_place_lie_beside_each_other_and_each_can_be_chosen(chromium, report, tmp_path):
    """Nine findings on one spot: on the screen no two marks lie over each other, near and far."""
    result = read_result(report.parent)
    each = result.layers["findings"]
    placed = next(k for k, where in enumerate(each.geometry) if where is not None)
    own = [
        tuple(f"X{n}" if c == "finding" else v for c, v in zip(each.columns, each.rows[placed], strict=True))
        for n in range(1, 10)
    ]
    crowded = replace(each, rows=tuple(own), geometry=(each.geometry[placed],) * 9)
    page = tmp_path / "crowded.html"
    page.write_text(page_text(replace(result, layers={**result.layers, "findings": crowded})), "utf-8")
    chromium.open(page)
    for act in ("fit", "in"):
        chromium.run(f"document.querySelector('[data-act={act}]').click()")
        boxes = chromium.run("""[...document.querySelectorAll("#map g.finding use")].map((each) => {
            const box = each.getBoundingClientRect();
            return [box.x, box.y, box.width, box.height];
        })""")
        assert len(boxes) == 9
        for k, (x, y, w, h) in enumerate(boxes):
            for ox, oy, ow, oh in boxes[:k]:
                across = min(x + w, ox + ow) - max(x, ox)
                down = min(y + h, oy + oh) - max(y, oy)
                assert min(across, down) < 6  # corners may touch: the shapes are no boxes
    chromium.click(*place_of(chromium, "finding:X9"))
    chromium.until("location.hash === '#finding=X9'")
    assert chromium.complaints == []


def test_names_of_buildings_lie_under_no_finding(chromium, report):
    chromium.open(report)
    chromium.run("document.querySelector('[data-act=in]').click()")
    over = chromium.run("""(() => {
        const box = (each) => each.getBoundingClientRect();
        const names = [...document.querySelectorAll("#map g.names:not(.hidden) text")].map(box);
        const marks = [...document.querySelectorAll("#map g.finding use")].map(box);
        return names.flatMap((a) => marks.filter((b) =>
            Math.min(a.right, b.right) - Math.max(a.left, b.left) > 3 &&
            Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 3)).length;
    })()""")
    assert over == 0


def test_an_address_opens_a_folded_table(page):
    folded = "document.querySelector('details.folded')"
    assert page.run(f"{folded}.open") is False
    page.run("location.hash = '#cable_facts'")
    page.until(f"{folded}.open")
    page.until("Math.abs(document.getElementById('cable_facts').getBoundingClientRect().top) < innerHeight")
