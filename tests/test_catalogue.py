"""The catalogue: every figure sourced, every reference there, the tables' invariants, and the user's own entries."""

import math
import re
import tomllib
from importlib.resources import files

import numpy as np
import pytest

from estate.catalogue.load import DECLARED, load_catalogue
from estate.catalogue.tables import ENVIRONMENTS, STATUSES, Figure
from estate.formulas.attenuation import attenuation_db_per_100m
from estate.formulas.conductor import conductor_ohm_per_km
from estate.formulas.ethernet import insertion_loss_temperature_factor
from estate.formulas.poe import loop_from_type_ohm, port_power_w

CATALOGUE, PROBLEMS = load_catalogue()
SECTIONS = ("cables", "signals", "feeds", "methods", "items", "applications")
NAMES = (*SECTIONS, "rules")
IDS = {
    "signals": "composite analogue-720p analogue-1080p analogue-4mp analogue-5mp analogue-8mp sdi-hd sdi-3g "
    "ethernet-100m ethernet-1g",
    "feeds": "local dc12 dc24 ac24 coax-dc poe1 poe2 poe3 poe4",
    "cables": "rg59-cu rg59-ccs rg6-cu rg6-ccs rg11-cu cat5e-utp cat5e-ftp cat6-utp cat6a-ftp cat7-sftp cca-utp "
    "power-2x0.5 power-2x0.75 power-2x1.0 power-2x1.5 power-2x2.5 om1 om2 om3 om4 om5 os2 os2-armoured",
    "methods": "coax-local coax-power-pair coax-powered pair-video pair-video-power pair-active ethernet "
    "ethernet-extender ethernet-coax ethernet-fibre analogue-fibre ethernet-single-pair radio",
}


def raw(name):
    return tomllib.loads((files("estate.catalogue") / f"{name}.toml").read_text(encoding="utf-8"))


def figure_tables(table):
    """Every inline table with a value, however deep."""
    for key, value in table.items():
        if isinstance(value, dict):
            if "value" in value:
                yield key, value
            else:
                yield from figure_tables(value)


def all_figures():
    for section in SECTIONS:
        for entry in getattr(CATALOGUE, section).values():
            yield from entry.figures.values()
    for signal in CATALOGUE.signals.values():
        for profiles in signal.reach.values():
            yield from profiles.values()
    for subject in CATALOGUE.rules.values():
        yield from subject.values()


def copper_pairs():
    return [c for c in CATALOGUE.cables.values() if c.family == "pair" and c.conductor == "cu"]


def test_the_packaged_catalogue_has_no_problem():
    assert PROBLEMS == []


@pytest.mark.parametrize("section", IDS)
def test_ids_that_others_rely_on(section):
    assert set(IDS[section].split()) <= set(getattr(CATALOGUE, section))


@pytest.mark.parametrize("name", NAMES)
def test_no_figure_is_lost_on_loading(name):
    written = sum(1 for _ in figure_tables(raw(name)[name]))
    if name == "rules":
        loaded = sum(len(subject) for subject in CATALOGUE.rules.values())
    else:
        entries = getattr(CATALOGUE, name).values()
        loaded = sum(len(e.figures) + sum(map(len, getattr(e, "reach", {}).values())) for e in entries)
    assert loaded == written > 0


def test_every_figure_has_source_and_status():
    for figure in all_figures():
        assert figure.source.strip()
        assert figure.status in STATUSES
        assert figure.status not in ("invented", "declared")


def test_every_source_is_used_and_none_is_a_tag():
    used = {f["source"] for name in NAMES for _, f in figure_tables(raw(name)[name])}
    sources = raw("sources")["sources"]
    assert set(sources) - used <= {"invented"}
    assert not any(re.search(r"\bS\d+\b", words) for words in sources.values())


def test_every_number_is_finite():
    for name in SECTIONS:
        for key, figure in figure_tables(raw(name)[name]):
            if isinstance(figure["value"], int | float):
                assert math.isfinite(figure["value"]), key


