"""Split rules against worked vectors and closed forms.

Low-pass split ``P_batt = P_dem / (1 + tau s)``, exact step ``a = 1 - exp(-dt / tau)``: first-order lag, any text on
control. The vector's expected numbers were computed from that recurrence outside this program.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.split.day import share_day
from lifetime.split.losses import Loss
from lifetime.split.rules.battery_only import BatteryOnly
from lifetime.split.rules.low_pass import LowPass, low_pass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand

# kW: 60 s at 0, 10 s at 80, 20 s at 0, 10 s at -60, 100 s at 10; dt 1 s, held.
VECTOR_W = 1e3 * np.repeat([0.0, 80.0, 0.0, -60.0, 10.0], [60, 10, 20, 10, 100])
SECOND = np.ones(VECTOR_W.size)


def agrees(actual, printed):
    """Half a unit of the last digit printed."""
    half = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert abs(actual - float(printed)) <= half, f"{actual!r} against printed {printed}"


def rms(values):
    return float(np.sqrt(np.mean(values**2)))


class TestVector:
    def test_demand(self):
        agrees(rms(VECTOR_W) / 1e3, "23.452")

    def test_battery(self):
        battery = low_pass(SECOND, VECTOR_W, 10.0, 0.0) / 1e3
        agrees(rms(battery), "14.021")
        agrees(battery.max(), "50.570")
        agrees(battery.min(), "-35.410")

    def test_the_rule_hands_the_bank_the_difference_of_the_means(self):
        # Over an interval the lag's mean output is P - tau * change / dt (its own balance).
        setpoint, memory = LowPass(time_constant_s=10.0).ultracapacitor_setpoint_W(SECOND, VECTOR_W, 0.0)
        after = low_pass(SECOND, VECTOR_W, 10.0, 0.0)
        change = np.diff(after, prepend=0.0)
        np.testing.assert_allclose(VECTOR_W - setpoint, VECTOR_W - 10.0 * change, rtol=0, atol=1e-6)
        assert memory == pytest.approx(after[-1])


class TestStep:
    def test_after_one_time_constant(self):
        # 50 kW * (1 - exp(-1)) = 31.606 kW.
        after = low_pass(np.ones(10), np.full(10, 50.0), 10.0, 0.0)
        agrees(after[-1], "31.606")

    def test_gain_of_one_step(self):
        agrees(float(low_pass(np.ones(1), np.ones(1), 10.0, 0.0)[0]), "0.0951626")

    @pytest.mark.parametrize("steps", [1, 7, 400])
    def test_step_width_does_not_matter(self, steps):
        after = low_pass(np.full(steps, 10.0 / steps), np.full(steps, 50.0), 10.0, 0.0)
        assert after[-1] == pytest.approx(50.0 * -np.expm1(-1.0), rel=1e-12)

    def test_energy_the_bank_must_give_is_power_times_time_constant(self):
        # Integral of P exp(-t / tau) = P tau: 50 kW * 10 s = 500 kJ = 138.9 Wh.
        n = 400
        setpoint, _ = LowPass(time_constant_s=10.0).ultracapacitor_setpoint_W(np.ones(n), np.full(n, 50e3), 0.0)
        assert setpoint.sum() == pytest.approx(500e3, rel=1e-9)
        agrees(setpoint.sum() / 3600.0, "138.9")

    def test_a_step_up_and_down_gives_back_what_it_took(self):
        # The lag's direct-current gain is 1: over a pulse that has died out the bank's net energy is zero.
        demand = np.concatenate([np.full(100, 50e3), np.zeros(1000)])
        setpoint, _ = LowPass(time_constant_s=10.0).ultracapacitor_setpoint_W(np.ones(1100), demand, 0.0)
        assert setpoint.sum() == pytest.approx(0.0, abs=1e-3)


LENGTHS = st.lists(st.floats(0.0, 100.0), min_size=1, max_size=60)


@settings(deadline=None)
@given(lengths=LENGTHS, tau=st.floats(0.01, 1e4), start=st.floats(-1e5, 1e5), data=st.data())
def test_the_filter_is_the_recurrence_and_the_memory_carries_on(lengths, tau, start, data):
    n = len(lengths)
    demand = data.draw(st.lists(st.floats(-1e5, 1e5), min_size=n, max_size=n))
    value, path = start, []
    for dt, power in zip(lengths, demand, strict=True):
        value += -np.expm1(-dt / tau) * (power - value)
        path.append(value)
    length_s, demand_W = np.array(lengths), np.array(demand)
    np.testing.assert_allclose(low_pass(length_s, demand_W, tau, start), path, rtol=1e-9, atol=1e-6)
    # Cut anywhere, the rule's memory makes the two parts one.
    cut = data.draw(st.integers(0, n))
    rule = LowPass(time_constant_s=tau)
    whole, end = rule.ultracapacitor_setpoint_W(length_s, demand_W, start)
    first, memory = rule.ultracapacitor_setpoint_W(length_s[:cut], demand_W[:cut], start)
    second, end_of_parts = rule.ultracapacitor_setpoint_W(length_s[cut:], demand_W[cut:], memory)
    energy = np.concatenate([first, second]) * length_s
    np.testing.assert_allclose(energy, whole * length_s, rtol=1e-9, atol=1e-9 * tau * 1e5)
    assert end_of_parts == pytest.approx(end, rel=1e-9, abs=1e-6)


def test_power_limit_by_hand():
    demand = np.array([80.0, 50.0, 10.0, 0.0, -10.0, -60.0])
    setpoint, memory = PowerLimit(discharge_limit_W=50.0, charge_limit_W=20.0).ultracapacitor_setpoint_W(
        np.ones(6), demand, 7.0
    )
    assert setpoint.tolist() == [30.0, 0.0, 0.0, 0.0, 0.0, -40.0]
    assert memory == 7.0


def test_battery_only_carries_its_own_loss_too():
    # By hand: 900 W at 90 % are 1000 W at the terminals, -1000 W are -900 W.
    rule = BatteryOnly(battery_loss=Loss(efficiency=0.9))
    (one,) = share_day(Demand(np.ones(2), np.array([900.0, -1000.0])), rule, None, 0.0, 1)
    assert one.battery_W.tolist() == [1000.0, -900.0]
    assert not one.bank_W.any()
