"""The plan: true to scale, legible in black and white, nothing on top of anything, the same bytes every time."""

import math
import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib as mpl
import numpy as np
import pytest
import shapely
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from estate.findings import Action, Effect, Finding, Severity
from estate.output import symbols
from estate.output.lettering import CAP_HEIGHT, font
from estate.output.panel import Entry, Note, Panel, arrangements
from estate.output.plan import PlanContent, choose_arrangement, draw_plan
from estate.output.plan_content import (
    PlanBuildings,
    PlanMains,
    PlanPoints,
    PlanSegments,
    PlanStretches,
    View,
    on_paper,
)
from estate.output.plan_labels import set_labels
from estate.output.plan_layers import legend_of
from estate.output.scales import (
    SCALES,
    SHEETS_MM,
    Box,
    grid_marks_mm,
    largest_scale,
    round_step,
    round_step_below,
    sheet,
)
from estate.output.sheet import TITLE_WIDTH_MM, TitleBlock
from estate.settings import DrawingSection, EstateSection
from tests.drawn import MM_PER_PT, SVG, pdf_strokes, pdf_text, svg_texts

unhurried = settings(deadline=None)

EAST, NORTH = 501_000.0, 5_702_000.0


def line(*xy):
    return shapely.LineString([(EAST + x, NORTH + y) for x, y in xy])


def finding(number, x, y, severity=Severity.FAULT):
    return Finding(severity, Effect.PICTURE, Action.SURVEY, "segment", "R1.1", "text", x, y, id=f"F{number}")


def small_estate(**changes):
    """Two buildings, two routes (one of them proposed, 100 m by 50 m), a recorder and three cameras."""
    content = PlanContent(
        estate=EstateSection(
            title="Mill Lane", client="A client", number="ML-1", revision="C", date="2025-02-03"
        ),
        drawing=DrawingSection(owner="An owner"),
        crs="EPSG:32630",
        segments=PlanSegments(
            id=["R1.1", "R2.1"],
            geometry=[line((0, 0), (100, 0), (100, 50)), line((100, 50), (160, 50))],
            containment=["duct", None],
            proposed=[True, False],
            links=[3, 2],
            separation_mm=[200.0, math.nan],
        ),
        mains=PlanMains(geometry=[line((0, -5), (160, -5))], kind=["mains"], placement=["buried"]),
        buildings=PlanBuildings(
            id=["B1", "B2"],
            name=["Barn", ""],
            geometry=[
                shapely.box(EAST - 30, NORTH - 4, EAST, NORTH + 20),
                shapely.box(EAST + 160, NORTH + 40, EAST + 190, NORTH + 60),
            ],
        ),
        points=PlanPoints(
            id=["REC1", "C1", "C2", "C3"],
            kind=["recorder", "camera", "camera", "camera"],
            x=[EAST, EAST + 100, EAST + 160, EAST + 190],
            y=[NORTH, NORTH + 50, NORTH + 50, NORTH + 60],
            status=["used", "existing", "existing", "existing"],
            verdict=[None, "within", "outside", "none"],
        ),
        stretches=PlanStretches(geometry=[line((0, 0), (100, 0))], verdict=["outside"]),
        findings=(
            finding(1, EAST + 40, NORTH, Severity.DANGER),
            finding(2, EAST + 130, NORTH + 50),
            finding(3, EAST + 130.5, NORTH + 50),
            finding(4, math.nan, math.nan),
        ),
        cautions=("Calculated, not tested.",),
        counts=(("cameras", 3),),
        input_hash="0123abcd",
    )
    return replace(content, **changes)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """PDF, SVG and PNG of the small estate, drawn once."""
    return draw_plan(small_estate(), tmp_path_factory.mktemp("plan"))


# Sheets and scales


