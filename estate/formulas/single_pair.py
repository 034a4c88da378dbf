"""Ethernet over one pair (10BASE-T1L)."""

import numpy as np

from estate.formulas.numbers import Numbers, refuse_outside


def single_pair_loss_limit_db(frequency_mhz: Numbers) -> Numbers:
    """Return the insertion loss that a 10BASE-T1L link segment may have.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequency, 0.1 to 20 [MHz]

    Returns
    -------
    float or array
        Loss of the whole link segment [dB]

    Notes
    -----
    10·(1.23·√f + 0.01·f + 0.2/√f) + 10·0.02·√f. From memory, low confidence: not to be the only thing that
    a design rests on. OutOfRange outside 0.1 to 20 MHz.

    References
    ----------
    IEEE 802.3cg, link segment of 10BASE-T1L, from memory.

    """
    refuse_outside("frequency_mhz", frequency_mhz, 0.1, 20.0)
    root = np.sqrt(frequency_mhz)
    return 10 * (1.23 * root + 0.01 * frequency_mhz + 0.2 / root) + 10 * 0.02 * root


def single_pair_reach_m(
    frequency_mhz: Numbers, cable_db_per_100m: Numbers, limit_m: float = 1000.0
) -> Numbers:
    """Return how far 10BASE-T1L goes on a pair: its loss limit over the cable's loss, least of all frequencies.

    Parameters
    ----------
    frequency_mhz : float or array
        Frequencies to judge at, 0.1 to 20 [MHz]
    cable_db_per_100m : float or array
        Attenuation of the pair at each frequency [dB/100 m]
    limit_m : float
        Greatest length of the link segment [m]

    Returns
    -------
    float
        Reach [m]

    References
    ----------
    IEEE 802.3cg, link segment of 10BASE-T1L; loss limit from memory.

    """
    allowed_db = single_pair_loss_limit_db(frequency_mhz)
    reach: Numbers = np.minimum(np.min(100.0 * allowed_db / np.asarray(cable_db_per_100m)), limit_m)
    return reach
