"""Why a camera has its link, or has none: what the command tells of a saved result."""

import re
import shutil

import pytest
from click.testing import CliRunner

from estate import workflow
from estate.cli import main
from estate.output.explain import aligned
from tests.estates import EXACT, LOCAL, camera, line, read_json, recorder, write_estate

ONE = "[prices]\nunlisted = 1\npower_point = 250\n"
"""Every metre of cable, every metre pulled, every end and every item costs 1."""


def patch(identity, x, y, **more):
    return {"id": identity, "kind": "patch", "x": x, "y": y, **more}


MAINS = [{"id": "M", "wkt": "LINESTRING (0 100, 82 100)", "amps": 20, "phases": 1, "circuits": 12, "placement": "indoor", "volts": 230, "screened": "no"}]  # fmt: skip
POE = {"feeds": "poe1", "power": "none", "load_w": 5, "load_night_w": 5}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One estate: C1 past a switch, C2 with two ways, C3 on none, C4 between mains and length, C5 fed on the way."""
    estate = write_estate(
        tmp_path_factory.mktemp("estate"),
        LOCAL + EXACT + ONE + "[network]\nspur_max_m = 5\n"
        '[design]\ncables = ["cat5e-utp", "rg59-cu", "power-2x1.5"]\n'
        'methods = ["ethernet", "ethernet-extender", "coax-local", "coax-power-pair"]\n',
        routes=[
            line("A", (0, 0), (70, 0)),
            line("B", (70, 0), (130, 0)),
            line("D", (0, 0), (0, 40)),
            line("E", (0, 0), (-5, 0), (-5, 40), (0, 40)),
            line("F", (0, 0), (0, -82), containment="tray", barrier="none", separation_mm=60, separation_from="M"),
            line("G", (0, 0), (41, -8), (41, -74), (0, -82)),
            line("H", (70, 0), (70, 170)),
        ],
        points=[
            recorder("R", 0, 0, name="Security room", poe_ports=8),
            patch("P", 70, 0, power="unswitched", name="Barn cabinet"),
            camera("C1", 130, 0, name="Gate", **POE),
            camera("C2", 0, 40, **POE),
            camera("C3", 35, 20, **POE),
            camera("C4", 0, -82, **POE),
            camera("C5", 70, 170, signal="composite", feeds="dc12", volts=12, power="none", load_w=2.5, load_night_w=2.5),
        ],
        mains=MAINS,
    )  # fmt: skip
    workflow.design(estate)
    return estate


def told(folder, name, *more):
    done = CliRunner().invoke(main, ["explain", str(folder), name, *more])
    assert done.exit_code == 0, done.output
    return done.output


def cells(text, first):
    """The first line that begins so, cut where two spaces or more stand."""
    (found, *_) = [row for row in text.splitlines() if row.strip().startswith(first)]
    return re.split(r" {2,}", found.strip())


# A link


def test_the_way_node_by_node_with_what_stands_there(folder):
    text = told(folder, "C1")
    assert text.startswith("C1 (Gate): ethernet from R (Security room); within calculated limits")
    way = [row.strip() for row in text.split("budget lines")[0].splitlines()]
    places = [row for row in way if row.startswith(("R ", "A.1", "P ", "B.1", "C1 (Gate)"))]
    assert [row.split()[0] for row in places[1:]] == ["R", "A.1", "P", "P", "B.1", "C1"]
    assert re.search(r"A\.1 +70\.0 m", text)
    switch = next(row for row in way[1:] if "switch-" in row)
    assert switch.endswith("fed by mains there")
    assert "stretch 2, ethernet, feed poe1 from P: cat5e-utp 60.0 m" in text


def test_the_budget_lines_are_a_table_that_lines_up(folder):
    text = told(folder, "C1")
    table = text.split("don't govern\n")[1].split("\n\n")[0].splitlines()
    head = table[0]
    assert head.split() == ["quantity", "state", "value", "limit", "unit", "margin", "verdict", "stretch"]
    at = head.index("verdict")
    for row in table[1:]:
        assert row[at:].lstrip("[").split()[0].rstrip("]") in ("within", "marginal", "-")
    fixed = [row.split() for row in table if row.strip().startswith("fixed part")]
    assert [(row[2], row[3], row[4]) for row in fixed] == [("70.0", "90", "m"), ("60.0", "90", "m")]


def test_lines_that_only_inform_stand_in_brackets(folder):
    text = told(folder, "C5")
    assert re.search(r"^ +reach ", text, re.MULTILINE)
    assert re.search(r"^ +\[reach\] .*\[within\]", text, re.MULTILINE)


def test_a_feed_that_begins_on_the_way_is_told(folder):
    """2.5 W at 10.8 V from 12 V stand a loop of 10.8 × 1.2 / 2.5 = 5.2 Ω: not 240 m of 1.5 mm², but 170 m.

    IEC 60228 class 5: 13.3 Ω/km, so 6.4 Ω from R and 4.5 Ω from P.
    """
    text = told(folder, "C5")
    assert "feed dc12 from P" in text
    assert re.search(r"supply-dc12: .*, fed by mains there", text)


def test_what_it_beat_and_by_how_much(folder):
    """C2: 40 m straight, 50 m round; 10 m more of cable and pulling. With an extender: an item and two ends more."""
    text = told(folder, "C2")
    link = read_json(folder / "out" / "design" / "result.json")["tables"]["links"]
    row = dict(zip(link["columns"], next(r for r in link["rows"] if r[2] == "C2"), strict=True))
    assert row["segments"] == "D.1"
    assert row["cost"] == 40 + 40 + 2 + 2
    route = cells(text, "same method")
    assert route[1:] == ["ethernet from R", "cable 50.0 m", "104.00", "+20.00", "without D.1"]
    method = cells(text, "next best method")
    assert method[1].startswith("ethernet-extender from R")
    assert method[3] == f"{row['cost'] + 1 + 2 + 2:.2f}"


def test_alternatives_that_the_design_kept(folder, tmp_path):
    workflow.design(folder, tmp_path / "kept", alternatives=2)
    text = told(folder, "C2", "--from", str(tmp_path / "kept"))
    kept = text.split("the cheapest first\n")[1].splitlines()[:2]
    assert [row.split()[0] for row in kept] == ["1", "2"]
    assert "alternatives that" not in told(folder, "C2")


def test_the_cautions_and_notes_are_told(folder):
    text = told(folder, "C2")
    assert "Calculated, not tested" in text
    assert "local codes and licensed practice govern" in text


def test_the_whole_text_fits_a_result_read_again_without_its_layers(folder, tmp_path):
    shutil.copy(folder / "out" / "design" / "result.json", tmp_path / "result.json")
    text = told(folder, "C2", "--from", str(tmp_path / "result.json"))
    assert "what it beat is not known" in text
    assert "budget lines" in text


# No link


def test_a_camera_that_nothing_reaches(folder):
    text = told(folder, "C3")
    assert text.startswith("C3: no link stands")
    assert "the camera joins no route" in text
    assert "a trench of 20 m from C3 to route A (40.00; indicative" in text
    assert "locate services and hand-dig" in text
    assert "Records are indicative" in text


def test_both_ways_are_told_where_separation_and_length_fight(tmp_path):
    """82 m in a tray 60 mm from mains that want 80 mm, 97 m clear of them: EN 50174-2, and ISO/IEC 11801's 90 m."""
    estate = write_estate(
        tmp_path,
        LOCAL + EXACT + ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n',
        routes=[
            line("A", (0, 0), (82, 0), containment="tray", barrier="none", separation_mm=60, separation_from="M"),
            line("B", (0, 0), (41, 25.892), (82, 0)),
        ],
        points=[recorder("R", 0, 0), camera("C", 82, 0, **POE)],
        mains=MAINS,
    )  # fmt: skip
    workflow.design(estate)
    text = told(estate, "C")
    nearest, would = text.split("would stand with")
    assert "82.0 m: separation 60 mm against 80 mm" in nearest
    assert "97.0 m: fixed part 97.0 m against 90 m" in nearest
    screened, barrier = would.splitlines()[1:3]
    assert "cat5e-ftp allowed in [design] cables; then ethernet from R" in screened
    assert "open metal barrier" in barrier