def test_attenuation_grows_with_frequency():
    for cable in CATALOGUE.cables.values():
        if "attenuation_a" in cable.figures:
            # c/√f of clad steel turns the fit down below 5 MHz at most
            mhz = np.geomspace(
                max(1.0, cable.number("attenuation_from_mhz")), cable.number("attenuation_to_mhz"), 200
            )
            loss = attenuation_db_per_100m(mhz, *(cable.number(f"attenuation_{k}") for k in "abc"))
            assert np.all(np.diff(loss[mhz > 2]) > 0), cable.id


def test_better_cable_loses_less():
    mhz = 30.0
    loss = [
        attenuation_db_per_100m(mhz, *(CATALOGUE.cables[i].number(f"attenuation_{k}") for k in "abc"))
        for i in ("rg59-ccs", "rg59-cu", "rg6-cu", "rg11-cu")
    ]
    assert loss == sorted(loss, reverse=True)


@pytest.mark.parametrize(
    ("cable", "mhz", "printed", "within"),
    [
        # Public data-sheet table of RG types, dB/100 m: RG-59B and RG-6 solid polyethylene, RG-11 foam
        ("rg59-ccs", [1, 10, 50, 100, 200, 400, 742.5, 1000], [1.97, 3.61, 7.87, 11.15, 16.1, 23.0, 32.9, 39.4], 0.07),
        ("rg6-ccs", [1, 10, 50, 100, 200, 400, 742.5, 1000], [1.31, 2.62, 6.23, 8.86, 13.5, 19.4, 27.5, 32.2], 0.07),
        ("rg11-cu", [5, 10, 50, 100, 200, 400, 742.5, 1000], [1.2, 1.6, 2.95, 4.27, 6.23, 9.51, 14.0, 17.1], 0.13),
        # Two data sheets of RG-6 with a copper centre: 20.7 and 21.5 dB/100 m at 1 GHz
        ("rg6-cu", [1000], [21.5], 0.01),
    ],
)  # fmt: skip
def test_coax_against_printed_tables(cable, mhz, printed, within):
    entry = CATALOGUE.cables[cable]
    ours = attenuation_db_per_100m(np.array(mhz), *(entry.number(f"attenuation_{k}") for k in "abc"))
    assert ours == pytest.approx(printed, rel=within)


def test_resistance_times_area_is_near_the_resistivity():
    # IEC 60228 class 5 over ρ/A of IEC 60028: 13 to 16 % above
    for area in ("0.5", "0.75", "1.0", "1.5", "2.5"):
        ratio = CATALOGUE.cables[f"power-2x{area}"].number("conductor_ohm_per_km") / conductor_ohm_per_km(
            float(area)
        )
        assert 1.12 < ratio < 1.17


def test_clad_conductors_have_more_resistance_than_copper():
    c = CATALOGUE.cables
    for clad, copper, least in (
        ("cca-utp", "cat5e-utp", 1.4),
        ("rg59-ccs", "rg59-cu", 4),
        ("rg6-ccs", "rg6-cu", 4),
    ):
        assert c[clad].number("conductor_ohm_per_km") > least * c[copper].number("conductor_ohm_per_km")
        assert c[clad].legacy
        assert not c[clad].reach_class


def test_cautious_is_never_farther_than_typical():
    for signal in CATALOGUE.signals.values():
        for profiles in signal.reach.values():
            assert set(profiles) == {"cautious", "typical"}
            assert profiles["cautious"].value <= profiles["typical"].value
    for method in CATALOGUE.methods.values():
        if "reach_cautious_m" in method.figures:
            assert method.number("reach_cautious_m") <= method.number("reach_typical_m")


