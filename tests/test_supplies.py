"""What the links ask of the supplies: load, outputs, fuses, range of volts, cameras lost with one."""

import math

import pytest

from estate.catalogue.load import load_catalogue
from estate.findings import Action, Effect, Severity
from estate.links.assess import assess
from estate.links.camera import camera_facts
from estate.links.conditions import Conditions, SupplyVolts
from estate.links.lines import verdict_of
from estate.links.link import CableRun, Link
from estate.links.supplies import supply_findings, supply_groups
from estate.links.variants import Variant
from estate.survey.read import read_survey
from tests.estates import LOCAL, camera, line, recorder, write_estate

CATALOGUE = load_catalogue()[0]
KNOWN = {
    name: frozenset(getattr(CATALOGUE, name)) for name in ("signals", "feeds", "cables", "methods", "items")
}


def survey_of(folder, supplies, cameras, toml=LOCAL):
    points = [
        recorder("R1", 0, 0),
        *(camera(f"C{n}", 30 * n, 0, signal="composite", **more) for n, more in enumerate(cameras, 1)),
    ]
    routes = [line("A", (0, 0), (400, 0))]
    return read_survey(write_estate(folder, toml, routes=routes, points=points, supplies=supplies), KNOWN)


def supply(identity="S1", **more):
    facts = {"id": identity, "at": "R1", "kind": "dc", "volts": 12, "volts_min": 12, "volts_max": 12}
    return facts | {"watts": 60, "outputs": 8, "fuse_a": 2, "ups": "yes"} | more


def link_of(survey, n, variant, length_m, volts=None, head="R1"):
    facts = next(c for c in camera_facts(survey.points) if c.id == f"C{n}")
    settings = survey.settings
    supplies = {variant.feed: SupplyVolts(*volts, "declared", "supply")} if volts else {}
    lines = assess(
        variant, facts, length_m, Conditions(CATALOGUE, settings.limits, settings.lengths, 20, supplies)
    )
    method = CATALOGUE.methods[variant.method]
    runs = tuple(
        CableRun(
            "signal", c, length_m, length_m, length_m, variant.method, variant.feed,
            at_head=method.at_head, at_camera=method.at_camera,
        )
        for c in variant.cables
    )  # fmt: skip
    return Link(
        id=f"L{n}", kind="camera", camera=f"C{n}", head=head, recorder=head, method=variant.method,
        feed=variant.feed, port="analogue", runs=runs, nodes=(), segments=(), length_m=length_m,
        cable_length_m=length_m, equipment=(), lines=lines, verdict=verdict_of(lines), limiting="",
    )  # fmt: skip


PAIR = Variant("coax-power-pair", "dc12", "rg59-cu", "power-2x2.5")
LOADS = {"load_w": 3.6, "load_night_w": 9.6}


def found(folder, supplies, cameras, length_m=20.0, variant=PAIR, volts=None, toml=LOCAL):
    survey = survey_of(folder, supplies, cameras, toml)
    links = [link_of(survey, n, variant, length_m, volts) for n in range(1, len(cameras) + 1)]
    return supply_findings(survey, CATALOGUE, links)


def saying(findings, words):
    return [f for f in findings if words in f.text]


def test_a_supply_within_its_limits_only_says_what_is_lost_with_it(tmp_path):
    (finding,) = found(tmp_path / "e", [supply()], [LOADS] * 2)
    assert finding.severity is Severity.NOTE
    assert "2 cameras lost with it; held through a mains failure" in finding.text
    assert finding.cameras == ("C1", "C2")
    assert (finding.x, finding.y) == (0.0, 0.0)


def test_the_load_holds_the_loss_on_the_way(tmp_path):
    # V² - 12·V + 9.6·R = 0 with 7.98 Ω/km of IEC 60228 over 2 × 100 m; the supply gives 12·9.6/V
    survey = survey_of(tmp_path / "e", [supply()], [LOADS])
    (group,) = supply_groups(survey, CATALOGUE, [link_of(survey, 1, PAIR, 100.0)])
    volts = (12 + math.sqrt(144 - 4 * 9.6 * 1.596)) / 2
    assert group.load_w("night") == pytest.approx(12 * 9.6 / volts)
    assert group.load_w("night") > 9.6


@pytest.mark.parametrize(
    ("cameras", "effect"), [(4, None), (5, Effect.NIGHT), (14, Effect.PICTURE)]
)  # 80 % of 60 W: common practice, no source; near the supply 9.6 W each at night, 3.6 W by day
def test_load_against_80_percent_of_the_rating(tmp_path, cameras, effect):
    findings = found(tmp_path / "e", [supply(outputs=16)], [LOADS] * cameras, length_m=1.0)
    over = saying(findings, "allowed (80 % of 60 W)")
    assert [f.effect for f in over] == ([effect] if effect else [])
    if effect:
        (finding,) = over
        assert (finding.severity, finding.action, finding.unit) == (Severity.FAULT, Action.ENLARGE, "W")
        assert finding.limit == pytest.approx(48)
        assert finding.measured == pytest.approx(9.6 * cameras, rel=0.01)
        assert len(finding.cameras) == cameras


