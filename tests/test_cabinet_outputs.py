"""Cabinets, uplinks and trunks on paper: tables, bill, summary, phases, plan. Prices are invented."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import openpyxl
import pytest
import shapely

from estate import workflow
from estate.findings import Verdict
from estate.output import symbols
from estate.output.bill import bill_lines
from estate.output.build import design_result
from estate.output.compare import Compared, comparison_table
from estate.output.drawing import plan_content
from estate.output.ink import sleeve_lines
from estate.output.plan import draw_plan
from estate.output.plan_content import PlanSegments
from estate.output.plan_layers import legend_of
from estate.output.told import told_design
from tests.estates import EXACT, LOCAL, camera, line, read_csv, read_json, recorder, write_estate
from tests.test_plan import ET, SVG, small_estate

PRICES = """
[prices]
unlisted = 0
[prices.cable_m]
os2 = 2
cat5e-utp = 1
[prices.pull_m]
duct = 3
[prices.termination]
fibre = 10
pair = 4
[prices.recorder]
16 = 450
[prices.equipment]
cabinet = 180
fibre-module = 25
switch-8-120w = 200
switch-8-240w = 300
[prices.switch]
16 = 500
24 = 700
48 = 900
[design]
cables = ["os2", "cat5e-utp"]
methods = ["ethernet", "ethernet-fibre"]
"""
TOML = LOCAL + EXACT + PRICES + '[phases]\nnames = ["one", "two"]\n'

PORT_W = 30.0
"""Allocated to a powered device above 12.95 W: IEEE 802.3-2018, class 4, at the port (from memory)."""


def street(folder, toml=TOML, first=(), second=(), cameras=(3, 6), **far):
    """One duct: recorder at 0 m, cabinet P1 there already at 140 m, P2 at 260 m; cameras 10 m from either."""
    routes = [
        line("A", (0, 0), (140, 0), containment="duct"),
        line("B", (140, 0), (260, 0), containment="duct"),
    ]
    points = [
        recorder("R1", 0, 0),
        {"id": "P1", "kind": "patch", "x": 140, "y": 0, "power": "unswitched", **dict(first)},
        {
            "id": "P2", "kind": "patch", "x": 260, "y": 0, "status": "candidate", "power": "none", "power_cost": 700,
            **dict(second),
        },
    ]  # fmt: skip
    for place, x, count in zip("12", (140, 260), cameras, strict=True):
        for k in range(count):
            y = 10 if k % 2 else -10
            across = x - 12 + 3 * k
            routes.append(line(f"S{place}{k}", (x, 0), (across, y), containment="conduit"))
            more = {"load_w": 13, "load_night_w": 13, "feeds": "poe2", "power": "none", "mbps": 4}
            points.append(camera(f"C{place}{k}", across, y, **more, **far))
    return write_estate(folder, toml, routes=routes, points=points)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return workflow.design(street(tmp_path_factory.mktemp("street")))


def rows(out, name):
    return read_csv(out / f"{name}.csv")


def test_cabinets_table(made):
    _, _, out = made
    first, second = rows(out, "cabinets")
    # P1 stands: its switch alone is paid. P2: cabinet 180, power 700, switch 300
    assert first == {
        "patch": "P1", "switch": "switch-8-120w", "ports": "8", "used": "3", "spare": "5", "poe_w": "120.0",
        "poe_used_w": str(3 * PORT_W), "uplink": "U-P1", "cost": "200.0",
    }  # fmt: skip
    assert second == {
        "patch": "P2", "switch": "switch-8-240w", "ports": "8", "used": "6", "spare": "2", "poe_w": "240.0",
        "poe_used_w": str(6 * PORT_W), "uplink": "U-P2", "cost": "1180.0",
    }  # fmt: skip


def test_every_core_of_a_trunk_has_a_row(made):
    design, _, out = made
    cores = rows(out, "cores")
    for trunk in design.trunks:
        own = [row for row in cores if row["cable"] == trunk.id]
        assert [int(row["core"]) for row in own] == list(range(1, trunk.cores + 1))
        assert {(row["from"], row["to"]) for row in own} == {(trunk.start, trunk.end)}
        links = [link for link in trunk.uplinks for _ in range(2)]
        assert [row["link"] for row in own] == links + [""] * (trunk.cores - len(links))
    assert len(cores) == sum(trunk.cores for trunk in design.trunks)
    ends = {frozenset((trunk.start, trunk.end)): set(trunk.uplinks) for trunk in design.trunks}
    assert ends == {frozenset(("R1", "P1")): {"U-P1", "U-P2"}, frozenset(("P1", "P2")): {"U-P2"}}


def test_a_trunk_is_billed_once(made):
    _, _, out = made
    bill = {row["item"]: (float(row["quantity"]), row["amount"]) for row in rows(out, "quantities")}
    # trunks of 140 and 120 m, though the uplinks are 140 and 260 m long; two ends each; two modules an uplink
    assert bill["cable-os2"] == (260, "520.0")
    assert bill["termination-fibre"] == (4, "40.0")
    assert bill["fibre-module"] == (4, "100.0")
    assert bill["cabinet"] == (1, "180.0")
    assert bill["cabinet-power"] == (1, "700.0")
    assert bill["switch-8-120w"] == (1, "200.0")
    assert bill["switch-8-240w"] == (1, "300.0")
    # only the trunks lie in the duct; the drops lie in conduit
    assert bill["pull-duct"] == (260, "780.0")


INVENTED = LOCAL + '[design]\nmethods = ["ethernet", "ethernet-fibre"]\n'
ESTATES = {
    "rates given": {},
    "rates invented, ends, slack and waste": {"toml": INVENTED},
    "a switch stands at P1": {"first": {"ports": 8, "poe_w": 120}},
    "a cabinet at its own price": {"toml": INVENTED, "second": {"cost": 999.5}},
    "a new cabinet with power": {"toml": INVENTED, "second": {"power": "ups", "power_cost": ""}},
    "one cabinet": {"toml": INVENTED, "cameras": (0, 6)},
}


@pytest.mark.parametrize("name", ESTATES)
def test_bill_adds_up_to_the_objective(tmp_path, name):
    design = workflow.designed(workflow.prepare(street(tmp_path, **ESTATES[name])))
    assert design.cabinets
    billed = sum(each.quantity * each.rate.value for each in bill_lines(design))
    assert billed == pytest.approx(design.answer.objective_value, abs=1e-6)


def test_a_switch_that_stands_is_not_billed(tmp_path):
    design = workflow.designed(workflow.prepare(street(tmp_path, first={"ports": 8, "poe_w": 120})))
    cabinets = {each.item: each.quantity for each in bill_lines(design) if each.heading == "cabinets"}
    assert cabinets == {"cabinet": 1, "cabinet-power": 1, "switch-8-240w": 1}
    first = design_result(design).tables["cabinets"].records()[0]
    assert (first["switch"], first["used"], first["spare"], first["cost"]) == ("existing", 3, 5, 0)


def test_money_that_the_user_gives_is_not_invented(tmp_path):
    given = {"cost": 999, "power_cost": 123}
    design = workflow.designed(workflow.prepare(street(tmp_path, INVENTED, second=given)))
    lines = {each.item: each for each in bill_lines(design) if each.heading == "cabinets"}
    assert (lines["cabinet"].rate.value, lines["cabinet"].rate.invented) == (999, False)
    assert (lines["cabinet-power"].rate.value, lines["cabinet-power"].rate.invented) == (123, False)
    assert lines["switch-8-240w"].rate.invented
    quantities = {row["item"]: row for row in design_result(design).tables["quantities"].records()}
    assert quantities["cabinet-power"]["amount"] == 123
    assert quantities["switch-8-240w"]["amount"] is None


def test_uplinks_have_rows_among_the_links(made):
    _, _, out = made
    links = {row["link"]: row for row in rows(out, "links")}
    uplink = links["U-P2"]
    assert (uplink["kind"], uplink["camera"], uplink["head"], uplink["recorder"]) == (
        "uplink",
        "",
        "R1",
        "R1",
    )
    assert uplink["cable"] == "os2;os2"
    assert float(uplink["length_m"]) == 260
    assert float(links["U-P1"]["length_m"]) == 140
    assert uplink["segments"].split(";")[0].startswith("A")
    assert uplink["segments"].split(";")[-1].startswith("B")
    assert {links[f"L-C2{k}"]["head"] for k in range(6)} == {"P2"}
    in_duct = [row for row in rows(out, "segments") if row["route"] == "A"]
    # one cable lies there for both uplinks
    assert {(row["links"], row["cables"]) for row in in_duct} == {("U-P1;U-P2", "1×os2")}


def test_summary_counts_cameras_and_metres_once(made):
    design, _, out = made
    summary = read_json(out / "summary.json")
    assert (summary["cameras"], summary["linked"], summary["cabinets"]) == (9, 9, 2)
    assert sum(summary["links"].values()) == 9
    assert summary["trunk_m"] == 260
    drops = sum(link.cable_length_m for link in design.links if link.kind == "camera")
    assert summary["cable_m"] == pytest.approx(260 + drops)
    assert summary["cost"]["cabinets"] == 200 + 1180


def test_cabinets_are_told(made):
    _, result, _ = made
    told = told_design(result)
    assert "cameras: 9 of 9 linked (9 within)" in told
    assert "cabinet P1: switch-8-120w, 3 of 8 ports, 90 of 120 W, uplink to R1 over 140 m, existing" in told
    assert "cabinet P2: switch-8-240w, 6 of 8 ports, 180 of 240 W, uplink to R1 over 260 m, new" in told


def test_phases_have_the_money_of_cabinets(made):
    design, _, out = made
    steps = rows(out, "phases")
    put_up = {row["subject"]: float(row["cost"]) for row in steps if row["subject_kind"] == "patch"}
    assert put_up == {"P1": 200, "P2": 1180}
    cents = [round(100 * float(row["cost"])) for row in steps if row["cost"]]
    # each row is rounded to the cent
    assert sum(cents) / 100 == pytest.approx(design.answer.objective_value, abs=0.005 * len(cents))
    pulled = {row["subject"]: float(row["length_m"]) for row in steps if row["step"] == "pull"}
    assert pulled["U-P1"] + pulled["U-P2"] == 260


def test_a_cabinet_is_put_up_with_its_first_camera(tmp_path):
    design, _, out = workflow.design(street(tmp_path, phase="two", second={"phase": "two"}))
    assert len(design.cabinets) == 2
    steps = {row["subject"]: row["phase"] for row in rows(out, "phases") if row["subject_kind"] == "patch"}
    assert steps == {"P1": "two", "P2": "two"}


def test_comparison_has_the_money_of_cabinets(made):
    _, result, _ = made
    (row,) = comparison_table([Compared("this", result)]).records()
    assert row["cost_cabinets"] == 1380
    assert row["linked"] == 9


def test_files_for_other_programs_have_the_cabinets(made):
    _, _, out = made
    book = openpyxl.load_workbook(out / "schedules.xlsx")
    assert [row[0].value for row in book["Cabinets"].iter_rows(min_row=2)] == ["P1", "P2"]
    cables = [row[0].value for row in book["Cores"].iter_rows(min_row=2)]
    assert cables == sorted(cables)
    points = gpd.read_file(out / "network.gpkg", layer="points").set_index("id")
    assert points.loc[["P1", "P2"], "status"].tolist() == ["used", "used"]
    assert points.loc[["P1", "P2", "R1"], "is_new"].tolist() == ["False", "True", "True"]
    links = gpd.read_file(out / "network.gpkg", layer="links").set_index("link")
    assert links.loc["U-P2"].geometry.length == pytest.approx(260)
    page = (out / "report.html").read_text(encoding="utf-8")
    assert 'id="cabinets"' in page
    assert "switch-8-240w" in page
    # fibre has no conductors to terminate
    assert not [row for row in rows(out, "terminations") if row["link"].startswith("U")]


# By hand: a second uplink, and a cabinet that only passes trunks on


def with_standby(design):
    """Give P2 a second uplink, marginal, in the cable of the first one reversed."""
    first = next(link for link in design.links if link.id == "U-P2")
    runs = tuple(replace(run, shared=True) for run in first.runs)
    second = replace(first, id="U2-P2", kind="standby", runs=runs, verdict=Verdict.MARGINAL, own_cost=50.0)
    cabinets = tuple(
        replace(use, uplinks=("U-P2", "U2-P2")) if use.patch.id == "P2" else use for use in design.cabinets
    )
    return replace(design, links=(*design.links, second), cabinets=cabinets)


def test_a_standby_uplink_is_told_and_not_counted_as_a_camera(made):
    result = design_result(with_standby(made[0]))
    told = told_design(result)
    assert (
        "cabinet P2: switch-8-240w, 6 of 8 ports, 180 of 240 W, uplink to R1 over 260 m, "
        "standby to R1 over 260 m (marginal), new" in told
    )
    assert "cameras: 9 of 9 linked (9 within)" in told
    assert result.summary["links"]["marginal"] == 0
    assert result.tables["cabinets"].column("uplink") == ["U-P1", "U-P2;U2-P2"]


def test_a_cabinet_without_a_switch_passes_trunks_on(made):
    design = made[0]
    first, second = design.cabinets
    bare = replace(first, switch=None, home="", uplinks=(), used=0, poe_w=0.0, switch_cost=0.0)
    result = design_result(replace(design, cabinets=(bare, second)))
    row = result.tables["cabinets"].records()[0]
    assert (row["patch"], row["switch"], row["ports"], row["poe_w"], row["cost"]) == ("P1", "", None, None, 0)
    assert "cabinet P1: no switch, trunks pass through, existing" in told_design(result)
    assert "cabinet, uplinks pass through" in [entry.text for entry in legend_of(plan_content(result))]
    # it stands already, and nothing is put up there
    assert "P1" not in result.tables["phases"].column("subject")


# Plan


def test_plan_tells_cabinets_and_uplinks(made):
    content = plan_content(made[1])
    texts = [entry.text for entry in legend_of(content)]
    assert "cabinet with a switch" in texts
    assert "uplink of a cabinet in the route" in texts
    assert "standby uplink only" not in texts
    routes = {
        str(content.segments.id[row]).split(".")[0] for row in content.segments.with_uplink("uplink").tolist()
    }
    assert routes == {"A", "B"}
    assert dict(content.counts)["cabinets"] == 2


def test_a_patch_point_that_is_not_used_looks_as_before(tmp_path):
    design = workflow.designed(workflow.prepare(street(tmp_path, cameras=(0, 6))))
    result = design_result(design)
    # one trunk runs past P1
    points = result.layers["points"].records()
    status = {row["id"]: row["status"] for row in points if row["kind"] == "patch"}
    assert status == {"P1": "existing", "P2": "used"}
    assert "patch point, existing" in [entry.text for entry in legend_of(plan_content(result))]


def test_symbols_of_patch_points_differ_without_colour():
    states = ("used", "passed", "existing", "candidate")
    looks = {symbols.point_symbol("patch", state, "").shapes for state in states}
    looks.add(symbols.point_symbol("recorder", "used", "").shapes)
    assert len(looks) == 5
    lines = [style.line.dashes_mm for style in symbols.UPLINK_SLEEVES.values()]
    assert len(set(lines)) == len(lines)


def test_the_sleeve_lies_on_either_side_of_its_route():
    style = symbols.UPLINK_SLEEVES["uplink"]
    route = shapely.LineString([(0, 0), (40, 0), (40, 30)])
    ring = sleeve_lines([route], style)
    along = shapely.get_coordinates(ring.segmentize(0.5))
    off = shapely.distance(shapely.points(along), route)
    assert off.max() <= style.width_mm / 2 + 1e-9
    middle = shapely.LineString([(20, -5), (20, 5)]).intersection(ring)
    np.testing.assert_allclose(
        np.sort(shapely.get_coordinates(middle)[:, 1]), [-style.width_mm / 2, style.width_mm / 2]
    )
    # two segments that meet share one sleeve
    parts = [shapely.LineString([(0, 0), (40, 0)]), shapely.LineString([(40, 0), (40, 30)])]
    assert sleeve_lines(parts, style).equals(ring)


def test_uplinks_are_drawn_along_their_routes_only(tmp_path):
    content = small_estate()
    plain = content.segments
    fields = {name: getattr(plain, name) for name in PlanSegments.__dataclass_fields__}
    content = replace(content, segments=PlanSegments(**{**fields, "uplink": ["uplink", "standby"]}))
    svg = ET.parse(draw_plan(content, tmp_path)[1])
    names = [group.get("id") for group in svg.iter(f"{SVG}g")]
    assert "route with uplink" in names
    assert "route with standby" in names
    (tmp_path / "plain").mkdir()
    svg = ET.parse(draw_plan(small_estate(), tmp_path / "plain")[1])
    assert not [g.get("id") for g in svg.iter(f"{SVG}g") if (g.get("id") or "").startswith("route with")]