def test_a_camera_for_which_there_is_no_room_has_its_links_told(tmp_path):
    estate = write_estate(
        tmp_path,
        LOCAL + EXACT + ONE + '[design]\nmethods = ["ethernet"]\nspare_percent = 0\n',
        routes=[line("A", (0, 0), (40, 0)), line("B", (40, 0), (60, 0))],
        points=[
            recorder("R", 0, 0, channels=1, poe_ports=2),
            camera("C1", 40, 0, priority=1, **POE),
            camera("C2", 60, 0, priority=9, **POE),
        ],
    )
    workflow.design(estate)
    text = told(estate, "C2")
    assert "there is no room" in text
    assert cells(text, "ethernet from R") == ["ethernet from R", "cable 60.0 m", "124.00"]


# Refusals


def test_an_unknown_camera_names_the_nearest(folder):
    done = CliRunner().invoke(main, ["explain", str(folder), "c1"])
    assert done.exit_code == 2
    assert "did you mean 'C1'?" in done.output


def test_without_a_result_the_design_is_asked_for(tmp_path):
    estate = write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (9, 0))], points=[recorder("R", 0, 0)])
    done = CliRunner().invoke(main, ["explain", str(estate), "C"])
    assert done.exit_code == 2
    assert "estate design" in done.output
    assert "Traceback" not in done.output


