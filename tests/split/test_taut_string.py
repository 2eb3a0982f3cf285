"""The best possible split against convex solvers, brute force, closed forms, and every rule there is."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from lifetime.errors import NumberError
from lifetime.split.bank import Bank
from lifetime.split.best.taut_string import EnergyWindow, taut_string
from lifetime.split.best.tube import corners_that_matter
from lifetime.split.day import share_day
from lifetime.split.rules.low_pass import LowPass
from lifetime.split.rules.power_limit import PowerLimit
from lifetime.split.share import Demand


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
    rows = np.vstack(
        [
            np.hstack([tube, np.zeros((2 * n, 1))]),
            np.hstack([np.eye(n), -np.ones((n, 1))]),
            np.hstack([-np.eye(n), -np.ones((n, 1))]),
        ]
    )
    both["A_eq"], both["b_eq"] = np.hstack([upto[-1:], [[0.0]]]), [floor[-1] + window.end_J]
    peak = linprog([0.0] * n + [1.0], rows, np.concatenate([room, np.zeros(2 * n)]), bounds=(None, None), **both)
    assert np.abs(battery).max() == pytest.approx(peak.fun, rel=1e-7, abs=1e-9)
    # Throughput: |power| below y, least sum of length times y.
    rows = np.vstack(
        [
            np.hstack([tube, np.zeros((2 * n, n))]),
            np.hstack([np.eye(n), -np.eye(n)]),
            np.hstack([-np.eye(n), -np.eye(n)]),
        ]
    )
    both["A_eq"] = np.hstack([upto[-1:], np.zeros((1, n))])
    least = linprog(
        [0.0] * n + length.tolist(), rows, np.concatenate([room, np.zeros(2 * n)]), bounds=(None, None), **both
    )
    assert float(np.sum(length * np.abs(battery))) == pytest.approx(least.fun, rel=1e-7, abs=1e-9)


MEASURES = {
    "square": np.square,
    "throughput": np.abs,
    "power 1.5": lambda p: np.abs(p) ** 1.5,
    "exponential": lambda p: np.exp(p / 10.0),
    "charging only": lambda p: np.maximum(-p, 0.0),
}


@pytest.mark.parametrize("seed", range(60))
def test_every_choice_of_bends_on_tiny_ones(seed):
    """The exact least by brute force: each inner time is free, on the floor or on the ceiling, 3**5 choices.

    A convex programme's least has some set of active bounds, and between two of them a curve of least cost is straight.
    Whole numbers, so that ties, flat stretches and bends on both sides at once come up.
    """
    rng = np.random.default_rng(seed)
    n = 6
    length = rng.integers(1, 4, n).astype(float) if seed % 2 else np.ones(n)
    demand = rng.integers(-4, 5, n).astype(float)
    width = float(rng.integers(0, 6))
    window = EnergyWindow(0.0, width, *rng.integers(0, int(width) + 1, 2).astype(float).tolist())
    time, floor = np.append(0.0, np.cumsum(length)), np.append(0.0, np.cumsum(demand * length)) - window.start_J
    least = dict.fromkeys([*MEASURES, "peak"], np.inf)
    for choice in product((None, 0.0, width), repeat=n - 1):
        fixed = [0, *(k + 1 for k, where in enumerate(choice) if where is not None), n]
        level = [0.0, *(floor[k + 1] + at for k, at in enumerate(choice) if at is not None), floor[-1] + window.end_J]
        curve = np.interp(time, time[fixed], level)
        if (curve[1:-1] < floor[1:-1] - 1e-12).any() or (curve[1:-1] > floor[1:-1] + width + 1e-12).any():
            continue
        power = np.diff(curve) / length
        for name, measure in MEASURES.items():
            least[name] = min(least[name], float(np.sum(length * measure(power))))
        least["peak"] = min(least["peak"], float(np.abs(power).max()))
    battery = taut_string(length, demand, window)
    mine = {name: float(np.sum(length * measure(battery))) for name, measure in MEASURES.items()}
    mine["peak"] = float(np.abs(battery).max())
    assert mine == pytest.approx(least, rel=1e-12, abs=1e-12)


@settings(deadline=None, max_examples=100)
@given(seed=st.integers(0, 2**32 - 1), at=st.floats(0.0, 1.0), share=st.floats(0.1, 0.9))
def test_the_string_stays_in_its_tube_and_does_not_mind_cuts(seed, at, share):
    length, demand, window = made_up(seed)
    battery = taut_string(length, demand, window)
    energy = stored(length, demand, battery, window)
    slack = 1e-9 * (window.highest_J + 1e-3 * np.abs(length * demand).sum())
    assert energy.min() >= -slack
    assert energy.max() <= window.highest_J + slack
    assert energy[-1] == pytest.approx(window.end_J, abs=slack)
    # An interval cut in two asks nothing new: the tube is straight there.
    place = min(int(at * length.size), length.size - 1)
    cut_length = np.insert(length, place, length[place] * share)
    cut_length[place + 1] *= 1.0 - share
    cut = taut_string(cut_length, np.insert(demand, place, demand[place]), window)
    np.testing.assert_allclose(cut, np.insert(battery, place, battery[place]), rtol=1e-9, atol=1e-9)
    # An interval without time changes nothing, whatever it asks.
    idle = taut_string(np.insert(length, place, 0.0), np.insert(demand, place, 1e6), window)
    assert idle.tolist() == np.insert(battery, place, 0.0).tolist()
    # Backwards in time every flow turns round.
    turned = EnergyWindow(window.lowest_J, window.highest_J, window.end_J, window.start_J)
    back = taut_string(length[::-1], -demand[::-1], turned)
    np.testing.assert_allclose(-back[::-1], battery, rtol=1e-9, atol=1e-9)


@settings(deadline=None, max_examples=200)
@given(seed=st.integers(0, 2**32 - 1), share=st.sampled_from([0.01, 0.2, 1.0]))
def test_no_path_within_the_window_beats_it(seed, share):
    """Paths drawn at random, from close to the string to all over the window."""
    length, demand, window = made_up(seed)
    battery = taut_string(length, demand, window)
    anywhere = np.random.default_rng(seed).uniform(0.0, window.highest_J, length.size)
    anywhere[-1] = window.end_J
    path = (1.0 - share) * stored(length, demand, battery, window) + share * anywhere
    other = demand + np.diff(path, prepend=window.start_J) / length
    for measure in MEASURES.values():
        best, theirs = (float(np.sum(length * measure(p))) for p in (battery, other))
        assert best <= theirs + 1e-9 * (abs(theirs) + 1.0)
    assert np.abs(battery).max() <= np.abs(other).max() * (1.0 + 1e-9) + 1e-9


@settings(deadline=None, max_examples=1000)
@given(
    seed=st.integers(0, 2**32 - 1),
    rule=st.one_of(
        st.floats(0.5, 300.0).map(lambda tau: LowPass(time_constant_s=tau)),
        st.builds(PowerLimit, discharge_limit_W=st.floats(0.0, 3e4), charge_limit_W=st.floats(0.0, 3e4)),
    ),
)
def test_no_rule_beats_it(seed, rule):
    """1,000 random demands and lossless banks: no convex measure of any rule is below the string's."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 80))
    length = rng.uniform(0.5, 5.0, n)
    demand = rng.normal(0.0, 2e4, n)
    bank = Bank(float(rng.uniform(5.0, 100.0)), 0.0, 60.0, 130.0, np.inf)
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