def test_sheets_are_those_of_iso_216():
    """ISO 216: A0 is a square metre, sides 1 : √2, each next sheet the half of the one before, whole mm."""
    long_side, short_side = SHEETS_MM["A0"]
    assert long_side * short_side == pytest.approx(1e6, rel=1e-3)
    for larger, smaller in zip(["A0", "A1", "A2", "A3"], ["A1", "A2", "A3", "A4"], strict=True):
        assert SHEETS_MM[smaller] == (SHEETS_MM[larger][1], SHEETS_MM[larger][0] // 2)
    assert all(a / b == pytest.approx(math.sqrt(2), rel=4e-3) for a, b in SHEETS_MM.values())


@pytest.mark.parametrize(
    ("name", "portrait", "width", "height"),
    [("A0", False, 1159, 821), ("A1", False, 811, 574), ("A2", False, 564, 400), ("A3", False, 390, 277), ("A4", True, 180, 277)],
)  # fmt: skip
def test_drawing_space_of_iso_5457(name, portrait, width, height):
    """ISO 5457:1999, table of drawing spaces (sheet A4 upright), from memory."""
    space = sheet(name, portrait=portrait).space
    assert (space.width, space.height) == (width, height)


@pytest.mark.parametrize(
    ("name", "fields"), [("A0", (24, 16)), ("A1", (16, 12)), ("A2", (12, 8)), ("A3", (8, 6)), ("A4", (6, 4))]
)
def test_reference_grid_of_iso_5457(name, fields):
    """ISO 5457:1999, number of fields along the long and the short side, from memory."""
    assert tuple(len(grid_marks_mm(side)) + 1 for side in SHEETS_MM[name]) == fields


def test_scales_hold_the_series_of_iso_5455():
    """ISO 5455:1979: reductions 1 : 50 to 1 : 10 000 (from memory)."""
    assert {50, 100, 200, 500, 1000, 2000, 5000, 10_000} <= set(SCALES)
    assert list(SCALES) == sorted(SCALES)


@unhurried
@given(st.floats(0, 5e4), st.floats(0, 5e4), st.floats(60, 1200), st.floats(60, 900))
def test_largest_scale_fits_and_the_next_larger_does_not(east_m, north_m, width, height):
    scale = largest_scale((east_m, north_m), (width, height))
    needed = max(east_m / width, north_m / height) * 1000
    assert scale is not None
    assert scale >= needed * (1 - 1e-9)
    assert all(s < needed for s in SCALES if s < scale)


@unhurried
@given(st.floats(1e-3, 1e6))
def test_round_steps_enclose_a_number(value):
    above, below = round_step(value), round_step_below(value)
    assert below <= value * (1 + 1e-9)
    assert above >= value * (1 - 1e-9)
    assert {f"{step:e}"[0] for step in (above, below)} <= {"1", "2", "5"}
    assert above / below <= 2.5 + 1e-9


def test_view_is_true_to_scale():
    view = View(1250, (EAST, NORTH), Box(20, 100, 390, 187))
    ends = view.to_paper(np.array([[EAST, NORTH], [EAST + 300, NORTH + 400]]))
    assert math.dist(*ends) == pytest.approx(500 * 1000 / 1250)
    assert ends[0] == pytest.approx([215, 193.5])


# The drawn sheet, measured


def test_page_is_an_a3_sheet(drawn):
    """ISO 216: 420 mm by 297 mm."""
    box = PdfReader(drawn[0]).pages[0].mediabox
    assert [float(box.width) * MM_PER_PT, float(box.height) * MM_PER_PT] == pytest.approx(
        [420, 297], abs=0.01
    )
    svg = ET.parse(drawn[1]).getroot()
    assert float(svg.get("width").removesuffix("pt")) * MM_PER_PT == pytest.approx(420, abs=0.01)


def test_scale_that_is_set_is_the_scale_that_is_drawn(tmp_path):
    content = small_estate(drawing=DrawingSection(scale=2000))
    path = draw_plan(content, tmp_path)[0]
    assert "1 : 2000" in pdf_text(path)
    assert route_legs_m(path, 2000) == pytest.approx([100.0, 50.0], rel=1e-3)


def test_scale_that_is_chosen_is_true(drawn):
    shown = int(re.search(r"1 : (\d+)", pdf_text(drawn[0])).group(1))
    assert route_legs_m(drawn[0], shown) == pytest.approx([100.0, 50.0], rel=1e-3)


def route_legs_m(path, scale):
    """Legs of the one proposed route, measured on the PDF page."""
    route = [
        xy for pen, xy in pdf_strokes(path)
        if len(xy) == 3 and pen == pytest.approx(symbols.WIDE) and np.ptp(xy, axis=0).min() > 5
    ]  # fmt: skip
    assert len(route) == 1
    return np.hypot(*np.diff(route[0], axis=0).T) * scale / 1000


def test_scale_bar_is_true(drawn):
    scale = int(re.search(r"1 : (\d+)", pdf_text(drawn[0])).group(1))
    group = next(g for g in ET.parse(drawn[1]).iter(f"{SVG}g") if g.get("id") == "scale-bar")
    numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", group.find(f"{SVG}path").get("d"))
    across = np.array(numbers, dtype=float)[:, 0]
    length_m = np.ptp(across) * MM_PER_PT * scale / 1000
    last = next(t for t in svg_texts(drawn[1]) if re.fullmatch(r"[\d.]+ m", t))
    assert length_m == pytest.approx(float(last.removesuffix(" m")), rel=1e-3)


def test_pens_are_those_of_iso_128(drawn):
    """ISO 128 line widths: 0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0 mm."""
    pens = {round(pen, 3) for pen, _ in pdf_strokes(drawn[0])}
    assert pens <= {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0}
    assert len(pens) > 2


def test_letters_are_at_least_1_8_mm_high(drawn):
    """ISO 3098-1: nominal heights from 1.8 mm; the height of capitals is read from the outline of the font's H."""
    with TTFont(font().get_file()) as face:
        capitals = face["glyf"]["H"].yMax / face["head"].unitsPerEm
    assert capitals == pytest.approx(CAP_HEIGHT, rel=1e-3)
    sizes = [float(s) for s in re.findall(r"font-size: ([\d.]+)px", drawn[1].read_text("utf-8"))]
    assert len(sizes) > 40
    assert min(sizes) * MM_PER_PT * capitals >= 1.8 - 1e-3


def test_title_block_has_the_fields_of_iso_7200(drawn):
    """ISO 7200:2004: mandatory fields; width 180 mm."""
    fields = ["Legal owner", "Identification number", "Date of issue", "Sheet", "Title", "Approved by", "Creator",
              "Document type", "Revision", "Language", "Status", "Sheet size"]  # fmt: skip
    texts = svg_texts(drawn[1])
    assert [f for f in fields if f not in texts] == []
    assert {"An owner", "ML-1", "2025-02-03", "Mill Lane", "C", "Cabling plan"} <= set(texts)
    assert texts.count("not given") == 3  # creator, approval, status
    block = TitleBlock(*[""] * 13)
    assert {sum(width for _, _, width in row) for row in block.rows()} == {TITLE_WIDTH_MM} == {180}


def test_sheet_says_where_it_comes_from(drawn):
    text = " ".join(svg_texts(drawn[1]))
    for words in (
        "EPSG:32630",
        "grid north",
        "0123abcd",
        "Calculated, not tested.",
        "Cameras 3.",
        "crosses every",
    ):
        assert words in text


def test_coordinate_crosses_stand_on_round_coordinates(drawn):
    values = [int(t[2:].replace(" ", "")) for t in svg_texts(drawn[1]) if re.fullmatch(r"[EN] [\d ]+", t)]
    assert len(values) >= 3
    assert all(value % 50 == 0 for value in values)


def test_findings_carry_the_numbers_of_the_register(drawn):
    texts = svg_texts(drawn[1])
    assert "F1" in texts
    assert "F2, F3" in texts
    assert any("have no one place: 1 (F4)" in t for t in texts)


def test_required_separation_is_written_on_the_proposed_route(drawn):
    assert "≥ 200 mm to mains" in svg_texts(drawn[1])


def test_separations_stand_where_something_is_built_and_share_notes():
    """Four proposed segments: two alike side by side, one that needs more, one that carries no link."""
    segments = PlanSegments(
        id=["R1.1", "R1.2", "R1.3", "R1.4"],
        geometry=[line((0, y), (1, y)) for y in (0, 1, 2, 3)],
        containment=["tray"] * 4,
        proposed=[True] * 4,
        links=[1, 1, 1, 0],
        separation_mm=[50.0, 49.6, 2500.0, 50.0],
    )
    content = PlanContent(segments=segments)
    view = View(500, (EAST, NORTH), Box(20, 10, 300, 200))
    texts = {text.rows[0] for text in set_labels(on_paper(content, view), view.window).texts}
    assert texts == {"≥ 50 mm to mains ×2", "≥ 2.5 m to mains"}


def test_building_without_a_name_carries_its_id(drawn):
    assert {"Barn", "B2"} <= set(svg_texts(drawn[1]))


# Legend


def test_legend_shows_only_what_is_on_the_sheet():
    assert [entry.text for entry in legend_of(small_estate())] == [
        "route proposed, to be built",
        "route existing, carries links",
        "line type: duct",
        "containment not given",
        "mains, buried",
        "near mains: outside",
        "building",
        "camera: within",
        "camera: outside",
        "camera: no link",
        "recorder, used",
        "finding: danger",
        "finding: fault",
    ]
    assert legend_of(PlanContent()) == ()


@pytest.mark.parametrize(
    "kinds",
    [
        [symbols.containment_line(c, symbols.MIDDLE) for c in symbols.CONTAINMENT_TYPES],
        [symbols.route_line("duct", s) for s in symbols.ROUTE_STATES],
        [symbols.mains_line(k, p) for k in symbols.MAINS_MARKS for p in symbols.PLACEMENT_TYPES],
        list(symbols.CAMERA_SYMBOLS.values()),
        [symbols.point_symbol(k, s, "") for k in ("recorder", "patch") for s in ("used", "existing", "candidate")]
        + [symbols.point_symbol(k, "", "") for k in ("pit", "junction", "camera", "other")],
    ],
)  # fmt: skip
def test_kinds_differ_without_colour(kinds):
    grey = [replace(kind, colour="") for kind in kinds]
    assert all(a != b for a, b in combinations(grey, 2))


def test_areas_and_balloons_differ_without_colour():
    assert len({a.hatch for a in symbols.STRETCH_AREAS.values()}) == len(symbols.STRETCH_AREAS)
    looks = {(b.pen_mm, b.face, b.dashes_mm) for b in symbols.BALLOONS.values()}
    assert len(looks) == len(symbols.BALLOONS) == len(Severity)


# What is left out


def test_what_finds_no_room_is_counted(tmp_path):
    n = 60
    crowd = PlanPoints(
        id=[f"C{k}" for k in range(n)],
        kind=["camera"] * n,
        x=EAST + np.arange(n) * 0.01,
        y=[NORTH] * n,
        status=["existing"] * n,
        verdict=["within"] * n,
    )
    content = small_estate(points=crowd, findings=tuple(finding(k, EAST, NORTH) for k in range(1, 31)))
    path = draw_plan(content, tmp_path)[1]
    texts = svg_texts(path)
    note = " ".join(texts)
    missing = int(re.search(r"camera ids (\d+)", note).group(1))
    assert missing == n - sum(bool(re.fullmatch(r"C\d+", t)) for t in texts)
    assert any(t.endswith("F16 + 14") for t in texts)
    assert "numbers of findings 14" in note


def test_every_text_is_either_set_or_counted():
    content = small_estate()
    view = View(500, (EAST + 80, NORTH + 25), Box(20, 10, 600, 400))
    lettering = set_labels(on_paper(content, view), view.window)
    rows = sorted(row for text in lettering.texts for row in text.rows)
    assert rows == sorted(
        ["F1", "F2, F3", "≥ 200 mm to mains", "Barn", "B2", "REC1", "C1", "C2", "C3", "R1.1 · 3", "R2.1 · 2"]
    )
    assert not lettering.left_out


# Input that doesn't fit


def test_scale_that_does_not_fit_one_sheet_gives_an_overview_that_says_so(tmp_path):
    path = draw_plan(small_estate(drawing=DrawingSection(sheet="A3", scale=200)), tmp_path)[0]
    text = " ".join(pdf_text(path).split())
    assert "At 1 : 200 the plan takes several sheets" in text
    assert route_legs_m(path, 1000) == pytest.approx([100.0, 50.0], rel=1e-3)


def test_a_tall_estate_stands_the_sheet_up_where_that_shows_more():
    tall = PlanContent(segments=replace(small_estate().segments, geometry=[line((0, 0), (30, 150)), None]))
    place, _ = choose_arrangement(tall, Panel((), (), 0), tall.bounds())
    assert place.sheet.height > place.sheet.width


@unhurried
@given(st.sampled_from(sorted(SHEETS_MM)), st.integers(0, 34), st.integers(0, 20))
def test_blocks_of_a_sheet_never_overlap(name, entries, notes):
    legend = tuple(Entry(f"a kind of thing {n}", symbols.UNKNOWN_SYMBOL) for n in range(entries))
    panel = Panel(legend, tuple(Note("some words on how to read this sheet " * 3) for _ in range(notes)), 6)
    for place in arrangements(name, panel):
        boxes = [place.window, place.legend, *place.notes, place.scale, place.title]
        shapes = [shapely.box(b.x, b.y, b.right, b.top) for b in boxes]
        space = place.sheet.space
        assert all(
            shapely.box(space.x, space.y, space.right, space.top).buffer(1e-6).contains(s) for s in shapes
        )
        assert all(a.intersection(b).area < 1e-6 for a, b in combinations(shapes, 2))


def test_schematic_estate_says_that_nothing_is_drawn(tmp_path):
    content = small_estate(
        segments=replace(small_estate().segments, geometry=[None, None]),
        mains=PlanMains(),
        buildings=PlanBuildings(),
        stretches=PlanStretches(),
        points=replace(small_estate().points, x=[math.nan] * 4, y=[math.nan] * 4),
        findings=(),
    )
    texts = svg_texts(draw_plan(content, tmp_path)[1])
    assert "No drawn routes: nothing to draw to scale." in texts
    assert "Mill Lane" in texts
    assert "Points without coordinates, not shown: 4." in texts
    assert not any(re.fullmatch(r"1 : \d+", t) for t in texts)


# The files


def test_markup_in_names_is_only_text(tmp_path):
    odd = ["$x_1$<b>", "a & b", "\x00line\nbreak", "名"]
    base = small_estate()
    content = replace(
        base,
        estate=EstateSection(title="$\\frac$ <script>"),
        buildings=replace(base.buildings, name=["$x_1$<b>", "</svg>"]),
        points=replace(base.points, id=odd),
    )
    pdf, svg, _ = draw_plan(content, tmp_path)
    texts = svg_texts(svg)
    assert {"$x_1$<b>", "a & b", "</svg>", "$\\frac$ <script>", "line break", "□"} <= {
        t.replace("□line", "line") for t in texts
    }
    assert any(t.startswith("□ stands for a character") for t in texts)
    assert {node.tag for node in ET.parse(svg).iter()}.isdisjoint({f"{SVG}script", f"{SVG}b"})
    assert "$x_1$<b>" in pdf_text(pdf)


def test_same_input_gives_the_same_bytes_and_no_dates(tmp_path):
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); from pathlib import Path;"
        "from test_plan import small_estate; from estate.output.plan import draw_plan;"
        "draw_plan(small_estate(), Path(sys.argv[2]))"
    )
    here = str(Path(__file__).parent)
    files = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        folder.mkdir()
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", script, here, str(folder)], check=True, env=environment)
        files.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert files[0] == files[1]
    assert set(files[0]) == {"map.pdf", "map.svg", "map.png"}
    meta = PdfReader(tmp_path / "1" / "map.pdf").metadata
    assert dict(meta) == {"/Title": "Mill Lane"}
    assert b"tEXt" not in files[0]["map.png"]
    assert b"<dc:date>" not in files[0]["map.svg"]


def test_settings_of_the_drawing_library_come_back(drawn, tmp_path):
    with mpl.rc_context({"font.size": 31.0, "svg.fonttype": "path"}):
        first = draw_plan(small_estate(), tmp_path)[1].read_bytes()
        assert mpl.rcParams["font.size"] == 31.0
    assert drawn[1].read_bytes() == first
