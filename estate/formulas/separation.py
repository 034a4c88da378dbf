"""Separation from mains: base distance × power factor, and how circuits are counted."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from estate.errors import OutOfRange
from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside

FactorTable = Sequence[tuple[float, float]]
"""Rows of (greatest number of circuits, factor), ascending; the last number is infinite."""


def circuits_of_20a(
    amps: Numbers, phases: Numbers = 1, circuits: Numbers = 1, *, rounding: str = "up", unit_a: float = 20.0
) -> Numbers:
    """Return what mains circuits count for in units of 20 A, 230 V, single phase.

    Parameters
    ----------
    amps : float or array
        Rating of each circuit [A]
    phases : float or array
        Phases of each circuit, 1 or 3 [-]
    circuits : float or array
        Number of circuits alike [-]
    rounding : str
        Parts of 20 A: `up`, the safe reading, or `nearest`; the standard settles neither [-]
    unit_a : float
        Current of one unit [A]

    Returns
    -------
    float or array
        Number of circuits; each counts 1 at least [-]

    References
    ----------
    EN 50174-2:2009, counting of circuits, as quoted by a public text: three phases are three circuits,
    more than 20 A are multiples of 20 A (140 A three-phase: 21).

    """
    refuse_at_or_below_zero("amps", amps)
    refuse_outside("circuits", circuits, 0.0)
    if np.any(~np.isin(np.asarray(phases), (1, 3)) & ~np.isnan(np.asarray(phases, dtype=float))):
        raise OutOfRange(f"phases = {phases}: expected 1 or 3")
    if rounding not in ("up", "nearest"):
        raise OutOfRange(f"rounding = {rounding!r}: expected up or nearest")
    share = np.asarray(amps, dtype=float) / unit_a
    units = np.ceil(share - 1e-9) if rounding == "up" else np.floor(share + 0.5)
    counted: Numbers = np.maximum(units, 1.0) * phases * circuits
    return counted


def power_factor_of_circuits(circuits: Numbers, table: FactorTable) -> Numbers:
    """Return the power cabling factor P of a number of circuits.

    Parameters
    ----------
    circuits : float or array
        Number of circuits of 20 A, 0 or more [-]
    table : sequence of pairs
        Greatest number of circuits and its factor, ascending, the last infinite [-]

    Returns
    -------
    float or array
        Factor; 0 without any circuit, NaN where the number is unknown [-]

    References
    ----------
    EN 50174-2:2009, table 5, as quoted by a public text.

    """
    refuse_outside("circuits", circuits, 0.0)
    upper, factor = np.array(table, dtype=float).T
    count = np.asarray(circuits, dtype=float)
    row = np.minimum(np.searchsorted(upper, count - 1e-9), len(upper) - 1)
    found: Numbers = np.where(np.isnan(count), np.nan, np.where(count == 0, 0.0, factor[row]))[()]
    return found


def separation_mm(base_mm: Numbers, power_factor: Numbers, safety_mm: Numbers = 0.0) -> Numbers:
    """Return the separation required: the larger of S × P and the safety distance.

    Parameters
    ----------
    base_mm : float or array
        Minimum separation S of cable class and metallic barrier [mm]
    power_factor : float or array
        Power cabling factor P [-]
    safety_mm : float or array
        Distance of the safety rule, 0 where it is switched off [mm]

    Returns
    -------
    float or array
        Separation required [mm]

    References
    ----------
    EN 50174-2:2009, tables 4 and 5; BS 6701 and NEC 800.133, 50 mm, as quoted by public texts.

    """
    refuse_outside("base_mm", base_mm, 0.0)
    refuse_outside("power_factor", power_factor, 0.0)
    refuse_outside("safety_mm", safety_mm, 0.0)
    required: Numbers = np.maximum(base_mm * np.asarray(power_factor), safety_mm)
    return required


def counted_circuits(
    distance_mm: NDArray[np.float64], circuits: NDArray[np.float64], base_mm: float, table: FactorTable
) -> float:
    """Return the circuits of all mains runs nearer than the separation that this number itself asks for.

    Parameters
    ----------
    distance_mm : array
        Distance of each run, shape (runs,) [mm]
    circuits : array
        Circuits of 20 A of each run, shape (runs,) [-]
    base_mm : float
        Minimum separation S [mm]
    table : sequence of pairs
        Greatest number of circuits and its factor, ascending, the last infinite [-]

    Returns
    -------
    float
        Circuits that count together, NaN where those of a near run are unknown [-]

    Notes
    -----
    Start from every run within the largest requirement, drop those at or beyond what the rest asks for, repeat
    until nothing drops. Fewer circuits never ask for more, so this ends, at the largest set that holds.

    References
    ----------
    EN 50174-2:2009, circuits in a shared route are summed before the factor is taken (from memory).

    """
    near = distance_mm < base_mm * max(factor for _, factor in table)
    while True:
        total = float(np.sum(circuits[near]))
        required = float(separation_mm(base_mm, power_factor_of_circuits(total, table)))
        still = near & ~(distance_mm >= required)
        if np.array_equal(still, near):
            return total
        near = still


def stack_height_mm(support_mm: Numbers, flat_mm: float = 150.0, per_mm: float = 0.0007) -> Numbers:
    """Return the greatest stacking height of cables: 150/(1 + 0.0007·L).

    Parameters
    ----------
    support_mm : float or array
        Distance between points of support, L [mm]
    flat_mm : float
        Height on a continuous support [mm]
    per_mm : float
        Loss of height by distance of supports [1/mm]

    Returns
    -------
    float or array
        Height [mm]

    References
    ----------
    EN 50174-2, stacking height, from memory: 500 mm 111, 1000 mm 88, 1500 mm 73.

    """
    refuse_outside("support_mm", support_mm, 0.0)
    return flat_mm / (1.0 + per_mm * support_mm)
