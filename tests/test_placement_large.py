"""Large programs: the same answers, bounds that are valid, and what time and interrupts leave."""

from dataclasses import replace

import numpy as np
import pytest

from estate.errors import Infeasible
from estate.placement import large, model, solve
from estate.placement.greedy import first_answer
from estate.placement.solve import solve_placement
from estate.placement.solver import linear
from estate.placement.verify import violations
from tests.cabinet_cases import cabinet_answer_value, random_cabinet_task
from tests.placement_cases import campus


@pytest.fixture
def as_large(monkeypatch):
    """Every program counts as large."""
    monkeypatch.setattr(solve, "LARGE", 0)


def test_the_same_value_as_the_whole_program(as_large, monkeypatch):
    """With few variables near their price, so that the restricted program misses some."""
    monkeypatch.setattr(large, "VARIABLES_PER_CAMERA", 1)
    for n in range(16):
        given = random_cabinet_task(np.random.default_rng([7, n]), cameras=6, cabinets=3, sections=6)
        try:
            answer = solve_placement(given)
        except Infeasible:
            continue
        monkeypatch.setattr(solve, "LARGE", 10**9)
        whole = solve_placement(given)
        monkeypatch.setattr(solve, "LARGE", 0)
        assert answer.status == whole.status
        assert cabinet_answer_value(given, answer) == cabinet_answer_value(given, whole)


def test_a_campus_of_fifty_cameras_within_its_gap(as_large):
    given = replace(campus(np.random.default_rng(0), 50, 8, 4), gap_percent=2.0)
    answer = solve_placement(given)
    assert answer.status == "optimal"
    assert answer.gap_percent <= 2
    exact = solve_placement(replace(given, gap_percent=0.5, time_limit_s=60.0))
    assert answer.bound <= exact.objective_value
    assert violations(given, answer) == []


def test_no_better_answer_has_a_variable_that_was_left_out():
    given = campus(np.random.default_rng(3), 20, 4, 2, near=4)
    program = model.serving(model.build(given), np.ones(20, dtype=bool))
    cost = model.money(program)
    best = model.write(program, first_answer(given))
    priced = linear(program.rows, program.column_upper, cost, interior=True)
    reduced = cost - priced.duals @ program.rows.matrix
    kept = large.possible(reduced, float(cost @ best) - priced.bound, best)
    answer = solve_placement(replace(given, gap_percent=0.0))
    chosen = model.write(program, answer) > 0.5
    assert kept[chosen].all()
    assert priced.bound <= answer.objective_value


def test_out_of_time_the_best_found_stands_with_a_valid_bound(as_large):
    given = campus(np.random.default_rng(0), 30, 5, 3)
    exact = solve_placement(replace(given, gap_percent=0.0))
    for seconds in (0.0, 0.01, 0.3):
        answer = solve_placement(replace(given, time_limit_s=seconds))
        assert violations(given, answer) == []
        assert not answer.bound > exact.objective_value + 1e-6


def test_interrupted_while_pricing_the_first_answer_stands(as_large, monkeypatch):
    def interrupt(*_parts, **_other):
        raise KeyboardInterrupt

    monkeypatch.setattr(large, "linear", interrupt)
    given = campus(np.random.default_rng(0), 30, 5, 3)
    answer = solve_placement(given)
    assert answer.status == "interrupted"
    assert violations(given, answer) == []
