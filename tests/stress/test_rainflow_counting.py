"""Rainflow counting against the standard's example, its invariants and an independent implementation.

Sources: ASTM E1049-85 (reapproved 2017), Standard Practices for Cycle Counting in Fatigue Analysis, 5.4.4 (a history
counted once) and 5.4.5 (a repeating history); the open package ``rainflow`` counts the same way and serves as the
second opinion.
"""

import numpy as np
import pytest
import rainflow
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.errors import NumberError
from lifetime.stress.rainflow import count_cycles, turning_points

# The worked example of the standard, 5.4.4 (figure and table of the rainflow example).
ASTM_HISTORY = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]


def by_range(cycles, digits=9):
    """Sum of counts by range, as the standard's table prints it."""
    table = {}
    for span, count in zip(cycles.range, cycles.count, strict=True):
        key = round(float(span), digits)
        table[key] = table.get(key, 0.0) + float(count)
    return table


def rows(cycles):
    """Cycles as rows of range, mean, count and both positions, in the order given."""
    return np.column_stack([cycles.range, cycles.mean, cycles.count, cycles.start, cycles.end])


def package_rows(values):
    """The second opinion, ordered by the end of each range as ours is; ranges of zero are no cycles."""
    table = np.array(list(rainflow.extract_cycles(values)), dtype=np.float64).reshape(-1, 5)
    table = table[table[:, 0] > 0.0]
    return table[np.lexsort((table[:, 3], table[:, 4]))]


class TestWorkedExample:
    def test_counts_by_range(self):
        assert by_range(count_cycles(ASTM_HISTORY)) == {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}

    def test_every_cycle_with_its_mean_and_ends(self):
        # Ranges A-B, B-C, C-D, E-F, D-G, G-H, H-I of the standard's figure, by hand from its text.
        expected = [
            [3.0, -0.5, 0.5, 0, 1],
            [4.0, -1.0, 0.5, 1, 2],
            [8.0, 1.0, 0.5, 2, 3],
            [4.0, 1.0, 1.0, 4, 5],
            [9.0, 0.5, 0.5, 3, 6],
            [8.0, 0.0, 0.5, 6, 7],
            [6.0, 1.0, 0.5, 7, 8],
        ]
        np.testing.assert_allclose(rows(count_cycles(ASTM_HISTORY)), expected, rtol=0, atol=1e-12)

    def test_half_the_total_variation(self):
        cycles = count_cycles(ASTM_HISTORY)
        assert np.sum(cycles.count * cycles.range) == pytest.approx(23.0)
        assert np.sum(cycles.count) == pytest.approx(4.0)

    @pytest.mark.parametrize("turn", range(8))
    def test_repeating_history_does_not_care_where_it_begins(self, turn):
        # 5.4.5: the same history closed on itself (its first and last value are one point) and begun anywhere.
        loop = ASTM_HISTORY[:-1]
        series = [*loop[turn:], *loop[:turn], loop[turn]]
        assert by_range(count_cycles(series, repeating=True)) == {3.0: 1.0, 4.0: 1.0, 7.0: 1.0, 9.0: 1.0}

    def test_repeating_history_begun_at_its_peak(self):
        # By hand, 5.4.5 after rearranging to 5, -1, 3, -4, 4, -2, 1, -3, 5: ranges 4, 3 and 7 close, 9 is the loop.
        cycles = count_cycles([5.0, -1.0, 3.0, -4.0, 4.0, -2.0, 1.0, -3.0, 5.0], repeating=True)
        np.testing.assert_array_equal(np.sort(cycles.range), [3.0, 4.0, 7.0, 9.0])
        assert (cycles.count == 1.0).all()

    def test_repeating_positions_refer_to_the_series_as_given(self):
        series = np.array(ASTM_HISTORY)
        cycles = count_cycles(series, repeating=True)
        ends = np.abs(series[cycles.start] - series[cycles.end])
        np.testing.assert_allclose(ends, cycles.range, rtol=0, atol=1e-12)
        np.testing.assert_allclose(0.5 * (series[cycles.start] + series[cycles.end]), cycles.mean, rtol=0, atol=1e-12)


