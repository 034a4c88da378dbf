"""Between earths: zones, readings of a camera's earth, reasons, what may be designed, surges.

Rules of the outside: BS 7671 444.4.9 (metal-free fibre preferred between buildings with separate bonding), farms with
TT beside an exported earth (nothing metallic may join the two), AS/CA S009:2013 17.3.1 (isolator), IEEE 802.3
(1500 V isolation of an Ethernet port), all as quoted by public texts.
"""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.findings import Verdict
from estate.links.earths import EXPORTED, Earths, between, cable_paths, fitting, with_items
from estate.links.lines import ceiling
from estate.links.link import CableRun, Equipment, Link
from estate.links.protectors import protectors
from estate.links.search import LinkSearch
from estate.links.site import recorder_sites
from estate.links.variants import Variant
from estate.network.build import build_network
from estate.placement.design import make_design
from estate.placement.earth_findings import link_earths
from estate.settings import LimitsSection
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate

PASSES = (Verdict.WITHIN, Verdict.MARGINAL)
CATALOGUE = workflow.catalogue()


def building(identity, x, **more):
    outline = f"POLYGON (({x} -5, {x + 10} -5, {x + 10} 5, {x} 5, {x} -5))"
    return {"id": identity, "wkt": outline, **more}


HOUSE = building("HOUSE", -10, earthing="TN-C-S")
BARN = building("BARN", 12, earthing="TT")


def two_buildings(tmp_path, house=HOUSE, barn=BARN, route=None, toml="", head=None, **the_camera):
    """A house and a barn 12 m apart, recorder in the one, camera in the other."""
    points = [
        camera("C", 15, 0, building="BARN", **{"signal": "composite", **the_camera}),
        recorder("R", -5, 0, building="HOUSE", **(head or {})),
    ]
    routes = [line("A", (-5, 0), (15, 0), **{"containment": "duct", **(route or {})})]
    return write_estate(tmp_path, LOCAL + EXACT + toml, routes=routes, points=points, buildings=[house, barn])


def earths_of(folder):
    survey, catalogue = workflow.load(folder)
    network = build_network(survey)
    return Earths(survey, network, catalogue), survey, network


def judged(folder, cables, feed="local", *, isolated=False):
    earths, survey, network = earths_of(folder)
    rows = survey.points.row_of()
    return earths.judge(cables, feed, rows["C"], rows["R"], range(network.segments), isolated=isolated)


# Which cable joins what


@pytest.mark.parametrize(
    ("cables", "feed", "paths"),
    [
        (["rg59-cu"], "local", ("coax screen",)),
        (["rg59-cu"], "coax", ("coax screen", "fed coax")),
        (["rg59-cu", "power-2x1.0"], "dc", ("coax screen", "DC pair")),
        (["cat6-utp"], "local", ()),
        (["cat6-utp"], "poe", ()),
        (["cat6-utp"], "dc", ("DC pair",)),
        (["cat6a-ftp"], "poe", ("screen",)),
        (["os2"], "local", ()),
        (["os2-armoured"], "local", ("armour",)),
    ],
)
def test_earth_paths_of_cables(cables, feed, paths):
    assert cable_paths([CATALOGUE.cables[c] for c in cables], feed) == paths


# TT barn and TN-C-S house


def test_copper_between_tt_and_an_exported_earth(tmp_path):
    folder = two_buildings(tmp_path)
    found = judged(folder, ["rg59-cu"])
    assert found.verdict is Verdict.OUTSIDE
    assert set(found.reasons) == {"shock", "ground loop", "surge"}
    pair = judged(folder, ["cat6-utp"])
    assert (pair.verdict, pair.reasons, pair.mixed) == (Verdict.MARGINAL, ("surge",), True)


def test_metal_free_fibre_clears_it_and_armour_does_not(tmp_path):
    folder = two_buildings(tmp_path)
    assert judged(folder, ["os2"]).verdict is Verdict.WITHIN
    assert judged(folder, ["os2-armoured"]).verdict is Verdict.OUTSIDE


