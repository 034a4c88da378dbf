"""Conductors, DC and AC feeds and Power over Ethernet against standards, worked examples and a load flow."""

import numpy as np
import pandapower as pp
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estate.catalogue.load import load_catalogue
from estate.errors import OutOfRange
from estate.formulas.conductor import (
    ALUMINIUM_PER_K,
    awg_area_mm2,
    awg_diameter_mm,
    conductor_ohm_per_km,
    resistance_at_temperature,
    skin_depth_um,
)
from estate.formulas.dc_feed import (
    coax_loop_ohm,
    greatest_load_w,
    greatest_loop_ohm,
    linear_drop_volts,
    loop_resistance_ohm,
    volts_at_ac_load,
    volts_at_load,
)
from estate.formulas.poe import (
    device_volts,
    loop_from_type_ohm,
    port_power_through_extenders_w,
    port_power_w,
)
from estate.units import M_PER_FT

TIA_OHM_PER_KM = 93.8


# Conductors


def test_iec_60228_limits_lie_above_ideal_copper():
    # IEC 60228, copper class 1 and 2, as quoted by four independent extracts: 4.4 to 7.4 % above ρ/A
    area = np.array([0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16])
    limit = np.array([36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15])
    excess = limit / conductor_ohm_per_km(area) - 1
    assert excess.min() == pytest.approx(0.044, abs=0.001)
    assert excess.max() == pytest.approx(0.074, abs=0.002)


def test_power_cables_carry_the_limits_of_iec_60228():
    # IEC 60228, copper class 5 plain, as quoted by four independent extracts
    catalogue, _ = load_catalogue()
    printed = {"0.5": 39.0, "0.75": 26.0, "1.0": 19.5, "1.5": 13.3, "2.5": 7.98}
    for area, ohm in printed.items():
        assert catalogue.cables[f"power-2x{area}"].number("conductor_ohm_per_km") == ohm


def test_american_wire_gauge():
    # Tables of a university physics reference and a wire handbook, Ω per 1000 ft
    awg = np.array([14, 16, 18, 20, 22, 23, 24, 26])
    printed = np.array([2.525, 4.016, 6.385, 10.15, 16.14, 20.36, 25.67, 40.81])
    assert conductor_ohm_per_km(awg_area_mm2(awg)) * 0.3048 == pytest.approx(printed, rel=2e-3)
    assert awg_diameter_mm(24) == pytest.approx(0.511, abs=5e-4)


def test_clad_wire():
    # ASTM B566, 18 AWG copper-clad aluminium of 10 and 15 %: data sheets list 9.90 and 9.61 Ω/1000 ft nominal,
    # below the greatest values that 62.9 and 64.4 % IACS allow
    ours = conductor_ohm_per_km(awg_area_mm2(18.0), np.array([62.9, 64.4])) * 0.3048
    assert ours == pytest.approx([10.15, 9.92], abs=0.02)
    assert np.all(ours > [9.90, 9.61])
    # 24 AWG: 40 to 43 % above the 9.38 Ω/100 m of ANSI/TIA-568
    assert conductor_ohm_per_km(awg_area_mm2(24.0), 62.9) / TIA_OHM_PER_KM == pytest.approx(1.43, abs=0.01)


def test_temperature():
    # IEC 60228 tabulates its correction for 40 °C as 0.926, with α of about 0.004; 0.00393 gives 0.927
    assert 1 / resistance_at_temperature(1.0, 40.0) == pytest.approx(0.927, abs=5e-4)
    assert resistance_at_temperature(1.0, 20.0, ALUMINIUM_PER_K) == 1.0
    with pytest.raises(OutOfRange):
        resistance_at_temperature(1.0, 200.0)


def test_skin_depth_of_copper():
    # Handbook value 66.1 µm/√f: 29.6 µm at 5 MHz, 6.6 µm at 100 MHz. 24 AWG copper-clad aluminium has 13 µm of
    # copper: less than the skin at 5 MHz, whatever data sheets say (D12)
    assert skin_depth_um(np.array([1.0, 5.0, 100.0])) == pytest.approx([66.1, 29.6, 6.6], abs=0.05)


