"""What block diagram, sections and profiles show is what the schedules say."""

import math
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate import workflow
from estate.output.audit_build import audit_result
from estate.output.block_diagram_content import diagram_of
from estate.output.build import design_result
from estate.output.profile_content import BY_LENGTH, BY_MARGIN, profiles_of
from estate.output.sections_content import sections_of
from estate.output.sections_packing import Bore, Trough, packed
from estate.output.sections_sheet import section_words
from tests.audit_cases import at, audited, cable
from tests.estates import line, read_csv
from tests.test_sheets import street


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """Two cameras on one duct, 12 V over a pair to the first; the type of the second's cable is not known."""
    fed = at(100, feeds="dc12", volts=12, load_w=2, load_night_w=4)
    way = line("A", (0, 0), (300, 0), containment="duct", ways=1, bore_mm=50, fill_percent=5, depth_mm=450)
    supply = {"id": "S", "at": "R1", "kind": "dc", "volts": 12, "watts": 60}
    power = {"id": "K2", "from": "C1", "to": "R1", "camera": "C1", "status": "in_use", "cable": "power-2x1.5"}
    audit = audited(
        tmp_path_factory.mktemp("installed") / "e",
        [cable("K1", method="coax-power-pair"), power, cable("K3", "C2", cable="")],
        [fed, at(200, "C2")],
        [way],
        supplies=[supply],
    )
    return audit_result(audit)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    _, result, out = workflow.design(street(tmp_path_factory.mktemp("street")))
    return result, out


# Block diagram


def test_every_camera_stands_once_under_its_head(made):
    result, out = made
    links = {row["camera"]: row for row in read_csv(out / "links.csv") if row["kind"] == "camera"}
    shown = [
        (row.camera, group.cabinet or block.recorder, block.recorder)
        for block in diagram_of(result).recorders
        for group in block.groups
        for row in group.rows
    ]
    assert sorted(shown) == sorted((c, link["head"], link["recorder"]) for c, link in links.items())


def test_cables_by_type_are_those_of_the_bill(made):
    result, out = made
    billed = {
        row["item"].removeprefix("cable-"): float(row["quantity"])
        for row in read_csv(out / "quantities.csv")
        if row["item"].startswith("cable-")
    }
    told = {
        text.split(":")[0]: float(text.rsplit(", ", 1)[1].removesuffix(" m"))
        for text in diagram_of(result).totals
    }
    assert told == pytest.approx(billed, abs=0.06)


def test_trunk_tells_length_and_cores_in_use(made):
    result, out = made
    (trunk,) = [row for row in read_csv(out / "runs.csv") if row["cable"] == "os2"]
    used = sum(row["link"] != "" for row in read_csv(out / "cores.csv"))
    (group,) = [g for block in diagram_of(result).recorders for g in block.groups if g.cabinet]
    ((line,),) = [uplink.signal for uplink in group.uplinks]
    assert (
        line.text == f"{trunk['number']} · os2 · {float(trunk['cable_length_m']):.1f} m · {used} of 8 cores"
    )


def test_a_standby_uplink_says_so(tmp_path):
    design, _, _ = workflow.design(street(tmp_path / "e"))
    (uplink,) = [link for link in design.links if link.kind == "uplink"]
    second = replace(
        uplink, id="U2", kind="standby", runs=tuple(replace(r, shared=True) for r in uplink.runs)
    )
    cabinets = tuple(replace(use, uplinks=(*use.uplinks, "U2")) for use in design.cabinets)
    result = design_result(replace(design, links=(*design.links, second), cabinets=cabinets))
    (group,) = [g for block in diagram_of(result).recorders for g in block.groups if g.cabinet]
    told = [line.text.startswith("standby: ") for stretch in group.uplinks for line in stretch.signal]
    assert told == [False, True]


def test_installed_cables_have_their_kind(installed):
    (block,) = diagram_of(installed).recorders
    rows = {row.camera: row for group in block.groups for row in group.rows}
    (first,) = rows["C1"].stretches
    assert [each.family for each in (*first.signal, *first.power)] == ["coax", "power"]
    assert [each.family for each in rows["C2"].stretches[0].signal] == [""]


# Sections


def test_a_section_of_installed_cables_counts_each_once(installed):
    (section,) = sections_of(installed)
    assert {each.number for each in section.cables} == {"K1", "K2", "K3"}
    assert section.facts["taken_percent"] == 5  # what the survey gives for cables not listed
    assert "1 × unknown (size not known, not drawn): K3" in section_words(section)


def test_sections_hold_the_cables_of_the_schedules(made):
    result, out = made
    lying = {}
    for run in read_csv(out / "runs.csv"):
        for segment in run["segments"].split(";"):
            lying.setdefault(segment, []).append(run["number"])
    found = sections_of(result)
    assert [s.route for s in found] == [
        "A"
    ]  # three cameras' cables and the trunk; elsewhere each has its own way
    assert sorted(c.number for c in found[0].cables) == sorted(lying[found[0].segment])
    assert len(found[0].cables) == 4


def test_words_under_a_section(made):
    (section,) = sections_of(made[0])
    words = section_words(section)
    assert words[0] == "2 × bore 50 mm"
    assert words[1] == "depth 600 mm; surface grass"
    # 100·Σd²/D² over two ways: three cables of 5.2 mm and one of 9.5 mm, with the 5 % that are taken.
    filled = 5 + 100 * (3 * 5.2**2 + 9.5**2) / (2 * 50**2)
    assert words[2] == f"fill {filled:.1f} % of 40 % allowed, other cables 5.0 % of it"
    assert section.is_below_ground