def test_steel_strand_and_metal_duct_are_no_cure(tmp_path):
    for name, route in (("strand", {"containment": "catenary"}), ("duct", {"barrier": "solid"})):
        found = judged(two_buildings(tmp_path / name, route=route), ["os2"])
        assert found.verdict is Verdict.OUTSIDE
        assert found.paths == (("steel strand",) if name == "strand" else ("metal containment",))


def test_one_zone_is_within_whatever_the_buildings(tmp_path):
    house, barn = ({**b, "earth_zone": "farm", "earthing": "TN-S"} for b in (HOUSE, BARN))
    assert judged(two_buildings(tmp_path, house, barn), ["rg59-cu"]).verdict is Verdict.WITHIN


def test_two_exported_earths_are_a_loop_but_no_shock(tmp_path):
    found = judged(two_buildings(tmp_path, barn={**BARN, "earthing": "TN-S"}), ["rg59-cu"])
    assert (found.verdict, found.reasons) == (Verdict.MARGINAL, ("ground loop", "surge"))


@pytest.mark.parametrize("cable", ["rg59-cu", "cat6-utp", "os2-armoured"])
def test_unknown_earthing_is_never_designed_in_copper(tmp_path, cable):
    blank = {k: v for k, v in BARN.items() if k != "earthing"}
    found = judged(two_buildings(tmp_path, barn=blank), [cable])
    assert found.verdict is Verdict.VERIFY
    assert "earthing not known" in found.text


SYSTEMS = ("TN-S", "TN-C-S", "TT", "IT", None)


@given(
    st.sampled_from(SYSTEMS),
    st.sampled_from(SYSTEMS),
    st.sampled_from([(), ("screen",), ("armour", "DC pair")]),
)
def test_danger_is_tt_with_an_exported_earth_by_a_path_and_nothing_else(one, other, paths):
    found = between({"x": one, "y": other}, paths)
    mixed = {one, other} in [{"TT", exported} for exported in EXPORTED]
    assert (found.verdict is Verdict.OUTSIDE) == (mixed and bool(paths))
    assert (found.verdict is Verdict.VERIFY) == (None in (one, other) or "IT" in (one, other))


def test_an_earth_path_is_never_judged_better_than_none():
    rank = [Verdict.WITHIN, Verdict.MARGINAL, Verdict.VERIFY, Verdict.OUTSIDE]
    for one, other in itertools.product(SYSTEMS, SYSTEMS):
        bare, path = (rank.index(between({"x": one, "y": other}, p).verdict) for p in ((), ("screen",)))
        assert path >= bare


# The camera's own earth


@pytest.mark.parametrize(
    ("insulated", "verdict"), [("yes", Verdict.WITHIN), ("no", Verdict.OUTSIDE), ("", Verdict.VERIFY)]
)
def test_camera_fed_over_its_link_by_what_it_stands_on(tmp_path, insulated, verdict):
    """Insulated it has the head's earth, on earthed steel its building's; not known, both are looked at."""
    folder = two_buildings(tmp_path, insulated=insulated, power="none")
    assert judged(folder, ["rg59-cu", "power-2x1.0"], "dc12").verdict is verdict


def test_insulating_a_mains_fed_camera_changes_nothing(tmp_path):
    assert judged(two_buildings(tmp_path, insulated="yes"), ["rg59-cu"], "local").verdict is Verdict.OUTSIDE


def test_unknown_insulation_that_decides_nothing_is_no_reason_to_verify(tmp_path):
    """Unscreened pair with Ethernet power: one earth if insulated, a surge matter if not; both may be designed."""
    assert judged(two_buildings(tmp_path), ["cat6-utp"], "poe1").verdict is Verdict.MARGINAL


