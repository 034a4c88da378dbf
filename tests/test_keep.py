"""Designs that keep what stands: small estates by hand and against every choice."""

from itertools import product

import pytest

from estate import workflow
from estate.output.build import design_result
from estate.placement.design import link_search, make_design
from estate.placement.keep import KEPT, kept_candidates, with_installed
from tests.estates import EXACT, LOCAL, camera, line, read_csv, recorder, write_estate
from tests.installed_cases import ONE, cable, checked, installed, measured_bad

R = recorder("R", 0, 0, status="existing", channels=8)
PATCH = {"id": "P", "kind": "patch", "x": 125, "y": 0, "power": "unswitched"}
ROUTES = [
    line("A", (0, 0), (125, 0)),
    line("B", (125, 0), (250, 0)),
    line("D", (125, 0), (125, 60)),
]
COAX = f'{ONE}[design]\nmethods = ["coax-local"]\ncables = ["rg59-cu"]\n'
ANALOGUE = {"signal": "composite", "load_w": 4, "load_night_w": 4}


def estate(folder, cameras, cables, toml=COAX):
    points = [R, PATCH, *(camera(name, *place, **ANALOGUE) for name, place in cameras.items())]
    return checked(folder, toml, ROUTES, points, cables=cables)


def search_of(each):
    return link_search(each.survey, each.catalogue, each.network, each.separation)


def designed(each, stands):
    return make_design(
        each.survey, each.catalogue, each.network, each.separation, workflow.silent, installed=stands
    )


def link(made, name):
    return next(each for each in made.links if each.camera == name)


def test_a_link_that_stands_is_kept_and_nothing_is_bought(tmp_path):
    each = estate(tmp_path, {"C": (125, 60)}, [cable("K1", "C", "rg59-cu")])
    stands = [installed(search_of(each), "C", "coax-local")]
    new, kept = designed(each, []), designed(each, stands)
    assert design_result(new).summary["cost"]["total"] == 185 + 185 + 2 + 2
    result = design_result(kept)
    assert result.summary["cost"]["total"] == 0
    assert result.tables["quantities"].rows == ()
    (row,) = result.tables["links"].records()
    assert (row["basis"], row["cost"], row["recorder"]) == (KEPT, 0, "R")
    assert [run.installed for run in link(kept, "C").runs] == ["K1"]
    (used,) = kept.recorders
    assert (used.used, used.cost) == (1, 0)
    assert kept.answer.status == "optimal"


def test_a_link_that_fails_is_repaired_with_its_own_cable(tmp_path):
    """250 m of RG-59 against 229: an amplifier at P, four ends made off anew and four connectors; no metre is bought."""
    each = estate(tmp_path, {"C": (250, 0)}, [cable("K1", "C", "rg59-cu")])
    stands = [installed(search_of(each), "C", "coax-local")]
    made = designed(each, stands)
    assert link(made, "C").own_cost == 1 + 4 + 4
    assert {run.installed for run in link(made, "C").runs} == {"K1 P–R", "K1 C–P"}
    assert design_result(made).summary["cost"]["total"] == 9


def test_a_link_measured_dark_is_neither_kept_nor_taken_over(tmp_path):
    each = estate(tmp_path, {"C": (125, 60)}, [cable("K1", "C", "rg59-cu")])
    stands = [measured_bad(installed(search_of(each), "C", "coax-local"))]
    made = designed(each, stands)
    assert [run.installed for run in link(made, "C").runs] == [""]
    assert link(made, "C").basis == "calculated"


