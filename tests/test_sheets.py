"""The pack of sheets: exact scale, every field, numbers that agree, nothing on top of anything, the same bytes."""

import json
import math
import re
import shutil
from dataclasses import replace
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pyproj import CRS, Transformer

from estate import workflow
from estate.cli import main
from estate.errors import InputError
from estate.output.drawing import plan_content, with_cable_numbers
from estate.output.ink import drawing_settings
from estate.output.labels import corners
from estate.output.numbering import with_numbers
from estate.output.plan_content import PlanContent, PlanPoints, PlanSegments, View, on_paper
from estate.output.plan_labels import Mark, set_labels
from estate.output.result import Table, read_result
from estate.output.scales import Box
from estate.output.sheets import as_drawn, draw_sheets, write_pages
from estate.output.sheets_clip import clipped
from estate.output.sheets_inset_room import insets_on_plan
from estate.output.sheets_insets import CROWDED_FROM, crowded_places, insets, sized_places
from estate.output.sheets_marks import SectionMark
from estate.output.sheets_north import true_north_deg
from estate.output.sheets_page import page_figure
from estate.output.sheets_plan import plan_pages
from estate.output.sheets_tiles import OVERLAP_MM, tiling
from estate.output.title_block_revisions import MOST_ROWS, table_rows
from estate.settings import DrawingSection
from tests.drawn import MM_PER_PT, SVG, pdf_strokes, pdf_text, svg_texts
from tests.estates import EXACT, LOCAL, camera, read_csv, recorder, write_estate
from tests.estates import line as line_row
from tests.test_plan import EAST, NORTH, line, small_estate

unhurried = settings(deadline=None)

FIELDS = ("Legal owner", "Identification number", "Date of issue", "Sheet", "Title", "Approved by", "Creator",
          "Document type", "Revision", "Language", "Status", "Sheet size")  # fmt: skip
"""Fields of ISO 7200:2004, the mandatory ones and some that are not, as they are captioned here."""


@pytest.fixture(scope="module")
def several(tmp_path_factory):
    """Plan sheets of the small estate at 1 : 200 on A3."""
    content = small_estate(drawing=DrawingSection(owner="An owner", scale=200))
    folder = tmp_path_factory.mktemp("several")
    with drawing_settings():
        write_pages(content, plan_pages(content, ()), folder)
    return folder


TOML = (
    LOCAL
    + 'number = "ST-9"\nrevision = "B"\ndate = "2026-01-02"\n'
    + EXACT
    + """
[design]
cables = ["os2", "cat5e-utp"]
methods = ["ethernet", "ethernet-fibre"]
[drawing]
numbering = "{number}-{kind}{n:02}"
[[drawing.revisions]]
revision = "A"
date = "2025-12-01"
text = "First issue"
"""
)