def pole(tmp_path, insulated="", **more):
    """A camera on a pole 6 m outside the house, or nearer to the barn with `x`."""
    x = more.pop("x", 6)
    points = [
        camera("C", x, 0, signal="composite", insulated=insulated, **more),
        recorder("R", -5, 0, building="HOUSE"),
    ]
    routes = [line("A", (-5, 0), (x, 0), containment="duct")]
    far = building("BARN", 30, earthing="TT")
    return write_estate(tmp_path, LOCAL + EXACT, routes=routes, points=points, buildings=[HOUSE, far])


def test_outdoor_camera_by_the_nearest_building_is_said_to_be_presumed(tmp_path):
    found = judged(pole(tmp_path), ["rg59-cu", "power-2x1.0"], "dc12")
    assert (found.verdict, found.presumed) == (Verdict.WITHIN, True)
    assert "to be confirmed" in found.text
    declared = judged(pole(tmp_path / "declared", "yes"), ["rg59-cu", "power-2x1.0"], "dc12")
    assert (declared.verdict, declared.presumed) == (Verdict.WITHIN, False)


def test_outdoor_camera_nearer_to_another_earth_is_to_be_verified(tmp_path):
    assert judged(pole(tmp_path, x=25), ["rg59-cu", "power-2x1.0"], "dc12").verdict is Verdict.VERIFY


def test_outdoor_camera_fed_from_mains_there_is_not_known(tmp_path):
    assert judged(pole(tmp_path), ["rg59-cu"], "local").verdict is Verdict.VERIFY
    declared = pole(tmp_path / "declared", earth_zone="HOUSE")
    assert judged(declared, ["rg59-cu"], "local").verdict is Verdict.WITHIN


def test_without_any_building_the_earth_is_presumed_one_and_said_so(tmp_path):
    points = [camera("C", 20, 0, signal="composite"), recorder("R", 0, 0)]
    toml = LOCAL + '[design]\nmethods = ["coax-local"]\n'
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (20, 0))], points=points)
    _, _, out = workflow.design(folder)
    assert [r["method"] for r in read_csv(out / "links.csv")] == ["coax-local"]
    (note,) = [f for f in read_csv(out / "findings.csv") if "earth is taken" in f["text"]]
    assert (note["action"], note["cameras"]) == ("survey", "C")


# What is designed


def designed(folder):
    survey, catalogue = workflow.load(folder)
    network = build_network(survey)
    separation = workflow.segment_separation(network, survey, catalogue)
    return make_design(survey, catalogue, network, separation, workflow.silent)


def test_design_takes_fibre_where_coax_would_join_the_earths(tmp_path):
    toml = '[design]\nmethods = ["ethernet-coax", "ethernet-fibre"]\n'
    (link,) = designed(two_buildings(tmp_path, toml=toml, signal="ethernet-1g")).links
    assert link.method == "ethernet-fibre"
    assert link.cables == ("os2",)


def test_camera_that_only_coax_could_serve_has_no_link_and_is_told_why(tmp_path):
    toml = '[design]\nmethods = ["ethernet-coax"]\n'
    made = designed(two_buildings(tmp_path, toml=toml, signal="ethernet-1g"))
    assert made.links[0].verdict is Verdict.NONE
    assert "shock and ground loop: coax screen joins BARN (TT) and HOUSE (TN-C-S)" in made.links[0].limiting


