"""Labels stand free of one another and of symbols; texts are as wide as they are measured."""

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
import shapely.ops
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.textpath import TextPath

from estate.output.labels import Occupancy, clusters, corners, place_along, place_around
from estate.output.lettering import font, printable, shortened, size_pt, width_mm, wrapped
from estate.output.scales import Box

unhurried = settings(deadline=None)

MM_PER_PT = 25.4 / 72

# Labels

places = st.lists(st.tuples(st.floats(12, 108), st.floats(12, 88)), min_size=1, max_size=25)


@unhurried
@given(places, st.floats(3, 14))
def test_labels_never_overlap(spots, width):
    window = Box(10, 10, 100, 80)
    occupancy = Occupancy(window)
    labels = [place_around(occupancy, spot, (width, 3.0), (1.0, 5.0, 9.0), 4.0) for spot in spots]
    ways = [np.array([spot, (60.0, 50.0)]) for spot in spots]
    labels += [place_along(occupancy, way, (6.0, 3.0), 0.6) for way in ways]
    placed = [label for label in labels if label is not None]
    boxes = [shapely.Polygon(corners(label)) for label in placed]
    inside = shapely.box(window.x, window.y, window.right, window.top).buffer(1e-6)
    assert all(inside.contains(box) for box in boxes)
    assert all(a.intersection(b).area < 1e-9 for a, b in combinations(boxes, 2))
    for label, own in zip(placed, boxes, strict=True):
        if label.leader is not None:
            leader = shapely.LineString(label.leader)
            past_symbol = shapely.ops.substring(leader, min(2.5, leader.length), leader.length)
            assert all(past_symbol.distance(box) > 0 for box in boxes if box is not own)


def test_label_avoids_symbols_and_lines():
    occupancy = Occupancy(Box(0, 0, 60, 60))
    occupancy.take_symbols(np.array([[30.0, 30.0], [38.0, 33.0]]), 3.0)
    row = np.arange(20.0, 60.0, 0.3)
    occupancy.draw_lines(np.column_stack([row, np.full(len(row), 27.0)]))
    label = place_around(occupancy, (30.0, 30.0), (6.0, 2.8), (2.0, 6.0), 5.0)
    box = shapely.Polygon(corners(label))
    assert not box.intersects(shapely.box(28.5, 28.5, 31.5, 31.5))
    assert not box.intersects(shapely.box(36.5, 31.5, 39.5, 34.5))
    assert not box.intersects(shapely.LineString([(20, 27), (60, 27)]))


def test_label_along_a_line_reads_from_below_or_from_the_right():
    for x, y, angle in [
        (50, 0, 0),
        (-50, 0, 0),
        (0, 50, 90),
        (0, -50, 90),
        (40, 40, 45),
        (-40, -40, 45),
        (-40, 40, -45),
    ]:
        label = place_along(
            Occupancy(Box(-60, -60, 120, 120)), np.array([[0.0, 0.0], [x, y]]), (9.0, 3.0), 0.5
        )
        assert label.angle_deg == pytest.approx(angle)
    assert (
        place_along(Occupancy(Box(0, 0, 50, 50)), np.array([[9.0, 9.0], [17.0, 9.0]]), (9.0, 3.0), 0.5)
        is None
    )


@unhurried
@given(places)
def test_clusters_hold_each_place_once_and_near_the_first(spots):
    xy = np.array(spots)
    groups = clusters(xy, 5.0)
    assert sorted(row for group in groups for row in group) == list(range(len(xy)))
    assert all(math.dist(xy[group[0]], xy[row]) <= 5.0 for group in groups for row in group)
    assert all(math.dist(xy[a[0]], xy[b[0]]) > 5.0 for a, b in combinations(groups, 2))


# Lettering


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["R12.3 · 4", "Grain store", "≥ 200 mm to mains", "Überlandweg ß"])
def test_widths_agree_with_the_font_tables(text, bold):
    """Against the advance widths in the font's own hmtx table, and the outlines that are drawn."""
    with TTFont(font(bold=bold).get_file()) as face:
        names, advances = face.getBestCmap(), face["hmtx"]
        em = sum(advances[names[ord(c)]][0] for c in text) / face["head"].unitsPerEm
    assert width_mm(text, 2.5, bold=bold) == pytest.approx(em * size_pt(2.5) * MM_PER_PT, rel=1e-3)
    outline = TextPath((0, 0), text, size=size_pt(2.5), prop=font(bold=bold)).get_extents()
    assert outline.width * MM_PER_PT <= width_mm(text, 2.5, bold=bold) + 0.1


@unhurried
@given(st.text(max_size=120), st.floats(15, 90))
def test_wrapped_lines_fit_and_keep_every_character(text, width):
    rows = wrapped(text, width, 1.8)
    assert all(width_mm(row, 1.8) <= width + 1e-9 for row in rows)
    assert "".join(rows).replace(" ", "") == printable(text).replace(" ", "")


@unhurried
@given(st.text(max_size=80), st.floats(5, 60))
def test_shortened_text_fits(text, width):
    short = shortened(text, width, 2.5)
    assert short == printable(text) or (short.endswith("…") and width_mm(short, 2.5) <= width)
