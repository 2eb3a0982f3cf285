"""A bank that follows a power setpoint: closed forms of a capacitor, its window, current limit and voltage setpoint.

Sources: ``E = C V^2 / 2``, ``I = -C dV/dt``, ``P = I (V - R I)`` (elementary); datasheet of a 2.7 V screw-terminal
3000 F cell, 0.29 mOhm, for the 48-cell bank: 62.5 F, 129.6 V, 13.92 mOhm, 145.8 Wh, 109.35 Wh down to half voltage.
"""

import numpy as np
import pytest

from lifetime.split.bank import Bank, VoltageSetpoint, follow

CELLS = 48


def bank(**given):
    values = {
        "capacitance_F": 3000.0 / CELLS,
        "resistance_ohm": 0.29e-3 * CELLS,
        "minimum_voltage_V": 64.8,
        "maximum_voltage_V": 129.6,
        "maximum_current_A": float("inf"),
    }
    return Bank(**{**values, **given})


def test_energy_of_the_bank():
    assert bank().energy_J(129.6) / 3600.0 == pytest.approx(145.8)
    assert (bank().energy_J(129.6) - bank().energy_J(64.8)) / 3600.0 == pytest.approx(109.35)
    worn = bank().worn(0.8, 2.0)
    assert (worn.energy_J(129.6) - worn.energy_J(64.8)) / 3600.0 == pytest.approx(87.48)
    assert worn.resistance_ohm == pytest.approx(2.0 * 13.92e-3)


def test_without_resistance_energy_is_a_plain_subtraction():
    # 10 kW for 10 s out of 145.8 Wh: E = 524,880 - 100,000 J, V = sqrt(2 E / C).
    path = follow(bank(resistance_ohm=0.0), np.ones(10), np.full(10, 10e3), 129.6)
    assert path.voltage_V[-1] == pytest.approx(np.sqrt(2.0 * 424_880.0 / 62.5), rel=1e-9)
    np.testing.assert_allclose(path.power_W, 10e3, rtol=1e-9)


def test_the_setpoint_arrives_at_the_terminals():
    setpoint = np.array([5e3, -5e3, 20e3, -20e3, 0.0])
    path = follow(bank(), np.ones(5), setpoint, 100.0)
    np.testing.assert_allclose(path.power_W, setpoint, rtol=0, atol=1e-3)


def test_one_discharge_against_an_ordinary_differential_equation():
    # C dV/dt = -I with I from P = I (V - R I), by a general-purpose solver.
    from scipy.integrate import solve_ivp

    capacitance, resistance, power = 62.5, 13.92e-3, 20e3

    def slope(_, voltage):
        root = np.sqrt(voltage**2 - 4.0 * resistance * power)
        return -(voltage - root) / (2.0 * resistance) / capacitance

    right = solve_ivp(slope, (0.0, 12.0), [129.6], rtol=1e-10, atol=1e-10).y[0, -1]
    path = follow(bank(), np.full(1200, 0.01), np.full(1200, power), 129.6)
    assert path.voltage_V[-1] == pytest.approx(right, rel=1e-6)


def test_it_stops_at_both_ends_of_its_window():
    # 109.35 Wh = 393,660 J: at 50 kW empty after less than 8 s, however long it is asked.
    path = follow(bank(), np.ones(40), np.repeat([50e3, -50e3], 20), 129.6)
    assert path.voltage_V[20] == pytest.approx(64.8)
    assert path.voltage_V[-1] == pytest.approx(129.6)
    np.testing.assert_allclose(path.power_W[10:20], 0.0, atol=1e-6)
    delivered = np.sum(path.power_W[:20])
    assert delivered < 393_660.0
    lost = 13.92e-3 * np.sum(path.current_A[:20] ** 2)
    assert delivered + lost == pytest.approx(393_660.0)


@pytest.mark.parametrize("regulation", [None, VoltageSetpoint(100.0, 5.0), VoltageSetpoint(70.0, 0.5)])
def test_the_current_limit_holds_where_many_intervals_in_a_row_ask_for_more(regulation):
    setpoint = np.concatenate([np.full(6, 100e3), np.zeros(5), np.full(6, -100e3), np.full(10, 40e3)])
    path = follow(bank(maximum_current_A=150.0), np.ones(setpoint.size), setpoint, 120.0, regulation)
    assert np.abs(path.current_A).max() <= 150.0 * (1.0 + 1e-6)
    # Asked for far more than the limit, it gives the limit: 150 A for 1 s take 150 / 62.5 = 2.4 V.
    assert path.voltage_V[1] == pytest.approx(120.0 - 2.4)
    if regulation is None:
        np.testing.assert_allclose(path.current_A[:6], 150.0, rtol=1e-6)
        np.testing.assert_allclose(path.current_A[6:11], 0.0, atol=1e-6)