def test_isolator_stands_at_the_head_where_it_fits_and_is_paid(tmp_path):
    """A video isolator carries composite on coax with local feed; its 0.5 dB and its money are in the link."""
    prices = "[prices]\nunlisted = 0\n[prices.equipment]\nisolator-coax = 22\n"
    toml = '[design]\nmethods = ["coax-local"]\n' + prices
    (link,) = designed(two_buildings(tmp_path, toml=toml)).links
    assert [e.item for e in link.equipment if e.node == "R"] == [
        "connector-coax",
        "isolator-coax",
        "protector-coax",
    ]
    assert link.own_cost == pytest.approx(22)
    assert link.verdict is Verdict.MARGINAL
    same = {"barn": {**BARN, "earthing": "TN-C-S", "earth_zone": "Z"}, "house": {**HOUSE, "earth_zone": "Z"}}
    (plain,) = designed(two_buildings(tmp_path / "same", toml=toml, **same)).links
    assert plain.own_cost == 0
    loss = [next(x.value for x in each.lines if x.quantity == "loss") for each in (link, plain)]
    assert loss[0] - loss[1] == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("kind", "signal", "family", "feed", "fits"),
    [
        ("isolator", "composite", "coax", "local", ["isolator-coax"]),
        ("isolator", "analogue-8mp", "coax", "local", []),
        ("isolator", "composite", "coax", "coax-dc", []),
        ("isolator", "composite", "pair", "local", ["isolator-pair"]),
        ("isolator", "ethernet-1g", "pair", "poe1", []),
        ("protector", "ethernet-1g", "pair", "poe1", ["protector-ethernet"]),
        ("protector", "composite", "coax", "coax-dc", ["protector-coax-power"]),
    ],
)
def test_items_fit_signal_cable_and_feed(kind, signal, family, feed, fits):
    assert fitting(kind, signal, family, feed, CATALOGUE) == fits


def test_isolator_in_a_pair_link_costs_its_reach():

    line_of = ceiling("reach", 320.0, 350.0, "m", 5.0, source="")
    (raised,) = with_items([line_of], ["isolator-pair"], CATALOGUE, LimitsSection())
    assert (raised.value, raised.verdict) == (370.0, Verdict.OUTSIDE)


# Findings


def a_link(search, method, feed, cables, equipment=()):
    network = search.network
    head, end = (int(network.point_node[search.survey.points.row_of()[i]]) for i in ("R", "C"))
    return Link(
        id="L-C", kind="camera", camera="C", head="R", recorder="R", method=method, feed=feed, port="analogue",
        runs=tuple(_run(c) for c in cables), nodes=(head, end), segments=tuple(range(network.segments)),
        length_m=20.0, cable_length_m=20.0, equipment=tuple(equipment), lines=(), verdict=Verdict.WITHIN, limiting="",
    )  # fmt: skip


def _run(cable):

    return CableRun("signal", cable, 20.0, 20.0, 22.0)


def search_of(folder):
    made = designed(folder)
    sites = recorder_sites(made.survey, made.network, made.catalogue)
    return LinkSearch(
        made.network, made.survey, made.catalogue, made.prices, made.separation, list(made.cameras), sites
    )


def test_severities_of_a_12_m_link_between_barn_and_house(tmp_path):
    search = search_of(two_buildings(tmp_path))
    told = {}
    for cable, feed in (
        ("rg59-cu", "local"),
        ("cat6-utp", "local"),
        ("os2", "local"),
        ("os2-armoured", "local"),
    ):
        found = list(link_earths(search, [a_link(search, "coax-local", feed, [cable])]))
        told[cable] = found[0].severity.value if found else ""
        assert all("designer" in f.remedy for f in found)
    assert told == {"rg59-cu": "danger", "cat6-utp": "fault", "os2": "", "os2-armoured": "danger"}


def test_isolated_link_is_no_danger_but_asks_for_the_isolators_rating(tmp_path):
    search = search_of(two_buildings(tmp_path))
    link = a_link(search, "coax-local", "local", ["rg59-cu"], [Equipment("isolator-coax", "R")])
    (found,) = link_earths(search, [link])
    assert found.severity.value == "fault"
    assert "3 kV" in found.remedy


def test_no_remedy_proposes_a_bypass_conductor_or_insulating_a_mains_fed_camera(tmp_path):
    made = designed(two_buildings(tmp_path, toml='[design]\nmethods = ["pair-video", "coax-local"]\n'))
    words = " ".join(f"{f.text} {f.remedy}" for f in made.findings).casefold()
    assert "by-pass" not in words
    assert "bypass" not in words
    assert "insulate the camera" not in words


