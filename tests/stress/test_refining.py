"""Long intervals cut finer: what is integrated stays, what is binned sees the way between the samples."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.history.block import Block
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import NO_CROSSINGS, Intervals, intervals
from lifetime.stress.refining import refined


def run_of(length, left, right, crossings=NO_CROSSINGS):
    length = np.array(length, dtype=float)
    return Intervals(
        length_s=length,
        left=np.array(left, dtype=float),
        right=np.array(right, dtype=float),
        temperature_K=np.linspace(290.0, 300.0, length.size),
        voltage_V=np.linspace(300.0, 400.0, length.size),
        first_sample=7,
        crossings=np.array(crossings, dtype=np.intp),
    )


def test_short_intervals_are_left_as_they_are():
    run = run_of([1.0, 1.0], [5.0, 5.0], [5.0, -5.0])
    assert refined(run, 5.0, np.inf) is run
    assert refined(run, np.inf, 1.0) is run


def test_an_hour_at_one_capacity_an_hour_is_cut_into_a_hundred_pieces_but_no_more_than_allowed():
    # 3600 As in an interval, 72 As allowed: 50 times too much, so pieces of half of what is allowed would be 100;
    # 64 are the most. 1440 As is 20 times too much: 40 pieces.
    run = refined(run_of([3600.0, 1440.0, 1.0], [1.0, 1.0, 1.0], [1.0, 1.0, 1.0]), 72.0, np.inf)
    np.testing.assert_array_equal(run.length_s, [3600.0 / 64] * 64 + [36.0] * 40 + [1.0])
    # By time: 3600 s at 0.4 of 100 s is 36 times too long.
    run = refined(run_of([3600.0], [0.0], [0.0]), 72.0, 100.0)
    assert run.length_s.size == 64
    assert refined(run_of([250.0], [0.0], [0.0]), 72.0, 100.0).length_s.tolist() == [50.0] * 5


def test_ends_inside_an_interval_are_no_samples():
    # Samples 7, 8, 9, 10 of the log; between 8 and 9 the current crosses zero, so intervals end at 1, (2), 3, 4.
    run = run_of([10.0, 4.0, 6.0, 10.0], [1.0, 1.0, 0.0, -1.5], [1.0, 0.0, -1.5, -1.5], crossings=[2])
    assert run.sample_at(np.arange(5)).tolist() == [7, 8, 8, 9, 10]
    cut = refined(run, 8.0, np.inf)
    # By hand: 10 As is 1.25 times 8 and takes 3 pieces, 4 and 9 As at the stronger end 1 and 3, 15 As takes 4.
    assert cut.length_s.size == 3 + 1 + 3 + 4
    assert cut.sample_at(np.array([0, 3, 4, 7, 11])).tolist() == [7, 8, 8, 9, 10]
    # An end inside belongs to the sample before it.
    assert cut.sample_at(np.array([1, 2, 5, 6, 8, 10])).tolist() == [7, 7, 8, 8, 9, 9]


@settings(deadline=None)
@given(
    rows=st.lists(st.tuples(st.floats(0.0, 1e4), st.floats(-500, 500), st.floats(-500, 500)), min_size=1, max_size=20),
    largest=st.floats(1.0, 1e6),
    longest=st.floats(1.0, 1e5),
)
def test_integrals_and_ends_stay(rows, largest, longest):
    run = run_of(*zip(*rows, strict=True))
    cut = refined(run, largest, longest)
    for of in (
        lambda one: one.length_s,
        lambda one: one.mean * one.length_s,
        lambda one: one.mean_square * one.length_s,
        lambda one: one.temperature_K * one.length_s,
        lambda one: one.voltage_V * one.mean * one.length_s,
    ):
        scale = float(np.sum(np.abs(of(run)))) + 1e-9
        assert float(np.sum(of(cut))) == pytest.approx(float(np.sum(of(run))), abs=1e-9 * scale)
    assert cut.left[0] == run.left[0]
    assert cut.right[-1] == run.right[-1]
    assert cut.strongest <= run.strongest * (1.0 + 1e-12)
    # The channel runs on without a jump inside what was one interval.
    inside = np.isin(np.arange(1, cut.length_s.size), cut.crossings)
    np.testing.assert_allclose(cut.right[:-1][inside], cut.left[1:][inside], rtol=1e-9, atol=1e-9)


def two_rows(time_s, current_A, temperature_K):
    """Two rows of a history, straight between."""
    block = Block(0, np.array(time_s), np.array(current_A), None, None, np.array(temperature_K))
    return SimpleNamespace(blocks=lambda: iter([block]), interpolation="linear", driven_by="current", samples=2)


def test_two_rows_far_apart_in_temperature_are_not_their_mean(source):
    # 0 °C and 60 °C, 12 h apart, straight between: a quarter of the time below 15 °C, and 30 °C on average.
    rows = two_rows([0.0, 43_200.0], [0.0, 0.0], [273.15, 333.15])
    drive = trace_drive(DriveTracer(source(), power_driven=False), intervals(rows))
    states = drive.time_at_state
    assert states.time_s.sum() == pytest.approx(43_200.0)
    assert np.sum(states.time_s * states.measured_K) / 43_200.0 == pytest.approx(303.15)
    assert states.time_s[states.measured_K < 288.15].sum() == pytest.approx(10_800.0)
    assert states.measured_K.min() < 273.7
    assert states.measured_K.max() > 332.6


def test_each_part_of_an_interval_has_its_own_temperature():
    # From 290 to 298 K, with the current through zero after a quarter: 290 to 292 K, and 292 to 298 K.
    (run,) = intervals(two_rows([0.0, 8.0], [1.0, -3.0], [290.0, 298.0]))
    assert run.temperature_K.tolist() == pytest.approx([291.0, 295.0])
    assert run.warming_K.tolist() == pytest.approx([2.0, 6.0])
    assert refined(run, np.inf, np.inf).temperature_K.tolist() == pytest.approx(
        [291.0, 292.5, 293.5, 294.5, 295.5, 296.5, 297.5]
    )
