"""Coaxial cable from its geometry: loss, impedance, capacitance."""

import numpy as np
from scipy.constants import epsilon_0, mu_0, speed_of_light

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside
from estate.units import DB_PER_NEPER

COPPER_S_PER_M = 58e6
VACUUM_OHM = 376.730_313_668
LEAST_MHZ = 1.0
"""Below this the skin is no longer thin beside the conductor and the closed form is wrong [MHz]."""


def surface_resistance_ohm(frequency_mhz: Numbers, conductivity_s_per_m: float = COPPER_S_PER_M) -> Numbers:
    """Return the resistance of a conductor's surface: √(π·f·µ₀/σ).

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    conductivity_s_per_m : float
        Conductivity [S/m]

    Returns
    -------
    float or array
        Surface resistance [Ω]

    References
    ----------
    D. M. Pozar, Microwave Engineering, section 1.7.

    """
    refuse_at_or_below_zero("frequency_mhz", frequency_mhz)
    refuse_at_or_below_zero("conductivity_s_per_m", conductivity_s_per_m)
    root: Numbers = np.sqrt(np.pi * np.asarray(frequency_mhz) * 1e6 * mu_0 / conductivity_s_per_m)
    return root


def coax_conductor_loss_np_per_m(
    frequency_mhz: Numbers,
    inner_mm: Numbers,
    outer_mm: Numbers,
    permittivity: Numbers,
    conductivity_s_per_m: float = COPPER_S_PER_M,
) -> Numbers:
    """Return the loss in the conductors: Rs/(2·η·ln(b/a))·(1/a + 1/b).

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    inner_mm : float or array
        Diameter of the centre [mm]
    outer_mm : float or array
        Inside diameter of the screen, the dielectric's diameter [mm]
    permittivity : float or array
        Relative permittivity of the dielectric [-]
    conductivity_s_per_m : float
        Conductivity of both conductors [S/m]

    Returns
    -------
    float or array
        Attenuation [Np/m]

    Notes
    -----
    Smooth solid conductors and a thin skin: from 1 MHz, OutOfRange below; 3 % low at 5 MHz against Bessel
    surface impedance. Braid and stranding add 5 to 18 %.

    References
    ----------
    D. M. Pozar, Microwave Engineering, section 2.2 and example 6.1.

    """
    refuse_outside("frequency_mhz", frequency_mhz, LEAST_MHZ)
    ratio = _diameter_ratio(inner_mm, outer_mm)
    eta = VACUUM_OHM / np.sqrt(permittivity)
    a_m, b_m = np.asarray(inner_mm) / 2000, np.asarray(outer_mm) / 2000
    surface_ohm = surface_resistance_ohm(frequency_mhz, conductivity_s_per_m)
    loss: Numbers = surface_ohm / (2 * eta * np.log(ratio)) * (1 / a_m + 1 / b_m)
    return loss


def coax_dielectric_loss_np_per_m(
    frequency_mhz: Numbers, permittivity: Numbers, loss_tangent: Numbers
) -> Numbers:
    """Return the loss in the dielectric: k·tan δ/2 with k = 2·π·f·√εr/c.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    permittivity : float or array
        Relative permittivity of the dielectric [-]
    loss_tangent : float or array
        Loss tangent of the dielectric [-]

    Returns
    -------
    float or array
        Attenuation [Np/m]

    References
    ----------
    D. M. Pozar, Microwave Engineering, section 2.2 and example 6.1.

    """
    refuse_at_or_below_zero("frequency_mhz", frequency_mhz)
    refuse_outside("permittivity", permittivity, 1.0)
    refuse_outside("loss_tangent", loss_tangent, 0.0)
    wave = 2 * np.pi * np.asarray(frequency_mhz) * 1e6 * np.sqrt(permittivity) / speed_of_light
    loss: Numbers = wave * loss_tangent / 2
    return loss


def coax_attenuation_db_per_100m(
    frequency_mhz: Numbers,
    inner_mm: Numbers,
    outer_mm: Numbers,
    permittivity: Numbers,
    loss_tangent: Numbers,
    conductivity_s_per_m: float = COPPER_S_PER_M,
) -> Numbers:
    """Return the attenuation of a coaxial cable from its geometry.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency, from 1 [MHz]
    inner_mm : float or array
        Diameter of the centre [mm]
    outer_mm : float or array
        Inside diameter of the screen [mm]
    permittivity : float or array
        Relative permittivity of the dielectric [-]
    loss_tangent : float or array
        Loss tangent of the dielectric [-]
    conductivity_s_per_m : float
        Conductivity of both conductors [S/m]

    Returns
    -------
    float or array
        Attenuation [dB/100 m]

    References
    ----------
    D. M. Pozar, Microwave Engineering, section 2.2.

    """
    conductor = coax_conductor_loss_np_per_m(
        frequency_mhz, inner_mm, outer_mm, permittivity, conductivity_s_per_m
    )
    dielectric = coax_dielectric_loss_np_per_m(frequency_mhz, permittivity, loss_tangent)
    return 100 * DB_PER_NEPER * (conductor + dielectric)


def coax_impedance_ohm(inner_mm: Numbers, outer_mm: Numbers, permittivity: Numbers) -> Numbers:
    """Return the characteristic impedance of a coaxial cable: (η/2π)·ln(b/a).

    Parameters
    ----------
    inner_mm : float or array
        Diameter of the centre [mm]
    outer_mm : float or array
        Inside diameter of the screen [mm]
    permittivity : float or array
        Relative permittivity of the dielectric [-]

    Returns
    -------
    float or array
        Characteristic impedance [Ω]

    References
    ----------
    D. M. Pozar, Microwave Engineering, table 2.1.

    """
    refuse_outside("permittivity", permittivity, 1.0)
    ratio = _diameter_ratio(inner_mm, outer_mm)
    impedance: Numbers = VACUUM_OHM / (2 * np.pi * np.sqrt(permittivity)) * np.log(ratio)
    return impedance


def coax_capacitance_pf_per_m(inner_mm: Numbers, outer_mm: Numbers, permittivity: Numbers) -> Numbers:
    """Return the capacitance of a coaxial cable: 2·π·ε/ln(b/a).

    Parameters
    ----------
    inner_mm : float or array
        Diameter of the centre [mm]
    outer_mm : float or array
        Inside diameter of the screen [mm]
    permittivity : float or array
        Relative permittivity of the dielectric [-]

    Returns
    -------
    float or array
        Capacitance [pF/m]

    References
    ----------
    D. M. Pozar, Microwave Engineering, table 2.1.

    """
    refuse_outside("permittivity", permittivity, 1.0)
    ratio = _diameter_ratio(inner_mm, outer_mm)
    capacitance: Numbers = 2 * np.pi * epsilon_0 * 1e12 * np.asarray(permittivity) / np.log(ratio)
    return capacitance


def _diameter_ratio(inner_mm: Numbers, outer_mm: Numbers) -> Numbers:
    """Return b/a, refusing a screen that isn't outside the centre."""
    refuse_at_or_below_zero("inner_mm", inner_mm)
    ratio: Numbers = np.asarray(outer_mm) / np.asarray(inner_mm)
    refuse_at_or_below_zero("outer_mm / inner_mm - 1", ratio - 1)
    return ratio