def test_strand_between_earths_is_a_danger_of_the_route(tmp_path):
    folder = two_buildings(
        tmp_path, route={"containment": "catenary"}, toml='[design]\nmethods = ["coax-local"]\n'
    )
    found = [f for f in designed(folder).findings if f.subject_kind == "route"]
    assert [(f.severity.value, f.subject) for f in found] == [("danger", "A")]


def test_design_goes_round_a_strand_that_joins_the_earths(tmp_path):
    folder = two_buildings(
        tmp_path,
        route={"containment": "catenary"},
        toml='[design]\nmethods = ["ethernet-fibre"]\n',
        signal="ethernet-1g",
    )
    assert designed(folder).links[0].verdict is Verdict.NONE
    strand = line("A", (-5, 0), (15, 0), containment="catenary")
    round_it = line("B", (-5, 0), (-5, 20), (15, 20), (15, 0), containment="duct")
    points = [camera("C", 15, 0, building="BARN"), recorder("R", -5, 0, building="HOUSE")]
    toml = (folder / "estate.toml").read_text()
    write_estate(folder, toml, routes=[strand, round_it], points=points)
    made = designed(folder)
    ways = {str(made.network.segment_id[s]).split(".", maxsplit=1)[0] for s in made.links[0].segments}
    assert ways == {"B"}


def test_surge_protectors_stand_at_both_ends_on_data_and_on_power(tmp_path):
    catalogue = workflow.catalogue()
    coax = Variant("coax-power-pair", "dc12", "rg59-cu", "power-2x1.0")
    assert protectors(coax, "composite", catalogue) == (("protector-coax", "protector-dc"), ())
    pair = Variant("pair-video-power", "dc12", "cat5e-utp")
    assert protectors(pair, "composite", catalogue) == (("protector-pair", "protector-dc"), ())
    assert protectors(Variant("ethernet-fibre", "local", "os2"), "ethernet-1g", catalogue) == ((), ())
    folder = two_buildings(
        tmp_path, toml='[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n', signal="composite"
    )
    inside = [
        camera("IN", -6, 1, signal="composite", building="HOUSE"),
        camera("OUT", 5, 0, signal="composite", earth_zone="HOUSE"),
    ]
    points = [*inside, recorder("R", -5, 0, building="HOUSE")]
    routes = [line("A", (-8, 0), (15, 0), containment="duct")]
    write_estate(folder, (folder / "estate.toml").read_text(), routes=routes, points=points)
    links = {link.camera: link for link in designed(folder).links}
    items = {
        name: [(e.item, e.node) for e in link.equipment if e.item.startswith("protector")]
        for name, link in links.items()
    }
    assert items["IN"] == []
    assert items["OUT"] == [("protector-coax", "OUT"), ("protector-coax", "R")]


def test_shared_supply_with_screens_is_a_loop(tmp_path):
    points = [
        *(camera(f"C{n}", 20, 0, signal="composite", power="none", feeds="dc12", load_w=3, load_night_w=3)
          for n in (1, 2)),
        recorder("R", 0, 0),
    ]  # fmt: skip
    toml = LOCAL + '[design]\nmethods = ["coax-power-pair"]\n'
    folder = write_estate(tmp_path, toml, routes=[line("A", (0, 0), (20, 0))], points=points)
    _, _, out = workflow.design(folder)
    (loop,) = [f for f in read_csv(out / "findings.csv") if "joined 0 V" in f["text"]]
    assert loop["cameras"] == "C1;C2"


def test_budget_line_says_what_is_judged(tmp_path):
    (link,) = designed(two_buildings(tmp_path, toml='[design]\nmethods = ["pair-video"]\n')).links
    (earths,) = [x for x in link.lines if x.quantity == "earths"]
    assert earths.verdict in PASSES
    assert "surge" in earths.text
    assert "444.4.9" in earths.source