# DC feeds


def test_conductors_out_and_back_are_counted_apart():
    assert loop_resistance_ohm(TIA_OHM_PER_KM, 100.0, 2, 1) == pytest.approx(9.38 / 2 + 9.38)
    assert loop_resistance_ohm(TIA_OHM_PER_KM, 150.0, 3, 3) == pytest.approx(9.38)


def test_80_m_of_one_square_millimetre():
    # The trade's night-reboot case, by ρ/A: 2.76 Ω
    loop = loop_resistance_ohm(conductor_ohm_per_km(1.0), 80.0)
    assert loop == pytest.approx(2.76, abs=0.005)
    assert volts_at_load(12.0, 3.6, loop) == pytest.approx(11.1, abs=0.05)
    assert volts_at_load(12.0, 9.6, loop) == pytest.approx(9.08, abs=0.01)
    assert np.isnan(volts_at_load(12.0, 9.6, 2 * loop))
    assert volts_at_load(12.0, 3.6, 2 * loop) == pytest.approx(10.0, abs=0.05)


def test_the_standards_limit_when_hot_fails_where_ideal_copper_passes():
    # 2.5 mm² class 5 of IEC 60228 at 50 °C: 10.7 V, outside 10.8 V; ρ/A at 20 °C says 11.04 V
    hot = resistance_at_temperature(7.98, 50.0)
    assert volts_at_load(12.0, 9.6, loop_resistance_ohm(hot, 80.0)) == pytest.approx(10.72, abs=0.01)
    ideal = volts_at_load(12.0, 9.6, loop_resistance_ohm(conductor_ohm_per_km(2.5), 80.0))
    assert ideal == pytest.approx(11.04, abs=0.01)


def test_powered_coax_on_copper_and_on_steel():
    copper = coax_loop_ohm(33.3, 8.5, 180.0)
    steel = coax_loop_ohm(167.0, 9.0, 180.0)
    assert (copper, steel) == (pytest.approx(7.5, abs=0.03), pytest.approx(31.7, abs=0.03))
    assert volts_at_load(24.0, 8.0, copper) == pytest.approx(21.2, abs=0.05)
    assert np.isnan(volts_at_load(24.0, 8.0, steel))


def test_150_m_is_no_rule_for_12_volts():
    # The trade quotes 150 m for combined baluns on Category 5; common practice, no source
    loop = loop_resistance_ohm(TIA_OHM_PER_KM, 150.0, np.array([2, 3]), np.array([2, 3]))
    assert greatest_load_w(12.0, loop, 10.8) == pytest.approx([0.92, 1.38], abs=0.005)
    assert greatest_load_w(12.0, loop) == pytest.approx([2.56, 3.84], abs=0.005)


@pytest.mark.parametrize(
    ("feet", "amps", "printed_drop", "volts_constant_power"),
    [(200, 1.0, 2.556, 8.31), (150, 0.8, 1.534, 10.19)],
)
def test_public_course_examples_on_18_awg(feet, amps, printed_drop, volts_constant_power):
    # W5 and W6, a public training course: 6.39 mΩ/ft, linear drop printed; constant power computed
    loop = loop_resistance_ohm(6.39 / M_PER_FT, feet * M_PER_FT)
    assert linear_drop_volts(amps, loop) == pytest.approx(printed_drop, abs=0.001)
    assert volts_at_load(12.0, 12.0 * amps, loop) == pytest.approx(volts_constant_power, abs=0.01)


def test_published_divider_hides_that_nothing_works():
    # W7, a camera manual: 12 V, 5 Ω, 0.8 A. A 15 Ω load gives its printed 9.0 V, a constant current 8.0 V,
    # constant power nothing at all
    assert 12.0 * 15 / (15 + 5) == 9.0
    assert 12.0 - linear_drop_volts(0.8, 5.0) == pytest.approx(8.0)
    assert np.isnan(volts_at_load(12.0, 9.6, 5.0))
    assert greatest_load_w(12.0, 5.0) == pytest.approx(7.2)
    assert greatest_loop_ohm(12.0, 9.6, 10.8) == pytest.approx(1.35)


