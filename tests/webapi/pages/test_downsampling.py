"""Downsampling a series for the screen: no peak is lost, nothing is invented, pieces do not matter."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.report.downsampling import MOST_POINTS, downsampled

VALUES = st.lists(st.floats(-1e6, 1e6, allow_nan=False), min_size=1, max_size=300)


def _series(values):
    return np.arange(len(values), dtype=np.float64), np.array(values)


@settings(deadline=None)
@given(VALUES, st.integers(2, 40), st.integers(1, 50))
def test_extremes_survive_and_every_point_is_a_sample(values, points, step):
    time, value = _series(values)
    pieces = [(time[at : at + step], value[at : at + step]) for at in range(0, time.size, step)]
    kept_time, kept, seen = downsampled(pieces, 0.0, max(float(time[-1]), 1.0), points)
    assert seen == time.size
    assert kept.size <= points
    assert kept.min() == value.min()
    assert kept.max() == value.max()
    assert (np.diff(kept_time) >= 0.0).all()
    assert set(zip(kept_time.tolist(), kept.tolist(), strict=True)) <= set(zip(time.tolist(), values, strict=True))


@settings(deadline=None)
@given(VALUES, st.integers(2, 40))
def test_pieces_do_not_matter(values, points):
    time, value = _series(values)
    end = max(float(time[-1]), 1.0)
    whole = downsampled([(time, value)], 0.0, end, points)
    single = downsampled([(time[at : at + 1], value[at : at + 1]) for at in range(time.size)], 0.0, end, points)
    assert whole[0].tolist() == single[0].tolist()
    assert whole[1].tolist() == single[1].tolist()
    assert whole[2] == single[2]


def test_a_short_series_is_kept_whole():
    time, value = _series([3.0, 1.0, 2.0, 2.0])
    kept_time, kept, seen = downsampled([(time, value)], 0.0, 3.0)
    assert kept_time.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert kept.tolist() == [3.0, 1.0, 2.0, 2.0]
    assert seen == 4


def test_only_the_stretch_asked_for_is_shown():
    time = np.linspace(0.0, 100.0, 100_001)
    value = np.sin(time)
    kept_time, kept, seen = downsampled([(time, value)], 10.0, 20.0)
    assert kept_time.min() >= 10.0
    assert kept_time.max() <= 20.0
    assert kept.size <= MOST_POINTS
    # A full period lies inside, so both extremes of the sine do (closed form).
    assert abs(kept.max() - 1.0) < 1e-6
    assert abs(kept.min() + 1.0) < 1e-6
    assert seen == 10_001


def test_one_spike_among_a_million_survives():
    time = np.arange(1_000_000, dtype=np.float64)
    value = np.zeros(time.size)
    value[654_321] = 1.0
    _, kept, _ = downsampled([(time, value)], 0.0, float(time[-1]))
    assert kept.max() == 1.0


def test_missing_values_are_left_out():
    time, value = _series([1.0, np.nan, 3.0, np.inf])
    _, kept, seen = downsampled([(time, value)], 0.0, 3.0)
    assert kept.tolist() == [1.0, 3.0]
    assert seen == 2
