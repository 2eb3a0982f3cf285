"""The largest running mean of a discharge power, against areas worked by hand and against a search over all windows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.stress.intervals import NO_CROSSINGS, Intervals
from lifetime.stress.power_peak import PowerPeak


def largest(window_s, length_s, left_W, right_W=None):
    peak = PowerPeak(window_s)
    length, left = np.asarray(length_s, dtype=np.float64), np.asarray(left_W, dtype=np.float64)
    peak.add(length, left, left if right_W is None else np.asarray(right_W, dtype=np.float64))
    return peak.largest_W


class TestByHand:
    def test_a_pulse_as_long_as_the_window_or_longer(self):
        assert largest(10.0, [20.0, 10.0, 20.0], [50.0, 300.0, 50.0]) == pytest.approx(300.0)
        assert largest(10.0, [600.0], [300.0]) == pytest.approx(300.0)

    def test_a_shorter_pulse_is_spread_over_the_window(self):
        assert largest(10.0, [20.0, 4.0, 20.0], [50.0, 300.0, 50.0]) == pytest.approx((4 * 300 + 6 * 50) / 10)

    def test_a_window_that_begins_with_the_pulse_and_ends_inside_an_interval(self):
        assert largest(2.0, [1.0, 10.0], [200.0, 100.0]) == pytest.approx(150.0)

    def test_charging_gives_nothing_back(self):
        assert largest(10.0, [5.0, 5.0], [300.0, -300.0]) == pytest.approx(150.0)
        assert largest(10.0, [5.0, 5.0], [-300.0, -1.0]) == 0.0

    def test_before_the_history_there_was_nothing(self):
        assert largest(10.0, [4.0], [100.0]) == pytest.approx(40.0)

    def test_a_triangle_is_highest_around_its_top(self):
        """0 to 100 W and back in 20 s each: the 10 s around the top lose a mean of 100 * 2.5 / 20 W."""
        assert largest(10.0, [20.0, 20.0], [0.0, 100.0], [100.0, 0.0]) == pytest.approx(87.5)

    def test_nothing_at_all(self):
        assert largest(10.0, [], []) == 0.0

    def test_over_two_stretches(self):
        peak = PowerPeak(10.0)
        for power in (200.0, 100.0):
            peak.add(np.full(1, 6.0), np.full(1, power), np.full(1, power))
        assert peak.largest_W == pytest.approx((6 * 200 + 4 * 100) / 10)


POWERS = st.lists(st.tuples(st.floats(0.1, 8.0), st.floats(-100.0, 100.0), st.floats(-100.0, 100.0)), min_size=1)


@given(runs=POWERS, window_s=st.floats(0.5, 20.0), cut=st.integers(0, 20))
@settings(max_examples=60, deadline=None)
def test_no_window_on_a_fine_grid_holds_more(runs, window_s, cut):
    length, left, right = (np.array(column) for column in zip(*runs, strict=True))
    left, right = np.maximum(left, 0.0), np.maximum(right, 0.0)
    peak = PowerPeak(window_s)
    for part in (slice(None, cut), slice(cut, None)):
        peak.add(length[part], left[part], right[part])
    edges = np.concatenate([[0.0], np.cumsum(length)])
    fine = np.unique(np.concatenate([edges, edges + window_s, np.linspace(0.0, edges[-1], 400)]))
    fine = fine[fine <= edges[-1]]
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (left + right) * length)])

    def energy_at(moment):
        place = np.clip(np.searchsorted(edges, moment, side="right") - 1, 0, length.size - 1)
        since = np.maximum(moment - edges[place], 0.0)
        return energy[place] + since * (left[place] + 0.5 * (right[place] - left[place]) / length[place] * since)

    means = (energy_at(fine) - energy_at(fine - window_s)) / window_s
    assert peak.largest_W >= means.max() * (1.0 - 1e-9) - 1e-9
    assert peak.largest_W <= max(left.max(), right.max()) * (1.0 + 1e-9) + 1e-9
    # Between two points of the grid a mean of powers up to 100 W moves by less than this.
    assert peak.largest_W <= means.max() + 100.0 * np.diff(fine, prepend=0.0).max() / window_s


def test_a_current_is_taken_at_the_terminals(source):
    """100 A for 10 s of a source of 3 V and 2 mΩ: 100 * (3 - 0.2) W; with a measured 2.5 V 250 W."""
    battery = source(resistance_ohm=2e-3, open_circuit_V=lambda soc: 3.0 + 0.0 * soc)
    ones = np.ones(10)
    for voltage_V, power_W in ((None, 280.0), (2.5 * ones, 250.0)):
        run = Intervals(ones, 100.0 * ones, 100.0 * ones, None, voltage_V, 0, NO_CROSSINGS)
        peak = PowerPeak(10.0)
        assert list(peak.over([run], battery, by_power=False)) == [run]
        assert peak.largest_W == pytest.approx(power_W, rel=1e-12)
    run = Intervals(ones, 70.0 * ones, 70.0 * ones, None, None, 0, NO_CROSSINGS)
    peak = PowerPeak(10.0)
    assert list(peak.over([run], battery, by_power=True)) == [run]
    assert peak.largest_W == pytest.approx(70.0)