diameters = st.lists(st.floats(2, 14), min_size=1, max_size=14)


@given(
    diameters,
    st.one_of(
        st.floats(5, 60).map(Bore),
        st.floats(5, 60).map(Trough),
        st.floats(10, 60).map(lambda w: Trough(w, w)),
    ),
)
def test_cables_lie_inside_and_never_overlap(sizes, inside):
    found = packed(sizes, inside)
    laid = [c for c in found if c is not None]
    assert all(2 * c.r == pytest.approx(d) for c, d in zip(found, sizes, strict=True) if c is not None)
    assert all(math.hypot(a.x - b.x, a.y - b.y) >= a.r + b.r - 1e-6 for a, b in combinations(laid, 2))
    for circle in laid:
        if isinstance(inside, Bore):
            assert math.hypot(circle.x, circle.y) + circle.r <= inside.radius + 1e-6
        else:
            assert abs(circle.x) + circle.r <= inside.width / 2 + 1e-6
            assert circle.r - 1e-6 <= circle.y <= inside.height - circle.r + 1e-6


@pytest.mark.parametrize(("count", "ratio"), [(1, 1.0), (2, 2.0), (3, 1 + 2 / math.sqrt(3))])
def test_equal_circles_fit_the_circle_that_is_known_to_hold_them(count, ratio):
    """Least radius of a circle round n equal circles of radius 1: 1, 2, 1 + 2/√3 (circle packing in a circle, from memory)."""
    fits = [c is not None for c in packed([2.0] * count, Bore(ratio * 1.001))]
    tight = [c is not None for c in packed([2.0] * count, Bore(ratio * 0.999))]
    assert all(fits) or count == 3  # laid one by one, as low as each can lie, three may miss the best place
    assert not all(tight)


def test_an_open_tray_takes_everything_that_is_narrower():
    assert None not in packed([6.0] * 40, Trough(20.0))
    assert packed([21.0], Trough(20.0)) == [None]


# Profiles


def test_an_installed_link_fills_up_as_its_budget_says(installed):
    """The link whose cable is not known has no profile; 100 m of the fed one end at the values of its lines."""
    (profile,) = profiles_of(installed)
    assert profile.link == "L-C1"
    (stretch,) = profile.stretches
    lines = [row for row in installed.rows("budget") if row["link"] == "L-C1"]
    night = next(row for row in lines if (row["quantity"], row["state"]) == ("volts", "night"))
    assert stretch.points[-1].volts_night == pytest.approx(night["value"], abs=0.005)
    reach = next(row for row in lines if row["quantity"] == stretch.quantity)
    assert stretch.points[-1].share_percent == pytest.approx(100 * reach["value"] / reach["limit"], abs=0.01)


def test_profiles_end_where_the_budget_does(made):
    _, out = made
    links = {row["link"]: row for row in read_csv(out / "links.csv")}
    ends = {row["link"]: row for row in read_csv(out / "profiles.csv")}
    budget = read_csv(out / "budget.csv")
    assert set(ends) == {name for name, row in links.items() if row["method"]}
    for name, end in ends.items():
        link = links[name]
        assert float(end["at_m"]) == pytest.approx(float(link["cable_length_m"]), abs=0.002)
        assert (end["volts_day"], end["volts_night"]) == (link["volts_day"], link["volts_night"])
        own = [row for row in budget if (row["link"], row["quantity"]) == (name, end["quantity"])]
        assert (end["value"], end["limit"]) in {(row["value"], row["limit"]) for row in own}
        assert float(end["share_percent"]) == pytest.approx(
            100 * float(end["value"]) / float(end["limit"]), abs=0.05
        )


def test_budgets_fill_up_and_volts_fall_along_a_link(made):
    _, out = made
    rows = read_csv(out / "profiles.csv")
    for a, b in pairwise(rows):
        if (a["link"], a["stretch"]) != (b["link"], b["stretch"]):
            continue
        assert float(b["at_m"]) >= float(a["at_m"])
        assert float(b["share_percent"]) >= float(a["share_percent"])
        if a["volts_day"]:
            assert float(b["volts_day"]) <= float(a["volts_day"])


def test_volts_start_at_the_least_of_the_port(made):
    """IEEE 802.3-2018, type 2: at least 50 V at the port (from memory)."""
    rows = read_csv(made[1] / "profiles.csv")
    starts = [row for row in rows if row["at_m"] == "0.0" and row["volts_day"]]
    assert starts
    assert {float(row["volts_day"]) for row in starts} == {50.0}


def test_profiles_shown_are_the_longest_and_those_with_the_least_margin(made):
    result, out = made
    links = [row for row in read_csv(out / "links.csv") if row["method"]]
    longest = sorted(links, key=lambda row: (-float(row["cable_length_m"]), row["link"]))[:BY_LENGTH]
    nearest = sorted(links, key=lambda row: (float(row["margin_percent"]), row["link"]))[:BY_MARGIN]
    shown = {p.link: p.reason for p in profiles_of(result)}
    assert set(shown) == {row["link"] for row in (*longest, *nearest)}
    assert all("longest" in shown[row["link"]] for row in longest)
    assert all("margin" in shown[row["link"]] for row in nearest)