@pytest.mark.parametrize("samples", [100, 100_000])
def test_a_rising_demand_hugs_the_ceiling(samples):
    """Demand ``a t``, a bank that starts and ends empty: tangents from both ends to the parabola ``a t**2 / 2 + W``.

    The tangent from the origin touches at ``t0 = sqrt(2 W / a)``; until then the battery gives ``a t0``, from
    ``T - t0`` on it gives ``a (T - t0)``, and the demand itself in between. Held at its mean over an interval, the
    demand keeps its cumulative energy at the intervals' ends, so with ``t0`` among them the closed form holds too.
    """
    rise, step, touch = 3.0, 0.5, samples // 5
    middle = (np.arange(samples) + 0.5) * step
    window = EnergyWindow(0.0, 0.5 * rise * (touch * step) ** 2, 0.0, 0.0)
    battery = taut_string(np.full(samples, step), rise * middle, window)
    expected = np.clip(rise * middle, rise * touch * step, rise * (samples - touch) * step)
    np.testing.assert_allclose(battery, expected, rtol=1e-9)


@pytest.mark.parametrize(("last", "full"), [(1e6, False), (-1e6, True)])
def test_a_small_bank_at_the_end_of_a_long_demand(last, full):
    """A long demand of high power before a pulse leaves the pulse's own closed form all its digits.

    After a peak the bank is empty and fills 5 J over the 0.9 s until the pulse; after a trough it is full already. The
    pulse of 100 W for 0.1 s above an even demand takes the 5 J: 50 W less for the battery.
    """
    n, even = 200_000, 123_456.789
    length, demand = np.full(n + 10, 0.1), np.full(n + 10, even)
    demand[:n:2] -= last
    demand[1:n:2] += last
    demand[-1] += 100.0
    battery = taut_string(length, demand, EnergyWindow(0.0, 5.0, 0.0, 0.0))
    assert battery[-1] == pytest.approx(even + 50.0, abs=1e-6)
    assert battery[n : n + 9] == pytest.approx(even if full else even + 5.0 / 0.9, abs=1e-6)


