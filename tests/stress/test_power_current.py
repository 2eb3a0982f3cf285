"""Constant power from a source with resistance: the closed form, its limit, and a trace that closes its energy.

``P = U I - R I^2`` gives ``I = (U - sqrt(U^2 - 4 R P)) / 2 R`` and the matched power ``U^2 / 4 R``: elementary circuit
theory (maximum power transfer).
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.stress.current import current_for_power

ONE = np.ones(1)


def test_closed_form():
    # By hand: U 10 V, R 1 ohm, P 16 W: I = (10 - sqrt(100 - 64)) / 2 = 2 A, and 2 A * (10 - 2) V = 16 W.
    current, shortage = current_for_power(16.0 * ONE, 10.0 * ONE, 1.0)
    assert current.tolist() == [pytest.approx(2.0)]
    assert shortage == 0.0
    # Charging with 24 W: I = (10 - sqrt(100 + 96)) / 2 = -2 A, and -2 A * (10 + 2) V = -24 W.
    current, shortage = current_for_power(-24.0 * ONE, 10.0 * ONE, 1.0)
    assert current.tolist() == [pytest.approx(-2.0)]
    assert shortage == 0.0


def test_without_resistance_current_is_power_over_voltage():
    current, shortage = current_for_power(np.array([30.0, -30.0]), np.array([10.0, 20.0]), 0.0)
    assert current.tolist() == [3.0, -1.5]
    assert shortage == 0.0


def test_the_matched_power_is_the_most_there_is():
    # U 10 V, R 1 ohm: 25 W at 5 A. Asked for 100 W, the matched current is given and the shortage is 100/25 - 1.
    current, shortage = current_for_power(np.array([25.0, 100.0]), np.array([10.0, 10.0]), 1.0)
    assert current.tolist() == [pytest.approx(5.0), pytest.approx(5.0)]
    assert shortage == pytest.approx(3.0)
    assert current_for_power(25.0 * ONE, 10.0 * ONE, 1.0)[1] == 0.0


@settings(deadline=None)
@given(
    voltage=st.floats(0.5, 1000.0),
    resistance=st.floats(0.0, 10.0),
    share=st.floats(-5.0, 1.0),
)
def test_the_current_delivers_the_power_at_the_terminals(voltage, resistance, share):
    power = share * voltage**2 / (4.0 * max(resistance, 1e-3))
    current = float(current_for_power(power * ONE, voltage * ONE, resistance)[0][0])
    assert voltage * current - resistance * current**2 == pytest.approx(power, rel=1e-9, abs=1e-9 * abs(power) + 1e-12)
    # The root with the smaller current: at most that of the matched load.
    assert 2.0 * resistance * current <= voltage * (1.0 + 1e-7)


def test_a_power_trace_closes_its_energy(source, trace):
    # Stored energy of a straight open-circuit curve is a square, so energy closes against the closed form:
    # energy out of the store = energy at the terminals + R * integral of I squared.
    time = np.arange(0.0, 1801.0)
    power = 20e3 + 15e3 * np.sin(time / 40.0)
    pack = source(start_soc=0.9)
    drive = trace(pack, time, power_W=power)
    at_terminals = float(np.trapezoid(power, time))
    left = 0.9 - drive.drawn_As / pack.capacity_As
    stored = pack.capacity_As * (300.0 * (0.9 - left) + 50.0 * (0.9**2 - left**2))
    assert drive.shortage == 0.0
    assert stored == pytest.approx(at_terminals + 0.1 * drive.squared_A2s, rel=1e-6)


def test_a_held_power_trace_closes_its_energy(source, trace):
    time = np.arange(0.0, 601.0)
    power = np.where(time % 60 < 30, 30e3, -10e3)
    pack = source(start_soc=0.7)
    drive = trace(pack, time, power_W=power, interpolation="zero_order_hold")
    at_terminals = float(np.sum(power[:-1]))
    left = 0.7 - drive.drawn_As / pack.capacity_As
    stored = pack.capacity_As * (300.0 * (0.7 - left) + 50.0 * (0.7**2 - left**2))
    assert stored == pytest.approx(at_terminals + 0.1 * drive.squared_A2s, rel=1e-6)


def test_a_bank_at_constant_power_follows_the_closed_form(source, trace):
    # Without resistance a capacitor gives E = C V^2 / 2: 10 F from 100 V at 1 kW for 18 s ends at 80 V; 200 As drawn.
    bank = source(
        kind="ultracapacitor", capacity_As=1000.0, resistance_ohm=0.0, start_soc=1.0, open_circuit_V=lambda s: 100.0 * s
    )
    drive = trace(bank, np.linspace(0.0, 18.0, 1801), power_W=np.full(1801, 1000.0))
    assert drive.drawn_As == pytest.approx(200.0, rel=1e-6)
    assert drive.peak_A == pytest.approx(1000.0 / 80.0, rel=1e-6)


def test_a_worn_source_draws_more_current_for_the_same_power(source, trace):
    time = np.arange(0.0, 601.0)
    power = np.full(601, 30e3)
    new = trace(source(), time, power_W=power)
    weak = trace(source(), time, power_W=power, tracer={"resistance_ratio": 2.0})
    small = trace(source(), time, power_W=power, tracer={"capacity_fraction": 0.5})
    assert weak.drawn_As > new.drawn_As
    assert small.drawn_As > new.drawn_As


def test_a_power_beyond_reach_is_a_shortage_not_a_number(source, trace):
    # 360 V and 0.1 ohm: 324 kW at the most; asked for 400 kW the shortage is 400/324 - 1.
    drive = trace(source(open_circuit_V=lambda s: 360.0 + 0.0 * s), [0.0, 1.0], power_W=[400e3, 400e3])
    assert drive.shortage == pytest.approx(400.0 / 324.0 - 1.0)
    assert drive.peak_A == pytest.approx(1800.0)


def test_a_source_that_runs_empty_says_so(source, trace):
    # 50 Ah at about 350 V hold 17 kWh; 60 kW for an hour do not come out of them.
    drive = trace(source(), np.arange(0.0, 3601.0, 10.0), power_W=np.full(361, 60e3))
    assert drive.highest_As > 0.6 * 180e3


@pytest.mark.parametrize(("last_soc", "shortage"), [(0.25, 0.0), (0.15, 1.0)])
def test_a_bank_counts_as_empty_below_a_fifth_of_its_voltage(source, trace, last_soc, shortage):
    # U = 400 V * soc without resistance: from 0.6 down to ``last_soc`` are half of Q U_rated (0.36 - last_soc^2).
    bank = source(
        kind="ultracapacitor",
        capacity_As=1000.0,
        resistance_ohm=0.0,
        start_soc=0.6,
        open_circuit_V=lambda soc: 400.0 * soc,
        minimum_voltage_V=0.0,
    )
    energy = 0.5 * 1000.0 * 400.0 * (0.36 - last_soc**2)
    drive = trace(bank, np.arange(0.0, 1001.0), power_W=np.full(1001, energy / 1000.0))
    assert drive.shortage == shortage
    if not shortage:
        assert drive.drawn_As / 1000.0 == pytest.approx(0.6 - last_soc, rel=1e-4)


def test_no_interval_needs_no_current():
    current, shortage = current_for_power(np.empty(0), np.empty(0), 1.0)
    assert (current.size, shortage) == (0, 0.0)