class TestStateOfChargeTraces:
    def test_short_trace(self):
        # By hand with the three-point rule.
        cycles = count_cycles([1.0, 0.2, 0.9, 0.4, 0.6, 0.3, 1.0])
        assert by_range(cycles) == {0.2: 1.0, 0.6: 1.0, 0.8: 1.0}
        means = dict(zip(cycles.range.round(9).tolist(), cycles.mean.round(9).tolist(), strict=True))
        assert means == {0.2: 0.5, 0.6: 0.6, 0.8: 0.6}
        assert np.sum(cycles.count * cycles.range) == pytest.approx(1.6)

    def test_longer_trace(self):
        # By hand with the three-point rule: four full cycles inside two halves.
        cycles = count_cycles([0.9, 0.5, 0.6, 0.3, 0.45, 0.2, 0.7, 0.65, 0.8, 0.4, 0.9])
        found = sorted(zip(cycles.range.round(9), cycles.mean.round(9), cycles.count, strict=True))
        expected = [(0.05, 0.675, 1.0), (0.1, 0.55, 1.0), (0.15, 0.375, 1.0), (0.4, 0.6, 1.0)]
        assert found == [*expected, (0.7, 0.55, 0.5), (0.7, 0.55, 0.5)]
        assert np.sum(cycles.count * cycles.range) == pytest.approx(1.4)


