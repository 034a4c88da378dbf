"""What reaches a camera as power over conductors: a load of constant power on a resistive loop."""

import numpy as np

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def loop_resistance_ohm(
    conductor_ohm_per_km: Numbers, length_m: Numbers, out: Numbers = 1, back: Numbers = 1
) -> Numbers:
    """Return the loop of a feed, conductors in parallel out and back counted apart.

    Parameters
    ----------
    conductor_ohm_per_km : float or array
        Resistance of one conductor [Ω/km]
    length_m : float or array
        Length of the cable, one way [m]
    out : float or array
        Conductors in parallel out, 1 or more [-]
    back : float or array
        Conductors in parallel back, 1 or more [-]

    Returns
    -------
    float or array
        Resistance out and back [Ω]

    References
    ----------
    Ohm's law; two out and one back is r/2 + r.

    """
    refuse_outside("conductor_ohm_per_km", conductor_ohm_per_km, 0.0)
    refuse_outside("length_m", length_m, 0.0)
    refuse_outside("out", out, 1.0)
    refuse_outside("back", back, 1.0)
    return conductor_ohm_per_km * length_m / 1000.0 * (1.0 / out + 1.0 / back)


def coax_loop_ohm(centre_ohm_per_km: Numbers, screen_ohm_per_km: Numbers, length_m: Numbers) -> Numbers:
    """Return the loop of a feed out over the centre of a coaxial cable and back over its braid.

    Parameters
    ----------
    centre_ohm_per_km : float or array
        Resistance of the centre [Ω/km]
    screen_ohm_per_km : float or array
        Resistance of the braid [Ω/km]
    length_m : float or array
        Length of the cable, one way [m]

    Returns
    -------
    float or array
        Resistance out and back [Ω]

    References
    ----------
    Ohm's law; a copper-clad steel centre has three to five times the resistance of copper (ASTM B452).

    """
    refuse_outside("centre_ohm_per_km", centre_ohm_per_km, 0.0)
    refuse_outside("screen_ohm_per_km", screen_ohm_per_km, 0.0)
    refuse_outside("length_m", length_m, 0.0)
    return (centre_ohm_per_km + screen_ohm_per_km) * length_m / 1000.0


def volts_at_load(source_volts: Numbers, load_w: Numbers, loop_ohm: Numbers) -> Numbers:
    """Return the volts at a load of constant power: (Vs + √(Vs² - 4·P·R))/2.

    Parameters
    ----------
    source_volts : float or array
        Volts at the source [V]
    load_w : float or array
        Power of the load [W]
    loop_ohm : float or array
        Resistance out and back [Ω]

    Returns
    -------
    float or array
        Volts at the load, NaN where there is no working point or an argument is unknown [V]

    Notes
    -----
    The upper root; the lower one is unstable. P·R may be at most Vs²/4.

    References
    ----------
    Kirchhoff's laws for a source, a resistance and a load of constant power; IEEE 802.3 states the same
    anchors for its types (44 V, 20 Ω, 12.95 W gives 37 V).

    """
    _refuse_feed(source_volts, load_w, loop_ohm)
    room = np.square(np.asarray(source_volts, dtype=float)) - 4.0 * np.asarray(load_w) * loop_ohm
    room = np.where(np.abs(room) < 1e-12 * np.square(source_volts), 0.0, room)
    volts: Numbers = (source_volts + np.sqrt(np.where(room >= 0, room, np.nan))) / 2.0
    return volts


