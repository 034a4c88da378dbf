"""Why a camera has no link, and what is offered: never "no recorder site" where there is one."""

import pytest

from estate import workflow
from estate.findings import Action
from estate.links.judging import TOGETHER
from estate.links.lines import ceiling
from estate.links.miss import Miss
from tests.estates import EXACT, LOCAL, camera, line, recorder, write_estate

POE = {"feeds": "poe1", "power": "none", "load_w": 5, "load_night_w": 5}
DC = {"signal": "composite", "feeds": "dc12", "volts": 12, "power": "none", "load_w": 4, "load_night_w": 4}


def designed(folder, design, **facts):
    points = [recorder("R", 0, 0), camera("C", 50, 0, **facts)]
    toml = LOCAL + EXACT + f"[prices]\nunlisted = 1\n[design]\n{design}\n"
    made = workflow.designed(
        workflow.prepare(write_estate(folder, toml, routes=[line("A", (0, 0), (50, 0))], points=points))
    )
    (link,) = made.links
    return link.limiting, made.changes.get("C", ())


@pytest.mark.parametrize(
    ("design", "facts", "why", "offered"),
    [
        (
            'methods = ["coax-power-pair"]\ncables = ["rg59-cu"]',
            DC,
            "coax-power-pair: no power cable that [design] cables allows",
            "other cable",
        ),
        (
            'methods = ["ethernet-extender"]',
            POE,
            "ethernet-extender: lengthens a link of another method, and [design] methods allows none",
            "other method",
        ),
        ('methods = ["radio"]', POE, "radio: has no cable, so no way is searched for it", "other method"),
        ('methods = ["radio"]', DC, "radio: does not carry composite", "other method"),
    ],
)
def test_what_the_user_rules_out_is_said_and_a_change_offered(tmp_path, design, facts, why, offered):
    limiting, changes = designed(tmp_path, design, **facts)
    assert limiting == why
    assert offered in {change.kind for change in changes}


def test_several_media_too_long_together_want_a_repeater():
    line_ = ceiling(TOGETHER, 120.0, 100.0, "%", 5.0, source="common practice, no source")
    assert Miss("coax-local+pair-video", "", 0.2, line_).action is Action.REPEATER