def test_public_cable_manual_on_pair():
    # W8, a cable manual: 10 % of 12 V at 150 mA is 8 Ω, 40 m at its 0.2 Ω/m, 42.6 m at the limit of ANSI/TIA-568
    loop = 1.2 / 0.150
    assert loop == pytest.approx(8.0)
    assert loop / 0.2 == pytest.approx(40.0)
    assert loop / loop_resistance_ohm(TIA_OHM_PER_KM, 1.0) == pytest.approx(42.6, abs=0.05)


def test_camera_manual_table_needs_constant_current_to_reproduce():
    # W9, a camera manual: 20 W, 12 V, 15 % loss, 1.0 mm wire, printed 77 ft = 23.5 m (its metre column, D8, is wrong).
    area = np.pi / 4
    resistivity = 0.0181
    assert 0.15 * 12 / (20 / 12) / (2 * resistivity / area) == pytest.approx(23.5, abs=0.1)
    per_m = loop_resistance_ohm(conductor_ohm_per_km(area), 1.0)
    assert greatest_loop_ohm(12.0, 20.0, 0.85 * 12) / per_m == pytest.approx(20.9, abs=0.05)


def test_one_way_length_halves_the_drop():
    # D7, a guide prints 2.91 V for 6.51 Ω/1000 ft, 1500 ft and 0.3 A: one way only; the loop drops 5.86 V
    loop = loop_resistance_ohm(6.51 / 0.3048, 1500 * M_PER_FT)
    assert linear_drop_volts(0.3, loop) == pytest.approx(5.86, abs=0.005)


def test_four_watts_on_category_5e():
    # W15, 100 m at 9.38 Ω: one pair and two pairs have no working point at 12 V
    loop = loop_resistance_ohm(TIA_OHM_PER_KM, 100.0, np.array([1, 2, 4]), np.array([1, 2, 4]))
    volts = volts_at_load(12.0, 4.0, loop)
    assert np.isnan(volts[0])
    assert np.isnan(volts[1])
    assert volts[2] == pytest.approx(10.15, abs=0.005)
    assert volts_at_load(np.array([24.0, 48.0]), 4.0, loop[0]) == pytest.approx([20.30, 46.38], abs=0.005)


@given(st.floats(5, 60), st.floats(0.1, 60), st.floats(0.01, 60))
def test_working_point_obeys_kirchhoff(source, load, loop):
    volts = float(volts_at_load(source, load, loop))
    if np.isnan(volts):
        assert 4 * load * loop > source**2 * (1 - 1e-9)
    else:
        assert volts + load / volts * loop == pytest.approx(source, rel=1e-6)
        assert volts >= source / 2 * (1 - 1e-9)


@given(st.floats(5, 60), st.floats(0.1, 60), st.floats(0.01, 60), st.floats(0.3, 1))
def test_ac_magnitude_obeys_the_phasor_sum(source, load, loop, power_factor):
    volts = float(volts_at_ac_load(source, load, loop, power_factor))
    if not np.isnan(volts):
        current = load / (volts * power_factor) * np.exp(-1j * np.arccos(power_factor))
        assert abs(volts + current * loop) == pytest.approx(source, rel=1e-6)


def test_ac_at_unity_is_dc():
    assert volts_at_ac_load(24.0, np.array([8.0, 30.0]), 7.5) == pytest.approx(
        volts_at_load(24.0, np.array([8.0, 30.0]), 7.5), nan_ok=True
    )


@pytest.mark.parametrize(
    ("source", "load", "loop"),
    [(12.0, 3.6, 2.76), (24.0, 8.0, 7.524), (48.0, 12.95, 20.0), (12.0, 9.6, 2.76)],
)
def test_agrees_with_a_load_flow(source, load, loop):
    # pandapower: resistive line, constant-power load
    net = pp.create_empty_network(sn_mva=1e-4)
    head, camera = (pp.create_bus(net, vn_kv=source / 1e3) for _ in range(2))
    pp.create_ext_grid(net, head)
    pp.create_line_from_parameters(
        net, head, camera, length_km=1.0, r_ohm_per_km=loop, x_ohm_per_km=0.0, c_nf_per_km=0.0, max_i_ka=1.0
    )
    pp.create_load(net, camera, p_mw=load / 1e6)
    pp.runpp(net, init="flat", numba=False, tolerance_mva=1e-14, max_iteration=100)
    assert net.res_bus.vm_pu[camera] * source == pytest.approx(
        float(volts_at_load(source, load, loop)), rel=1e-6
    )