def volts_at_ac_load(
    source_volts: Numbers, load_w: Numbers, loop_ohm: Numbers, power_factor: Numbers = 1.0
) -> Numbers:
    """Return the magnitude of the volts at an AC load of constant power on a resistive loop.

    Parameters
    ----------
    source_volts : float or array
        Volts at the source, r.m.s. [V]
    load_w : float or array
        Active power of the load [W]
    loop_ohm : float or array
        Resistance out and back [Ω]
    power_factor : float or array
        Power factor of the load, above 0 to 1 [-]

    Returns
    -------
    float or array
        Volts at the load, r.m.s., NaN where there is no working point [V]

    Notes
    -----
    x = V² solves x² - (Vs² - 2·P·R)·x + (P·R/cos φ)² = 0; power factor 1 gives `volts_at_load`.

    References
    ----------
    Two-bus voltage equation of power system textbooks (P. Kundur, Power System Stability and Control, 14.1).

    """
    _refuse_feed(source_volts, load_w, loop_ohm)
    refuse_at_or_below_zero("power_factor", power_factor)
    refuse_outside("power_factor", power_factor, 0.0, 1.0)
    drop = np.asarray(load_w, dtype=float) * loop_ohm
    half = np.square(source_volts) / 2.0 - drop
    room = np.square(half) - np.square(drop / power_factor)
    room = np.where(np.abs(room) < 1e-12 * np.square(half), 0.0, room)
    works = (half >= 0) & (room >= 0)
    volts: Numbers = np.sqrt(np.where(works, half + np.sqrt(np.where(works, room, 0.0)), np.nan))[()]
    return volts


def greatest_load_w(source_volts: Numbers, loop_ohm: Numbers, volts_min: Numbers = 0.0) -> Numbers:
    """Return the greatest load of constant power that a feed carries at a least voltage.

    Parameters
    ----------
    source_volts : float or array
        Volts at the source [V]
    loop_ohm : float or array
        Resistance out and back [Ω]
    volts_min : float or array
        Least volts at the load; below half the source volts the working point governs [V]

    Returns
    -------
    float or array
        Power of the load [W]

    References
    ----------
    Maximum power transfer, Vs²/(4·R), and V·(Vs - V)/R above it.

    """
    refuse_at_or_below_zero("source_volts", source_volts)
    refuse_at_or_below_zero("loop_ohm", loop_ohm)
    volts = np.maximum(volts_min, np.asarray(source_volts, dtype=float) / 2.0)
    load: Numbers = np.maximum(volts * (source_volts - volts), 0.0) / loop_ohm
    return load


def greatest_loop_ohm(source_volts: Numbers, load_w: Numbers, volts_min: Numbers = 0.0) -> Numbers:
    """Return the greatest loop over which a load of constant power keeps a least voltage.

    Parameters
    ----------
    source_volts : float or array
        Volts at the source [V]
    load_w : float or array
        Power of the load [W]
    volts_min : float or array
        Least volts at the load; below half the source volts the working point governs [V]

    Returns
    -------
    float or array
        Resistance out and back [Ω]

    References
    ----------
    Maximum power transfer, Vs²/(4·P), and V·(Vs - V)/P above it.

    """
    refuse_at_or_below_zero("load_w", load_w)
    return greatest_load_w(source_volts, load_w, volts_min)  # the same expression, R and P change places


def linear_drop_volts(current_a: Numbers, loop_ohm: Numbers) -> Numbers:
    """Return the drop of a constant current: I·R.

    Parameters
    ----------
    current_a : float or array
        Current [A]
    loop_ohm : float or array
        Resistance out and back [Ω]

    Returns
    -------
    float or array
        Volts lost on the loop [V]

    Notes
    -----
    For comparison with printed tables. With I = P/V at the source it under-states the drop of a camera,
    which takes constant power; so does a table that counts the length one way.

    References
    ----------
    Ohm's law.

    """
    refuse_outside("current_a", current_a, 0.0)
    refuse_outside("loop_ohm", loop_ohm, 0.0)
    return current_a * loop_ohm


def _refuse_feed(source_volts: Numbers, load_w: Numbers, loop_ohm: Numbers) -> None:
    refuse_at_or_below_zero("source_volts", source_volts)
    refuse_outside("load_w", load_w, 0.0)
    refuse_outside("loop_ohm", loop_ohm, 0.0)
