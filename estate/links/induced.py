"""Voltage that mains induce beside a stretch, for those who want to see why: never a basis for going nearer."""

from dataclasses import dataclass

from estate.catalogue.tables import Catalogue
from estate.formulas.induction import (
    differential_volts,
    induced_volts_per_m,
    loop_flux_wb_per_m,
    pairs_mutual_h_per_m,
    screening_factor,
    twisted_volts,
)
from estate.units import MM_PER_M

FREQUENCIES_HZ = (50.0, 60.0)


@dataclass(frozen=True, slots=True)
class Induced:
    """Volts over the stretch at one mains frequency."""

    frequency_hz: float
    mutual_h_per_m: float
    """Of the mains pair and the signal pair."""
    untwisted_v: float
    """In a signal pair without twist, by the load current."""
    twisted_v: float
    loop_v: float
    """In the loop of cable and bonding, by a net current of 1 A that doesn't come back in the same cable."""
    balanced_v: float
    """What the balance of the pair leaves of that."""
    screened_v: float
    """What a bonded screen leaves of the loop's voltage."""


def induced_rows(amps: float, apart_m: float, catalogue: Catalogue) -> list[Induced]:
    """Return what a mains pair that carries `amps` induces at a distance [A, m], at 50 and 60 Hz.

    Conductors stand in one plane, the signal pair beside the mains pair; the stretch is the catalogue's.
    """
    rule = {name: float(figure.value) for name, figure in catalogue.rules["induction"].items()}
    power_m, signal_m = rule["line_pair_mm"] / MM_PER_M, rule["signal_pair_mm"] / MM_PER_M
    length_m, net_a = rule["length_m"], rule["net_a"]
    # In line: a, b, then c, d; b to c is the clear distance.
    mutual = abs(
        float(
            pairs_mutual_h_per_m(apart_m + power_m + signal_m, apart_m, apart_m + power_m, apart_m + signal_m)
        )
    )
    loop_h_per_m = float(loop_flux_wb_per_m(1.0, apart_m, apart_m + rule["loop_m"]))
    rows = []
    for hz in FREQUENCIES_HZ:
        untwisted = float(induced_volts_per_m(hz, mutual, amps)) * length_m
        loop = float(induced_volts_per_m(hz, loop_h_per_m, net_a)) * length_m
        factor = float(screening_factor(rule["screen_ohm_per_m"], rule["screen_h_per_m"], hz))
        rows.append(
            Induced(
                frequency_hz=hz,
                mutual_h_per_m=mutual,
                untwisted_v=untwisted,
                twisted_v=float(twisted_volts(untwisted, rule["lay_mm"] / MM_PER_M, length_m)),
                loop_v=loop,
                balanced_v=float(differential_volts(loop, rule["balance_db"])),
                screened_v=loop * factor,
            )
        )
    return rows
