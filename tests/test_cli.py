"""The command as a newcomer meets it: exit status, streams, folders, messages."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from estate import __version__
from estate.cli import main
from tests.estates import LOCAL, camera, line, read_csv, read_json, recorder, write_estate


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture
def folder(tmp_path):
    points = [camera("C1", 30, 0), camera("C2", 500, 300), recorder("R1", 0, 0)]
    return write_estate(tmp_path / "site", LOCAL, routes=[line("A", (0, 0), (40, 0))], points=points)


def test_new_is_accepted_by_check_and_design(tmp_path):
    target = tmp_path / "mine"
    made = run("new", target)
    assert made.exit_code == 0, made.stderr
    assert (target / "estate.toml").is_file()
    for layer in ("routes", "points", "mains", "buildings", "cables", "supplies"):
        assert list(target.glob(f"{layer}.*")), layer
    checked = run("check", target)
    assert checked.exit_code == 0, checked.stderr
    assert "accepted + 0 rejected" in checked.stdout
    assert run("design", target).exit_code == 0


def test_new_leaves_a_folder_that_holds_something_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    refused = run("new", tmp_path)
    assert refused.exit_code == 2
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_results_go_to_stdout_and_nothing_to_stderr(folder):
    done = run("design", folder)
    assert done.exit_code == 0
    assert "1 of 2 linked" in done.stdout
    assert done.stderr == ""


def test_quiet_tells_nothing(folder):
    done = run("design", folder, "-q")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    assert (folder / "out" / "design" / "summary.json").is_file()


def test_strict_exits_with_1_where_a_finding_is_a_fault(folder):
    assert run("check", folder).exit_code == 0
    assert run("check", folder, "--strict").exit_code == 1  # C2 joins no route
    assert run("design", folder, "--strict").exit_code == 1
    assert read_json(folder / "out" / "design" / "summary.json")["linked"] == 1


def test_check_writes_nothing_unless_asked(folder, tmp_path):
    before = sorted(folder.rglob("*"))
    run("check", folder)
    assert sorted(folder.rglob("*")) == before
    done = run("check", folder, "--out", tmp_path / "checked")
    assert done.exit_code == 0
    assert (tmp_path / "checked" / "findings.csv").is_file()


def test_foreign_folder_is_refused_and_ours_is_replaced(folder, tmp_path):
    foreign = tmp_path / "foreign"
    foreign.mkdir()
    (foreign / "letter.txt").write_text("keep me", encoding="utf-8")
    refused = run("design", folder, "--out", foreign)
    assert refused.exit_code == 2
    assert "--overwrite" in refused.stderr
    assert [p.name for p in foreign.iterdir()] == ["letter.txt"]
    assert run("design", folder, "--out", foreign, "--overwrite").exit_code == 0
    assert not (foreign / "letter.txt").exists()
    assert run("design", folder, "--out", foreign).exit_code == 0


def test_a_failed_run_keeps_the_old_result(folder):
    run("design", folder)
    before = (folder / "out" / "design" / "result.json").read_bytes()
    (folder / "estate.toml").write_text(LOCAL + "[design]\nrecorders_exactly = 7\n", encoding="utf-8")
    refused = run("design", folder)
    assert refused.exit_code == 2
    assert "recorders_exactly" in refused.stderr
    assert (folder / "out" / "design" / "result.json").read_bytes() == before
    assert [p.name for p in (folder / "out").iterdir()] == ["design"]


def test_draw_needs_no_input_layers(folder, tmp_path):
    run("design", folder)
    saved = tmp_path / "saved"
    shutil.copytree(folder / "out" / "design", saved)
    drawn = run("draw", folder, "--from", saved, "--out", tmp_path / "drawn")
    assert drawn.exit_code == 0, drawn.stderr
    for name in ("map.pdf", "map.svg", "map.png", "schedules.xlsx", "report.html"):
        assert (tmp_path / "drawn" / name).read_bytes() == (saved / name).read_bytes(), name


def test_draw_without_a_result_says_what_to_do(folder):
    refused = run("draw", folder)
    assert refused.exit_code == 2
    assert "estate design" in refused.stderr


@pytest.mark.parametrize("content", ["{}", "[]", "not json", '{"program": "other"}'])
def test_draw_from_something_else_is_refused(folder, tmp_path, content):
    strange = tmp_path / "result.json"
    strange.write_text(content, encoding="utf-8")
    refused = run("draw", folder, "--from", strange)
    assert refused.exit_code == 2
    assert "Traceback" not in refused.stderr


def test_every_problem_is_told_at_once_and_nothing_written(tmp_path):
    folder = write_estate(
        tmp_path / "bad",
        '[estate]\ncrs = "local"\ntitel = "x"\n[design]\nmethods = ["ethernt"]\n[limits]\nprofile = "bold"\n',
        routes=[
            {"id": "A", "wkt": "LINESTRING (0 0, 10 0)", "rise_m": "-3"},
            {"id": "A", "wkt": "LINESTRING (0 0, 0 9)"},
        ],
        points=[
            {"id": "C", "kind": "camrea", "x": 1, "y": 0},
            {"id": "R", "kind": "recorder", "x": "nan", "y": 0},
            {"id": "D", "kind": "camera", "x": 2, "y": 0, "signal": "ethernet-1k"},
        ],
    )
    refused = run("design", folder)
    assert refused.exit_code == 2
    told = refused.stderr
    for expected in (
        "titel",
        "title",
        "profile",
        "bold",
        "rise_m",
        "-3",
        "camrea",
        "camera",
        "ethernet-1k",
        "ethernet-1g",
        "nan",
        "'A'",
    ):
        assert expected in told, expected
    assert "Traceback" not in told
    assert not (folder / "out").exists()


def test_unknown_ids_in_settings_name_the_nearest(tmp_path):
    points = [camera("C1", 5, 0), recorder("R1", 0, 0)]
    toml = (
        LOCAL + '[design]\nmethods = ["ethernt"]\nkeep_recorders = ["R2"]\n[prices.cable_m]\n"cat6utp" = 1\n'
    )
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (9, 0))], points=points)
    refused = run("check", folder)
    assert refused.exit_code == 2
    for expected in ("'ethernt'", "'ethernet'", "'R2'", "'cat6utp'", "'cat6-utp'"):
        assert expected in refused.stderr


def test_a_missing_folder_is_told(tmp_path):
    refused = run("check", tmp_path / "nowhere")
    assert refused.exit_code == 2
    assert "nowhere" in refused.stderr


@pytest.mark.parametrize("table", ["cables", "methods"])
def test_catalogue_lists_and_details(table):
    listed = run(table)
    assert listed.exit_code == 0
    first = listed.stdout.splitlines()[1].split()[0]
    detail = run(table, first)
    assert detail.exit_code == 0
    assert first in detail.stdout
    wrong = run(table, first + "x")
    assert wrong.exit_code == 2
    assert first in wrong.stderr


def test_a_figure_is_printed_with_its_source():
    text = run("cables", "cat5e-utp").stdout
    assert "attenuation_a = 1.967" in text
    assert "TIA-568-C.2" in text


def test_version():
    assert __version__ in run("--version").stdout


@pytest.mark.parametrize("arguments", [["--help"], ["design", "--help"], ["nonsense"]])
def test_help_and_usage_errors_load_nothing_slow(arguments):
    code = (
        "import sys\nfrom estate.cli import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit:\n    pass\n"
        "slow = {'geopandas', 'matplotlib', 'pandas', 'scipy', 'shapely', 'numpy', 'highspy'} & set(sys.modules)\n"
        "assert not slow, slow\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_installed_command_runs_in_a_pipe(folder):
    command = Path(sys.executable).with_name("estate")
    done = subprocess.run([command, "check", folder], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "1 finding:" in done.stdout


def test_summary_counts_agree_with_the_tables(folder):
    run("design", folder)
    out = folder / "out" / "design"
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    findings = (out / "findings.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert sum(summary["findings_by_severity"].values()) == len(findings)
    assert sum(summary["links"].values()) == summary["cameras"] == 2


# What a run reads is never replaced


def files(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_no_command_replaces_the_estate_it_reads(folder):
    before = files(folder)
    for arguments in (
        ("check", folder, "--out", folder),
        ("design", folder, "--out", folder),
        ("design", folder, "--out", folder.parent),
        ("compare", folder, "--recorders", "1", "--out", folder),
    ):
        refused = run(*arguments, "--overwrite")
        assert refused.exit_code == 2, arguments
        assert "what this run reads" in refused.stderr
        assert "--out" in refused.stderr
        assert files(folder) == before


def test_a_result_is_not_replaced_by_its_drawings_or_a_comparison(folder):
    run("design", folder)
    saved = folder / "out" / "design"
    before = files(saved)
    for source in (saved, saved / "result.json"):
        refused = run("draw", folder, "--from", source, "--out", saved, "--overwrite")
        assert refused.exit_code == 2
    refused = run("compare", saved, saved, "--out", folder / "out", "--overwrite")
    assert refused.exit_code == 2
    assert files(saved) == before


def test_variants_are_not_replaced_by_their_comparison(folder):
    (folder / "variants").mkdir()
    (folder / "variants" / "one.toml").write_text("", encoding="utf-8")
    refused = run("compare", folder, "--out", folder / "variants", "--overwrite")
    assert refused.exit_code == 2
    assert (folder / "variants" / "one.toml").is_file()


def test_a_file_put_into_a_result_is_not_deleted(folder):
    run("design", folder)
    mine = folder / "out" / "design" / "layers" / "notes.txt"
    mine.write_text("keep me", encoding="utf-8")
    (folder / "out" / "design" / ".DS_Store").write_bytes(b"")
    refused = run("design", folder)
    assert refused.exit_code == 2
    assert "layers/notes.txt" in refused.stderr
    assert mine.read_text(encoding="utf-8") == "keep me"
    mine.unlink()
    assert run("design", folder).exit_code == 0


# Settings of a run


@pytest.mark.parametrize("value", ["nan", "inf", "-1"])
@pytest.mark.parametrize("option", ["--gap", "--time-limit"])
def test_a_gap_or_time_limit_that_is_no_number_is_refused(folder, option, value):
    refused = run("design", folder, option, value)
    assert refused.exit_code == 2
    assert option in refused.stderr
    assert not (folder / "out").exists()


def test_gap_and_time_limit_of_a_run_are_put_down_as_given(folder):
    run("design", folder, "--gap", "3", "--time-limit", "30")
    rows = {row["subject"]: row for row in read_csv(folder / "out" / "design" / "assumptions.csv")}
    assert [rows[f"[design] {key}"]["value"] for key in ("gap_percent", "time_limit_s")] == ["3", "30"]
    assert {rows[f"[design] {key}"]["kind"] for key in ("gap_percent", "time_limit_s")} == {"given"}
    assert rows["[design] spare_percent"]["kind"] == "default"


def test_a_phase_named_twice_is_refused(folder):
    (folder / "estate.toml").write_text(LOCAL + '[phases]\nnames = ["a", "b", "a"]\n', encoding="utf-8")
    refused = run("check", folder)
    assert refused.exit_code == 2
    assert "[phases] names = 'a'" in refused.stderr


# Small words


def test_draw_of_a_folder_that_is_not_there_is_refused(folder, tmp_path):
    run("design", folder)
    refused = run("draw", tmp_path / "nowhere", "--from", folder / "out" / "design")
    assert refused.exit_code == 2
    assert not (tmp_path / "nowhere").exists()


def test_draw_is_strict_where_asked(folder):
    run("design", folder)
    assert run("draw", folder).exit_code == 0
    assert run("draw", folder, "--strict").exit_code == 1


def test_an_error_says_that_nothing_was_written_only_where_something_would_be(folder):
    run("design", folder)
    assert "nothing was written" not in run("explain", folder, "C9").stderr
    assert "nothing was written" not in run("cables", "nonsense").stderr
    assert "nothing was written" in run("design", folder / "nowhere").stderr


@pytest.mark.parametrize("arguments", [("separation", "--class", "b"), ("reach", "--signal", "composite")])
def test_bench_commands_are_quiet_where_asked(arguments):
    assert run(*arguments).stdout
    quiet = run(*arguments, "-q")
    assert (quiet.exit_code, quiet.stdout) == (0, "")
