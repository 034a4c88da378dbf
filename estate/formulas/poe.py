"""Power over Ethernet: what a port must give for what a device takes."""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq

from estate.formulas.dc_feed import volts_at_load
from estate.formulas.numbers import Numbers, refuse_at_or_below_zero, refuse_outside


def device_volts(port_volts: Numbers, loop_ohm: Numbers, device_w: Numbers) -> Numbers:
    """Return the volts at a powered device.

    Parameters
    ----------
    port_volts : float or array
        Volts at the port [V]
    loop_ohm : float or array
        Loop over the powered pair sets: two conductors in parallel each way for two pairs, four for four [Ω]
    device_w : float or array
        Power of the device [W]

    Returns
    -------
    float or array
        Volts at the device, NaN where there is no working point [V]

    References
    ----------
    IEEE 802.3 (af, at, bt), types 1 to 4.

    """
    return volts_at_load(port_volts, device_w, loop_ohm)


def port_power_w(port_volts: Numbers, loop_ohm: Numbers, device_w: Numbers) -> Numbers:
    """Return the power that leaves the port: device and cable.

    Parameters
    ----------
    port_volts : float or array
        Volts at the port [V]
    loop_ohm : float or array
        Loop over the powered pair sets [Ω]
    device_w : float or array
        Power of the device [W]

    Returns
    -------
    float or array
        Power at the port, NaN where there is no working point [W]

    References
    ----------
    IEEE 802.3 (af, at, bt), types 1 to 4: 12.95 W at the device is 15.4 W at the port.

    """
    return port_volts * np.asarray(device_w) / device_volts(port_volts, loop_ohm, device_w)


def loop_from_type_ohm(port_volts: Numbers, device_volts_min: Numbers, current_a: Numbers) -> Numbers:
    """Return the greatest channel loop that a type's own figures imply.

    Parameters
    ----------
    port_volts : float or array
        Least volts at the port [V]
    device_volts_min : float or array
        Least volts at the device [V]
    current_a : float or array
        Greatest current of all pair sets together [A]

    Returns
    -------
    float or array
        Loop [Ω]

    References
    ----------
    IEEE 802.3 (af, at, bt): (44 - 37)/0.35 = 20 Ω, (50 - 42.5)/0.6 = 12.5 Ω.

    """
    refuse_at_or_below_zero("current_a", current_a)
    return (port_volts - device_volts_min) / current_a


def port_power_through_extenders_w(
    port_volts: float, legs_ohm: Sequence[float], device_w: float, own_w: float
) -> float:
    """Return the power that leaves the port where extenders stand between it and the device.

    Parameters
    ----------
    port_volts : float
        Volts at the port [V]
    legs_ohm : sequence of float
        Loop of each stretch, from the port to the device; an extender between each two [Ω]
    device_w : float
        Power of the device [W]
    own_w : float
        Load of one extender [W]

    Returns
    -------
    float
        Power at the port, NaN where there is no working point [W]

    Notes
    -----
    Extenders that pass the power on at the volts they get; constant powers throughout.

    References
    ----------
    Kirchhoff's laws; loads at 802.3 limits. The chain itself is outside IEEE 802.3.

    """
    volts = device_volts_through_extenders(port_volts, legs_ohm, device_w, own_w)
    return float("nan") if np.isnan(volts) else _at_port(volts, legs_ohm, device_w, own_w)[1]


def device_volts_through_extenders(
    port_volts: float, legs_ohm: Sequence[float], device_w: float, own_w: float
) -> float:
    """Return the volts at a device with extenders between it and the port.

    Parameters
    ----------
    port_volts : float
        Volts at the port [V]
    legs_ohm : sequence of float
        Loop of each stretch, from the port to the device; an extender between each two [Ω]
    device_w : float
        Power of the device [W]
    own_w : float
        Load of one extender [W]

    Returns
    -------
    float
        Volts at the device, NaN where there is no working point [V]

    Notes
    -----
    Extenders that pass the power on at the volts they get; constant powers throughout. Of several working points the
    stable one, with the highest volts.

    References
    ----------
    Kirchhoff's laws; loads at 802.3 limits. The chain itself is outside IEEE 802.3.

    """
    refuse_at_or_below_zero("port_volts", port_volts)
    refuse_outside("device_w", device_w, 0.0)
    refuse_outside("own_w", own_w, 0.0)
    volts = np.linspace(port_volts / 1000, port_volts, 1000)
    enough = [_at_port(float(v), legs_ohm, device_w, own_w)[0] <= port_volts for v in volts]
    if not any(enough):
        return float("nan")
    below = float(volts[np.flatnonzero(enough)[-1]])
    root = brentq(
        lambda v: _at_port(v, legs_ohm, device_w, own_w)[0] - port_volts, below, port_volts, xtol=1e-12
    )
    return float(root)


def _at_port(
    device_v: float, legs_ohm: Sequence[float], device_w: float, own_w: float
) -> tuple[float, float]:
    """Return volts and watts at the port for some volts at the device, walking from the device to the port."""
    volts, watts = device_v, device_w
    for place, leg_ohm in enumerate(reversed(legs_ohm)):
        watts += own_w if place else 0.0
        current_a = watts / volts
        volts, watts = volts + current_a * leg_ohm, watts + current_a**2 * leg_ohm
    return volts, watts
