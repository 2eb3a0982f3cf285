"""Median step and gaps in fixed memory, against numpy's exact median."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.history.inspection.time_steps import LONGEST_STEP_S, StepCounts


def counted(steps, parts=1):
    counts = StepCounts()
    ends = np.arange(3, 3 + len(steps))
    for some, rows in zip(np.array_split(np.array(steps), parts), np.array_split(ends, parts), strict=True):
        counts.add(some, rows)
    return counts


@settings(deadline=None)
@given(st.lists(st.floats(2e-9, 1e6), min_size=1, max_size=60), st.integers(1, 5))
def test_median_is_numpys(steps, parts):
    counts = counted(steps, parts)
    assert counts.median_s == pytest.approx(float(np.median(steps)), rel=0.004)
    assert counts.median_s == pytest.approx(counted(steps).median_s, rel=1e-12)
    assert counts.gaps() == counted(steps).gaps()


@settings(deadline=None)
@given(st.lists(st.floats(2e-9, 1e6), min_size=1, max_size=60))
def test_gaps_are_what_lies_at_or_above_the_limit(steps):
    counts = counted(steps)
    limit_s = counts.gap_limit_s
    over = [row for row, step in enumerate(steps, start=3) if step >= limit_s]
    assert counts.gaps() == (len(over), over[0] if over else None)
    exact = min(10 * counts.median_s, LONGEST_STEP_S)
    assert exact < limit_s <= exact * 1.01


def test_uniform_steps_have_their_own_median():
    assert counted([0.1] * 1001).median_s == pytest.approx(0.1, rel=1e-12)
    assert counted([1.0, 3.0]).median_s == pytest.approx(2.0)


def test_nothing_counted():
    assert StepCounts().median_s == 0.0
    assert StepCounts().gaps() == (0, None)
    assert StepCounts().gap_limit_s == pytest.approx(LONGEST_STEP_S, rel=0.005)


def test_an_hour_is_the_limit_whatever_the_median():
    assert counted([52_200.0]).gaps() == (1, 3)
    assert counted([3600.0]).gaps() == (0, None)
    without = StepCounts(longest_s=None)
    without.add(np.array([52_200.0]), np.array([3]))
    assert without.gaps() == (0, None)