def test_a_check_is_nothing_to_explain(folder, tmp_path):
    workflow.check(folder, tmp_path / "checked")
    done = CliRunner().invoke(main, ["explain", str(folder), "C1", "--from", str(tmp_path / "checked")])
    assert done.exit_code == 2
    assert "estate design" in done.output


def test_files_that_changed_since_are_named(folder, tmp_path):
    estate = tmp_path / "estate"
    shutil.copytree(folder, estate)
    assert "changed since" not in told(estate, "C2")
    (estate / "points.csv").write_text((estate / "points.csv").read_text() + "\n")
    text = told(estate, "C2")
    assert "changed since this result: points.csv" in text
    assert "what it beat" in text  # worked out on the layers that were saved with the result


def test_nothing_is_written(folder):
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    told(folder, "C1")
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == before


def test_columns_line_up():
    assert aligned([("a", "", "1.00"), ("bcd", "", "10.00")], right=[2]) == ["  a     1.00", "  bcd  10.00"]


def test_a_link_marginal_between_earths_does_not_speak_of_little_margin(tmp_path):
    """40 m of unscreened pair between two earth zones: a surge matter, with more than half of the length left."""
    estate = write_estate(
        tmp_path, LOCAL + EXACT + ONE + '[design]\nmethods = ["ethernet"]\ncables = ["cat5e-utp"]\n',
        routes=[line("A", (0, 0), (40, 0))],
        points=[recorder("R", 0, 0, earth_zone="Z1"), camera("C", 40, 0, earth_zone="Z2")],
        buildings=[
            {"id": "B1", "wkt": "POLYGON ((-9 -9, 5 -9, 5 9, -9 9, -9 -9))", "earth_zone": "Z1", "earthing": "TN-S"},
            {"id": "B2", "wkt": "POLYGON ((35 -9, 49 -9, 49 9, 35 9, 35 -9))", "earth_zone": "Z2", "earthing": "TN-S"},
        ],
    )  # fmt: skip
    workflow.design(estate)
    text = told(estate, "C")
    heading = text.splitlines()[0]
    assert "marginal, earths: surge" in heading
    assert "little margin" not in heading
    findings = text.split("\nfindings\n")[1]
    assert re.match(r" +F\d+ +watch +.*surge", findings)


def test_spoilt_saved_layers_are_not_taken_for_the_users_own(folder, tmp_path):
    estate = tmp_path / "estate"
    shutil.copytree(folder, estate)
    saved = next((estate / "out" / "design" / "layers").glob("points.*"))
    saved.write_text("spoilt", encoding="utf-8")
    done = CliRunner().invoke(main, ["explain", str(estate), "C2"])
    assert done.exit_code == 2
    assert str(saved) in done.output
    assert "saved with the result" in done.output


def test_a_number_is_known_with_and_without_zeros(tmp_path):
    estate = write_estate(
        tmp_path, LOCAL, routes=[line("A", (0, 0), (9, 0))],
        points=[recorder("R", 0, 0), camera("C06", 5, 0), camera("C60", 6, 0), camera("C66", 7, 0)],
    )  # fmt: skip
    workflow.design(estate)
    done = CliRunner().invoke(main, ["explain", str(estate), "c6"])
    assert "did you mean 'C06'?" in done.output
