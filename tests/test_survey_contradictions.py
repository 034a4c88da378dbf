"""Rows that can't be true are told with both values; settings' ids are told with everything else."""

import pytest

from estate import workflow
from estate.errors import InputError
from tests.estates import LOCAL, camera, line, recorder, write_estate


def refused(folder):
    with pytest.raises(InputError) as caught:
        workflow.load(folder)
    return [str(problem) for problem in caught.value.problems]


def test_volts_the_wrong_way_round(tmp_path):
    points = [camera("C", 5, 0, volts_min=13, volts_max=11), recorder("R", 0, 0)]
    supplies = [{"id": "S", "at": "R", "kind": "dc", "volts": 15, "volts_max": 13, "watts": 0}]
    told = refused(
        write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (9, 0))], points=points, supplies=supplies)
    )
    assert any("volts_max = 11.0" in text and "volts_min = 13 or more" in text for text in told)
    assert any("volts_max = 13.0" in text and "volts = 15 or more" in text for text in told)
    assert any("watts = 0" in text for text in told)


def test_equal_volts_are_fine(tmp_path):
    points = [camera("C", 5, 0, volts_min=12, volts=12, volts_max=12), recorder("R", 0, 0)]
    workflow.load(write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (9, 0))], points=points))


@pytest.mark.parametrize(("length", "good"), [(0.5, False), (0.51, True)])
def test_a_route_no_longer_than_the_snap_joins_itself(tmp_path, length, good):
    routes = [line("A", (0, 0), (9, 0)), line("STUB", (20, 0), (20 + length, 0))]
    folder = write_estate(tmp_path, LOCAL, routes=routes, points=[recorder("R", 0, 0)])
    if good:
        workflow.load(folder)
    else:
        (told,) = refused(folder)
        assert "STUB" in told
        assert "snap_m = 0.5" in told


def test_control_characters_in_an_id(tmp_path):
    folder = write_estate(
        tmp_path, LOCAL, routes=[line("A\x07", (0, 0), (9, 0))], points=[recorder("R", 0, 0)]
    )
    assert any("control characters" in text for text in refused(folder))


def test_ids_of_settings_are_told_with_the_layers_problems(tmp_path):
    toml = (
        LOCAL
        + '[design]\nmethods = ["ethernt"]\n[prices.recorder]\nfoo = 2\n[prices.containment_m]\nducct = 3\n'
    )
    folder = write_estate(
        tmp_path, toml, routes=[line("A", (0, 0), (9, 0))], points=[camera("C", 5, 0, kind="camrea")]
    )
    told = "\n".join(refused(folder))
    for expected in ("'ethernt'", "'foo'", "'ducct'", "'duct'", "camrea"):
        assert expected in told


def test_existing_recorder_without_channels_is_told(tmp_path):
    points = [camera(f"C{n}", 5, 0) for n in range(6)] + [recorder("R", 0, 0, status="existing")]
    folder = write_estate(tmp_path, LOCAL, routes=[line("A", (0, 0), (9, 0))], points=points)
    made, result, _ = workflow.design(folder)
    (row,) = result.tables["recorders"].records()
    assert (row["model"], row["channels"], row["used"]) == ("not given", 8, 6)
    assert any("channels are not given" in finding.text for finding in made.findings)


def test_a_method_may_not_feed_over_pairs_that_carry_data(tmp_path):
    method = (
        '[catalogue.methods.fed-gigabit]\nname = "Gigabit with spare-pair power"\nsignals = ["ethernet-1g"]\n'
        'signal_cables = ["cat6-utp"]\nfeeds = ["dc12"]\ndelivers = "ethernet"\npower_out = 2\npower_back = 2\n'
    )
    folder = write_estate(
        tmp_path, LOCAL + method, routes=[line("A", (0, 0), (9, 0))], points=[recorder("R", 0, 0)]
    )
    assert any("fed-gigabit" in text and "leaves free" in text for text in refused(folder))


def test_an_unknown_margin_is_named(tmp_path):
    toml = LOCAL + "[limits]\nmargin_percent = { volt = 5 }\n"
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (9, 0))], points=[recorder("R", 0, 0)])
    (told,) = refused(folder)
    assert "'volt'" in told
    assert "'volts'" in told