def test_thicker_coax_reaches_no_less_and_more_pixels_no_farther():
    formats = ["analogue-720p", "analogue-1080p", "analogue-4mp", "analogue-5mp", "analogue-8mp"]
    for profile in ("cautious", "typical"):
        for signal in CATALOGUE.signals.values():
            row = [signal.reach[c][profile].value for c in ("rg59", "rg6", "rg11") if signal.reach]
            assert row == sorted(row)
        for cls in ("rg59", "rg6", "rg11", "cat5e"):
            column = [CATALOGUE.signals[f].reach[cls][profile].value for f in formats]
            assert column == sorted(column, reverse=True)


def test_composite_reach_of_the_trade():
    # Trade press rules of thumb: common practice, no standard gives it
    reach = CATALOGUE.signals["composite"].reach
    found = {c: (p["cautious"].value, p["typical"].value) for c, p in reach.items()}
    assert found == {"rg59": (229, 305), "rg6": (305, 450), "rg11": (457, 900), "cat5e": (225, 300)}
    assert {p["cautious"].status for p in reach.values()} == {"common_practice"}


def test_poe_figures_agree_with_each_other():
    # IEEE 802.3 types 1 to 4: device, loop and port belong together
    amps = {"poe1": 0.35, "poe2": 0.6, "poe3": 1.2}
    for name in ("poe1", "poe2", "poe3", "poe4"):
        feed = CATALOGUE.feeds[name]
        port = port_power_w(
            feed.number("pse_volts_min"), feed.number("loop_ohm_max"), feed.number("device_w")
        )
        assert port == pytest.approx(feed.number("pse_w"), abs=0.05)
        if name in amps:
            loop = loop_from_type_ohm(
                feed.number("pse_volts_min"), feed.number("device_volts_min"), amps[name]
            )
            assert loop == pytest.approx(feed.number("loop_ohm_max"))


def test_heat_factors_are_those_of_the_formula():
    rules = CATALOGUE.rules["ethernet"]
    for temp in (30.0, 55.0):
        ours = insertion_loss_temperature_factor(
            temp, screened=False, to_40_per_k=rules["heat_unscreened_20_40"].value,
            above_40_per_k=rules["heat_unscreened_40_60"].value,
        )  # fmt: skip
        assert ours == insertion_loss_temperature_factor(temp, screened=False)


def test_every_cable_fits_somewhere_and_the_designer_has_one_everywhere_but_hazardous():
    for cable in CATALOGUE.cables.values():
        assert cable.fit
        assert cable.fit <= set(ENVIRONMENTS)
    designable = [c for c in CATALOGUE.cables.values() if not c.legacy]
    assert {e for c in designable for e in c.fit} == set(ENVIRONMENTS) - {"hazardous"}


def test_what_metal_means():
    for cable in CATALOGUE.cables.values():
        if cable.family == "fibre":
            assert cable.separation_class == ""
            assert cable.metallic == (cable.id == "os2-armoured")
        elif cable.family != "power":
            assert cable.separation_class in set("abcd")
    classes = {
        i: CATALOGUE.cables[i].separation_class
        for i in ("cat5e-utp", "cat6-utp", "cat6a-ftp", "cat7-sftp", "cca-utp")
    }
    # EN 50174-2:2009, deemed classes, as quoted by public texts; unknown is the worst
    assert classes == {"cat5e-utp": "b", "cat6-utp": "b", "cat6a-ftp": "c", "cat7-sftp": "d", "cca-utp": "a"}


def test_copper_pair_meets_the_resistance_limit():
    # ANSI/TIA-568: 9.38 Ω per 100 m; ISO/IEC 61156-5: 9.5 Ω (from memory)
    assert copper_pairs()
    assert all(c.number("conductor_ohm_per_km") <= 95.0 for c in copper_pairs())


