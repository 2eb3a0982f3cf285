"""The bound with a power limit and losses against another solver, the lossless string and every rule there is."""

import importlib

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from lifetime.errors import ConvergenceError, MissingPackageError, NumberError
from lifetime.split.bank import Bank
from lifetime.split.best.achieved import achieved_share
from lifetime.split.best.programme import BankLimits, least_rms
from lifetime.split.best.taut_string import EnergyWindow, taut_string
from lifetime.split.day import share_day
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand


def made_up(seed, mean_W=0.0):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 60))
    return rng.uniform(0.2, 2.0, n), rng.normal(mean_W, 10.0, n), EnergyWindow(0.0, 20.0, 12.0, 8.0)


def rms(length, power):
    return float(np.sqrt(np.sum(length * power**2) / length.sum()))


@pytest.mark.parametrize("seed", range(10))
def test_without_losses_and_limits_it_is_the_string(seed):
    length, demand, window = made_up(seed)
    found = least_rms(length, demand, window, BankLimits(1e3, 0.0))
    assert found.rms_W == pytest.approx(rms(length, taut_string(length, demand, window)), rel=1e-6)
    assert found.thrown_away_J == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("mean_W", [-4.0, 4.0])
@pytest.mark.parametrize("seed", range(4))
def test_another_solver_finds_the_same(seed, mean_W):
    """Sequential least squares (SLSQP) on the same bank, with what is thrown away as variables of their own."""
    rng = np.random.default_rng(seed)
    n = 6
    length, demand = rng.uniform(0.5, 2.0, n), rng.normal(mean_W, 10.0, n)

    def rooms(x):
        energy = 6.0 - np.cumsum(length * (x[:n] + 0.01 * x[:n] ** 2) + x[n:])
        most = 0.01 * 8.0**2 - 0.01 * x[:n] ** 2 - x[n:] / length
        return np.concatenate([energy, 15.0 - energy, [energy[-1] - 5.0], most])

    other = minimize(
        lambda x: np.sum(length * (demand - x[:n]) ** 2),
        np.concatenate([np.zeros(n), np.full(n, 0.1)]),
        method="SLSQP",
        bounds=[(-8.0, 8.0)] * n + [(0.0, None)] * n,
        constraints={"type": "ineq", "fun": rooms},
        options={"maxiter": 2000, "ftol": 1e-12},
    )
    assert rooms(other.x).min() > -1e-6
    found = least_rms(length, demand, EnergyWindow(0.0, 15.0, 6.0, 5.0), BankLimits(8.0, 0.01))
    assert found.rms_W == pytest.approx(np.sqrt(other.fun / length.sum()), rel=1e-5)


@settings(deadline=None, max_examples=40)
@given(
    seed=st.integers(0, 2**32 - 1),
    rule=st.one_of(
        st.floats(0.5, 100.0).map(lambda tau: LowPass(time_constant_s=tau)),
        st.builds(PowerLimit, discharge_limit_W=st.floats(0.0, 3e4), charge_limit_W=st.floats(0.0, 3e4)),
    ),
)
# The bank can carry it all: the least is nothing.
@example(seed=24955795, rule=PowerLimit(discharge_limit_W=0.0, charge_limit_W=0.0))
def test_no_rule_on_a_lossy_bank_beats_it(seed, rule):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 50))
    demand = Demand(rng.uniform(0.5, 5.0, n), rng.normal(0.0, 2e4, n))
    bank = Bank(float(rng.uniform(5.0, 100.0)), float(rng.uniform(0.001, 0.02)), 60.0, 130.0, 400.0)
    shared = share_day(demand, rule, bank, float(rng.uniform(60.0, 130.0)), 1)[0]
    low, high = bank.energy_J(60.0), bank.energy_J(130.0)
    ends = np.clip([bank.energy_J(float(shared.bank_V[at])) for at in (0, -1)], low, high).tolist()
    highest_A = 400.0 * (1.0 + 1e-5)  # the path keeps its limit to this
    highest_V = 130.0 + bank.resistance_ohm * highest_A
    limits = BankLimits(highest_V * highest_A, bank.resistance_ohm / highest_V**2)
    found = least_rms(demand.length_s, demand.power_W, EnergyWindow(low, high, *ends), limits)
    assert found.rms_W <= rms(demand.length_s, shared.battery_W) * (1.0 + 1e-6) + 1e-6


