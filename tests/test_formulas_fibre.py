"""Fibre budgets and single-pair Ethernet against published reach and worked examples."""

import numpy as np
import pytest

from estate.catalogue.load import load_catalogue
from estate.errors import OutOfRange
from estate.formulas.attenuation import attenuation_db_per_100m
from estate.formulas.fibre import fibre_loss_db, fibre_margin_db, modal_reach_m
from estate.formulas.single_pair import single_pair_loss_limit_db, single_pair_reach_m


def test_hardware_guide_budgets():
    # W12, link-budget examples of a public hardware guide. Multimode 2 km: 13 dB, 1 dB/km, 5 connectors and
    # 2 splices of 0.5 dB, higher-order modes 0.5 dB; with clock recovery 1 dB less. Single-mode 8 km.
    loss = fibre_loss_db(2000.0, 1.0, 5, 2, connector_db=0.5, splice_db=0.5)
    assert fibre_margin_db(13.0, loss, 0.5) == pytest.approx(7.0)
    assert fibre_margin_db(13.0, loss, 1.5) == pytest.approx(6.0)
    assert fibre_loss_db(8000.0, 0.5, 7, connector_db=0.5) == pytest.approx(7.5)
    assert fibre_margin_db(13.0, 7.5) == pytest.approx(5.5)


@pytest.mark.parametrize(
    ("length", "per_km", "connections_db", "limit"),
    [
        # IEEE 802.3 channel loss as quoted by switch manuals, with their 1.5 dB of connections
        (300, 3.5, 1.5, 2.6),
        (550, 3.5, 1.5, 3.56),
        (275, 3.5, 1.5, 2.60),
        (10_000, 0.4, 2.0, 6.2),
    ],
)
def test_standard_reach_fits_the_standard_loss(length, per_km, connections_db, limit):
    assert limit - 0.25 < fibre_loss_db(length, per_km, 1, connector_db=connections_db) <= limit


def test_modal_bandwidth_explains_the_reach_of_gigabit():
    # IEEE 802.3, 1000BASE-SX, as quoted by test-equipment manuals: 160 MHz·km 220 m, 200 MHz·km 275 m (D13)
    needed = 160 / 0.220
    assert modal_reach_m(np.array([160.0, 200.0]), needed) == pytest.approx([220.0, 275.0])


def test_default_connectors_are_the_catalogues():
    catalogue, _ = load_catalogue()
    fibre = catalogue.rules["fibre"]
    ours = fibre["connectors"].value * fibre["connector_db"].value + fibre["splice_db"].value
    assert fibre_loss_db(0.0, 0.4, splices=1) == pytest.approx(ours)


def test_single_pair_goes_farther_than_four_pairs_and_no_farther_than_1000_m():
    # IEEE 802.3cg: to 1000 m; the loss limit from memory, so only its shape is checked
    mhz = np.array([1.0, 4.0, 10.0, 20.0])
    # ten times 1.23·2 + 0.04 + 0.1, and 0.2·2, at 4 MHz
    assert single_pair_loss_limit_db(4.0) == pytest.approx(26.4)
    on_5e = attenuation_db_per_100m(mhz, 1.967, 0.023, 0.05)
    assert 100 < single_pair_reach_m(mhz, on_5e) < 1000
    assert single_pair_reach_m(mhz, on_5e / 10) == 1000.0
    with pytest.raises(OutOfRange):
        single_pair_loss_limit_db(0.05)