def street(folder):
    """A duct from the recorder to three cameras at 60 m, and on to a cabinet with four cameras at 200 m."""
    duct = {
        "containment": "duct",
        "bore_mm": 50,
        "ways": 2,
        "depth_mm": 600,
        "surface": "grass",
        "fill_percent": 5,
    }
    routes = [line_row("A", (0, 0), (60, 0), **duct), line_row("B", (60, 0), (200, 0), **duct)]
    points = [
        recorder("R1", 0, 0),
        {"id": "P1", "kind": "patch", "x": 200, "y": 0, "power": "unswitched"},
    ]
    more = {"load_w": 13, "load_night_w": 13, "feeds": "poe2", "power": "none", "mbps": 4}
    for start, count in ((60, 3), (200, 4)):
        for k in range(count):
            across, y = start - 12 + 6 * k, 10 if k % 2 else -10
            routes.append(line_row(f"S{start}{k}", (start, 0), (across, y), containment="conduit"))
            points.append(camera(f"C{start}{k}", across, y, **more))
    return write_estate(folder, TOML, routes=routes, points=points)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The street, designed."""
    _, result, out = workflow.design(street(tmp_path_factory.mktemp("street")))
    return result, out


@pytest.fixture(scope="module")
def pack(made, tmp_path_factory):
    """All sheets of the street."""
    folder = tmp_path_factory.mktemp("pack")
    draw_sheets(made[0], folder)
    return folder


def page_count(folder):
    return len(PdfReader(folder / "plan.pdf").pages)


# Scale


def test_scale_is_true_within_a_thousandth_measured_from_the_pdf(several):
    """A building of 30 m by 24 m is drawn 150 mm by 120 mm at 1 : 200; read from the drawing operators."""
    sides = []
    for page in range(page_count(several)):
        for _, xy in pdf_strokes(several / "plan.pdf", page):
            if len(xy) in (4, 5):
                sides.append(sorted(np.ptp(xy, axis=0)))
    assert any(s == pytest.approx([120.0, 150.0], rel=1e-3) for s in sides)


def test_the_scale_bar_of_every_sheet_is_true(several):
    for number in range(1, page_count(several) + 1):
        sheet = several / f"sheet-{number:02}.svg"
        group = next(g for g in ET.parse(sheet).iter(f"{SVG}g") if g.get("id") == "scale-bar")
        numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", group.find(f"{SVG}path").get("d"))
        length_m = np.ptp(np.array(numbers, dtype=float)[:, 0]) * MM_PER_PT * 200 / 1000
        last = next(t for t in svg_texts(sheet) if re.fullmatch(r"[\d.]+ m", t))
        assert length_m == pytest.approx(float(last.removesuffix(" m")), rel=1e-3)


def test_coordinates_on_two_sheets_agree(several):
    """Ticks of the coordinate grid: the same easting read on any sheet with the scale of the sheet."""
    content = small_estate(drawing=DrawingSection(scale=200))
    with drawing_settings():
        pages = plan_pages(content, ())
    tiles = tiling(content, pages[0].place.window, 200).tiles
    spot = np.array([[EAST + 100, NORTH + 50]])
    shown = [tile.view.to_paper(spot)[0] for tile in tiles]
    for tile, at in zip(tiles, shown, strict=True):
        west, south, _, _ = tile.view.edges_m()
        back = np.array([west, south]) + (at - [tile.view.window.x, tile.view.window.y]) * 200 / 1000
        assert back == pytest.approx(spot[0], abs=1e-6)


# Several sheets


def test_match_lines_name_each_other(several):
    named = {}
    for page in range(page_count(several)):
        found = re.findall(r"match line · sheet (\d+)", pdf_text(several / "plan.pdf", page))
        named[page + 1] = {int(n) for n in found}
    assert any(named.values())
    assert all(page in named[other] for page, others in named.items() for other in others)


metres = st.integers(0, 900_000).map(lambda mm: mm / 1000)
places = st.lists(st.tuples(metres, metres), min_size=1, max_size=30)


@unhurried
@given(places, st.sampled_from([200, 500, 1000]))
def test_sheets_hold_everything_once_and_none_is_empty(spots, scale):
    n = len(spots)
    x, y = np.array(spots).T
    points = PlanPoints(
        id=list(map(str, range(n))), kind=["camera"] * n, x=x, y=y, status=[""] * n, verdict=[""] * n
    )
    window = Box(20, 90, 390, 190)
    found = tiling(PlanContent(points=points), window, scale)
    cores = np.array([tile.core for tile in found.tiles])
    west, south, east, north = cores.T[:, :, None]
    inside = (x >= west - 1e-6) & (x <= east + 1e-6) & (y >= south - 1e-6) & (y <= north + 1e-6)
    assert inside.any(axis=0).all()
    assert inside.any(axis=1).all()
    shapes = shapely.box(*cores.T)
    assert all(a.intersection(b).area < 1e-6 for a, b in combinations(shapes, 2))
    pitch = np.array([window.width - 2 * OVERLAP_MM, window.height - 2 * OVERLAP_MM]) * scale / 1000
    grid = np.maximum(1, np.ceil(np.ptp(np.array(spots), axis=0) / pitch - 1e-9))
    assert len(found.tiles) <= grid.prod()


def test_scale_is_the_largest_that_one_sheet_holds():
    found = tiling(small_estate(), Box(20, 90, 390, 190), None)
    assert (found.scale, len(found.tiles)) == (1000, 1)


def test_beyond_1_to_2500_a_plan_takes_several_sheets():
    wide = PlanContent(segments=replace(small_estate().segments, geometry=[line((0, 0), (3000, 10)), None]))
    found = tiling(wide, Box(20, 90, 390, 190), None)
    assert found.scale == 2500
    assert len(found.tiles) == 4  # 1200 mm at 366 mm a sheet


def test_ground_with_nothing_but_mains_has_no_sheet():
    content = small_estate()
    content = replace(content, mains=replace(content.mains, geometry=[line((0, -5), (1600, -5))]))
    found = tiling(content, Box(20, 90, 390, 190), 500)
    ours = shapely.union_all([*content.segments.geometry, *content.buildings.geometry])
    assert all(shapely.box(*tile.core).intersects(ours) for tile in found.tiles)
    assert max(tile.core[2] for tile in found.tiles) < EAST + 600


@unhurried
@given(
    st.lists(
        st.lists(st.tuples(st.floats(-50, 250), st.floats(-50, 250)), min_size=2, max_size=6),
        min_size=1,
        max_size=8,
    )
)
def test_nothing_is_drawn_beyond_the_window(ways):
    window = Box(20, 30, 100, 80)
    routes = [shapely.LineString(way) for way in ways]
    n = len(ways)
    segments = PlanSegments(
        id=list(map(str, range(n))), geometry=routes, containment=["duct"] * n, proposed=[False] * n,
        links=[1] * n, separation_mm=[math.nan] * n,
    )  # fmt: skip
    xy = np.array([way[0] for way in ways])
    points = PlanPoints(
        id=segments.id, kind=["camera"] * n, x=xy[:, 0], y=xy[:, 1], status=[""] * n, verdict=[""] * n
    )
    cut = clipped(PlanContent(segments=segments, points=points), window)
    edge = shapely.box(window.x, window.y, window.right, window.top)
    for route, kept in zip(routes, cut.segments.geometry, strict=True):
        assert kept is None or edge.buffer(1e-6).covers(kept)
        inside = route.intersection(edge).length
        assert (0.0 if kept is None else kept.length) == pytest.approx(inside, abs=1e-6)
    placed = cut.places()[np.isfinite(cut.places()).all(axis=1)]
    assert all(edge.covers(shapely.Point(spot)) for spot in placed)


# Insets


def crowded(step_m):
    n = 12
    xy = np.array([(EAST + 10 + step_m * (k % 4), NORTH + 5 + step_m * (k // 4)) for k in range(n)])
    points = PlanPoints(
        id=[f"C{k}" for k in range(n)], kind=["camera"] * n, x=xy[:, 0], y=xy[:, 1], status=[""] * n,
        verdict=["within"] * n,
    )  # fmt: skip
    return small_estate(points=points, findings=())


def test_a_crowded_place_is_shown_once_more_at_twice_the_scale_or_more():
    content = crowded(3.0)
    (place,) = crowded_places(content, 1000)
    window = Box(20, 90, 390, 190)
    ((inset,),) = insets(sized_places([place], window, 1000), window)
    assert inset.view.scale <= 500
    west, south, east, north = inset.bounds
    xy = content.places()
    assert ((xy >= [west, south]) & (xy <= [east, north])).all()
    assert inset.view.window.width * inset.view.scale / 1000 == pytest.approx(east - west)


def test_points_far_apart_or_few_are_not_crowded():
    assert crowded_places(crowded(20.0), 1000) == []
    few = crowded(3.0)
    keep = CROWDED_FROM - 1
    points = PlanPoints(
        **{name: getattr(few.points, name)[:keep] for name in ("id", "kind", "x", "y", "status", "verdict")}
    )
    assert crowded_places(replace(few, points=points), 1000) == []


def test_insets_are_outlined_and_numbered_on_the_plan_and_write_what_it_leaves_out(tmp_path):
    content = crowded(3.0)
    with drawing_settings():
        write_pages(content, plan_pages(content, ()), tmp_path)
    pages = [pdf_text(tmp_path / "plan.pdf", n) for n in range(page_count(tmp_path))]
    plan = next(n for n, text in enumerate(pages) if "inset 1, sheet" in text)
    sheet = int(re.search(r"inset 1, sheet (\d+)", pages[plan]).group(1))
    assert "Inset 1: outdoors, 1 :" in pages[sheet - 1]
    assert all(f"C{k}" in pages[sheet - 1].split() for k in range(12))


@unhurried
@given(places)
def test_insets_never_overlap_and_stay_in_the_window(spots):
    n = len(spots)
    x, y = np.array(spots).T / 10
    points = PlanPoints(
        id=list(map(str, range(n))), kind=["camera"] * n, x=x, y=y, status=[""] * n, verdict=[""] * n
    )
    window = Box(20, 90, 390, 190)
    edge = shapely.box(window.x, window.y, window.right, window.top).buffer(1e-6)
    sized = sized_places(crowded_places(PlanContent(points=points), 1000), window, 1000)
    pages = insets(sized, window)
    assert [i.number for page in pages for i in page] == list(range(1, len(sized) + 1))
    for page in pages:
        cells = [shapely.box(i.cell.x, i.cell.y, i.cell.right, i.cell.top) for i in page]
        assert all(edge.covers(cell) for cell in cells)
        assert all(a.intersection(b).area < 1e-6 for a, b in combinations(cells, 2))


def test_an_inset_stands_on_the_plan_where_there_is_room_clear_of_everything():
    content = crowded(3.0)
    tiles = tiling(content, Box(20, 90, 390, 190), 1000)
    sized = sized_places(crowded_places(content, 1000), Box(20, 90, 390, 190), 1000)
    ((inset,),), left = insets_on_plan(content, tiles, sized)
    assert not left
    cell = shapely.box(inset.cell.x, inset.cell.y, inset.cell.right, inset.cell.top)
    paper = on_paper(content, tiles.tiles[0].view)
    for shape in (*paper.segments.geometry, *paper.buildings.geometry, *paper.mains.geometry):
        assert cell.distance(shape) >= 9.0 - 1e-9
    assert shapely.distance(shapely.points(paper.places()), cell).min() >= 9.0 - 1e-9
    walls = replace(content, mains=replace(content.mains, geometry=[
        shapely.MultiLineString([[(EAST - 500, NORTH + y), (EAST + 700, NORTH + y)] for y in range(-200, 200, 20)])
    ]))  # fmt: skip
    assert insets_on_plan(walls, tiles, sized) == ([[]], sized)


# What every sheet has


def test_every_sheet_has_frame_fields_hash_and_cautions(made, pack):
    hashed = plan_content(made[0]).input_hash
    count = page_count(pack)
    assert count >= 4
    for number in range(1, count + 1):
        texts = svg_texts(pack / f"sheet-{number:02}.svg")
        assert [f for f in FIELDS if f not in texts] == []
        assert {"ST-9", "B", "2026-01-02", f"{number} / {count}"} <= set(texts)
        assert any(f"Drawn from input {hashed}." in t for t in texts)
        assert any("Calculated, not tested" in t for t in texts)
        words = " ".join(texts)
        assert "certification are not part of this." in words, "the last caution"
        assert "Revision B is not in the revision table." in words
        assert {"First issue", "2025-12-01", "Rev", "Change"} <= set(texts)
        framed = [xy for pen, xy in pdf_strokes(pack / "plan.pdf", number - 1) if pen == pytest.approx(0.7)]
        assert any(sorted(np.ptp(xy, axis=0)) == pytest.approx([277, 390], abs=0.01) for xy in framed)


def test_every_sheet_is_an_a3_sheet_of_iso_216(pack):
    for page in PdfReader(pack / "plan.pdf").pages:
        sides = sorted([float(page.mediabox.width) * MM_PER_PT, float(page.mediabox.height) * MM_PER_PT])
        assert sides == pytest.approx([297, 420], abs=0.01)


def test_kinds_of_sheets(pack):
    words = [set(svg_texts(path)) for path in sorted(pack.glob("sheet-*.svg"))]
    for kind in ("Cabling plan", "Sections", "Block diagram", "Route profiles"):
        assert any(kind in texts for texts in words), kind


@pytest.mark.parametrize("sheet", ["A0", "A1", "A2", "A3"])
def test_no_note_is_lost_on_any_sheet_size(made, sheet, monkeypatch):
    from estate.output import sheets_page  # noqa: PLC0415

    lost = []
    real = sheets_page.draw_notes
    monkeypatch.setattr(sheets_page, "draw_notes", lambda *args: lost.append(real(*args)))
    result = as_drawn(made[0], sheet, 200)
    content = with_cable_numbers(plan_content(result), result)
    from estate.output.sheets import sheet_pages  # noqa: PLC0415

    with drawing_settings():
        for page in sheet_pages(result, content):
            page_figure(content, page, 1, 1)
    assert lost
    assert not any(lost)


def test_a_sheet_without_room_is_refused_with_the_fix():
    content = small_estate(
        drawing=DrawingSection(sheet="A4"), cautions=("a caution of some words " * 4,) * 60
    )
    with pytest.raises(InputError, match="take a larger sheet"):
        plan_pages(content, ())


# Numbers


def test_cables_carry_the_numbers_of_their_schedules(made, pack):
    numbers = {row["number"] for row in read_csv(made[1] / "runs.csv")}
    assert "ST-9-C01" in numbers
    assert "ST-9-T01" in numbers
    texts = " ".join(" ".join(svg_texts(path)) for path in pack.glob("sheet-*.svg"))
    diagram = " ".join(
        " ".join(svg_texts(path)) for path in pack.glob("sheet-*.svg") if "Block diagram" in svg_texts(path)
    )
    assert all(number in diagram for number in numbers)
    shown = {row["cable"] for row in read_csv(made[1] / "cores.csv")}
    assert shown <= numbers
    assert texts.count("ST-9-C01") > 1


def test_sections_are_marked_where_they_are_cut(made, pack):
    plan = " ".join(svg_texts(pack / "sheet-01.svg"))
    words = " ".join(" ".join(svg_texts(p)) for p in pack.glob("sheet-*.svg"))
    numbers = set(re.findall(r"(S\d+): [AB]\.\d+", words))
    assert numbers
    assert all(re.search(rf"\b{number}\b", plan) for number in numbers)


def test_labels_and_marks_never_overlap():
    content = small_estate()
    content = replace(
        content,
        points=replace(content.points, cables=[(), ("N-001",), ("N-002", "N-002P"), ()]),
        segments=replace(content.segments, cables=[("N-001",), ("N-001", "N-002", "N-002P")]),
    )
    view = View(500, (EAST + 80, NORTH + 25), Box(20, 10, 390, 190))
    marks = [Mark(*view.to_paper(np.array([[EAST + 100, NORTH + 25]]))[0], "S1", bold=True)]
    lettering = set_labels(on_paper(content, view), view.window, (), marks)
    rows = [row for text in lettering.texts for row in text.rows]
    assert {"S1", "N-001", "N-002", "N-002P", "R1.1: N-001", "R2.1 · 2"} <= set(rows)
    boxes = [shapely.Polygon(corners(text.label)) for text in lettering.texts]
    assert all(a.intersection(b).area < 1e-9 for a, b in combinations(boxes, 2))


# North, revisions


@pytest.mark.parametrize(("code", "meridian"), [(32631, 3.0), (32630, -3.0), (2154, 3.0)])
def test_true_north_is_the_convergence_of_the_projection(code, meridian):
    """Transverse Mercator: tan γ = tan Δλ · sin φ (spherical formula of the handbooks, from memory); true north lies -γ from
    grid north. Lambert conformal conic (EPSG:2154): γ = n Δλ with n = 0.725607765 (published with RGF93 / Lambert-93, from
    memory)."""
    crs = CRS.from_epsg(code)
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(meridian + 1.7, 47.0)
    if code == 2154:
        expected = 0.7256077650 * 1.7
    else:
        expected = math.degrees(math.atan(math.tan(math.radians(1.7)) * math.sin(math.radians(47.0))))
    assert true_north_deg(crs.to_wkt(), x, y) == pytest.approx(-expected, abs=2e-3)


def test_local_coordinates_have_no_true_north():
    assert true_north_deg("", 1.0, 2.0) is None


def test_old_revisions_are_counted_not_dropped_in_silence():
    rows = [{"revision": str(n), "text": f"change {n}"} for n in range(9)]
    shown = table_rows(rows)
    assert len(shown) == MOST_ROWS
    assert shown[0]["text"] == f"{9 - (MOST_ROWS - 1)} earlier revisions are not shown"
    assert shown[-1]["revision"] == "8"


# The same bytes, harmless names


def test_same_result_same_bytes(made, pack, tmp_path):
    draw_sheets(read_result(made[1]), tmp_path)
    names = sorted(path.name for path in pack.iterdir())
    assert names == sorted(path.name for path in tmp_path.iterdir())
    assert [n for n in names if (pack / n).read_bytes() != (tmp_path / n).read_bytes()] == []


NASTY = ("<script>alert(1)</script>", "](javascript:1)", "$\\frac{1}{0}$", "=1+1", ")Tj ET Q (")


def test_names_that_would_run_are_only_text(tmp_path):
    content = small_estate()
    content = replace(
        content,
        estate=replace(content.estate, title=NASTY[0], client=NASTY[1], number=NASTY[3]),
        buildings=replace(content.buildings, name=[NASTY[2], NASTY[4]]),
        drawing=DrawingSection(owner=NASTY[4], revisions=({"revision": "A", "text": NASTY[0]},)),
    )
    with drawing_settings():
        write_pages(content, plan_pages(content, (SectionMark("S1", "R1.1"),)), tmp_path)
    root = ET.parse(tmp_path / "sheet-01.svg").getroot()
    assert not list(root.iter(f"{SVG}script"))
    assert not list(root.iter(f"{SVG}a"))
    texts = svg_texts(tmp_path / "sheet-01.svg")
    assert {NASTY[0], NASTY[1], NASTY[2], NASTY[3], NASTY[4]} <= set(texts)
    reader = PdfReader(tmp_path / "plan.pdf")
    assert "/JavaScript" not in str(reader.trailer["/Root"])
    assert all(len(page.get("/Annots", []).get_object() or ()) == 0 for page in reader.pages)
    assert NASTY[4] in reader.pages[0].extract_text()


# The command


def run(*arguments):
    return CliRunner().invoke(main, [str(a) for a in arguments])


def test_draw_writes_the_pack_at_the_sheet_and_scale_that_are_asked_for(made, tmp_path):
    saved = tmp_path / "saved"
    shutil.copytree(made[1], saved)
    out = tmp_path / "drawn"
    done = run("draw", tmp_path, "--from", saved, "--out", out, "--sheet", "A2", "--scale", 500)
    assert done.exit_code == 0, done.stderr
    assert {"plan.pdf", "sheet-01.svg", "sheet-01.png", "map.pdf", "schedules.xlsx", "run.json"} <= {
        p.name for p in out.iterdir()
    }
    text = pdf_text(out / "plan.pdf")
    assert "1 : 500" in text
    assert "A2" in text.split()
    assert json.loads((saved / "result.json").read_text("utf-8"))["drawing"]["sheet"] == "A3"


def test_a_result_without_numbers_of_cables_gets_them(made):
    runs = made[0].tables["runs"]
    old = Table(runs.columns[:-1], tuple(row[:-1] for row in runs.rows))
    assert runs.columns[-1] == "number"
    again = with_numbers(replace(made[0], tables={**made[0].tables, "runs": old}))
    assert again.tables["runs"] == runs


def test_draw_refuses_a_result_without_cables(made, tmp_path):
    raw = json.loads((made[1] / "result.json").read_text("utf-8"))
    del raw["tables"]["runs"]
    (tmp_path / "result.json").write_text(json.dumps(raw), encoding="utf-8")
    refused = run("draw", tmp_path, "--from", tmp_path / "result.json")
    assert refused.exit_code == 2
    assert "estate design" in refused.stderr


def test_cables_that_the_facts_do_not_know_are_drawn_too(made, tmp_path):
    """As in an audit of cables whose type nobody knows."""
    tables = {
        k: v for k, v in made[0].tables.items() if k not in ("cable_facts", "segment_facts", "profiles")
    }
    draw_sheets(replace(made[0], tables=tables), tmp_path)
    texts = " ".join(" ".join(svg_texts(path)) for path in tmp_path.glob("sheet-*.svg"))
    assert "cable of unknown type" in texts
    assert "ST-9-C01" in texts


def test_a_checked_estate_is_drawn_without_links(made, tmp_path):
    out = tmp_path / "checked"
    workflow.check(made[1] / "layers", out)
    _, drawn = workflow.draw(tmp_path, out, tmp_path / "drawn")
    assert page_count(drawn) == 1


def test_an_estate_without_places_is_drawn_as_far_as_it_can_be(tmp_path):
    routes = [{"id": "A", "from": "R", "to": "C", "length_m": 40}]
    points = [
        {"id": "C", "kind": "camera", "signal": "ethernet-1g", "power": "unswitched"},
        {"id": "R", "kind": "recorder", "status": "candidate"},
    ]
    folder = write_estate(tmp_path, "[estate]\n", routes=routes, points=points)
    workflow.design(folder)
    _, drawn = workflow.draw(folder)
    kinds = {t for path in drawn.glob("sheet-*.svg") for t in svg_texts(path)}
    assert "Block diagram" in kinds
    assert "Cabling plan" not in kinds


def test_a_scale_that_is_none_is_refused():
    assert run("draw", ".", "--scale", 0).exit_code == 2
    assert run("draw", ".", "--sheet", "B1").exit_code == 2


def test_sheets_are_numbered_through(pack):
    count = page_count(pack)
    shown = [re.search(r"\b(\d+) / (\d+)\b", pdf_text(pack / "plan.pdf", n)) for n in range(count)]
    assert [int(m.group(1)) for m in shown] == list(range(1, count + 1))
    assert {int(m.group(2)) for m in shown} == {count}
    assert all(a < b for a, b in pairwise(int(m.group(1)) for m in shown))
