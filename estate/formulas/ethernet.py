"""Ethernet over balanced pairs: what heat, cords and connectors leave of its length."""

import numpy as np

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def insertion_loss_temperature_factor(
    temp_degc: Numbers,
    *,
    screened: bool,
    to_40_per_k: float = 0.004,
    above_40_per_k: float = 0.006,
    screened_per_k: float = 0.002,
) -> Numbers:
    """Return how much the insertion loss of balanced cable grows from 20 °C.

    Parameters
    ----------
    temp_degc : float or array
        Temperature of the cable, 20 to 60 [°C]
    screened : bool
        Whether the cable is screened [-]
    to_40_per_k : float
        Growth of unscreened cable up to 40 °C [1/K]
    above_40_per_k : float
        Growth of unscreened cable above 40 °C [1/K]
    screened_per_k : float
        Growth of screened cable [1/K]

    Returns
    -------
    float or array
        Factor on the loss in dB, 1 at 20 °C [-]

    Notes
    -----
    OutOfRange outside 20 to 60 °C. Both steps add: 1.08 at 40 °C and 1.20 at 60 °C unscreened.

    References
    ----------
    ANSI/TIA-568-C.2, 6.4.7, as quoted on an IEEE 802.3 reflector.

    """
    refuse_outside("temp_degc", temp_degc, 20.0, 60.0)
    above_20 = np.asarray(temp_degc, dtype=float) - 20.0
    if screened:
        factor: Numbers = 1.0 + screened_per_k * above_20
    else:
        factor = (
            1.0 + to_40_per_k * np.minimum(above_20, 20.0) + above_40_per_k * np.maximum(above_20 - 20.0, 0)
        )
    return factor


def fixed_part_limit_m(temp_degc: Numbers, *, screened: bool, limit_m: Numbers = 90.0) -> Numbers:
    """Return the fixed part that loses no more when hot than its limit at 20 °C.

    Parameters
    ----------
    temp_degc : float or array
        Temperature of the cable, 20 to 60 [°C]
    screened : bool
        Whether the cable is screened [-]
    limit_m : float or array
        Fixed part at 20 °C [m]

    Returns
    -------
    float or array
        Fixed part [m]

    Notes
    -----
    TIA's own table is a little kinder at 40 °C (84.0 m against 83.3 m; from memory).

    References
    ----------
    ANSI/TIA-568-C.2, 6.4.7, as quoted on an IEEE 802.3 reflector.

    """
    refuse_outside("limit_m", limit_m, 0.0)
    return limit_m / insertion_loss_temperature_factor(temp_degc, screened=screened)


def connector_loss_db(frequency_mhz: Numbers, per_root_mhz: Numbers, floor_db: float = 0.1) -> Numbers:
    """Return the insertion loss of one mated connector: k·√f, not below a floor.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    per_root_mhz : float or array
        Loss at 1 MHz: 0.04 Category 5e, 0.02 Category 6 and better [dB/√MHz]
    floor_db : float
        Least loss that is counted [dB]

    Returns
    -------
    float or array
        Loss of one connector [dB]

    References
    ----------
    ANSI/TIA-568-C.2, connecting hardware, as quoted by a public summary.

    """
    refuse_at_or_below_zero("frequency_mhz", frequency_mhz)
    loss: Numbers = np.maximum(per_root_mhz * np.sqrt(frequency_mhz), floor_db)
    return loss


def channel_loss_db(
    frequency_mhz: Numbers,
    cable_db_per_100m: Numbers,
    length_factor: float,
    connector_per_root_mhz: Numbers,
    connectors: int = 4,
    deviation: float = 0.0,
) -> Numbers:
    """Return the insertion loss of a 100 m channel: cable, cords, connectors.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    cable_db_per_100m : float or array
        Attenuation of the solid cable at that frequency [dB/100 m]
    length_factor : float
        90 m and 10 m of cords in units of 100 m: 1.02 TIA, 1.05 ISO/IEC [-]
    connector_per_root_mhz : float or array
        Loss of one connector at 1 MHz, without floor [dB/√MHz]
    connectors : int
        Number of connectors [-]
    deviation : float
        Allowance that grows with f^1.5, TIA Category 6 only: 0.0003 [dB/MHz^1.5]

    Returns
    -------
    float or array
        Loss of the channel [dB]

    Notes
    -----
    The factor and the cable's constants must come from the same body.

    References
    ----------
    ISO/IEC 11801:2002, channel equations, as quoted by an IEEE 802.3 task force contribution, March 2004;
    ANSI/TIA-568-C.2, channel.

    """
    refuse_at_or_below_zero("frequency_mhz", frequency_mhz)
    root = np.sqrt(frequency_mhz)
    return (
        length_factor * cable_db_per_100m + connectors * connector_per_root_mhz * root + deviation * root**3
    )


def cords_limit_m(fixed_part_m: Numbers, extra_loss: Numbers) -> Numbers:
    """Return the total length of cords beside a fixed part: (102 - H)/(1 + D).

    Parameters
    ----------
    fixed_part_m : float or array
        Fixed part, 0 to 90 [m]
    extra_loss : float or array
        Extra loss of the stranded cord: 0.2 of 24 AWG, 0.5 of 26 AWG [-]

    Returns
    -------
    float or array
        Cords at both ends together [m]

    Notes
    -----
    OutOfRange beyond 90 m. Work area cords may be at most 22 m of 24 AWG.

    References
    ----------
    TIA/EIA-568-B.1 (2001), 6.4.1.4, open office cabling, as quoted in public course notes.

    """
    refuse_outside("fixed_part_m", fixed_part_m, 0.0, 90.0)
    refuse_outside("extra_loss", extra_loss, 0.0)
    return (102.0 - fixed_part_m) / (1.0 + extra_loss)
