"""First-order recurrences against the plain loop that defines them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.stress.scan import affine_scan, clipped_affine_scan, clipped_sum

UNIT = st.floats(0.0, 1.0)
OFFSET = st.floats(-1e3, 1e3)
STEPS = st.lists(st.tuples(UNIT, OFFSET), max_size=200)


def plain_loop(gain, offset, start, low=-np.inf, high=np.inf):
    """The definition."""
    value, path = start, []
    for a, b in zip(gain, offset, strict=True):
        value = min(high, max(low, a * value + b))
        path.append(value)
    return np.array(path)


@settings(deadline=None)
@given(steps=STEPS, start=OFFSET)
def test_affine_scan_is_the_loop(steps, start):
    gain, offset = np.array(steps).reshape(-1, 2).T
    expected = plain_loop(gain.tolist(), offset.tolist(), start)
    np.testing.assert_allclose(affine_scan(gain, offset, start), expected, rtol=1e-12, atol=1e-9)


@settings(deadline=None)
@given(steps=STEPS, start=OFFSET, low=st.floats(-500.0, 0.0), width=st.floats(0.0, 1000.0))
def test_clipped_scan_is_the_loop(steps, start, low, width):
    gain, offset = np.array(steps).reshape(-1, 2).T
    expected = plain_loop(gain.tolist(), offset.tolist(), start, low, low + width)
    found = clipped_affine_scan(gain, offset, start, low, low + width)
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-9)
    assert found.size == 0 or (found.min() >= low and found.max() <= low + width)


@settings(deadline=None)
@given(
    steps=st.lists(st.tuples(OFFSET, st.integers(1, 40)), min_size=1, max_size=30),
    place=UNIT,
    low=st.floats(-500.0, 0.0),
    width=st.floats(0.0, 1000.0),
)
def test_clipped_sum_is_the_loop(steps, place, low, width):
    start = min(low + place * width, low + width)
    # Long runs are walked, short ones are scanned.
    offset = np.repeat([step for step, _ in steps], [run for _, run in steps])
    expected = plain_loop([1.0] * offset.size, offset.tolist(), start, low, low + width)
    found = clipped_sum(offset, start, low, low + width)
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-8)
    assert found.min() >= low
    assert found.max() <= low + width


@pytest.mark.parametrize("size", [0, 1, 2, 3, 8, 9, 10, 99, 100, 101, 5000])
def test_every_length_near_the_edges_of_the_rows(size):
    random = np.random.default_rng(size)
    gain, offset = random.uniform(0.0, 1.0, size), random.normal(size=size)
    given_gain, given_offset = gain.copy(), offset.copy()
    expected = plain_loop(gain.tolist(), offset.tolist(), 3.0)
    np.testing.assert_allclose(affine_scan(gain, offset, 3.0), expected, rtol=1e-12, atol=1e-12)
    expected = plain_loop(gain.tolist(), offset.tolist(), 3.0, -0.5, 0.5)
    np.testing.assert_allclose(clipped_affine_scan(gain, offset, 3.0, -0.5, 0.5), expected, rtol=1e-12, atol=1e-12)
    # What was handed in is left as it was.
    assert np.array_equal(gain, given_gain)
    assert np.array_equal(offset, given_offset)


def test_a_window_that_is_hit_again_and_again():
    # By hand: +1 each step within 0..3, twice, with a fall of 10 in between.
    offset = np.array([1.0] * 5 + [-10.0] + [1.0] * 5)
    found = clipped_affine_scan(np.ones(11), offset, 0.0, 0.0, 3.0)
    assert found.tolist() == [1, 2, 3, 3, 3, 0, 1, 2, 3, 3, 3]
    assert clipped_sum(offset, 0.0, 0.0, 3.0).tolist() == found.tolist()
    slow = np.repeat(offset / 10.0, 10)
    np.testing.assert_allclose(clipped_sum(slow, 0.0, 0.0, 3.0)[9::10], found, atol=1e-12)
