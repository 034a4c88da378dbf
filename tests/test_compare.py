"""Results side by side: over recorder counts, over variants, over saved results; what changed between two."""

from dataclasses import replace

import pytest

from estate import comparing, workflow
from estate.output.changes import changes_table, told_changes
from estate.output.result import read_result, table
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate
from tests.test_cli import run
from tests.test_design import four_buildings
from tests.test_phases import DUG, forked

FILES = {"compare.csv", "compare.png", "compare.svg", "compare.pdf", "run.json"}


def rows_of(folder):
    return {row["name"]: row for row in read_csv(folder / "compare.csv")}


def contents(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.fixture(scope="module")
def counts(tmp_path_factory):
    """Four buildings in a line with a recorder site in each, for one to five recorders."""
    folder = four_buildings(tmp_path_factory.mktemp("counts"), 2)
    before = contents(folder)
    done = run("compare", folder, "--recorders", "1-5")
    assert done.exit_code == 0, done.stderr
    out = folder / "out" / "compare"
    assert {path: text for path, text in contents(folder).items() if out not in path.parents} == before
    return done, out


def test_recorder_counts_give_the_cable_of_each(counts):
    _, out = counts
    rows = rows_of(out)
    expected = {"1 recorder": 3100, "2 recorders": 780, "3 recorders": 360, "4 recorders": 0}
    assert {name: float(rows[name]["cable_m"]) for name in expected} == pytest.approx(expected)
    assert [rows[name]["recorders"] for name in expected] == ["1", "2", "3", "4"]
    assert {rows[name]["linked"] for name in expected} == {"20"}
    assert rows["1 recorder"]["sites"] == "R260"


def test_cameras_lost_to_a_cut_fall_with_the_count(counts):
    """One recorder at 260 m: a cut from 0 to 120 m takes 6, from 120 to 260 m 9, beyond 8; the whole line 17."""
    _, out = counts
    rows = rows_of(out)
    assert (rows["1 recorder"]["lost_segment"], rows["1 recorder"]["lost_route"]) == ("9", "17")
    assert rows["1 recorder"]["lost_node"] == "20"
    assert rows["1 recorder"]["worst_cut"] == "D.2"
    # recorders at 0 and 400 m: each middle building hangs on its nearer one
    assert (rows["2 recorders"]["lost_segment"], rows["2 recorders"]["lost_route"]) == ("3", "6")
    assert rows["4 recorders"]["lost_route"] == "0"


def test_a_count_without_an_answer_is_a_row_that_says_why(counts):
    done, out = counts
    row = rows_of(out)["5 recorders"]
    assert row["status"] == "infeasible"
    assert "4 recorder sites" in row["why"]
    assert row["cost_total"] == row["cable_m"] == ""
    assert f"5 recorders: {row['why']}" in done.stdout


def test_it_writes_table_and_plot_and_is_known_as_ours(counts):
    _, out = counts
    assert {path.name for path in out.iterdir()} == FILES
    assert (out / "compare.png").read_bytes()[:4] == b"\x89PNG"
    assert (out / "compare.pdf").read_bytes()[:4] == b"%PDF"
    svg = (out / "compare.svg").read_text(encoding="utf-8")
    for words in ("Recorders", "3 recorders: ", "5 recorders: no answer"):
        assert words in svg
    assert read_json(out / "run.json")["command"] == "compare"


def test_same_input_same_bytes(counts, tmp_path):
    _, out = counts
    assert run("compare", out.parents[1], "--recorders", "1-5", "--out", tmp_path / "again").exit_code == 0
    for name in FILES - {"run.json"}:
        assert (out / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), name


@pytest.mark.parametrize("given", ["", "0-2", "4-1", "many", "1-", "-2", "1-2-3", "1.5", "²"])
def test_counts_that_are_none_are_refused(tmp_path, given):
    refused = run("compare", four_buildings(tmp_path, 1), f"--recorders={given}")
    assert refused.exit_code == 2
    assert "such as 1-4" in refused.stderr
    assert not (tmp_path / "out").exists()


def fork_with_variants(folder, trunk="", **variants):
    """The forked trenches, the common one maybe of a phase, with overlays of its settings."""
    forked(folder, trunk=trunk)
    (folder / "variants").mkdir()
    for name, text in variants.items():
        (folder / "variants" / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def test_variants_are_the_estate_with_other_settings(tmp_path):
    """130 m of trench and 210 m of cable at 10 and 2 a metre, and a recorder of 300; then rates table by table."""
    folder = fork_with_variants(
        tmp_path,
        dear="[prices.trench_m]\ngrass = 20\n",
        free="[prices]\nunlisted = 0\n[prices.cable_m]\nos2 = 0\n",
        impossible="[design]\nrecorders_exactly = 2\n",
    )
    before = contents(folder)
    done = run("compare", folder)
    assert done.exit_code == 0, done.stderr
    assert {
        p: text for p, text in contents(folder).items() if "out" not in p.relative_to(folder).parts
    } == before
    rows = rows_of(folder / "out" / "compare")
    assert list(rows) == ["estate.toml", "dear", "free", "impossible"]
    assert {name: float(rows[name]["cost_total"]) for name in ("estate.toml", "dear", "free")} == {
        "estate.toml": 2020,
        "dear": 3320,
        "free": 1600,
    }
    headings = ("cost_cable", "cost_works", "cost_recorders")
    assert [float(rows["dear"][heading]) for heading in headings] == [420, 2600, 300]
    assert {row["trench_m"] for row in rows.values()} == {"130.0", ""}
    assert (rows["impossible"]["status"], rows["impossible"]["cost_total"]) == ("infeasible", "")
    assert "recorders_exactly" in rows["impossible"]["why"]


def test_a_variant_whose_phases_cannot_be_is_a_row(tmp_path):
    """CA is of the first phase, which the variant makes phase two; the trench it needs is of phase one."""
    folder = fork_with_variants(tmp_path, trunk="one", turned='[phases]\nnames = ["two", "one", "three"]\n')
    shown, _ = comparing.compare([folder])
    statuses = {row["name"]: row["status"] for row in shown.rows.records()}
    assert statuses["turned"] == "refused"
    assert shown.rows.column("linked") == [2, None]
    assert "route T" in shown.rows.column("why")[1]


def test_every_problem_of_every_variant_names_its_file(tmp_path):
    folder = fork_with_variants(
        tmp_path,
        a_key="[design]\nspare_percnt = 1\n",
        b_value="[lengths]\nend_m = -1\n",
        c_cable='[design]\ncables = ["os22"]\n',
        d_phase='[phases]\nnames = ["one"]\n',
        e_toml="[design\n",
        f_catalogue='[catalogue.cables.mine]\nname = "Mine"\n',
        g_good="[design]\nspare_percent = 1\n",
        h_assume="[assume]\npoints.nothing = 1\n",
    )
    refused = run("compare", folder)
    assert refused.exit_code == 2
    for name, words in (
        ("a_key", "spare_percent"), ("b_value", "end_m"), ("c_cable", "os2"), ("d_phase", "points.csv row"),
        ("e_toml", "TOML"), ("f_catalogue", "mine"), ("h_assume", "nothing"),
    ):  # fmt: skip
        told = [each for each in refused.stderr.splitlines() if f"variants/{name}.toml" in each]
        assert told, name
        assert any(words in each for each in told), told
    assert "g_good" not in refused.stderr
    assert not (folder / "out").exists()


def test_one_folder_without_variants_says_what_to_give(tmp_path):
    refused = run("compare", forked(tmp_path))
    assert refused.exit_code == 2
    for words in ("variants/NAME.toml", "--recorders", "two or more results"):
        assert words in refused.stderr


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    """A design of two cameras, and the same with a third and with one out of reach of the method allowed."""
    folder = tmp_path_factory.mktemp("two")
    routes = [line("A", (0, 0), (120, 0), containment="tray")]
    points = [
        camera("C1", 50, 0, load_w=5, load_night_w=5), camera("C2", 110, 0, load_w=5, load_night_w=5),
        recorder("R", 0, 0),
    ]  # fmt: skip
    both = LOCAL + EXACT + '[design]\nmethods = ["ethernet", "ethernet-fibre"]\n'
    first = write_estate(folder / "first", both, routes=routes, points=points)
    third = camera("C3", 20, 0, load_w=5, load_night_w=5)
    second = write_estate(
        folder / "second", both.replace(', "ethernet-fibre"', ""), routes=routes, points=[*points, third]
    )
    for each in (first, second):
        workflow.design(each)
    return first, second


def test_two_designs_are_told_link_by_link(two):
    done = run("compare", two[0] / "out" / "design", two[1] / "out" / "design")
    assert done.exit_code == 0, done.stderr
    out = two[0] / "out" / "compare"
    changes = [
        (row["change"], row["link"], row["before"], row["after"]) for row in read_csv(out / "changes.csv")
    ]
    assert changes == [("worse", "L-C2", "within", "none"), ("new", "L-C3", "", "within")]
    assert "2 links changed: 1 worse, 1 new" in done.stdout
    assert "fixed part 110.0 m against 90 m" in done.stdout
    assert [row["linked"] for row in read_csv(out / "compare.csv")] == ["2", "2"]


def test_one_result_has_nothing_beside_it(two):
    refused = run("compare", two[0] / "out" / "design")
    assert refused.exit_code == 2
    assert "a second result" in refused.stderr


def test_an_estate_stands_for_its_saved_result(two, tmp_path):
    done = run("compare", two[1], two[0] / "out" / "design" / "result.json", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    changes = [(row["change"], row["link"]) for row in read_csv(tmp_path / "out" / "changes.csv")]
    assert changes == [("gone", "L-C3"), ("better", "L-C2")]


def test_quiet_and_foreign_folders_as_everywhere(two, tmp_path):
    (tmp_path / "letter.txt").write_text("keep me", encoding="utf-8")
    refused = run("compare", *two, "--out", tmp_path)
    assert refused.exit_code == 2
    assert "--overwrite" in refused.stderr
    quiet = run("compare", *two, "--out", tmp_path, "--overwrite", "-q")
    assert (quiet.exit_code, quiet.stdout, quiet.stderr) == (0, "", "")
    assert not (tmp_path / "letter.txt").exists()


def test_every_folder_without_a_result_is_named(two, tmp_path):
    refused = run("compare", two[0], tmp_path / "nothing", tmp_path / "none", "--recorders", "2")
    assert "--recorders" in refused.stderr
    refused = run("compare", two[0], tmp_path / "nothing", tmp_path / "none")
    assert refused.exit_code == 2
    assert "2 problems" in refused.stderr
    assert "nothing/result.json" in refused.stderr


LINKS = ("link", "camera", "verdict", "margin_percent", "limiting")


def result_with(result, *links, command="audit"):
    """A result with other links: (id, camera, verdict)."""
    rows = [(*facts, 5.0, f"limit of {facts[0]}") for facts in links]
    return replace(result, command=command, tables={**result.tables, "links": table(LINKS, rows)})


def test_verdicts_are_ordered_and_links_meet_by_id_or_by_camera(two):
    base = read_result(two[0] / "out" / "design")
    order = ("within", "marginal", "verify", "outside", "none")
    names = [f"{a}-{b}" for a in order for b in order]
    before = result_with(base, *((f"K-{name}", name, name.split("-")[0]) for name in names))
    after = result_with(base, *((f"K-{name}", name, name.split("-")[1]) for name in names))
    found = {row["camera"]: row["change"] for row in changes_table(before, after).records()}
    expected = {
        f"{a}-{b}": "better" if order.index(b) < order.index(a) else "worse"
        for a in order
        for b in order
        if a != b
    }
    assert found == expected


def test_a_cable_replaced_by_another_is_the_same_camera(two):
    base = read_result(two[0] / "out" / "design")
    before = result_with(
        base, ("K1", "C1", "outside"), ("K2", "", "within"), ("K5", "C5", "within"), ("K6", "C5", "within")
    )
    after = result_with(base, ("K9", "C1", "within"), ("K3", "", "within"), ("K7", "C5", "within"))
    changes = changes_table(before, after)
    assert {(row["change"], row["link"]) for row in changes.records()} == {
        ("better", "K9"), ("gone", "K2"), ("new", "K3"), ("gone", "K5"), ("gone", "K6"), ("new", "K7"),
    }  # fmt: skip
    told = told_changes(changes, every=False)
    assert told[0] == "6 links changed: 3 gone, 2 new, 1 better"
    assert told_changes(changes_table(before, before), every=False) == ["no link changed its verdict"]


def test_a_design_and_an_audit_are_not_held_link_by_link(two):
    base = read_result(two[0] / "out" / "design")
    rows = [comparing.Compared("one", base), comparing.Compared("two", replace(base, command="audit"))]
    assert comparing.comparison(rows).changes is None


def test_trench_is_counted_once(tmp_path):
    """Three cables share 80 m, then split 20, 30 and 10 m: 140 m of trench."""
    routes = [
        line("T", (0, 0), (80, 0), **DUG),
        line("A", (80, 0), (100, 0), **DUG),
        line("B", (80, 0), (80, 30), **DUG),
        line("C", (80, 0), (80, -10), **DUG),
        line("UNUSED", (0, 0), (0, 60), **DUG),
    ]
    toml = LOCAL + EXACT + '[prices]\nunlisted = 1\n[design]\nmethods = ["ethernet-fibre"]\n'
    points = [camera("CA", 100, 0), camera("CB", 80, 30), camera("CC", 80, -10), recorder("R", 0, 0)]
    folder = write_estate(tmp_path, toml, routes=routes, points=points)
    shown, _ = comparing.compare([folder], "1")
    assert shown.rows.column("trench_m") == [140.0]
    assert shown.rows.column("cable_m") == [300.0]


def test_a_check_has_no_links_recorders_or_trench_to_compare(two, tmp_path):
    estate, designed = two[0], two[0] / "out" / "design"
    for name in ("a", "b"):
        workflow.check(estate, tmp_path / name)
    shown, out = comparing.compare([tmp_path / "a", designed], out=tmp_path / "one")
    row = next(iter(read_csv(out / "compare.csv")))
    assert (row["status"], row["linked"], row["recorders"], row["trench_m"]) == ("check", "", "", "")
    assert not [note for note in shown.notes if "link as many" in note]
    shown, _ = comparing.compare([tmp_path / "a", tmp_path / "b"], out=tmp_path / "both")
    assert shown.changes is None
