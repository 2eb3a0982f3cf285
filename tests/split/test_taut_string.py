"""The best possible split against convex solvers, brute force, closed forms, and every rule there is."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from lifetime.errors import NumberError
from lifetime.split.bank import Bank
from lifetime.split.best.achieved import achieved_share
from lifetime.split.best.programme import BankLimits, least_rms
from lifetime.split.best.taut_string import EnergyWindow, taut_string
from lifetime.split.best.tube import floor_corners
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand, share_day


def made_up(seed, most=60):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, most))
    length = rng.uniform(0.2, 2.0, n)
    demand = rng.normal(0.0, 10.0, n) * rng.uniform(0.1, 3.0)
    width = rng.uniform(0.0, 30.0)
    return length, demand, EnergyWindow(0.0, width, rng.uniform(0.0, width), rng.uniform(0.0, width))


def stored(length, demand, battery, window):
    return window.start_J - np.cumsum(length * (demand - battery))


@pytest.mark.parametrize("seed", range(200))
def test_least_squares_equal_a_convex_solver(seed):
    import cvxpy as cp

    length, demand, window = made_up(seed)
    battery = taut_string(length, demand, window)
    power = cp.Variable(length.size)
    energy = window.start_J - cp.cumsum(cp.multiply(length, demand - power))
    problem = cp.Problem(
        cp.Minimize(cp.sum(cp.multiply(length, cp.square(power)))),
        [energy >= 0.0, energy <= window.highest_J, energy[length.size - 1] == window.end_J],
    )
    problem.solve(solver=cp.CLARABEL, tol_gap_abs=1e-11, tol_gap_rel=1e-11, tol_feas=1e-11)
    assert float(np.sum(length * battery**2)) == pytest.approx(problem.value, rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_peak_and_throughput_are_least_at_once(seed):
    """Linear programmes by HiGHS: least peak and least throughput, by the same string that has the least squares."""
    length, demand, window = made_up(seed, most=25)
    battery = taut_string(length, demand, window)
    n = length.size
    upto = np.tril(np.ones((n, n))) * length  # cumulative battery energy
    floor = np.cumsum(length * demand) - window.start_J
    tube = np.vstack([upto, -upto])
    room = np.concatenate([floor + window.highest_J, -floor])
    both = {"A_eq": None, "b_eq": None}
    # Peak: power between -z and z, least z.
    rows = np.vstack([
        np.hstack([tube, np.zeros((2 * n, 1))]),
        np.hstack([np.eye(n), -np.ones((n, 1))]),
        np.hstack([-np.eye(n), -np.ones((n, 1))]),
    ])
    both["A_eq"], both["b_eq"] = np.hstack([upto[-1:], [[0.0]]]), [floor[-1] + window.end_J]
    peak = linprog([0.0] * n + [1.0], rows, np.concatenate([room, np.zeros(2 * n)]), bounds=(None, None), **both)
    assert np.abs(battery).max() == pytest.approx(peak.fun, rel=1e-7, abs=1e-9)
    # Throughput: |power| below y, least sum of length times y.
    rows = np.vstack([
        np.hstack([tube, np.zeros((2 * n, n))]),
        np.hstack([np.eye(n), -np.eye(n)]),
        np.hstack([-np.eye(n), -np.eye(n)]),
    ])
    both["A_eq"] = np.hstack([upto[-1:], np.zeros((1, n))])
    least = linprog(
        [0.0] * n + length.tolist(), rows, np.concatenate([room, np.zeros(2 * n)]), bounds=(None, None), **both
    )
    assert float(np.sum(length * np.abs(battery))) == pytest.approx(least.fun, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_brute_force_on_tiny_ones(seed):
    rng = np.random.default_rng(seed)
    demand = rng.integers(-4, 5, 4).astype(float)
    length = np.ones(4)
    window = EnergyWindow(0.0, 3.0, 1.0, 1.0)
    battery = taut_string(length, demand, window)
    grid = np.arange(-6.0, 6.01, 0.5)
    least = np.inf
    for first in product(grid, repeat=3):
        power = np.array([*first, float(demand.sum()) - sum(first)])
        energy = stored(length, demand, power, window)
        if energy.min() >= 0.0 and energy.max() <= 3.0:
            least = min(least, float(np.sum(power**2)))
    # The grid holds no better curve, and one that is worse by no more than its own coarseness.
    mine = float(np.sum(battery**2))
    assert mine <= least + 1e-9
    assert least <= mine + 4 * 0.25**2 + 2 * 0.25 * np.abs(battery).sum()


@settings(deadline=None, max_examples=100)
@given(seed=st.integers(0, 2**32 - 1), at=st.floats(0.0, 1.0), share=st.floats(0.1, 0.9))
def test_the_string_stays_in_its_tube_and_does_not_mind_cuts(seed, at, share):
    length, demand, window = made_up(seed)
    battery = taut_string(length, demand, window)
    energy = stored(length, demand, battery, window)
    slack = 1e-9 * (1.0 + np.abs(length * demand).sum())
    assert energy.min() >= -slack
    assert energy.max() <= window.highest_J + slack
    assert energy[-1] == pytest.approx(window.end_J, abs=slack)
    place = min(int(at * length.size), length.size - 1)
    cut_length = np.insert(length, place, length[place] * share)
    cut_length[place + 1] *= 1.0 - share
    cut = taut_string(cut_length, np.insert(demand, place, demand[place]), window)
    assert np.sum(cut_length * cut**2) <= np.sum(length * battery**2) + slack


@settings(deadline=None, max_examples=1000)
@given(
    seed=st.integers(0, 2**32 - 1),
    rule=st.one_of(
        st.floats(0.5, 300.0).map(LowPass),
        st.tuples(st.floats(0.0, 3e4), st.floats(0.0, 3e4)).map(lambda pair: PowerLimit(*pair)),
    ),
)
def test_no_rule_beats_it(seed, rule):
    """1,000 random demands and lossless banks: no convex measure of any rule is below the string's."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 80))
    length = rng.uniform(0.5, 5.0, n)
    demand = np.repeat(rng.normal(0.0, 2e4, n), 1)
    bank = Bank(float(rng.uniform(5.0, 100.0)), 0.0, 60.0, 130.0, np.inf, None)
    start_V = float(rng.uniform(60.0, 130.0))
    shared = share_day(Demand(length, demand), rule, bank, start_V, 1)[0]
    ends = (bank.energy_J(60.0), bank.energy_J(130.0))
    # As the rule ended, rounding kept inside the window.
    energies = [min(max(bank.energy_J(float(v)), ends[0]), ends[1]) for v in (start_V, shared.bank_V[-1])]
    battery = taut_string(length, demand, EnergyWindow(*ends, *energies))
    for measure in (np.square, np.abs, lambda p: np.abs(p) ** 1.5, lambda p: np.exp(np.abs(p) / 2e4)):
        best, theirs = (float(np.sum(length * measure(p))) for p in (battery, shared.battery_W))
        assert best <= theirs * (1.0 + 1e-6) + 1e-6
    assert np.abs(battery).max() <= np.abs(shared.battery_W).max() * (1.0 + 1e-6) + 1e-6