def test_the_share_of_the_rating_is_a_setting(tmp_path):
    toml = LOCAL + "[limits]\nsupply_percent = 100\n"
    findings = found(tmp_path / "e", [supply()], [LOADS] * 6, length_m=1.0, toml=toml)
    assert not saying(findings, "allowed")


def test_supplies_that_stand_together_share_their_links(tmp_path):
    findings = found(tmp_path / "e", [supply("S1"), supply("S2")], [LOADS] * 9, length_m=1.0)
    assert not saying(findings, "allowed")
    assert saying(findings, "supplies S1, S2 together: 9 cameras lost")


def test_more_cameras_than_fused_outputs(tmp_path):
    findings = found(tmp_path / "e", [supply(outputs=2, watts=100)], [LOADS] * 3)
    (finding,) = saying(findings, "3 cameras on 2 outputs")
    assert (finding.severity, finding.action) == (Severity.FAULT, Action.ENLARGE)
    assert not saying(found(tmp_path / "f", [supply(outputs=3, watts=100)], [LOADS] * 3), "outputs")


def test_a_camera_above_the_fuse_of_its_output(tmp_path):
    # 9.6 W near 12 V take 0.80 A, 3.6 W 0.30 A
    findings = found(
        tmp_path / "e", [supply(fuse_a=0.75)], [LOADS, {"load_w": 3.6, "load_night_w": 3.6}], 1.0
    )
    (finding,) = saying(findings, "the fuse of an output is 0.75 A")
    assert finding.cameras == ("C1",)
    assert finding.effect is Effect.NIGHT
    assert finding.measured == pytest.approx(0.80, abs=0.01)


def test_the_ends_of_the_range_of_volts(tmp_path):
    wide = [supply(volts_min=10.9, volts_max=14.4)]
    near = saying(found(tmp_path / "e", wide, [LOADS], 1.0, volts=(10.9, 14.4)), "near it")
    assert [(f.measured > 13.2, f.limit, f.unit) for f in near] == [(True, pytest.approx(13.2), "V")]
    far = saying(found(tmp_path / "f", wide, [LOADS], 60.0, volts=(10.9, 14.4)), "less than needed")
    assert [(f.effect, f.cameras) for f in far] == [(Effect.PICTURE, ("C1",))]
    assert not saying(found(tmp_path / "g", [supply()], [LOADS], 20.0), "volts")


@pytest.mark.parametrize(
    ("blank", "words"),
    [
        ({"volts": ""}, "rated volts are not known"),
        ({"watts": ""}, "the rating is not known"),
        ({"volts_max": ""}, "least or greatest volts are not known"),
        ({"ups": ""}, "whether it outlasts the mains is not known"),
    ],
)
def test_what_is_not_known_of_a_supply_is_said(tmp_path, blank, words):
    findings = found(tmp_path / "e", [supply(**blank)], [LOADS])
    assert len(saying(findings, words)) == 1


def test_a_blank_load_is_said_and_counts_as_nothing(tmp_path):
    findings = found(tmp_path / "e", [supply()], [LOADS, {"load_w": 3.6}])
    (finding,) = saying(findings, "the load of 1 camera is not known")
    assert (finding.action, finding.cameras) == (Action.SURVEY, ("C2",))


@pytest.mark.parametrize(
    ("variant", "given"),
    [
        (Variant("coax-local", "local", "rg59-cu"), {}),
        (Variant("coax-power-pair", "dc24", "rg59-cu", "power-2x2.5"), {}),
        (
            Variant("coax-power-pair", "ac24", "rg59-cu", "power-2x2.5"),
            {"volts": 24, "volts_min": 24, "volts_max": 24},
        ),
    ],
)
def test_links_of_another_feed_do_not_load_a_supply(tmp_path, variant, given):
    assert saying(found(tmp_path / "e", [supply(**given)], [LOADS], variant=variant), "lost with it") == []


def test_links_from_another_place_do_not_load_a_supply(tmp_path):
    survey = survey_of(tmp_path / "e", [supply()], [LOADS])
    assert supply_findings(survey, CATALOGUE, [link_of(survey, 1, PAIR, 20.0, head="R2")]) == []


def test_power_over_coax_loads_the_supply_of_the_cameras_volts(tmp_path):
    # 7.5 W and 0.5 W of the splitter on 33.3 + 8.5 Ω/km over 50 m, and 0.5 W of the inserter at the head
    cameras = [{"load_w": 7.5, "load_night_w": 7.5, "volts": 24}]
    survey = survey_of(tmp_path / "e", [supply(volts=24, volts_min=24, volts_max=24)], cameras)
    link = link_of(survey, 1, Variant("coax-powered", "coax-dc", "rg59-cu"), 50.0)
    (group,) = supply_groups(survey, CATALOGUE, [link])
    volts = (24 + math.sqrt(576 - 4 * 8 * 2.09)) / 2
    assert group.load_w("day") == pytest.approx(24 * 8 / volts + 0.5)
