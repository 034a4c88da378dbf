"""Fill, pulling and sag against published worked examples."""

import numpy as np
import pytest

from estate.catalogue.load import load_catalogue
from estate.errors import OutOfRange
from estate.formulas.containment import (
    area_fill_percent,
    bend_tension_n,
    bent_fill_limit_percent,
    fill_percent,
    jams,
    sag_m,
    sidewall_n_per_m,
    straight_tension_n,
)

N_PER_LBF = 4.448222
M_PER_FT = 0.3048


def test_coax_in_small_bores():
    # NEC chapter 9 table 1, as quoted by public texts: 40 % for three and more
    limit = load_catalogue()[0].rules["fill"]["more_cables_percent"].value
    assert fill_percent(np.full(8, 6.15), 25.0) == pytest.approx(48, abs=0.5)
    assert fill_percent(np.full(6, 6.15), 25.0) <= limit < fill_percent(np.full(7, 6.15), 25.0)
    assert fill_percent(np.full(8, 6.15), 22.0) == pytest.approx(62.5, abs=0.05)
    assert fill_percent(np.full(5, 6.15), 22.0) <= limit < fill_percent(np.full(6, 6.15), 22.0)
    assert fill_percent(np.array([6.15] * 3 + [9.5]), 25.0) == pytest.approx(33, abs=0.5)
    assert np.isnan(fill_percent(np.array([6.15, np.nan]), 25.0))


def test_trunking_of_the_on_site_guide():
    # W10, IET On-Site Guide: 10 × 35 mm² (factor 95) and 16 × 4 mm² (18.1) are 1239.6 and need 75 × 50
    areas = np.repeat([95.0, 18.1], [10, 16])
    assert areas.sum() == pytest.approx(1239.6)
    assert area_fill_percent(areas, 75 * 50) <= 45 < area_fill_percent(areas, 50 * 50)


def test_bends_lower_the_fill():
    # W11, trade column of doubtful origin: 40 % with two bends is 28 %
    assert bent_fill_limit_percent(40.0, 2) == pytest.approx(28.0)


def test_pull_round_a_bend():
    # W8, public cable-pulling guide: 36 lbf into 90° at 0.5 is 79 lbf; 160 N becomes 351 N, over the 110 N of a 4-pair
    assert bend_tension_n(36.0, 0.5, 90.0) == pytest.approx(79, abs=0.5)
    newton = bend_tension_n(36.0 * N_PER_LBF, 0.5, 90.0)
    assert newton == pytest.approx(351, abs=0.5)
    assert newton > load_catalogue()[0].cables["cat6-utp"].number("pull_max_n")


def test_pull_along_and_round():
    # W8b: 1.5 lb/ft, 200 ft, 0.3, then 90° of 2 ft radius: 90, 144 lbf, 72 lbf/ft
    straight = straight_tension_n(0.0, 1.5 * N_PER_LBF / M_PER_FT, 200 * M_PER_FT, 0.3)
    assert straight / N_PER_LBF == pytest.approx(90)
    after = bend_tension_n(straight, 0.3, 90.0)
    assert after / N_PER_LBF == pytest.approx(144, abs=0.5)
    assert sidewall_n_per_m(after, 2 * M_PER_FT) / N_PER_LBF * M_PER_FT == pytest.approx(72, abs=0.2)


def test_capstan_table():
    # Public cable-pulling guide, 90° and 45°
    friction = np.array([0.7, 0.6, 0.5, 0.4, 0.3, 0.15])
    assert bend_tension_n(1.0, friction, 90.0) == pytest.approx(
        [3.00, 2.57, 2.19, 1.87, 1.60, 1.27], abs=0.006
    )
    assert bend_tension_n(1.0, friction, 45.0) == pytest.approx(
        [1.73, 1.60, 1.48, 1.37, 1.27, 1.13], abs=0.006
    )


def test_slopes():
    # level is friction alone, straight up is weight alone, down the slope the weight helps and never pushes
    assert straight_tension_n(10.0, 2.0, 5.0, 0.5) == pytest.approx(15.0)
    assert straight_tension_n(10.0, 2.0, 5.0, 0.5, 90.0) == pytest.approx(20.0)
    assert straight_tension_n(0.0, 2.0, 5.0, 0.5, -45.0) == 0.0


def test_three_cables_jam():
    # NEC chapter 9, note to table 1: bore 2.8 to 3.2 diameters, three cables
    assert jams(np.array([27.0, 30.0, 33.0]), 10.0, 3).tolist() == [False, True, False]
    assert not jams(30.0, 10.0, 4)


def test_sag():
    # A public page prints a = 199.35 ft and H = 1993.5 lbf for 200 ft, 10 lb/ft, 25 ft of sag: wrong.
    # The catenary with H = 2040.4 lbf hangs 25 ft; the parabola's H of 2000 lbf is 2 % low.
    assert sag_m(10.0, 200.0, 2040.4) == pytest.approx(25.0, abs=0.005)
    assert sag_m(10.0, 200.0, 1993.5) > 25.5
    assert 10 * 200**2 / (8 * 2000) == 25.0


def test_nonsense_is_refused():
    for call in (
        lambda: fill_percent(5.0, 0.0),
        lambda: straight_tension_n(-1.0, 1.0, 1.0, 0.5),
        lambda: bent_fill_limit_percent(40.0, 7),
        lambda: sag_m(1.0, 10.0, 0.0),
    ):
        with pytest.raises(OutOfRange):
            call()
