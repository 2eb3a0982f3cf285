"""Speed of the best possible split, printed beside slower ways to the same answer; nothing here fails on time.

Run: ``pytest tests/bench/test_bench_best_split.py -s -m bench``. Each figure is process time.
"""

import time

import numpy as np
import pytest

from lifetime.split.best import tube
from lifetime.split.best.programme import BankLimits, least_rms
from lifetime.split.best.taut_string import EnergyWindow, taut_string

pytestmark = pytest.mark.bench

SAMPLES = 1_000_000
WINDOW = EnergyWindow(1.3e5, 5.2e5, 3e5, 3e5)


def steps(n):
    rng = np.random.default_rng(0)
    return np.repeat(rng.normal(0.0, 3e4, n // 100 + 1), 100)[:n] + rng.normal(0.0, 1e3, n)


DEMANDS = {
    "noise on steps": steps,
    "white noise": lambda n: np.random.default_rng(0).normal(0.0, 3e4, n),
    "waves of 5000 s": lambda n: 3e4 * np.sin(np.arange(n) * (2.0 * np.pi / 50_000)),
    "one ramp": lambda n: np.linspace(0.0, 3e4, n),
}


def timed(action):
    begun = time.process_time()
    result = action()
    return time.process_time() - begun, result


@pytest.mark.parametrize("shape", DEMANDS)
def test_taut_string_beside_a_walk_over_every_corner(shape, monkeypatch):
    length, demand = np.full(SAMPLES, 0.1), DEMANDS[shape](SAMPLES)
    ours, battery = timed(lambda: taut_string(length, demand, WINDOW))
    monkeypatch.setattr(tube, "_BLOCKS", ())
    plain, same = timed(lambda: taut_string(length, demand, WINDOW))
    print(f"\nstring, {SAMPLES:.0e} samples, {shape}: {ours:.2f} s; all corners {plain:.2f} s, {plain / ours:.1f}x")
    np.testing.assert_allclose(battery, same, rtol=1e-9, atol=1e-6)


@pytest.mark.parametrize("loss_per_W", [0.0, 1e-6])
def test_programme_beside_the_string(loss_per_W):
    n = 20_000
    length, demand = np.full(n, 0.1), steps(n)
    string, _ = timed(lambda: taut_string(length, demand, WINDOW))
    took, _ = timed(lambda: least_rms(length, demand, WINDOW, BankLimits(4e4, loss_per_W)))
    print(f"\nprogramme, {n} intervals, loss {loss_per_W:g} 1/W: {took:.2f} s; taut string: {1e3 * string:.1f} ms")