def test_a_limit_only_raises_it_and_is_kept():
    length, demand, window = made_up(6)
    free = least_rms(length, demand, window, BankLimits(1e3, 0.0))
    limited = least_rms(length, demand, window, BankLimits(5.0, 0.0))
    assert free.rms_W < limited.rms_W
    assert np.abs(demand - limited.battery_W).max() <= 5.0 * (1.0 + 1e-6)


def test_two_levels_of_a_lossy_bank_in_closed_form():
    """Demand 0 then P, 1 s each, bank empty at both ends: charging c gives d with ``d + k d**2 = c - k c**2``.

    The least of ``c**2 + (P - d)**2`` over c on a fine grid, the bank's own equation solved for d.
    """
    k, high = 0.01, 10.0
    charge = np.linspace(0.0, 10.0, 1_000_001)
    back = (-1.0 + np.sqrt(1.0 + 4.0 * k * (charge - k * charge**2))) / (2.0 * k)
    least = np.sqrt(np.min(charge**2 + (high - back) ** 2) / 2.0)
    found = least_rms(np.ones(2), np.array([0.0, high]), EnergyWindow(0.0, 100.0, 0.0, 0.0), BankLimits(1e3, k))
    assert found.rms_W == pytest.approx(least, rel=1e-6)
    assert found.thrown_away_J < 1e-4


@pytest.mark.parametrize(("power_W", "left_W"), [(200.0, 0.0), (50.0, 7.5), (20.0, 9.6)])
def test_what_it_throws_away_is_said_and_bounded(power_W, left_W):
    """Braking of 10 W and a full bank, which can burn at most ``loss_per_W * power_W**2``: 40, 2.5 and 0.4 W."""
    found = least_rms(np.ones(4), np.full(4, -10.0), EnergyWindow(0.0, 5.0, 5.0, 5.0), BankLimits(power_W, 1e-3))
    assert found.rms_W == pytest.approx(left_W, rel=1e-6, abs=1e-6)
    # What arrives a second, less the bank's own loss at that power.
    burnt = 10.0 - left_W
    assert found.thrown_away_J == pytest.approx(4.0 * (burnt - 1e-3 * burnt**2), rel=1e-3)


def test_no_power_at_all_leaves_the_demand():
    length, demand, _ = made_up(7)
    found = least_rms(length, demand, EnergyWindow(0.0, 10.0, 5.0, 5.0), BankLimits(1e-6, 0.0))
    np.testing.assert_allclose(found.battery_W, demand, atol=1e-3)


def test_an_interval_without_time_changes_nothing():
    window, limits = EnergyWindow(0.0, 10.0, 5.0, 5.0), BankLimits(100.0, 0.0)
    found = least_rms(np.array([1.0, 0.0, 2.0]), np.array([1.0, 99.0, 2.0]), window, limits)
    assert found.battery_W == pytest.approx([5.0 / 3.0, 0.0, 5.0 / 3.0], rel=1e-5)


def test_refusals():
    window = EnergyWindow(0.0, 100.0, 5.0, 90.0)
    for limits in ((0.0, 0.0), (-1.0, 0.0), (1.0, -1e-9), (np.nan, 0.0), (1.0, np.inf)):
        with pytest.raises(NumberError, match="power limit must be above 0"):
            BankLimits(*limits)
    with pytest.raises(NumberError, match="not finite"):
        least_rms(np.ones(2), np.array([1.0, np.nan]), window, BankLimits(1.0, 0.0))
    with pytest.raises(ConvergenceError, match="infeasible"):
        least_rms(np.ones(2), np.ones(2), window, BankLimits(1.0, 0.0))


def test_without_the_modelling_library_the_message_says_what_to_install(monkeypatch):
    real = importlib.import_module

    def absent(name, package=None):
        if name == "cvxpy":
            raise ModuleNotFoundError(name)
        return real(name, package)

    monkeypatch.setattr(importlib, "import_module", absent)
    says = r"needs the package cvxpy.*pip install 'packwear\[design\]'"
    with pytest.raises(MissingPackageError, match=says) as caught:
        least_rms(np.ones(2), np.ones(2), EnergyWindow(0.0, 1.0, 0.5, 0.5), BankLimits(1.0, 0.0))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("alone", "this", "best", "share"),
    [(10, 10, 5, 0.0), (10, 5, 5, 1.0), (10, 7.5, 5, 0.5), (10, 12.5, 5, -0.5), (1, 1, 1, None), (1, 1, 2, None)],
)
def test_achieved_share(alone, this, best, share):
    assert achieved_share(alone, this, best) == share
