"""The placement program with cabinets against exhaustive search."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from estate.errors import Infeasible
from estate.placement.greedy import first_answer
from estate.placement.refusal import refuse
from estate.placement.solve import solve_placement
from tests.cabinet_cases import cabinet_answer_value, exhaustive_cabinets, random_cabinet_task
from tests.placement_cases import campus
from tests.plain_program import plain_value


@pytest.mark.parametrize("seed", range(10))
def test_equals_exhaustive_search_on_small_tasks(seed):
    for n in range(25):
        given = random_cabinet_task(np.random.default_rng([seed, n]))
        best = exhaustive_cabinets(given)
        if best is None:
            with pytest.raises(Infeasible):
                solve_placement(given)
            continue
        answer = solve_placement(given)
        assert cabinet_answer_value(given, answer) == best
        assert answer.status in ("optimal", "none")
        assert answer.gap_percent == pytest.approx(0, abs=1e-6)


def test_random_tasks_reach_every_rule():
    """The tasks above mean something only where each rule changes the best answer."""
    changed = Counter()
    for n in range(45):
        given = random_cabinet_task(np.random.default_rng([0, n]))
        best = exhaustive_cabinets(given)
        for name, lifted in without_one_rule(given).items():
            changed[name] += exhaustive_cabinets(lifted) != best
    assert min(changed[name] for name in without_one_rule(given)) >= 1, changed


def without_one_rule(given):
    """The same task with one rule lifted, by the rule's name."""

    def switches(**other):
        places = tuple(
            replace(p, switches=tuple(replace(s, **other) for s in p.switches)) for p in given.cabinets
        )
        return replace(given, cabinets=places)

    cores = tuple(replace(s, sizes=tuple(replace(z, cores=99) for z in s.sizes)) for s in given.sections)
    return {
        "works": replace(given, works_cost=dict.fromkeys(given.works_cost, 0.0)),
        "fill": replace(given, fill_limits={}),
        "ports": switches(ports=99),
        "power": switches(poe_w=None),
        "cores": replace(given, sections=cores),
        "spare channels": replace(given, spare_percent=0.0),
        "spare ports": replace(given, spare_ports_percent=0.0),
        "spare cores": replace(given, spare_cores=0, spare_cores_percent=0.0),
        "spare cables": replace(given, candidates=tuple(replace(k, spares=()) for k in given.candidates)),
        "reach": replace(given, sections=tuple(replace(s, shares=(0.0, 0.0)) for s in given.sections)),
        "two ways": replace(given, diverse_uplinks=False),
        "uplink": replace(given, cabinets=tuple(replace(p, uplink_mbps=None) for p in given.cabinets)),
    }


@pytest.mark.parametrize("seed", [0, 5])
def test_another_solver_agrees_on_medium_tasks(seed):
    """CBC, on a weak formulation that shares nothing with the program."""
    given = replace(campus(np.random.default_rng(seed), 30, 3, 4, near=3), gap_percent=0.0)
    answer = solve_placement(given)
    assert (answer.choice >= 0).all()
    assert answer.objective_value == pytest.approx(plain_value(given))


def test_the_first_answer_keeps_every_rule():
    for n in range(300):
        given = random_cabinet_task(np.random.default_rng([1, n]), cameras=6, cabinets=3, sections=7)
        try:
            refuse(given)
        except Infeasible:
            continue
        first = first_answer(given)
        assert cabinet_answer_value(given, first) is not None


def test_the_same_task_gives_the_same_answer():
    for n in range(5):
        given = random_cabinet_task(np.random.default_rng([2, n]), cameras=8, cabinets=3, sections=8)
        given = replace(given, recorders_exactly=None, recorders_at_most=None)
        given = replace(
            given,
            sites=tuple(replace(s, keep=False) for s in given.sites),
        )
        first, second = solve_placement(given), solve_placement(given)
        for name in ("choice", "size", "switch", "home", "cable"):
            assert np.array_equal(getattr(first, name), getattr(second, name))
        assert (first.ways, first.objective_value, first.bound) == (
            second.ways,
            second.objective_value,
            second.bound,
        )