def test_methods_are_whole():
    for method in CATALOGUE.methods.values():
        families = {CATALOGUE.cables[c].family for c in method.signal_cables}
        assert len(families) == (method.id != "radio")
        assert {CATALOGUE.cables[c].family for c in method.power_cables} <= {"power"}
        kinds = {CATALOGUE.feeds[f].kind for f in method.feeds}
        conducts = bool(kinds & {"dc", "ac"})
        assert conducts == bool(method.power_out and method.power_back)
        if families == {"fibre"}:
            assert set(method.applications) == set(method.signal_cables)
            for cable, application in method.applications.items():
                assert cable in CATALOGUE.applications[application].cables
        if families == {"pair"} and not method.power_cables:
            # conductors in use never exceed the four pairs
            assert 2 * method.video_pairs + method.power_out + method.power_back <= 8
        if method.delivers == "ethernet":
            assert {CATALOGUE.signals[s].kind for s in method.signals} == {"ethernet"}


def test_every_method_but_radio_has_a_cable_to_design_with():
    for method in CATALOGUE.methods.values():
        designable = [c for c in method.signal_cables if not CATALOGUE.cables[c].legacy]
        assert bool(designable) == (method.id != "radio")


def test_pair_video_power_uses_one_pair_and_three():
    method = CATALOGUE.methods["pair-video-power"]
    assert (method.video_pairs, method.power_out, method.power_back) == (1, 3, 3)


def test_items_pass_block_or_short_every_feed_once():
    for item in CATALOGUE.items.values():
        told = [*item.passes, *item.blocks, *item.shorts]
        assert sorted(told) == sorted(CATALOGUE.feeds), item.id


def test_nothing_on_a_link_blocks_the_links_own_feed():
    for method in CATALOGUE.methods.values():
        for item in (*method.at_camera, *method.at_head):
            assert set(method.feeds) <= set(CATALOGUE.items[item].passes), (method.id, item)


def test_fibre_applications_reach_within_their_loss():
    # IEEE 802.3: two 0.75 dB connectors and the cabled fibre of TIA-568.3 stay within the channel loss, except where
    # a standard gives reach and loss from different fibre (LX on 62.5 µm, 10GBASE on OM1 to OM4, 100BASE-FX on 50 µm)
    for name, application in CATALOGUE.applications.items():
        if name.startswith(("1000base-sx", "1000base-lx", "10gbase-lr")) and name != "10gbase-lrm":
            for cable in application.cables:
                per_km = CATALOGUE.cables[cable].number(f"loss_{application.wavelength_nm}_db_per_km")
                assert (
                    per_km * application.number("reach_m") / 1000 + 1.5
                    <= application.number("loss_db") + 0.01
                )


def test_rates_rank_everything():
    tables = CATALOGUE.rates.tables
    assert set(tables) == {
        "cable_m", "pull_m", "trench_m", "containment_m", "equipment", "termination", "recorder", "switch", "power_point",
    }  # fmt: skip
    assert raw("rates")["status"] == "invented"
    assert all("other" in table for table in tables.values())
    assert CATALOGUE.rates.rate("cable_m", "never-heard-of") == tables["cable_m"]["other"]
    kinds = {"duct", "conduit", "trunking", "tray", "basket", "catenary", "buried", "surface"}
    assert kinds <= set(tables["pull_m"])
    assert kinds <= set(tables["containment_m"])
    sizes = [str(s) for s in CATALOGUE.rules["recorder"]["sizes"].value]
    assert sizes == ["4", "8", "16", "32", "64", "128"]
    money = [tables["recorder"][s] for s in sizes]
    assert money == sorted(money)
    priced = {i.id for i in CATALOGUE.items.values() if i.kind != "recorder"}
    assert priced <= set(tables["equipment"])


# The user's own entries


def test_a_known_entry_is_overlaid_key_by_key():
    user = {"cables": {"cat6-utp": {"conductor_ohm_per_km": 70.1, "legacy": True}}}
    catalogue, problems = load_catalogue(user)
    assert problems == []
    cable = catalogue.cables["cat6-utp"]
    assert cable.figures["conductor_ohm_per_km"] == Figure(70.1, DECLARED, "declared")
    assert cable.legacy
    assert cable.number("od_mm") == CATALOGUE.cables["cat6-utp"].number("od_mm")
    # and the packaged catalogue stays what it was
    assert load_catalogue()[0] == CATALOGUE


