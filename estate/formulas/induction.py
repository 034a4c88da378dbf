"""Voltage that a mains run induces in a line beside it: information, never a ground to go nearer.

The distances of EN 50174-2 guard against fast transients and high frequency; nothing here derives them.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.constants import mu_0

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def loop_flux_wb_per_m(current_a: Numbers, near_m: Numbers, far_m: Numbers) -> Numbers:
    """Return the flux of one long conductor through a coplanar loop: (µ₀·I/2π)·ln(r₂/r₁).

    Parameters
    ----------
    current_a : float or array
        Current [A]
    near_m : float or array
        Distance of the loop's near side [m]
    far_m : float or array
        Distance of the loop's far side [m]

    Returns
    -------
    float or array
        Flux per metre of length [Wb/m]

    References
    ----------
    MIL-HDBK-419A, equation 6-5.

    """
    refuse_at_or_below_zero("near_m", near_m)
    refuse_at_or_below_zero("far_m", far_m)
    flux: Numbers = mu_0 / (2 * np.pi) * np.asarray(current_a) * np.log(np.asarray(far_m) / near_m)
    return flux


def pairs_mutual_h_per_m(ad_m: Numbers, bc_m: Numbers, ac_m: Numbers, bd_m: Numbers) -> Numbers:
    """Return the mutual inductance of two line pairs: 2e-7·ln(Dad·Dbc/(Dac·Dbd)).

    Parameters
    ----------
    ad_m : float or array
        Distance of power conductor a from signal conductor d [m]
    bc_m : float or array
        Distance of b from c [m]
    ac_m : float or array
        Distance of a from c [m]
    bd_m : float or array
        Distance of b from d [m]

    Returns
    -------
    float or array
        Mutual inductance; the sign tells the polarity [H/m]

    Notes
    -----
    Straight parallel conductors, much longer than apart, without earth return.

    References
    ----------
    Textbook of power system analysis, line-to-line mutual inductance.

    """
    for name, value in (("ad_m", ad_m), ("bc_m", bc_m), ("ac_m", ac_m), ("bd_m", bd_m)):
        refuse_at_or_below_zero(name, value)
    mutual: Numbers = mu_0 / (2 * np.pi) * np.log(np.asarray(ad_m) * bc_m / (np.asarray(ac_m) * bd_m))
    return mutual


def far_pairs_mutual_h_per_m(
    power_spacing_m: Numbers, signal_spacing_m: Numbers, apart_m: Numbers
) -> Numbers:
    """Return the mutual inductance of two small far pairs in line: 2e-7·s·p/d².

    Parameters
    ----------
    power_spacing_m : float or array
        Spacing of the power conductors [m]
    signal_spacing_m : float or array
        Spacing of the signal conductors [m]
    apart_m : float or array
        Distance of the centres, more than 7 times the larger spacing [m]

    Returns
    -------
    float or array
        Mutual inductance [H/m]

    Notes
    -----
    The far limit of `pairs_mutual_h_per_m`; OutOfRange nearer than 7 spacings.

    References
    ----------
    Expansion of the two-pair logarithm, derived here.

    """
    refuse_at_or_below_zero("power_spacing_m", power_spacing_m)
    refuse_at_or_below_zero("signal_spacing_m", signal_spacing_m)
    ratio = np.asarray(apart_m) / np.maximum(power_spacing_m, signal_spacing_m)
    refuse_outside("apart_m / spacing", ratio, 7.0)
    mutual: Numbers = mu_0 / (2 * np.pi) * np.asarray(power_spacing_m) * signal_spacing_m / np.square(apart_m)
    return mutual


def induced_volts_per_m(frequency_hz: Numbers, mutual_h_per_m: Numbers, current_a: Numbers) -> Numbers:
    """Return the voltage induced per metre of parallel run: 2·π·f·M·I.

    Parameters
    ----------
    frequency_hz : float or array
        Frequency of the mains, 50 or 60 [Hz]
    mutual_h_per_m : float or array
        Mutual inductance [H/m]
    current_a : float or array
        Current of the power pair, r.m.s. [A]

    Returns
    -------
    float or array
        Open-circuit voltage, r.m.s. [V/m]

    References
    ----------
    Faraday's law, sinusoidal current.

    """
    refuse_at_or_below_zero("frequency_hz", frequency_hz)
    volts: Numbers = 2 * np.pi * np.asarray(frequency_hz) * np.abs(mutual_h_per_m) * current_a
    return volts


def phasor_volts_per_m(
    frequency_hz: float, current_a: NDArray[np.complex128], near_m: Numbers, far_m: Numbers
) -> float:
    """Return the voltage that several conductors induce together, each with its phasor current.

    Parameters
    ----------
    frequency_hz : float
        Frequency of the mains, 50 or 60 [Hz]
    current_a : array
        Complex current of each conductor, r.m.s., shape (conductors,) [A]
    near_m : array
        Distance of each conductor from one signal conductor [m]
    far_m : array
        Distance of each conductor from the other signal conductor [m]

    Returns
    -------
    float
        Magnitude of the open-circuit voltage, r.m.s. [V/m]

    References
    ----------
    Superposition of `loop_flux_wb_per_m`; textbook method for three-phase lines.

    """
    refuse_at_or_below_zero("frequency_hz", frequency_hz)
    refuse_at_or_below_zero("near_m", near_m)
    refuse_at_or_below_zero("far_m", far_m)
    share = mu_0 / (2 * np.pi) * np.log(np.asarray(far_m) / np.asarray(near_m))
    return float(2 * np.pi * frequency_hz * np.abs(np.sum(current_a * share)))


def over_plane_mutual_h_per_m(height_1_m: Numbers, height_2_m: Numbers, apart_m: Numbers) -> Numbers:
    """Return the mutual inductance of two lines over a conducting plane: 1e-7·ln(1 + 4·h₁·h₂/d²).

    Parameters
    ----------
    height_1_m : float or array
        Height of one line over the plane [m]
    height_2_m : float or array
        Height of the other line [m]
    apart_m : float or array
        Distance of the lines [m]

    Returns
    -------
    float or array
        Mutual inductance [H/m]

    References
    ----------
    Textbooks of electromagnetic compatibility, from memory; equals the two-pair formula with images.

    """
    refuse_at_or_below_zero("apart_m", apart_m)
    mutual: Numbers = (
        mu_0 / (4 * np.pi) * np.log(1 + 4 * np.asarray(height_1_m) * height_2_m / np.square(apart_m))
    )
    return mutual


def earth_depth_m(resistivity_ohm_m: Numbers, frequency_hz: Numbers) -> Numbers:
    """Return the equivalent depth of the earth return: 658.5·√(ρ/f).

    Parameters
    ----------
    resistivity_ohm_m : float or array
        Resistivity of the ground [Ω·m]
    frequency_hz : float or array
        Frequency [Hz]

    Returns
    -------
    float or array
        Equivalent depth De [m]

    References
    ----------
    J. R. Carson (1926), simplified; from memory.

    """
    refuse_at_or_below_zero("resistivity_ohm_m", resistivity_ohm_m)
    refuse_at_or_below_zero("frequency_hz", frequency_hz)
    depth: Numbers = 658.5 * np.sqrt(np.asarray(resistivity_ohm_m) / frequency_hz)
    return depth


def earth_return_ohm_per_km(
    frequency_hz: float, apart_m: Numbers, resistivity_ohm_m: float = 100.0
) -> NDArray[np.complex128]:
    """Return the mutual impedance of two lines with earth return: ω·µ₀/8 + j·ω·(µ₀/2π)·ln(De/d).

    Parameters
    ----------
    frequency_hz : float
        Frequency [Hz]
    apart_m : float or array
        Distance of the lines, to a fifth of the equivalent depth [m]
    resistivity_ohm_m : float
        Resistivity of the ground [Ω·m]

    Returns
    -------
    array
        Complex mutual impedance [Ω/km]

    Notes
    -----
    OutOfRange beyond De/5, where the simplified form fails.

    References
    ----------
    J. R. Carson (1926), simplified; from memory.

    """
    depth_m = earth_depth_m(resistivity_ohm_m, frequency_hz)
    refuse_at_or_below_zero("apart_m", apart_m)
    refuse_outside("apart_m", apart_m, 0.0, float(depth_m) / 5)
    omega = 2 * np.pi * frequency_hz
    reactance = mu_0 / (2 * np.pi) * np.log(depth_m / np.asarray(apart_m))
    impedance: NDArray[np.complex128] = np.asarray(1000 * omega * (mu_0 / 8 + 1j * reactance))
    return impedance


def screening_factor(screen_ohm_per_m: Numbers, screen_h_per_m: Numbers, frequency_hz: Numbers) -> Numbers:
    """Return what a continuous screen bonded at both ends leaves of a voltage: abs(R/(R + j·ω·L)).

    Parameters
    ----------
    screen_ohm_per_m : float or array
        Resistance of the screen with its bonds [Ω/m]
    screen_h_per_m : float or array
        Self-inductance of the screen's loop [H/m]
    frequency_hz : float or array
        Frequency [Hz]

    Returns
    -------
    float or array
        Factor, 1 where the screen does nothing [-]

    Notes
    -----
    A thin braid does nearly nothing at 50 Hz. Bonding a screen at both ends is the electrical designer's matter.

    References
    ----------
    CCITT Directives on induction, screening factor, from memory.

    """
    refuse_at_or_below_zero("screen_ohm_per_m", screen_ohm_per_m)
    refuse_outside("screen_h_per_m", screen_h_per_m, 0.0)
    reactance = 2 * np.pi * np.asarray(frequency_hz) * screen_h_per_m
    factor: Numbers = screen_ohm_per_m / np.hypot(screen_ohm_per_m, reactance)
    return factor


def differential_volts(common_volts: Numbers, balance_db: Numbers) -> Numbers:
    """Return what a pair's balance turns of a common voltage into a differential one: V·10^(-LCL/20).

    Parameters
    ----------
    common_volts : float or array
        Common-mode voltage [V]
    balance_db : float or array
        Longitudinal conversion loss [dB]

    Returns
    -------
    float or array
        Differential voltage [V]

    References
    ----------
    ITU-T G.117 defines the loss; from memory.

    """
    refuse_outside("balance_db", balance_db, 0.0)
    volts: Numbers = common_volts * 10.0 ** (-np.asarray(balance_db) / 20.0)
    return volts


def twisted_volts(untwisted_volts: Numbers, lay_m: Numbers, length_m: Numbers) -> Numbers:
    """Return what a twist leaves of a differential voltage: about one odd half lay, V·(lay/2)/L.

    Parameters
    ----------
    untwisted_volts : float or array
        Voltage on the same pair without twist [V]
    lay_m : float or array
        Length of one full twist [m]
    length_m : float or array
        Length alongside, at least half a lay [m]

    Returns
    -------
    float or array
        Differential voltage [V]

    References
    ----------
    Textbooks of electromagnetic compatibility, from memory.

    """
    refuse_at_or_below_zero("lay_m", lay_m)
    refuse_outside("length_m / half lay", 2 * np.asarray(length_m) / lay_m, 1.0)
    return untwisted_volts * (lay_m / 2) / length_m


def coax_hum_volts(screen_volts: Numbers) -> Numbers:
    """Return what reaches the picture of a voltage along the screen of a 75 Ω line: half of it.

    Parameters
    ----------
    screen_volts : float or array
        Voltage dropped along the screen [V]

    Returns
    -------
    float or array
        Voltage at the terminated end [V]

    Notes
    -----
    At mains frequency, both ends terminated and earthed. 7 mV peak is visible (1 % of 0.7 V).

    References
    ----------
    Public notes on ground loops in video; half by the 75/75 Ω divider.

    """
    return screen_volts / 2
