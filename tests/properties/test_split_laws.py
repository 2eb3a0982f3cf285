"""Laws a split obeys for every demand, rule and bank: energy closes, and no limit is ever passed."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.rules.battery_only import BatteryOnly
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand

LAW = settings(deadline=None, max_examples=150)

LIMITS_W = st.floats(0.0, 60e3)


@st.composite
def banks(draw):
    """A 3000 F cell's bank of 20 to 200 cells, new or aged, with and without a tight current limit."""
    cells = draw(st.integers(20, 200))
    highest = 2.7 * cells
    lowest = draw(st.floats(0.3, 0.8)) * highest
    return Bank(
        capacitance_F=3000.0 / cells * draw(st.sampled_from([0.8, 1.0])),
        resistance_ohm=cells * draw(st.sampled_from([0.0, 0.29e-3, 0.58e-3])),
        minimum_voltage_V=lowest,
        maximum_voltage_V=highest,
        maximum_current_A=draw(st.sampled_from([50.0, 300.0, 2200.0])),
    )


@st.composite
def rules_with_banks(draw):
    """A rule, with and without a voltage setpoint, and a bank."""
    bank = draw(banks())
    if draw(st.integers(0, 4)) == 0:
        return BatteryOnly(), bank
    regulated = {}
    if draw(st.booleans()):
        regulated = {
            "ultracapacitor_setpoint_V": draw(st.floats(bank.minimum_voltage_V, bank.maximum_voltage_V)),
            "ultracapacitor_setpoint_time_constant_s": draw(st.sampled_from([2.0, 30.0, 600.0])),
        }
    if draw(st.booleans()):
        return LowPass(time_constant_s=draw(st.floats(0.5, 500.0)), **regulated), bank
    limits = {"discharge_limit_W": draw(LIMITS_W), "charge_limit_W": draw(LIMITS_W)}
    return PowerLimit(**limits, **regulated), bank


@st.composite
def demands(draw):
    power = draw(st.lists(st.integers(-80, 80).map(lambda kilo: 1e3 * kilo), min_size=1, max_size=60))
    lengths = st.sampled_from([0.0, 0.1, 1.0, 1.0, 2.0])
    return Demand(np.array(draw(st.lists(lengths, min_size=len(power), max_size=len(power)))), np.array(power))


@LAW
@given(demand=demands(), given_rule=rules_with_banks(), share=st.floats(0.0, 1.0), repeats=st.integers(1, 3))
def test_energy_closes_and_limits_hold(demand, given_rule, share, repeats):
    rule, bank = given_rule
    start = bank.minimum_voltage_V + share * (bank.maximum_voltage_V - bank.minimum_voltage_V)
    shared = share_day(demand, rule, bank if rule.has_ultracapacitor else None, start, repeats)
    assert len(shared) == repeats
    for one in shared:
        # Battery and bank together are the demand, interval by interval.
        scale = np.abs(demand.power_W).max() + np.abs(one.bank_W).max() + 1.0
        np.testing.assert_allclose(one.battery_W + one.bank_W, demand.power_W, rtol=0, atol=1e-9 * scale)
        if not rule.has_ultracapacitor:
            continue
        # What leaves the store arrives at the terminals or is lost in the resistance.
        dt = one.length_s
        stored = bank.energy_J(1.0) * -np.diff(one.bank_V**2)
        out = (one.bank_W + bank.resistance_ohm * one.bank_A**2) * dt
        np.testing.assert_allclose(stored, out, rtol=0, atol=1e-9 * bank.energy_J(bank.maximum_voltage_V))
        # Charge and voltage tell the same story.
        drawn = np.cumsum(one.bank_A * dt) / bank.capacitance_F
        np.testing.assert_allclose(one.bank_V[0] - drawn, one.bank_V[1:], rtol=1e-9)
        assert one.bank_V.min() >= bank.minimum_voltage_V * (1.0 - 1e-9)
        assert one.bank_V.max() <= bank.maximum_voltage_V * (1.0 + 1e-9)
        assert np.abs(one.bank_A).max() <= bank.maximum_current_A * (1.0 + 1e-5)


@LAW
@given(demand=demands(), limit=st.floats(0.0, 60e3))
def test_inside_its_window_the_bank_keeps_the_battery_at_its_limit(demand, limit):
    # A bank that could carry everything without a voltage setpoint: then the battery never leaves its limits.
    big = Bank(1e6, 0.0, 100.0, 1000.0, 1e9)
    (one,) = share_day(demand, PowerLimit(discharge_limit_W=limit, charge_limit_W=limit), big, 600.0, 1)
    timed = one.length_s > 0.0
    assert (np.abs(one.battery_W[timed]) <= limit + 1e-2).all()


@LAW
@given(demand=demands(), tau=st.floats(0.5, 500.0))
def test_low_pass_never_raises_the_rms_of_the_battery(demand, tau):
    # The lag's gain is at most 1 at any frequency, so energy in its output is at most that of its input (Parseval).
    big = Bank(1e6, 0.0, 100.0, 1000.0, 1e9)
    (one,) = share_day(demand, LowPass(time_constant_s=tau), big, 600.0, 1)
    before = np.sum(demand.length_s * demand.power_W**2)
    after = np.sum(one.length_s * one.battery_W**2)
    assert after <= before * (1.0 + 1e-9) + 1.0


def test_a_larger_bank_relieves_the_battery_more():
    random = np.random.default_rng(2)
    demand = Demand(np.ones(600), 60e3 * np.sign(np.sin(np.arange(600) / 20.0)) + 5e3 * random.normal(size=600))
    loads = []
    rule = LowPass(time_constant_s=30.0, ultracapacitor_setpoint_V=100.0, ultracapacitor_setpoint_time_constant_s=60.0)
    for cells_parallel in (1, 2, 4, 8):
        bank = Bank(62.5 * cells_parallel, 13.92e-3 / cells_parallel, 64.8, 129.6, 1e6)
        (one,) = share_day(demand, rule, bank, 100.0, 1)
        loads.append(float(np.sqrt(np.mean(one.battery_W**2))))
    assert loads == sorted(loads, reverse=True)
    assert loads[-1] < 0.9 * loads[0]
