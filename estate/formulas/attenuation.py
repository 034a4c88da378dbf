"""How much a signal loses on a cable, and how far it goes on a loss."""

import numpy as np

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside

LEAST_MHZ = 0.772
"""Below this the c/√f term makes the curve wrong [MHz]."""


def attenuation_db_per_100m(
    frequency_mhz: Numbers,
    a: Numbers,
    b: Numbers = 0.0,
    c: Numbers = 0.0,
    from_mhz: float = LEAST_MHZ,
    to_mhz: float = np.inf,
) -> Numbers:
    """Return the attenuation of a cable at 20 °C: a·√f + b·f + c/√f.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency [MHz]
    a : float or array
        Conductor loss at 1 MHz [dB/100 m]
    b : float or array
        Dielectric loss at 1 MHz [dB/100 m]
    c : float or array
        Loss that falls with frequency, at 1 MHz [dB/100 m]
    from_mhz : float
        Least frequency that the constants hold for [MHz]
    to_mhz : float
        Greatest frequency that the constants hold for [MHz]

    Returns
    -------
    float or array
        Attenuation [dB/100 m]

    Notes
    -----
    OutOfRange outside `from_mhz` to `to_mhz`. Constants of one standard go with that standard's channel rule
    only: TIA and ISO print two sets for Category 5e and for Category 6.

    References
    ----------
    ANSI/TIA-568-C.2 (2009), 6.4.7, cable insertion loss; ISO/IEC 11801:2002, cable equations.

    """
    refuse_outside("frequency_mhz", frequency_mhz, from_mhz, to_mhz)
    root = np.sqrt(frequency_mhz)
    return a * root + b * frequency_mhz + c / root


def length_for_loss_m(limit_db: Numbers, loss_db_per_100m: Numbers) -> Numbers:
    """Return the length on which a cable loses a given number of decibels.

    Parameters
    ----------
    limit_db : float or array
        Loss allowed [dB]
    loss_db_per_100m : float or array
        Attenuation of the cable [dB/100 m]

    Returns
    -------
    float or array
        Length [m]

    References
    ----------
    SMPTE ST 292-1 and ST 424: 20 dB at half the clock, as stated in a public technical note.

    """
    refuse_outside("limit_db", limit_db, 0.0)
    refuse_at_or_below_zero("loss_db_per_100m", loss_db_per_100m)
    return 100.0 * limit_db / loss_db_per_100m


def half_clock_mhz(rate_mbps: Numbers) -> Numbers:
    """Return the frequency at which a serial digital video line is judged: half its clock.

    Parameters
    ----------
    rate_mbps : float or array
        Bit rate on the line [Mb/s]

    Returns
    -------
    float or array
        Half the clock [MHz]

    Notes
    -----
    Two-level lines of ST 292-1 and ST 424, limit 20 dB there. The 40 dB rule belongs to ST 2081 and ST 2082 only.

    References
    ----------
    SMPTE ST 292-1 (1.485 Gb/s), ST 424 (2.97 Gb/s).

    """
    refuse_at_or_below_zero("rate_mbps", rate_mbps)
    return rate_mbps / 2


def counted_length_m(length_m: Numbers, joints: Numbers, joint_reach_m: float = 50.0) -> Numbers:
    """Return the length that counts against a trade reach: each joint costs some of it.

    Parameters
    ----------
    length_m : float or array
        Cable length [m]
    joints : float or array
        Number of joints that are unknown or bad [-]
    joint_reach_m : float
        Reach that one joint costs [m]

    Returns
    -------
    float or array
        Counted length [m]

    Notes
    -----
    A joint counts either here or in decibels, never in both.

    References
    ----------
    Trade rule, a joint is about 50 m of cable: common practice, no source.

    """
    refuse_outside("length_m", length_m, 0.0)
    refuse_outside("joints", joints, 0.0)
    return length_m + joint_reach_m * joints


def volts_after_loss(volts: Numbers, loss_db: Numbers) -> Numbers:
    """Return what is left of a voltage after a loss, both ends at the same impedance.

    Parameters
    ----------
    volts : float or array
        Voltage sent [V]
    loss_db : float or array
        Loss on the way [dB]

    Returns
    -------
    float or array
        Voltage received [V]

    References
    ----------
    The decibel as a ratio of voltages, 20·log10(U1/U2): IEC 60027-3, from memory.

    """
    refuse_outside("volts", volts, 0.0)
    refuse_outside("loss_db", loss_db, 0.0)
    return volts * 10.0 ** (-np.asarray(loss_db) / 20.0)