def test_a_new_entry_with_its_own_source():
    user = {
        "sources": {"sheet": "data sheet of our own supply, 2026"},
        "cables": {
            "mine": {
                "name": "Ours", "family": "pair", "conductor": "cu", "reach_class": "cat5e", "pairs": 4,
                "od_mm": {"value": 5.0, "source": "sheet", "status": "handbook"}, "fit": ["indoor", "livestock"],
            }
        },
        "methods": {"ethernet": {"signal_cables": ["mine", "cat6-utp"]}},
        "signals": {"composite": {"reach": {"rg59": {"cautious": 200}}}},
        "rules": {"separation": {"base_mm_a": {"none": 250, "open": 200, "perforated": 100, "solid": 0}}},
    }  # fmt: skip
    catalogue, problems = load_catalogue(user)
    assert problems == []
    assert catalogue.cables["mine"].source("od_mm") == "data sheet of our own supply, 2026 (handbook)"
    assert catalogue.cables["mine"].fit == {"indoor", "livestock"}
    assert math.isnan(catalogue.cables["mine"].number("attenuation_a"))
    assert catalogue.methods["ethernet"].signal_cables == ("mine", "cat6-utp")
    reach = catalogue.signals["composite"].reach["rg59"]
    assert (reach["cautious"].value, reach["typical"].value) == (200, 305)
    assert catalogue.rules["separation"]["base_mm_a"].value["open"] == 200


BAD = [
    ({"cabels": {}}, "", "[catalogue.cabels]", "'cables'"),
    ({"rates": {"cable_m": {}}}, "", "[catalogue.rates]", "[prices]"),
    ({"cables": 3}, "", "[catalogue.cables]", ""),
    ({"cables": {"cat6-utp": 3}}, "cat6-utp", "[catalogue.cables]", ""),
    ({"cables": {"cat6-utp": {"odd_mm": 6}}}, "cat6-utp", "odd_mm", "'od_mm'"),
    ({"cables": {"cat6-utp": {"od_mm": -6}}}, "cat6-utp", "od_mm", ""),
    ({"cables": {"cat6-utp": {"od_mm": math.nan}}}, "cat6-utp", "od_mm", ""),
    ({"cables": {"cat6-utp": {"od_mm": "six"}}}, "cat6-utp", "od_mm", ""),
    ({"cables": {"cat6-utp": {"od_mm": {"value": 6, "source": "nobody"}}}}, "cat6-utp", "od_mm.source", ""),
    ({"cables": {"cat6-utp": {"od_mm": {"value": 6, "status": "sure"}}}}, "cat6-utp", "od_mm.status", ""),
    ({"cables": {"cat6-utp": {"od_mm": {"value": 6, "unit": "mm"}}}}, "cat6-utp", "od_mm", ""),
    ({"cables": {"cat6-utp": {"fit": ["indoor", "moon"]}}}, "cat6-utp", "fit", ""),
    ({"cables": {"cat6-utp": {"separation_class": "e"}}}, "cat6-utp", "separation_class", ""),
    ({"cables": {"cat6-utp": {"family": "string"}}}, "cat6-utp", "family", ""),
    ({"cables": {"cat6-utp": {"pairs": 1.5}}}, "cat6-utp", "pairs", ""),
    ({"cables": {"cat6-utp": {"metallic": "yes"}}}, "cat6-utp", "metallic", ""),
    ({"cables": {"cat6-utp": {"reach_class": "cat5f"}}}, "cat6-utp", "reach_class", "'cat5e'"),
    ({"cables": {"mine": {"name": "Ours", "family": "pair"}}}, "mine", "conductor", ""),
    ({"methods": {"ethernet": {"feeds": ["poe9"]}}}, "ethernet", "feeds", "'poe"),
    ({"methods": {"ethernet": {"signal_cables": ["cat6-upt"]}}}, "ethernet", "signal_cables", "'cat6-utp'"),
    ({"methods": {"ethernet-fibre": {"applications": {"om3": "1000base-xx"}}}}, "ethernet-fibre", "applications", "'1000base-"),
    ({"items": {"mine": {"name": "Ours", "kind": "repeater"}}}, "mine", "limit_per_link", ""),
    ({"items": {"mine": {"name": "Ours", "kind": "switch", "poe_w": 30}}}, "mine", "ports", ""),
    ({"items": {"mine": {"name": "Ours", "kind": "switch", "ports": 5}}}, "mine", "poe_w", ""),
    ({"items": {"mine": {"name": "Ours", "kind": "extender"}}}, "mine", "own_w", ""),
    ({"items": {"mine": {"name": "Ours", "kind": "supply"}}}, "mine", "watts", ""),
    ({"items": {"supply-dc12": {"watts": 0}}}, "supply-dc12", "watts", ""),
    ({"feeds": {"mine": {"name": "48 V DC", "kind": "dc"}}}, "mine", "source_volts", ""),
    ({"methods": {"mine": {"name": "Ours", "signals": ["composite"], "signal_cables": ["cat5e-utp"], "feeds": ["dc12"], "delivers": "analogue", "power_back": 1}}}, "mine", "power_out", ""),
    ({"methods": {"mine": {"name": "Ours", "signals": ["ethernet-1g"], "signal_cables": ["om3"], "feeds": ["local"], "delivers": "ethernet"}}}, "mine", "applications", ""),
    ({"signals": {"composite": {"reach": {"rg59": {"hopeful": 900}}}}}, "composite", "reach.rg59.hopeful", ""),
    ({"signals": {"composite": {"reach": {"rg95": {"cautious": 9}}}}}, "composite", "reach", "'rg59'"),
    ({"signals": {"composite": {"reach": 300}}}, "composite", "reach", ""),
    ({"signals": {"composite": {"reach": {"rg59": 300}}}}, "composite", "reach.rg59", ""),
    ({"rules": {"joints": {"raech_m": 40}}}, "joints", "raech_m", "'reach_m'"),
    ({"rules": {"jonts": {"reach_m": 40}}}, "jonts", "", "'joints'"),
    ({"rules": {"separation": {"base_mm_a": {"none": 250}}}}, "separation", "base_mm_a", ""),
    ({"rules": {"joints": {"reach_m": True}}}, "joints", "reach_m", ""),
]  # fmt: skip