def test_nonsense_is_refused_and_unknown_is_not():
    for wrong in ((0.0, 1.0, 1.0), (12.0, -1.0, 1.0), (12.0, 1.0, -1.0)):
        with pytest.raises(OutOfRange):
            volts_at_load(*wrong)
    with pytest.raises(OutOfRange):
        loop_resistance_ohm(93.8, 100.0, 0, 1)
    assert np.isnan(volts_at_load(12.0, np.nan, 1.0))
    assert volts_at_load(12.0, 0.0, 5.0) == 12.0


# Power over Ethernet


@pytest.mark.parametrize(
    ("port", "loop", "device", "volts", "amps", "lost"),
    [
        # W10, IEEE 802.3 types 1 to 4, as quoted by three independent tables
        (44, 20, 12.95, 37.00, 0.350, 2.45),
        (50, 12.5, 25.5, 42.50, 0.600, 4.50),
        (50, 6.25, 51, 42.50, 1.200, 9.00),
        (52, 6.25, 71.3, 41.18, 1.73, 18.7),
    ],
)
def test_poe_anchors(port, loop, device, volts, amps, lost):
    at_device = float(device_volts(port, loop, device))
    assert at_device == pytest.approx(volts, abs=0.01)
    assert device / at_device == pytest.approx(amps, abs=0.002)
    assert port_power_w(port, loop, device) - device == pytest.approx(lost, abs=0.05)


def test_poe_ports_give_what_the_types_allocate():
    # IEEE 802.3: 15.4, 30, 60 and 90 W at the port for 12.95, 25.5, 51 and 71.3 W at the device
    ours = port_power_w(
        np.array([44, 50, 50, 52]), np.array([20, 12.5, 6.25, 6.25]), np.array([12.95, 25.5, 51, 71.3])
    )
    assert ours == pytest.approx([15.4, 30.0, 60.0, 90.0], abs=0.05)


def test_poe_loops_follow_from_the_types():
    assert loop_from_type_ohm(
        np.array([44, 50]), np.array([37, 42.5]), np.array([0.35, 0.6])
    ) == pytest.approx([20, 12.5])


def test_poe_worked_loss():
    # W11, a public worked example: 7 Ω/100 m conductor, 350 mA over two pairs: 0.858 W, 2.45 V (its text rounds to 2.5)
    loop = loop_resistance_ohm(70.0, 100.0, 2, 2)
    assert 0.35**2 * loop == pytest.approx(0.858, abs=6e-4)
    assert linear_drop_volts(0.35, loop) == pytest.approx(2.45)


def test_poe_over_copper_and_over_clad_aluminium():
    # 25.5 W at 100 m from 50 V: copper at the limit of ANSI/TIA-568 44.6 V; 1.4 times that 42.0 V, under 42.5
    ohm = np.array([93.8, 1.4 * 93.8])
    volts = device_volts(50.0, loop_resistance_ohm(ohm, 100.0, 2, 2), 25.5)
    assert volts == pytest.approx([44.6, 42.0], abs=0.05)


def test_extender_takes_its_share():
    # Two 90 m legs at 9.38 Ω per 100 m, 50 V, 2.5 W own use: 12.95 W needs 17.2 W at the port, 25.5 W needs 36.2 W
    legs = [8.442, 8.442]
    assert port_power_through_extenders_w(50.0, legs, 12.95, 2.5) == pytest.approx(17.2, abs=0.05)
    assert port_power_through_extenders_w(50.0, legs, 25.5, 2.5) == pytest.approx(36.2, abs=0.05)
    assert np.isnan(port_power_through_extenders_w(50.0, [30.0, 30.0], 25.5, 2.5))
    assert port_power_through_extenders_w(44.0, [20.0], 12.95, 2.5) == pytest.approx(15.4, abs=0.001)
