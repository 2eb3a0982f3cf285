"""A day's demand shared pass by pass."""

import itertools

import numpy as np
import pytest

from lifetime.history.model import History
from lifetime.split.bank import Bank
from lifetime.split.day import share_day
from lifetime.split.demand import read_demand
from lifetime.split.rules.battery_only import BatteryOnly
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand, bank_runs, battery_runs

BANK = Bank(62.5, 13.92e-3, 64.8, 129.6, 2000.0)
SETPOINT = {"ultracapacitor_setpoint_V": 110.0, "ultracapacitor_setpoint_time_constant_s": 60.0}
LAG = LowPass(time_constant_s=10.0, **SETPOINT)
LIMIT = PowerLimit(discharge_limit_W=30e3, charge_limit_W=10e3, **SETPOINT)


def vector():
    power = 1e3 * np.repeat([0.0, 80.0, 0.0, -60.0, 10.0], [60, 10, 20, 10, 100])
    return Demand(np.ones(power.size), power)


def joined(runs, name):
    return np.concatenate([getattr(run, name) for run in runs])


def test_battery_alone_takes_the_demand():
    (one,) = share_day(vector(), BatteryOnly(), None, 0.0, 1)
    assert np.array_equal(one.battery_W, vector().power_W)
    assert not one.bank_W.any()
    assert not one.bank_A.any()


def test_passes_go_on_where_the_last_one_ended():
    shared = share_day(vector(), LAG, BANK, 110.0, 3)
    for before, after in itertools.pairwise(shared):
        assert after.bank_V[0] == before.bank_V[-1]
    # Three passes at once are one pass of three.
    tripled = Demand(np.tile(vector().length_s, 3), np.tile(vector().power_W, 3))
    (whole,) = share_day(tripled, LAG, BANK, 110.0, 1)
    np.testing.assert_allclose(np.concatenate([one.battery_W for one in shared]), whole.battery_W, atol=1e-2)
    np.testing.assert_allclose(np.concatenate([one.bank_A for one in shared]), whole.bank_A, atol=1e-3)


def test_a_pass_is_not_repeated_while_the_rule_still_remembers_another_start():
    # The bank ends every pass empty, but the lag climbs from pass to pass and gives the bank more in the pause.
    demand = Demand(np.array([10.0, 1.0, 200.0]), np.array([20e3, 0.0, 20e3]))
    shared = share_day(demand, LowPass(time_constant_s=1000.0), BANK, 64.8, 4)
    assert all(one.bank_V[-1] == pytest.approx(64.8) for one in shared)
    taken = [-float(one.bank_W[1]) for one in shared]
    # Mean of the lag over the pause: P (1 - e^(-t / tau)), t from the day's start, 10 s and 221 s of it and so on.
    lag = [20e3 * -np.expm1(-10.0 / 1000.0)]
    for _ in range(3):
        rested = lag[-1] * np.exp(-1.0 / 1000.0)
        lag.append(20e3 + (rested - 20e3) * np.exp(-210.0 / 1000.0))
    mean_over_pause = [value * 1000.0 * -np.expm1(-1.0 / 1000.0) for value in lag]
    np.testing.assert_allclose(taken, mean_over_pause, rtol=1e-6)


def test_once_passes_repeat_they_are_the_same():
    shared = share_day(vector(), LIMIT, BANK, 110.0, 40)
    assert len(shared) == 40
    np.testing.assert_allclose(shared[-1].bank_V, shared[-2].bank_V, rtol=1e-8)
    alone = share_day(vector(), LIMIT, BANK, 110.0, 39)
    np.testing.assert_allclose(alone[-1].bank_V, shared[-1].bank_V, rtol=1e-8)


def test_what_the_bank_cannot_give_the_battery_gives():
    # Without a window to speak of the bank does nothing, so the battery carries the whole demand.
    stuck = Bank(62.5, 0.0, 100.0, 100.0 + 1e-9, 2000.0)
    (one,) = share_day(vector(), PowerLimit(discharge_limit_W=30e3, charge_limit_W=10e3), stuck, 100.0, 1)
    np.testing.assert_allclose(one.battery_W, vector().power_W, atol=1.0)


@pytest.mark.parametrize("how", ["zero_order_hold", "linear"])
def test_a_demand_keeps_the_energy_of_its_history(how):
    time, power = np.array([0.0, 1.0, 3.0, 3.0, 4.0]), np.array([4e3, 2e3, -6e3, 8e3, 0.0])
    demand = read_demand(History.from_arrays(time_s=time, power_W=power, interpolation=how))
    # By hand: held 4 + 2*2 + 0 + 8 = 16 kJ; straight 3 + 2*(-2) + 0 + 4 = 3 kJ.
    assert demand.energy_J == pytest.approx(16e3 if how == "zero_order_hold" else 3e3)
    assert demand.length_s.sum() == pytest.approx(4.0)


def test_runs_are_the_shares_pass_after_pass():
    shared = share_day(vector(), LAG, BANK, 110.0, 3)
    battery, banks = list(battery_runs(shared)), list(bank_runs(shared))
    assert np.array_equal(joined(battery, "left"), np.concatenate([one.battery_W for one in shared]))
    assert np.array_equal(joined(banks, "right"), np.concatenate([one.bank_A for one in shared]))
    assert joined(battery, "length_s").sum() == pytest.approx(600.0)
