"""Ways found as the program asks for them, against every way there is."""

from dataclasses import replace
from math import isnan

import networkx as nx
import numpy as np
import pytest

from estate.placement import model
from estate.placement.generation import solve_with_ways
from estate.placement.solve import solve_placement
from estate.placement.solver import linear, weak_bound
from estate.placement.trenches import cheapest_trenches, least_money
from tests.placement_cases import link, site, task
from tests.way_cases import Estate, random_estate


def star():
    """Three cameras at the corners of a square with a recorder at the fourth: each alone digs its own side."""
    graph = nx.Graph()
    sides = [(0, 1, 10), (0, 2, 10), (0, 3, 15), (1, 4, 6), (2, 4, 6), (3, 4, 6), (0, 4, 6)]
    for number, (a, b, metres) in enumerate(sides):
        graph.add_edge(a, b, number=number, cable=float(metres), trench=100.0 * metres)
    return Estate(graph, [1, 2, 3], [0], [site("R", (4, 0))])


def test_a_shared_way_is_found_that_no_camera_alone_would_take():
    estate = star()
    # by cable alone cameras 1 and 2 dig their own sides of 10; together all use the middle: 4 × 6 = 24 m of trench
    alone = solve_placement(estate.first())
    answer = solve_with_ways(estate.first(), estate.price)
    assert answer.objective_value == 100 * 24 + 3 * 12
    assert alone.objective_value > answer.objective_value
    assert answer.bound <= answer.objective_value


def test_the_bound_holds_for_every_way_and_the_answer_is_near():
    equal = all_served = 0
    for seed in range(36):
        rng = np.random.default_rng(seed)
        estate = random_estate(rng, cameras=int(rng.integers(3, 6)), sites=int(rng.integers(1, 3)))
        every = solve_placement(estate.full())
        answer = solve_with_ways(estate.first(), estate.price)
        assert (answer.choice >= 0).sum() == (every.choice >= 0).sum()
        if (every.choice < 0).any():
            assert isnan(answer.bound)
            assert answer.status != "optimal"
            continue
        all_served += 1
        assert answer.bound <= every.objective_value * (1 + 1e-9)
        assert answer.objective_value >= every.objective_value * (1 - 1e-9)
        equal += answer.objective_value <= every.objective_value * (1 + 1e-9)
        if answer.status == "optimal":
            assert answer.objective_value == pytest.approx(every.objective_value)
    assert all_served >= 18
    assert equal >= 0.9 * all_served


def test_stopped_early_the_bound_still_holds():
    for seed in range(20):
        estate = random_estate(np.random.default_rng(seed), cameras=3, sites=1)
        every = solve_placement(estate.full())
        calls = []

        def once(prices, calls=calls, price=estate.price):
            """The first round only: no new way is offered after it, so what it proves is all that is proven."""
            calls.append(prices)
            if len(calls) > 1:
                raise KeyboardInterrupt
            return price(prices)

        answer = solve_with_ways(estate.first(), once)
        if (every.choice >= 0).all():
            assert not answer.bound > every.objective_value * (1 + 1e-9)


def test_prices_of_a_work_never_pass_its_cost():
    estate = random_estate(np.random.default_rng(3), cameras=5, sites=2)

    def checked(prices):
        for work, money in prices.items():
            assert money.min() >= 0
            assert money.sum() <= estate.works[work] * (1 + 1e-9)
        return estate.price(prices)

    solve_with_ways(estate.first(), checked)


def test_without_time_nothing_is_claimed():
    estate = star()
    answer = solve_with_ways(estate.first(time_limit_s=0.0), estate.price)
    assert answer.status == "time_limit"
    assert isnan(answer.bound)


def test_trenches_alone_and_the_least_links_are_a_bound():
    for seed in range(15):
        estate = random_estate(np.random.default_rng(seed), cameras=4, sites=2)
        every = solve_placement(estate.full())
        if (every.choice < 0).any():
            continue
        edges = sorted(estate.graph.edges(data=True), key=lambda e: e[2]["number"])
        found = cheapest_trenches(
            [(a, b) for a, b, _ in edges], [d["trench"] for *_, d in edges], estate.sites, estate.cameras
        )
        own = [min(k.cost for k in estate.first().candidates if k.camera == c) for c in range(4)]
        assert least_money(np.array(own), found) <= every.objective_value + 1e-6


def test_limits_of_recorders_and_room_hold_with_ways_found():
    estate = random_estate(np.random.default_rng(12), cameras=5, sites=2)

    def filled(found):
        return [replace(k, fill=tuple((w, 10.0) for w in k.works)) for k in found]

    limits = dict.fromkeys(estate.works, 20.0)
    full, first = estate.full(fill_limits=limits), estate.first(fill_limits=limits)
    full = replace(full, candidates=tuple(filled(full.candidates)))
    first = replace(first, candidates=tuple(filled(first.candidates)))
    every = solve_placement(full)
    answer = solve_with_ways(first, lambda prices: filled(estate.price(prices)))
    if (every.choice >= 0).all() and not isnan(answer.bound):
        assert answer.bound <= every.objective_value * (1 + 1e-9)
    assert (answer.choice >= 0).sum() <= (every.choice >= 0).sum()


def test_a_bound_by_any_prices_is_valid():
    rng = np.random.default_rng(2)
    given = task(
        [site(f"R{s}", (3, 20)) for s in range(3)],
        [link(c, s, float(rng.integers(1, 30))) for c in range(6) for s in range(3)],
    )
    program = model.serving(model.build(given), np.ones(6, dtype=bool))
    cost = model.money(program)
    best = linear(program.rows, program.column_upper, cost)
    assert best.bound == pytest.approx(cost @ best.values)
    for _ in range(50):
        prices = best.duals + rng.normal(0, 5, len(best.duals))
        assert weak_bound(program.rows, program.column_upper, cost, prices) <= best.bound + 1e-6
