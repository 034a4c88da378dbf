"""Induction from mains against textbook problems, a field integral and reference numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import mu_0
from scipy.integrate import quad

from estate.errors import OutOfRange
from estate.formulas.induction import (
    coax_hum_volts,
    differential_volts,
    earth_depth_m,
    earth_return_ohm_per_km,
    far_pairs_mutual_h_per_m,
    induced_volts_per_m,
    loop_flux_wb_per_m,
    over_plane_mutual_h_per_m,
    pairs_mutual_h_per_m,
    phasor_volts_per_m,
    screening_factor,
    twisted_volts,
)

M_PER_FT, M_PER_MILE = 0.3048, 1609.344


def in_line(near_m, power_m, signal_m):
    """Mutual inductance of coplanar pairs, nearest conductors `near_m` apart: a b ... c d."""
    return pairs_mutual_h_per_m(near_m + power_m + signal_m, near_m, near_m + power_m, near_m + signal_m)


def test_telephone_line_beside_a_power_line():
    # W5, MIL-HDBK-419A method and a textbook problem: 60 Hz, 100 A, 5 ft pair, 1 ft telephone, 20 ft apart
    near = np.array([20.0, 25.0]) * M_PER_FT
    flux = loop_flux_wb_per_m(np.array([100.0, -100.0]), near, near + M_PER_FT).sum()
    assert flux == pytest.approx(1.914e-7, rel=5e-4)
    volts = induced_volts_per_m(60.0, in_line(20 * M_PER_FT, 5 * M_PER_FT, M_PER_FT), 100.0)
    assert volts == pytest.approx(7.215e-5, rel=5e-4)
    assert volts * M_PER_MILE == pytest.approx(0.116, abs=5e-4)
    assert phasor_volts_per_m(60.0, np.array([100, -100 + 0j]), near, near + M_PER_FT) == pytest.approx(volts)


def test_telephone_line_under_a_power_line():
    # W6, textbook problem: 150 A at 60 Hz, 2.5 m pair, 1.0 m telephone 1.8 m below, both symmetric
    straight, across = np.hypot(1.8, 0.75), np.hypot(1.8, 1.75)
    mutual = pairs_mutual_h_per_m(across, across, straight, straight)
    assert mutual == pytest.approx(1.0106e-7, rel=1e-4)
    assert induced_volts_per_m(60.0, mutual, 150.0) * 1000 == pytest.approx(5.715, abs=5e-4)


def test_telephone_line_in_the_plane_of_a_power_line():
    # W7, the same lines 18 m apart in one plane
    mutual = in_line(18.0, 2.5, 1.0)
    assert abs(mutual) == pytest.approx(1.288e-9, rel=5e-4)
    assert induced_volts_per_m(60.0, mutual, 150.0) * 1000 == pytest.approx(0.0728, abs=5e-5)


@given(st.floats(0.5, 20), st.floats(0.01, 3), st.floats(0.001, 1), st.floats(-3, 3))
def test_two_pairs_equal_the_integral_of_the_field(apart, power, signal, height):
    """Flux of both power conductors through the signal loop, by quadrature of Biot and Savart."""
    a, b = np.array([0.0, 0.0]), np.array([power, 0.0])
    c = np.array([power + apart, height])
    d = np.array([power + apart + signal, height])

    def field_across(x, wire):
        """Vertical flux density at (x, height) of 1 A in a long wire [T]."""
        dx, dy = x - wire[0], height - wire[1]
        return mu_0 / (2 * np.pi) * dx / (dx**2 + dy**2)

    flux = quad(lambda x: field_across(x, a) - field_across(x, b), c[0], d[0], epsabs=1e-18)[0]
    ours = pairs_mutual_h_per_m(*(float(np.linalg.norm(p - q)) for p, q in ((a, d), (b, c), (a, c), (b, d))))
    assert ours == pytest.approx(flux, rel=1e-6, abs=1e-14)


def test_far_pairs():
    # Error under 1 % beyond 7 spacings, as derived
    exact = in_line(1.0 - 0.05, 0.05, 0.05)
    assert far_pairs_mutual_h_per_m(0.05, 0.05, 1.0) == pytest.approx(abs(exact), rel=0.01)
    with pytest.raises(OutOfRange):
        far_pairs_mutual_h_per_m(0.5, 0.01, 1.0)


@pytest.mark.parametrize(("mm", "microvolt"), [(25, 718), (50, 177), (100, 44), (200, 11), (300, 4.9)])
def test_line_and_neutral_beside_a_signal_pair(mm, microvolt):
    # Reference numbers: 20 A, 7 mm, 50 m, untwisted 1 mm pair, centres d apart, 50 Hz
    mutual = in_line(mm / 1e3 - 0.004, 0.007, 0.001)
    assert induced_volts_per_m(50.0, mutual, 20.0) * 50 * 1e6 == pytest.approx(microvolt, rel=0.02)


def test_net_current_matters_more():
    # Reference numbers: 1 A of residual current, loop 0.5 m high, 50 m: 7.5, 5.6 and 3.9 mV
    near = np.array([0.05, 0.1, 0.2])
    volts = 2 * np.pi * 50 * loop_flux_wb_per_m(1.0, near, near + 0.5) * 50
    assert volts * 1e3 == pytest.approx([7.5, 5.6, 3.9], abs=0.06)


def test_balanced_three_phase_in_a_point_induces_nothing():
    current = 100 * np.exp(2j * np.pi * np.arange(3) / 3)
    assert phasor_volts_per_m(50.0, current, np.full(3, 0.5), np.full(3, 0.6)) == pytest.approx(0, abs=1e-12)
    spread = phasor_volts_per_m(50.0, current, np.array([0.5, 0.52, 0.54]), np.array([0.6, 0.62, 0.64]))
    assert spread > 1e-5


def test_a_plane_is_an_image():
    # Two-pair formula with the images of both lines under the plane: half of it per single line
    apart, height = 2.0, 0.7
    image = pairs_mutual_h_per_m(np.hypot(apart, 2 * height), np.hypot(apart, 2 * height), apart, apart)
    assert over_plane_mutual_h_per_m(height, height, apart) == pytest.approx(image / 2)


def test_earth_return():
    # J. R. Carson's simplified form at 50 Hz and 100 Ω·m, reference numbers in Ω/km
    assert earth_depth_m(100.0, 50.0) == pytest.approx(931, abs=0.5)
    ours = earth_return_ohm_per_km(50.0, np.array([0.2, 1.0, 10.0, 100.0]))
    assert ours.real == pytest.approx(0.0493, abs=1e-4)
    assert ours.imag == pytest.approx([0.5307, 0.4296, 0.2849, 0.1402], abs=2e-4)
    with pytest.raises(OutOfRange):
        earth_return_ohm_per_km(50.0, 500.0)


def test_screens_balance_and_twist():
    # ITU-T G.117 (from memory): 40 dB is 1 %, 60 dB 0.1 %
    assert differential_volts(1.0, np.array([40.0, 60.0])) == pytest.approx([0.01, 0.001])
    # a 5 mΩ/m braid of 1 µH/m does nearly nothing at 50 Hz and a lot at 100 kHz
    factor = screening_factor(5e-3, 1e-6, np.array([50.0, 1e5]))
    assert factor == pytest.approx([0.998, 0.008], abs=5e-4)
    assert twisted_volts(1.0, 0.02, 10.0) == pytest.approx(0.001)
    # A circuit simulation of 100 m of coax with 0.662 V along its screen puts 0.331 V on the 75 Ω load
    assert coax_hum_volts(0.662) == pytest.approx(0.331)