@pytest.mark.parametrize(
    ("length", "demand", "says"),
    [
        ([0.0, 0.0], [1.0, 1.0], "no time passes"),
        ([], [], "no time passes"),
        ([1.0, -1.0, 5.0], [1.0, 1.0, 1.0], "-1 at position 1 is negative"),
        ([1.0, 1.0], [1.0, np.nan], "not finite"),
        ([1.0, np.inf], [1.0, 1.0], "not finite"),
        ([1.0, 1.0], [1.0], "one power for each interval"),
    ],
)
def test_what_is_no_demand_is_refused(length, demand, says):
    with pytest.raises(NumberError, match=says):
        taut_string(np.array(length), np.array(demand), EnergyWindow(0.0, 1.0, 0.5, 0.5))


@pytest.mark.parametrize("window", [(0.0, 1.0, 2.0, 0.5), (0.0, 1.0, 0.5, -1.0), (0.0, 1.0, np.nan, 0.5)])
def test_ends_outside_the_window_are_refused(window):
    with pytest.raises(NumberError, match="within its window"):
        EnergyWindow(*window)


def test_an_endless_window_is_refused():
    with pytest.raises(NumberError, match="must be finite"):
        EnergyWindow(0.0, np.inf, 1.0, 1.0)


def test_an_interval_too_short_for_the_clock_counts_as_none():
    battery = taut_string(np.array([1e6, 1e-12, 1.0]), np.array([1.0, 2.0, 3.0]), EnergyWindow(0.0, 10.0, 5.0, 5.0))
    assert battery == pytest.approx([1.000002, 0.0, 1.000002], abs=1e-6)


SHAPES = {
    "noise on steps": lambda n, rng: np.repeat(rng.normal(0.0, 3e4, n // 10), 10) + rng.normal(0.0, 1e3, n),
    "walk": lambda n, rng: np.cumsum(rng.normal(0.0, 1e3, n)),
    "waves": lambda n, _: 3e4 * np.sin(np.arange(n) / 300.0),
    "whole numbers": lambda n, rng: rng.integers(-3, 4, n) * 1e4,
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("width", [0.0, 1e2, 1e4, 1e6])
def test_corners_left_out_do_not_matter(shape, width, monkeypatch):
    """The string through all corners is the string through those kept."""
    from lifetime.split.best import tube

    n = 5000
    demand = SHAPES[shape](n, np.random.default_rng(1))
    length, window = np.full(n, 0.1), EnergyWindow(0.0, width, width / 3, width / 2)
    time, energy = np.arange(n + 1) * 0.1, np.concatenate([[0.0], np.cumsum(demand * 0.1)])
    short = taut_string(length, demand, window)
    kept = corners_that_matter(time, energy, energy + width)
    assert all(one.at[0] == 0 and one.at[-1] == n for one in kept)
    if width == 1e6:
        assert sum(one.at.size for one in kept) < n
    monkeypatch.setattr(tube, "_BLOCKS", ())
    assert [one.at.size for one in corners_that_matter(time, energy, energy + width)] == [n + 1, n + 1]
    np.testing.assert_allclose(short, taut_string(length, demand, window), rtol=1e-9, atol=1e-6)
