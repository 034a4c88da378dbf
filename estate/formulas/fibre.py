"""Fibre: loss of a channel, margin of a budget, reach by modal bandwidth."""

from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def fibre_loss_db(
    length_m: Numbers,
    loss_db_per_km: Numbers,
    connectors: Numbers = 2,
    splices: Numbers = 0,
    connector_db: float = 0.75,
    splice_db: float = 0.3,
) -> Numbers:
    """Return the loss of a fibre channel: fibre, mated connectors, splices.

    Parameters
    ----------
    length_m : float or array
        Length [m]
    loss_db_per_km : float or array
        Loss of the cabled fibre at the wavelength [dB/km]
    connectors : float or array
        Number of mated connectors [-]
    splices : float or array
        Number of splices [-]
    connector_db : float
        Loss of one mated connector [dB]
    splice_db : float
        Loss of one splice [dB]

    Returns
    -------
    float or array
        Loss [dB]

    References
    ----------
    ANSI/TIA-568.3, connector 0.75 dB, splice 0.3 dB, as quoted by public guides.

    """
    refuse_outside("length_m", length_m, 0.0)
    refuse_outside("loss_db_per_km", loss_db_per_km, 0.0)
    refuse_outside("connectors", connectors, 0.0)
    refuse_outside("splices", splices, 0.0)
    return length_m / 1000.0 * loss_db_per_km + connectors * connector_db + splices * splice_db


def fibre_margin_db(budget_db: Numbers, loss_db: Numbers, penalty_db: Numbers = 0.0) -> Numbers:
    """Return what is left of a power budget.

    Parameters
    ----------
    budget_db : float or array
        Least power sent over least power needed [dB]
    loss_db : float or array
        Loss of the channel [dB]
    penalty_db : float or array
        Further penalties: higher-order modes, clock recovery [dB]

    Returns
    -------
    float or array
        Margin [dB]

    References
    ----------
    Link-budget worked examples of a public hardware guide.

    """
    return budget_db - loss_db - penalty_db


def modal_reach_m(modal_mhz_km: Numbers, needed_mhz: Numbers) -> Numbers:
    """Return the length over which a multimode fibre keeps a bandwidth.

    Parameters
    ----------
    modal_mhz_km : float or array
        Modal bandwidth of the fibre for the launch in use [MHz·km]
    needed_mhz : float or array
        Bandwidth that the application needs [MHz]

    Returns
    -------
    float or array
        Reach by modal bandwidth [m]

    Notes
    -----
    Both limits must hold: this and the loss. IEEE 802.3's own reach table governs where it has the fibre.

    References
    ----------
    IEEE 802.3, 1000BASE-SX on 62.5 µm fibre: 160 MHz·km 220 m, 200 MHz·km 275 m, 727 MHz both.

    """
    refuse_outside("modal_mhz_km", modal_mhz_km, 0.0)
    refuse_at_or_below_zero("needed_mhz", needed_mhz)
    return 1000.0 * modal_mhz_km / needed_mhz
