"""What fits into containment, and what pulling and hanging do to a cable."""

import numpy as np
from numpy.typing import NDArray

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def fill_percent(od_mm: Numbers, bore_mm: float) -> float:
    """Return how much of a round bore cables take: 100·Σ OD²/ID².

    Parameters
    ----------
    od_mm : float or array
        Overall diameter of each cable [mm]
    bore_mm : float
        Inside diameter [mm]

    Returns
    -------
    float
        Fill, NaN where a diameter is unknown [%]

    References
    ----------
    NEC, chapter 9, table 1: 53 % one cable, 31 % two, 40 % more, as quoted by public texts.

    """
    refuse_at_or_below_zero("bore_mm", bore_mm)
    refuse_outside("od_mm", od_mm, 0.0)
    return float(100.0 * np.sum(np.square(od_mm)) / bore_mm**2)


def area_fill_percent(cable_area_mm2: Numbers, inside_area_mm2: float) -> float:
    """Return how much of a rectangular inside cables take.

    Parameters
    ----------
    cable_area_mm2 : float or array
        Area of each cable, a circle on its major axis [mm²]
    inside_area_mm2 : float
        Inside area of trunking, tray or basket [mm²]

    Returns
    -------
    float
        Fill, NaN where an area is unknown [%]

    References
    ----------
    IET On-Site Guide, trunking not in tables: space factor 45 %, as quoted by public texts.

    """
    refuse_at_or_below_zero("inside_area_mm2", inside_area_mm2)
    refuse_outside("cable_area_mm2", cable_area_mm2, 0.0)
    return float(100.0 * np.sum(cable_area_mm2) / inside_area_mm2)


def bent_fill_limit_percent(limit_percent: Numbers, bends: Numbers, per_bend: float = 0.15) -> Numbers:
    """Return a fill limit lowered for right-angle bends.

    Parameters
    ----------
    limit_percent : float or array
        Limit of a straight conduit [%]
    bends : float or array
        Number of right-angle bends, 0 to 6 [-]
    per_bend : float
        Share lost by each bend [-]

    Returns
    -------
    float or array
        Limit [%]

    Notes
    -----
    A rule of thumb of doubtful origin: for comparison only.

    References
    ----------
    Trade column, 40 % with two bends is 28 %.

    """
    refuse_outside("bends", bends, 0.0, 6.0)
    return limit_percent * (1.0 - per_bend * bends)


def straight_tension_n(
    tension_in_n: Numbers,
    weight_n_per_m: Numbers,
    length_m: Numbers,
    friction: Numbers,
    slope_deg: Numbers = 0.0,
) -> Numbers:
    """Return the pulling tension after a straight stretch: T + w·L·(sin α + µ·cos α).

    Parameters
    ----------
    tension_in_n : float or array
        Tension at its start [N]
    weight_n_per_m : float or array
        Weight of the cables [N/m]
    length_m : float or array
        Length [m]
    friction : float or array
        Coefficient of friction [-]
    slope_deg : float or array
        Slope in the direction of the pull, up positive, -90 to 90 [°]

    Returns
    -------
    float or array
        Tension at its end, not below 0 [N]

    References
    ----------
    Public cable-pulling guides.

    """
    refuse_outside("tension_in_n", tension_in_n, 0.0)
    refuse_outside("weight_n_per_m", weight_n_per_m, 0.0)
    refuse_outside("length_m", length_m, 0.0)
    refuse_outside("friction", friction, 0.0)
    refuse_outside("slope_deg", slope_deg, -90.0, 90.0)
    angle = np.radians(slope_deg)
    along = np.sin(angle) + friction * np.cos(angle)
    tension: Numbers = np.maximum(tension_in_n + np.asarray(weight_n_per_m) * length_m * along, 0.0)
    return tension


def bend_tension_n(tension_in_n: Numbers, friction: Numbers, bend_deg: Numbers) -> Numbers:
    """Return the pulling tension after a bend: T·e^(µ·θ), the capstan equation.

    Parameters
    ----------
    tension_in_n : float or array
        Tension before the bend [N]
    friction : float or array
        Coefficient of friction [-]
    bend_deg : float or array
        Angle of the bend [°]

    Returns
    -------
    float or array
        Tension after the bend [N]

    References
    ----------
    Euler-Eytelwein; public cable-pulling guides: 36 lbf, µ 0.5, 90° is 79 lbf.

    """
    refuse_outside("tension_in_n", tension_in_n, 0.0)
    refuse_outside("friction", friction, 0.0)
    refuse_outside("bend_deg", bend_deg, 0.0)
    tension: Numbers = tension_in_n * np.exp(friction * np.radians(bend_deg))
    return tension


def sidewall_n_per_m(tension_n: Numbers, radius_m: Numbers) -> Numbers:
    """Return the pressure of a cable on the inside of a bend: T/R.

    Parameters
    ----------
    tension_n : float or array
        Tension after the bend [N]
    radius_m : float or array
        Radius of the bend [m]

    Returns
    -------
    float or array
        Sidewall pressure [N/m]

    References
    ----------
    Public cable-pulling guides: 144 lbf round 2 ft is 72 lbf/ft.

    """
    refuse_outside("tension_n", tension_n, 0.0)
    refuse_at_or_below_zero("radius_m", radius_m)
    return tension_n / radius_m


def jams(bore_mm: Numbers, od_mm: Numbers, cables: Numbers) -> NDArray[np.bool_]:
    """Whether three cables alike can jam side by side in a bend.

    Parameters
    ----------
    bore_mm : float or array
        Inside diameter [mm]
    od_mm : float or array
        Overall diameter of each cable [mm]
    cables : float or array
        Number of cables [-]

    Returns
    -------
    bool or array
        True for three cables with a ratio of 2.8 to 3.2 [-]

    References
    ----------
    NEC, chapter 9, note to table 1, as quoted by public texts.

    """
    refuse_at_or_below_zero("od_mm", od_mm)
    ratio = np.asarray(bore_mm) / od_mm
    found: NDArray[np.bool_] = (np.asarray(cables) == 3) & (ratio >= 2.8) & (ratio <= 3.2)
    return found


def sag_m(weight_n_per_m: Numbers, span_m: Numbers, tension_n: Numbers) -> Numbers:
    """Return the sag of a level span: (H/w)·(cosh(w·L/2H) - 1).

    Parameters
    ----------
    weight_n_per_m : float or array
        Weight of strand and cables [N/m]
    span_m : float or array
        Distance of the supports [m]
    tension_n : float or array
        Horizontal tension [N]

    Returns
    -------
    float or array
        Sag at mid-span [m]

    Notes
    -----
    Without wind, ice or stretch: those are the structural designer's. The parabola w·L²/8H is 2 % low where
    the sag is an eighth of the span.

    References
    ----------
    Catenary, any textbook of statics.

    """
    refuse_at_or_below_zero("weight_n_per_m", weight_n_per_m)
    refuse_outside("span_m", span_m, 0.0)
    refuse_at_or_below_zero("tension_n", tension_n)
    constant_m = np.asarray(tension_n) / weight_n_per_m
    sag: Numbers = constant_m * (np.cosh(np.asarray(span_m) / (2 * constant_m)) - 1)
    return sag