@pytest.mark.parametrize(("user", "id_", "field", "fix"), BAD)
def test_a_wrong_entry_is_named(user, id_, field, fix):
    _, problems = load_catalogue(user, "estate.toml")
    assert len(problems) == 1
    problem = problems[0]
    assert problem.file == "estate.toml"
    assert problem.id == id_
    assert field in problem.field
    assert problem.expected
    assert fix in problem.fix


def test_a_missing_figure_is_named_with_what_it_means():
    _, problems = load_catalogue({"items": {"mine": {"name": "Ours", "kind": "repeater"}}}, "estate.toml")
    assert str(problems[0]).startswith("estate.toml (mine), [catalogue.items] limit_per_link")
    assert "greatest number on one link" in problems[0].expected


def test_an_application_is_overlaid_cable_by_cable():
    catalogue, problems = load_catalogue(
        {"methods": {"ethernet-fibre": {"applications": {"om3": "1000base-lx-mm"}}}}
    )
    assert problems == []
    own, packaged = (c.methods["ethernet-fibre"].applications for c in (catalogue, CATALOGUE))
    assert {**packaged, "om3": own["om3"]} == own


def test_all_problems_at_once_and_a_wrong_figure_is_unknown():
    user = {"cables": {"cat6-utp": {"od_mm": "six", "massive": 3}}, "feeds": {"dc12": {"source_volts": -12}}}
    catalogue, problems = load_catalogue(user)
    assert len(problems) == 3
    assert math.isnan(catalogue.cables["cat6-utp"].number("od_mm"))
    assert math.isnan(catalogue.feeds["dc12"].number("source_volts"))