def test_regulation_alone_keeps_to_the_current_limit():
    # Drawn down at 150 A from the setpoint to 120 - 20 * 2.4 = 72 V, regulation asks for 20 kW and more and
    # brings the bank back at 150 A, 2.4 V a second.
    setpoint = np.concatenate([np.full(20, 100e3), np.zeros(10)])
    path = follow(bank(maximum_current_A=150.0), np.ones(30), setpoint, 120.0, VoltageSetpoint(120.0, 10.0))
    assert path.voltage_V[20] == pytest.approx(72.0)
    np.testing.assert_allclose(path.current_A[20:], -150.0, rtol=1e-6)


def test_beyond_the_matched_load_the_matched_load():
    # 1000 V and 1 ohm deliver 250 kW at 500 A at the very most; asked for 10 MW for a moment.
    small = bank(capacitance_F=1e3, resistance_ohm=1.0, minimum_voltage_V=1.0, maximum_voltage_V=1000.0)
    path = follow(small, np.full(1, 1e-3), np.full(1, 10e6), 1000.0)
    assert path.current_A[0] == pytest.approx(500.0, rel=1e-5)
    assert path.power_W[0] == pytest.approx(250e3, rel=1e-5)


class TestVoltageSetpoint:
    @pytest.mark.parametrize("step_s", [0.5, 10.0, 60.0])
    def test_energy_decays_to_the_setpoint_with_the_time_constant(self, step_s):
        # E(t) = E_set + (E_0 - E_set) exp(-t / tau).
        regulated, setpoint = bank(), VoltageSetpoint(voltage_V=100.0, time_constant_s=120.0)
        n = round(120.0 / step_s)
        path = follow(regulated, np.full(n, step_s), np.zeros(n), 125.0, setpoint)
        aimed, start = regulated.energy_J(100.0), regulated.energy_J(125.0)
        expected = aimed + (start - aimed) * np.exp(-1.0)
        assert regulated.energy_J(float(path.voltage_V[-1])) == pytest.approx(expected, rel=1e-9)

    @pytest.mark.parametrize("start_V", [64.8, 90.0, 129.6])
    def test_the_setpoint_is_reached(self, start_V):
        regulated, setpoint = bank(), VoltageSetpoint(voltage_V=100.0, time_constant_s=120.0)
        path = follow(regulated, np.full(3600, 1.0), np.zeros(3600), start_V, setpoint)
        assert path.voltage_V[-1] == pytest.approx(100.0, rel=1e-9)

    def test_under_a_steady_power_it_settles_below_the_setpoint(self):
        # Balance of power and regulation without resistance: (E_set - E) / tau = P.
        regulated, setpoint = bank(resistance_ohm=0.0), VoltageSetpoint(voltage_V=120.0, time_constant_s=60.0)
        path = follow(regulated, np.full(3000, 1.0), np.full(3000, 1500.0), 120.0, setpoint)
        settled = regulated.energy_J(120.0) - 1500.0 * 60.0
        # Regulation is exact over an interval and the power is spread evenly over it: tau * (1 - e^(-dt/tau)) ~ dt.
        assert regulated.energy_J(float(path.voltage_V[-1])) == pytest.approx(settled, rel=5e-3)
        fine = follow(regulated, np.full(30_000, 0.1), np.full(30_000, 1500.0), 120.0, setpoint)
        assert regulated.energy_J(float(fine.voltage_V[-1])) == pytest.approx(settled, rel=5e-4)


def test_an_interval_without_length_moves_nothing():
    path = follow(bank(), np.array([1.0, 0.0, 1.0]), np.array([1e3, 9e9, 1e3]), 120.0, VoltageSetpoint(100.0, 10.0))
    assert path.voltage_V[2] == path.voltage_V[1]
    assert path.current_A[1] == 0.0
    assert path.power_W[1] == 0.0
