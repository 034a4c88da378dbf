"""Separation from mains: EN 50174-2 as quoted by public texts, and the counting of circuits."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate.catalogue.load import load_catalogue
from estate.errors import OutOfRange
from estate.formulas.separation import (
    circuits_of_20a,
    counted_circuits,
    power_factor_of_circuits,
    separation_mm,
    stack_height_mm,
)

CATALOGUE, _ = load_catalogue()
RULES = CATALOGUE.rules["separation"]
TABLE = RULES["factor"].value


def base(cable_class, barrier):
    return RULES[f"base_mm_{cable_class}"].value[barrier]


# EN 50174-2:2009 tables 4 and 5 multiplied out, as a public text prints them in whole millimetres.
PRODUCTS = {
    ("b", "none"): [20, 40, 60, 80, 100, 200, 300, 400, 500, 600],
    # the text prints 400 in the last cell; 75 × 6 is 450: a printing error
    ("b", "open"): [15, 30, 45, 60, 75, 150, 225, 300, 375, 450],
    ("b", "perforated"): [10, 20, 30, 40, 50, 100, 150, 200, 250, 300],
    ("c", "none"): [10, 20, 30, 40, 50, 100, 150, 200, 250, 300],
    ("c", "open"): [8, 15, 23, 30, 38, 76, 114, 152, 190, 228],
    ("c", "perforated"): [5, 10, 15, 20, 25, 50, 75, 100, 125, 150],
    ("d", "none"): [2, 4, 6, 8, 10, 20, 30, 40, 50, 60],
    ("d", "open"): [2, 3, 5, 6, 8, 16, 24, 32, 40, 48],
    ("d", "perforated"): [1, 2, 3, 4, 5, 10, 15, 20, 25, 30],
}
CIRCUITS = np.array([3, 6, 9, 12, 15, 30, 45, 60, 75, 76])


@pytest.mark.parametrize(("cell", "printed"), PRODUCTS.items())
def test_products(cell, printed):
    ours = separation_mm(base(*cell), power_factor_of_circuits(CIRCUITS, TABLE))
    assert ours == pytest.approx(printed, abs=0.51)


def test_class_a_follows_the_pattern_and_says_that_it_is_from_memory():
    b, a = RULES["base_mm_b"], RULES["base_mm_a"]
    assert {k: 3 * v for k, v in b.value.items()} == a.value
    assert a.status == "from_memory"
    assert b.status == "second_hand"


def test_factor_between_its_rows():
    # "> 75" for the last row: the text prints "> 76", which leaves 76 undefined
    ours = power_factor_of_circuits(np.array([0, 1, 4, 16, 30, 31, 75, 76, 500]), TABLE)
    assert ours == pytest.approx([0, 0.2, 0.4, 2, 2, 3, 5, 6, 6])
    assert np.isnan(power_factor_of_circuits(np.nan, TABLE))


def test_category_6_in_tray_beside_eight_circuits():
    # W1: 30 mm by interference, 50 mm with the safety rule
    factor = power_factor_of_circuits(8, TABLE)
    assert separation_mm(base("b", "perforated"), factor) == pytest.approx(30)
    assert separation_mm(base("b", "perforated"), factor, RULES["safety_mm"].value) == 50


def test_140_a_three_phase_is_21_circuits():
    # W2
    assert circuits_of_20a(140.0, 3) == 21
    assert power_factor_of_circuits(21, TABLE) == 2


def test_dc_counts_by_current():
    # W3, from memory: 100 A at 50 V DC are five circuits
    assert circuits_of_20a(100.0) == 5
    assert power_factor_of_circuits(5, TABLE) == pytest.approx(0.4)


@pytest.mark.parametrize(("rounding", "circuits", "mm"), [("up", 46, 200), ("nearest", 37, 150)])
def test_parts_of_20_a_in_both_roundings(rounding, circuits, mm):
    # W4: three 63 A three-phase and ten 16 A circuits in a perforated tray; no text settles the rounding
    total = circuits_of_20a(63.0, 3, 3, rounding=rounding) + circuits_of_20a(16.0, 1, 10, rounding=rounding)
    assert total == circuits
    assert separation_mm(base("b", "perforated"), power_factor_of_circuits(total, TABLE)) == mm


def test_twelve_circuits_ask_for_80_mm():
    required = separation_mm(
        base("b", "none"), power_factor_of_circuits(circuits_of_20a(20.0, 1, 12), TABLE), 50
    )
    assert required == pytest.approx(80)


def test_circuits_of_several_runs():
    # 12 at 60 mm and 12 at 150 mm: together 24, which ask for 200 mm, so both count
    both = counted_circuits(np.array([60.0, 150.0]), np.array([12.0, 12.0]), 100, TABLE)
    assert both == 24
    assert separation_mm(100, power_factor_of_circuits(both, TABLE)) == 200
    # at 250 mm the second run drops out
    assert counted_circuits(np.array([60.0, 250.0]), np.array([12.0, 12.0]), 100, TABLE) == 12
    assert counted_circuits(np.array([700.0]), np.array([99.0]), 100, TABLE) == 0
    assert np.isnan(counted_circuits(np.array([60.0]), np.array([np.nan]), 100, TABLE))


@given(st.lists(st.tuples(st.floats(1, 700), st.integers(1, 40)), min_size=1, max_size=5))
def test_circuits_are_the_largest_set_that_holds(runs):
    distance = np.array([d for d, _ in runs])
    circuits = np.array([float(n) for _, n in runs])
    holding = [0.0]
    for chosen in itertools.product((False, True), repeat=len(runs)):
        inside = np.array(chosen)
        total = circuits[inside].sum()
        if np.all(distance[inside] < separation_mm(100, power_factor_of_circuits(total, TABLE))):
            holding.append(float(total))
    assert counted_circuits(distance, circuits, 100, TABLE) == max(holding)


@given(st.floats(0.1, 400), st.sampled_from([1, 3]))
def test_rounding_up_is_the_safe_one(amps, phases):
    assert circuits_of_20a(amps, phases) >= circuits_of_20a(amps, phases, rounding="nearest") >= phases


def test_stacking_height():
    # EN 50174-2, from memory: 500 mm 111, 1000 mm 88, 1500 mm 73
    fill = CATALOGUE.rules["fill"]
    ours = stack_height_mm(
        np.array([500.0, 1000.0, 1500.0]), fill["stack_mm"].value, fill["stack_per_mm"].value
    )
    assert np.round(ours) == pytest.approx([111, 88, 73])


def test_nonsense_is_refused():
    for call in (
        lambda: circuits_of_20a(0.0),
        lambda: circuits_of_20a(20.0, 2),
        lambda: circuits_of_20a(20.0, rounding="down"),
        lambda: separation_mm(-1.0, 1.0),
    ):
        with pytest.raises(OutOfRange):
            call()
    assert np.isnan(circuits_of_20a(np.nan))
