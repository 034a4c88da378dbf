"""Resistance of conductors: area, wire gauge, temperature, cladding; depth of the skin."""

import numpy as np
from scipy.constants import mu_0

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside
from estate.units import COPPER_OHM_MM2_PER_M

COPPER_PER_K = 0.00393
ALUMINIUM_PER_K = 0.00403


def conductor_ohm_per_km(area_mm2: Numbers, conductivity_iacs_percent: Numbers = 100.0) -> Numbers:
    """Return the resistance of a conductor at 20 °C from its area: ρ/A.

    Parameters
    ----------
    area_mm2 : float or array
        Cross-section [mm²]
    conductivity_iacs_percent : float or array
        Conductivity against annealed copper: 100 copper, 62.9 copper-clad aluminium of 10 % by volume,
        64.4 of 15 %, 21, 30 or 40 copper-clad steel [%]

    Returns
    -------
    float or array
        Resistance of one conductor [Ω/km]

    Notes
    -----
    The greatest resistance that IEC 60228 allows is 4.4 to 16 % above this: take its table for a design.

    References
    ----------
    IEC 60028, 1/58 Ω·mm²/m at 20 °C; ASTM B566 and B452 for clad wire.

    """
    refuse_at_or_below_zero("area_mm2", area_mm2)
    refuse_at_or_below_zero("conductivity_iacs_percent", conductivity_iacs_percent)
    return 1000.0 * COPPER_OHM_MM2_PER_M / area_mm2 * (100.0 / conductivity_iacs_percent)


def awg_diameter_mm(awg: Numbers) -> Numbers:
    """Return the diameter of a solid wire of the American wire gauge: 0.127·92^((36 - n)/39).

    Parameters
    ----------
    awg : float or array
        Gauge number, 0 to 40 [-]

    Returns
    -------
    float or array
        Diameter [mm]

    References
    ----------
    ASTM B258, standard nominal diameters of solid round wires.

    """
    refuse_outside("awg", awg, 0.0, 40.0)
    diameter: Numbers = 0.127 * 92.0 ** ((36.0 - np.asarray(awg)) / 39.0)
    return diameter


def awg_area_mm2(awg: Numbers) -> Numbers:
    """Return the area of a solid wire of the American wire gauge.

    Parameters
    ----------
    awg : float or array
        Gauge number, 0 to 40 [-]

    Returns
    -------
    float or array
        Cross-section [mm²]

    References
    ----------
    ASTM B258, standard nominal cross-sections of solid round wires.

    """
    return np.pi / 4 * awg_diameter_mm(awg) ** 2


def resistance_at_temperature(
    resistance_ohm: Numbers, temp_degc: Numbers, alpha_per_k: float = COPPER_PER_K
) -> Numbers:
    """Return a resistance at a temperature from that at 20 °C: R·(1 + α·(T - 20)).

    Parameters
    ----------
    resistance_ohm : float or array
        Resistance at 20 °C; a resistance per length serves as well [Ω]
    temp_degc : float or array
        Temperature of the conductor, -60 to 150 [°C]
    alpha_per_k : float
        Temperature coefficient at 20 °C: 0.00393 copper, 0.00403 aluminium [1/K]

    Returns
    -------
    float or array
        Resistance at the temperature [Ω]

    References
    ----------
    IEC 60287-1-1, table 1, as quoted by a power engineering handbook.

    """
    refuse_outside("resistance_ohm", resistance_ohm, 0.0)
    refuse_outside("temp_degc", temp_degc, -60.0, 150.0)
    return resistance_ohm * (1.0 + alpha_per_k * (temp_degc - 20.0))


def skin_depth_um(frequency_mhz: Numbers, conductivity_s_per_m: float = 58e6) -> Numbers:
    """Return the depth of the skin in a conductor: 1/√(π·f·µ₀·σ).

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    conductivity_s_per_m : float
        Conductivity [S/m]

    Returns
    -------
    float or array
        Depth of the skin [µm]

    Notes
    -----
    A clad wire conducts like copper only where its copper is thicker than the skin: for 24 AWG
    copper-clad aluminium from about 50 to 100 MHz, not from 5 MHz as data sheets say.

    References
    ----------
    D. M. Pozar, Microwave Engineering, section 1.7.

    """
    refuse_at_or_below_zero("frequency_mhz", frequency_mhz)
    depth: Numbers = 1e6 / np.sqrt(np.pi * np.asarray(frequency_mhz) * 1e6 * mu_0 * conductivity_s_per_m)
    return depth
