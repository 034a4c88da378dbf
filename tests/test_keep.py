"""Designs that keep what stands: small estates by hand and against every choice."""

from itertools import product

import pytest

from estate import workflow
from estate.output.build import design_result
from estate.placement.choosing import choose
from estate.placement.design import link_search, make_design
from estate.placement.keep import KEPT, kept_candidates, with_installed
from tests.estates import camera, line, recorder
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


def every_choice(task):
    """The least cost of all choices of one candidate per camera that take no part of a cable twice."""
    own = [[c for c in task.candidates if c.camera == k] for k in range(len(task.cameras))]
    costs = []
    for chosen in product(*own):
        parts = [part for each in chosen for part in each.spares]
        if len(parts) == len(set(parts)):
            works = {w for each in chosen for w in each.works}
            costs.append(sum(each.cost for each in chosen) + sum(task.works_cost[w] for w in works))
    return min(costs)


@pytest.mark.parametrize("dark", ["", "C", "E"])
def test_kept_repaired_and_new_links_together_are_the_cheapest_of_all(tmp_path, dark):
    """C stands or is dark; D is too long and gets an amplifier; E has no cable of its own."""
    cameras = {"C": (125, 60), "D": (250, 0), "E": (250, 0.2)}
    cables = [cable("K1", "C", "rg59-cu"), cable("K2", "D", "rg59-cu")]
    each = estate(tmp_path, cameras, cables)
    stands = [installed(search_of(each), name, "coax-local") for name in "CD"]
    stands = [measured_bad(s) if s.link.camera == dark else s for s in stands]
    search = with_installed(search_of(each), stands)
    chosen = choose(search, workflow.silent, kept_candidates(search, stands))
    assert chosen.answer.objective_value == pytest.approx(every_choice(chosen.task))
    made = designed(each, stands)
    ways = {
        name: KEPT if link(made, name).basis == KEPT
        else "repaired" if any(run.installed for run in link(made, name).runs) else "new"
        for name in cameras
    }  # fmt: skip
    assert ways["C"] == ("new" if dark == "C" else KEPT)
    assert sorted([ways["D"], ways["E"]]) == ["new", "repaired"]
    assert design_result(made).summary["cost"]["total"] == pytest.approx(made.answer.objective_value)


def test_what_is_dearer_than_a_new_design_is_never_chosen(tmp_path):
    cameras = {"C": (125, 60), "D": (250, 0)}
    each = estate(tmp_path, cameras, [cable("K1", "C", "rg59-cu"), cable("K2", "D", "rg59-cu")])
    stands = [installed(search_of(each), name, "coax-local") for name in "CD"]
    costs = [designed(each, given).answer.objective_value for given in ([], stands[:1], stands)]
    assert costs == sorted(costs, reverse=True)
    assert len(set(costs)) == 3