def least_of_all(search, kept):
    """The least cost of all ways to share out the parts of the installed cables, one search for each share."""
    parts = sorted({part for spare in search.reusable for part in spare.taken})
    known = {}

    def least(k, own):
        if (k, own) not in known:
            gone = [spare.id for spare in search.reusable if not set(spare.taken) <= own]
            links = search.without_spares(gone).candidates([k], with_verify=False, progress=workflow.silent)
            costs = [each.own_cost + each.works_cost for each in links]
            stays = [f for f in kept if f.camera == k and {p for c in f.kept for p in parts_of(c)} <= own]
            known[k, own] = 0.0 if stays else min(costs)
        return known[k, own]

    def parts_of(name):
        return next((spare.taken for spare in search.reusable if spare.id == name), (name,))

    cameras = range(len(search.cameras))
    return min(
        sum(
            least(k, frozenset(p for p, owner in zip(parts, share, strict=True) if owner == k))
            for k in cameras
        )
        for share in product(cameras, repeat=len(parts))
    )


@pytest.mark.parametrize(
    ("dark", "second", "ways"),
    [
        ("", "D", {"C": KEPT, "D": "repaired", "E": "new"}),
        ("C", "D", {"C": "new", "D": "repaired", "E": "new"}),
        ("", "E", {"C": KEPT, "D": "new", "E": "repaired"}),
    ],
)
def test_kept_repaired_and_new_links_together_are_the_cheapest_of_all(tmp_path, dark, second, ways):
    """C stands or is dark; D or E is too long and gets an amplifier, the other has no cable of its own."""
    cameras = {"C": (125, 60), "D": (250, 0), "E": (235, 0)}
    cables = [cable("K1", "C", "rg59-cu"), cable("K2", second, "rg59-cu")]
    each = estate(tmp_path, cameras, cables)
    stands = [installed(search_of(each), name, "coax-local") for name in ("C", second)]
    stands = [measured_bad(s) if s.link.camera == dark else s for s in stands]
    search = with_installed(search_of(each), stands)
    least = least_of_all(search, kept_candidates(search, stands))
    made = designed(each, stands)
    assert made.answer.objective_value == pytest.approx(least)
    assert {
        name: KEPT if link(made, name).basis == KEPT
        else "repaired" if any(run.installed for run in link(made, name).runs) else "new"
        for name in cameras
    } == ways  # fmt: skip
    assert design_result(made).summary["cost"]["total"] == pytest.approx(made.answer.objective_value)


def test_what_is_dearer_than_a_new_design_is_never_chosen(tmp_path):
    cameras = {"C": (125, 60), "D": (250, 0)}
    each = estate(tmp_path, cameras, [cable("K1", "C", "rg59-cu"), cable("K2", "D", "rg59-cu")])
    stands = [installed(search_of(each), name, "coax-local") for name in "CD"]
    costs = [designed(each, given).answer.objective_value for given in ([], stands[:1], stands)]
    assert costs == sorted(costs, reverse=True)
    assert len(set(costs)) == 3


def test_the_setting_keeps_what_the_audit_finds_standing(tmp_path):
    """C stands and stays; D is too long and gets an amplifier on its own cable; neither is bought a metre."""
    cameras = {"C": (125, 60), "D": (250, 0)}
    points = [R, PATCH, *(camera(name, *place, **ANALOGUE) for name, place in cameras.items())]
    cables = [
        cable("K1", "C", "rg59-cu", method="coax-local"),
        cable("K2", "D", "rg59-cu", method="coax-local"),
    ]
    toml = COAX.replace("[design]\n", "[design]\nkeep = true\n")
    estate_folder = write_estate(
        tmp_path / "e", LOCAL + EXACT + toml, routes=ROUTES, points=points, cables=cables
    )
    made, result, out = workflow.design(estate_folder)
    rows = {row["camera"]: row for row in read_csv(out / "links.csv")}
    assert (rows["C"]["basis"], float(rows["C"]["cost"])) == (KEPT, 0)
    assert float(rows["D"]["cost"]) == 9
    assert result.summary["cost"]["total"] == 9
    assert not any(row["item"].startswith(("cable", "pull")) for row in read_csv(out / "quantities.csv"))
    assert any("installed cable K2 P–R is taken for D" in finding.text for finding in made.findings)
    assert any("coax-local" in told for told in workflow.explain(estate_folder, "C"))