def many_series():
    """2,000 series of the kinds that upset counters, from fixed seeds."""
    for seed in range(2000):
        random = np.random.default_rng(seed)
        size = int(random.integers(3, 400))
        kind = seed % 8
        ramp = np.arange(size)
        if kind == 0:
            yield np.cumsum(random.normal(size=size))
        elif kind == 1:
            yield random.normal(size=size)
        elif kind == 2:
            yield random.integers(-3, 4, size).astype(np.float64)
        elif kind == 3:
            yield np.cumsum(random.integers(-2, 3, size)).astype(np.float64)
        elif kind == 4:
            yield np.exp(-ramp / size * 3.0) * np.cos(ramp * random.uniform(0.5, 3.0))
        elif kind == 5:
            yield np.exp(ramp / size * 3.0) * (-1.0) ** ramp
        elif kind == 6:
            yield np.repeat(random.integers(-4, 5, size), random.integers(1, 5, size)).astype(np.float64)
        else:
            yield np.tile(random.integers(-2, 3, 7), -(-size // 7)).astype(np.float64)


def test_two_thousand_series_as_the_independent_package():
    compared = 0
    for number, values in enumerate(many_series()):
        if (values == values[0]).all():
            continue
        ours, theirs = rows(count_cycles(values)), package_rows(values)
        assert ours.shape == theirs.shape, f"series {number}"
        assert np.array_equal(ours[:, 2:], theirs[:, 2:]), f"series {number}: count or positions differ"
        np.testing.assert_allclose(ours[:, :2], theirs[:, :2], rtol=0, atol=1e-12, err_msg=f"series {number}")
        compared += 1
    assert compared > 1900


def test_a_long_series_as_the_independent_package():
    # Long enough for many rounds, not only for the plain stack that finishes short ones.
    values = np.cumsum(np.random.default_rng(5).normal(size=30_000))
    np.testing.assert_allclose(rows(count_cycles(values)), package_rows(values), rtol=0, atol=1e-9)


def test_two_values_are_one_half_cycle():
    # By definition; the independent package answers nothing here.
    assert rows(count_cycles([0.5, 0.7])).tolist() == [[pytest.approx(0.2), pytest.approx(0.6), 0.5, 0, 1]]


LEVELS = st.lists(st.integers(-20, 20).map(float), min_size=0, max_size=120)
REAL = st.lists(st.floats(-1e6, 1e6, allow_subnormal=False), min_size=0, max_size=120)


@settings(deadline=None)
@given(series=LEVELS | REAL)
def test_ranges_make_up_half_the_total_variation(series):
    cycles = count_cycles(series)
    moved = float(np.sum(np.abs(np.diff(series)))) if series else 0.0
    assert 2.0 * np.sum(cycles.count * cycles.range) == pytest.approx(moved, rel=1e-9, abs=1e-9)
    assert set(cycles.count.tolist()) <= {0.5, 1.0}
    assert (cycles.range > 0.0).all()
    assert (np.diff(cycles.end) >= 0).all()


@settings(deadline=None)
@given(series=LEVELS.filter(len), at=st.data())
def test_a_repeating_history_may_begin_anywhere(series, at):
    start = at.draw(st.integers(0, len(series) - 1))
    closed = [*series, series[0]]
    turned = [*series[start:], *series[: start + 1]]
    one, other = count_cycles(closed, repeating=True), count_cycles(turned, repeating=True)
    assert by_range(one) == by_range(other)
    # Everything closes: full cycles only, and together they make up half of what the loop moves.
    assert (one.count == 1.0).all()
    assert 2.0 * np.sum(one.range) == pytest.approx(np.sum(np.abs(np.diff(closed))))


@settings(deadline=None)
@given(series=LEVELS, at=st.data())
def test_points_on_the_way_change_nothing(series, at):
    # A sample between two neighbours is no reversal (ASTM E1049 5.2.1: only reversals count).
    if len(series) < 2:
        return
    place = at.draw(st.integers(0, len(series) - 2))
    share = at.draw(st.floats(0.0, 1.0))
    between = series[place] + share * (series[place + 1] - series[place])
    more = [*series[: place + 1], between, *series[place + 1 :]]
    for repeating in (False, True):
        one, other = count_cycles(series, repeating=repeating), count_cycles(more, repeating=repeating)
        assert by_range(one) == by_range(other)


@settings(deadline=None)
@given(series=LEVELS, factor=st.sampled_from([-2.0, 0.5, 4.0]), offset=st.integers(-50, 50))
def test_counting_follows_a_change_of_scale(series, factor, offset):
    one = rows(count_cycles(series))
    other = rows(count_cycles([factor * value + offset for value in series]))
    one[:, 0] *= abs(factor)
    one[:, 1] = factor * one[:, 1] + offset
    np.testing.assert_allclose(other, one, rtol=0, atol=1e-12)


def test_many_repeats_approach_the_repeating_count():
    # 5.4.5 is what a long row of repeats tends to; only what stays open at the ends differs, at most one loop.
    one_pass = [0.6, 0.7, 0.5, 0.65, 0.55, 0.6]
    repeats = 50
    whole = by_range(count_cycles([*one_pass[:-1] * repeats, one_pass[-1]]))
    repeating = by_range(count_cycles(one_pass, repeating=True))
    assert set(whole) >= set(repeating)
    for span, count in repeating.items():
        assert whole[span] == pytest.approx(repeats * count, abs=1.0)


def test_small_ranges_are_left_out_after_counting_and_move_no_extreme():
    cycles = count_cycles([0.0, 10.0, 9.9, 10.1, 0.0], smallest_range=0.5)
    assert rows(cycles).tolist() == [[10.1, 5.05, 0.5, 0, 3], [10.1, 5.05, 0.5, 3, 4]]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("place", [0, 2, 4])
def test_what_is_not_finite_is_refused_with_its_place(bad, place):
    series = [0.5, 0.8, 0.6, 0.3, 0.6]
    series[place] = bad
    with pytest.raises(NumberError, match=f"position {place}"):
        count_cycles(series)


def test_turning_points_of_a_plateau_are_its_last_sample():
    assert turning_points(np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0])).tolist() == [0, 3, 5]
    assert turning_points(np.full(7, 3.0)).size == 0
