"""Grouping cycles: like ones share a row with their means, unlike ones never do, and no throughput is lost."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lifetime.stress.cycles import CycleTable, empty_table, group, join

SPAN_AS = 1000.0
ONE = {"range_As": 100.5, "mean_As": 500.5, "count": 1.0, "rate_A": 5.2, "charge_rate_A": 2.1}
ONE |= {"discharge_rate_A": 4.1, "time_mean_rate_A": 3.0, "time_mean_charge_rate_A": 1.1}
ONE |= {"time_mean_discharge_rate_A": 2.2, "rise_K": 3.1, "decay": 0.3, "measured_K": 0.0}
NAMES = tuple(ONE)


def table(*rows):
    return CycleTable(*(np.array([row[name] for row in rows]) for name in NAMES))


def test_like_cycles_share_a_row_with_means_by_throughput():
    first = ONE
    second = ONE | {"range_As": 101.0, "count": 3.0, "mean_As": 501.0, "rate_A": 5.3, "charge_rate_A": 2.05}
    second |= {"rise_K": 3.5, "decay": 0.7, "measured_K": 0.2}
    found = group(table(first, second), SPAN_AS)
    weights = np.array([100.5, 303.0])
    assert found.count.tolist() == [4.0]
    assert found.range_As.tolist() == pytest.approx([403.5 / 4.0])
    for name in ("mean_As", "rate_A", "charge_rate_A", "rise_K", "decay", "measured_K"):
        expected = np.average([first[name], second[name]], weights=weights)
        assert getattr(found, name).tolist() == pytest.approx([expected]), name


# One step more than a class is wide: 3 % of range, 1/64 of the span in mean, an eighth of an e-fold (13 %) in rate,
# 1 K. Two values so far apart never share a class, wherever its edges lie.
APART = {"range_As": 1.04 * 100.5, "mean_As": 500.5 + 1.02 * SPAN_AS / 64, "rate_A": 1.15 * 5.2}
APART |= {"charge_rate_A": 1.15 * 2.1, "rise_K": 4.2, "measured_K": 1.1}


@pytest.mark.parametrize("name", APART)
def test_unlike_cycles_never_share_a_row(name):
    found = group(table(ONE, ONE | {name: APART[name]}), SPAN_AS)
    assert sorted(getattr(found, name).tolist()) == pytest.approx(sorted([ONE[name], APART[name]]))


# The middle of a class by the widths above, and less than half a class off it.
CLASS = {"range_As": np.exp(147.5 / 32), "mean_As": 32.5 * SPAN_AS / 64, "rate_A": np.exp(13.5 / 8)}
CLASS |= {"charge_rate_A": np.exp(5.5 / 8), "rise_K": 3.5}
NEAR = {"range_As": np.exp(147.9 / 32), "mean_As": 32.9 * SPAN_AS / 64, "rate_A": np.exp(13.9 / 8)}
NEAR |= {"charge_rate_A": np.exp(5.9 / 8), "rise_K": 3.9}


@pytest.mark.parametrize("name", NEAR)
def test_classes_are_as_wide_as_they_are_said_to_be(name):
    middle = ONE | CLASS
    assert group(table(middle, middle | {name: NEAR[name]}), SPAN_AS).size == 1


def test_a_rate_of_zero_has_a_class_too():
    still = ONE | {"rate_A": 0.0, "charge_rate_A": 0.0}
    found = group(table(still, still, ONE), SPAN_AS)
    assert sorted(found.count.tolist()) == [1.0, 2.0]
    assert np.isfinite(np.concatenate(found.columns())).all()


def test_little_stays_as_it_is():
    assert group(empty_table(), SPAN_AS).size == 0
    alone = table(ONE)
    for before, after in zip(alone.columns(), group(alone, SPAN_AS).columns(), strict=True):
        assert after.tolist() == pytest.approx(before.tolist())


cycles = st.fixed_dictionaries(
    {
        "range_As": st.floats(1e-3, SPAN_AS),
        "mean_As": st.floats(-SPAN_AS, SPAN_AS),
        "count": st.sampled_from([0.5, 1.0, 7.0]),
        "rate_A": st.floats(0.0, 500.0),
        "charge_rate_A": st.floats(0.0, 500.0),
        "discharge_rate_A": st.floats(0.0, 500.0),
        "time_mean_rate_A": st.floats(0.0, 500.0),
        "time_mean_charge_rate_A": st.floats(0.0, 500.0),
        "time_mean_discharge_rate_A": st.floats(0.0, 500.0),
        "rise_K": st.floats(0.0, 30.0),
        "decay": st.floats(0.0, 1.0),
        "measured_K": st.floats(250.0, 330.0),
    }
)


@given(st.lists(cycles, min_size=1, max_size=60))
def test_counts_throughput_and_all_that_it_weighs_are_kept(rows):
    given_table = table(*rows)
    found = group(given_table, SPAN_AS)
    assert found.size <= given_table.size
    assert found.count.sum() == pytest.approx(given_table.count.sum())
    weight, before = found.count * found.range_As, given_table.count * given_table.range_As
    assert weight.sum() == pytest.approx(before.sum())
    for name in set(NAMES) - {"range_As", "count"}:
        kept = float(weight @ getattr(found, name))
        assert kept == pytest.approx(float(before @ getattr(given_table, name)), rel=1e-9, abs=1e-6), name


def test_joined_tables_keep_their_rows_in_order():
    first, second = table(ONE), replace(table(ONE), count=np.array([2.0]))
    assert join([first, empty_table(), second]).count.tolist() == [1.0, 2.0]
    assert join([]).size == 0