def test_closed_forms():
    length, demand = np.array([1.0, 2.0, 0.0, 1.0]), np.array([10.0, -5.0, 99.0, 4.0])
    # An endless bank leaves the battery the mean, 4 J over 4 s; no bank leaves it the demand.
    assert taut_string(length, demand, EnergyWindow(0.0, 1e6, 5e5, 5e5)).tolist() == [1.0, 1.0, 0.0, 1.0]
    assert taut_string(length, demand, EnergyWindow(7.0, 7.0, 7.0, 7.0)).tolist() == [10.0, -5.0, 0.0, 4.0]
    # A pulse of 100 W for 1 s after 9 s of nothing, and a bank of 50 J: filled at 50/9 W, emptied in the pulse.
    pulse = taut_string(np.array([9.0, 1.0]), np.array([0.0, 100.0]), EnergyWindow(0.0, 50.0, 0.0, 0.0))
    assert pulse == pytest.approx([50.0 / 9.0, 50.0])


def test_refusals():
    with pytest.raises(NumberError, match="within its window"):
        EnergyWindow(0.0, 1.0, 2.0, 0.5)
    with pytest.raises(NumberError, match="no time passes"):
        taut_string(np.zeros(2), np.ones(2), EnergyWindow(0.0, 1.0, 0.5, 0.5))


@pytest.mark.parametrize("width", [0.0, 1e2, 1e4, 1e6])
def test_corners_left_out_do_not_matter(width, monkeypatch):
    """The string through all corners is the string through those kept."""
    from lifetime.split.best import tube

    rng = np.random.default_rng(1)
    n = 5000
    demand = np.repeat(rng.normal(0.0, 3e4, n // 10), 10) + rng.normal(0.0, 1e3, n)
    length, window = np.full(n, 0.1), EnergyWindow(0.0, width, width / 3, width / 2)
    short = taut_string(length, demand, window)
    monkeypatch.setattr(tube, "_BLOCKS", ())
    whole = taut_string(length, demand, window)
    np.testing.assert_allclose(short, whole, rtol=1e-9, atol=1e-6)
    time, energy = np.arange(n + 1) * 0.1, np.concatenate([[0.0], np.cumsum(demand * 0.1)])
    assert floor_corners(time, energy, width).size == n + 1


class TestLosses:
    def test_without_losses_and_limits_the_programme_is_the_string(self):
        length, demand, window = made_up(5)
        string = taut_string(length, demand, window)
        found = least_rms(length, demand, window, BankLimits(1e6, 0.0))
        assert found.rms_W == pytest.approx(float(np.sqrt(np.sum(length * string**2) / length.sum())), rel=1e-4)

    def test_limits_and_losses_only_raise_it(self):
        length, demand, window = made_up(6)
        free = least_rms(length, demand, window, BankLimits(1e6, 0.0)).rms_W
        limited = least_rms(length, demand, window, BankLimits(5.0, 0.0)).rms_W
        lossy = least_rms(length, demand, window, BankLimits(5.0, 0.01)).rms_W
        assert free <= limited * (1 + 1e-6)
        assert limited <= lossy * (1 + 1e-6)

    def test_no_power_at_all_leaves_the_demand(self):
        length, demand, _ = made_up(7)
        found = least_rms(length, demand, EnergyWindow(0.0, 10.0, 5.0, 5.0), BankLimits(1e-6, 0.0))
        np.testing.assert_allclose(found.battery_W, demand, atol=1e-3)


@pytest.mark.parametrize(
    ("alone", "this", "best", "share"),
    [(10, 10, 5, 0.0), (10, 5, 5, 1.0), (10, 7.5, 5, 0.5), (10, 12.5, 5, -0.5), (1, 1, 1, None)],
)
def test_achieved_share(alone, this, best, share):
    assert achieved_share(alone, this, best) == share
