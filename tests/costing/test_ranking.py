"""Order, ties and missing results by definition."""

import math

import pytest

from lifetime.costing.ranking import order, rank
from lifetime.errors import NumberError


def test_missing_result_comes_last():
    """A known trap: sorting 8, NaN, 12, 10 leaves the list as it is. Here the longest life is the lowest cost."""
    lives = [8, None, 12, 10]
    costs = [None if life is None else -life for life in lives]
    assert rank(costs) == [3, None, 1, 2]
    assert [lives[place] for place in order(costs)] == [12, 10, 8, None]


def test_ties_share_a_rank_and_the_next_is_skipped():
    """Competition ranking by definition: 10, 10, 9 years rank 1, 1, 3."""
    assert rank([-10, -10, -9]) == [1, 1, 3]
    assert rank([5.0, 3.0, 5.0, 4.0, 6.0]) == [3, 1, 3, 2, 5]


def test_rounding_is_a_tie_and_the_order_stays_as_given():
    costs = [1000.0 * (1 + 4e-10), 1000.0, 2000.0, 1000.0 * (1 + 8e-10)]
    assert rank(costs) == [1, 1, 4, 1]
    assert order(costs) == [0, 1, 3, 2]


def test_ties_do_not_chain():
    """Each is within the tolerance of its neighbour, the last is not within that of the first."""
    assert rank([1.0, 1 + 0.8e-9, 1 + 1.6e-9]) == [1, 1, 3]


def test_a_missing_result_comes_after_the_dearest():
    """However few there are: the missing one stood first."""
    assert order([None, 1.0, 2.0]) == [1, 2, 0]
    assert order([None, None, 1.0, 2.0, 3.0]) == [2, 3, 4, 0, 1]


def test_order_is_stable_among_missing_results():
    assert order([None, 2.0, None, 1.0]) == [3, 1, 0, 2]


def test_ranking_of_little():
    assert rank([]) == order([]) == []
    assert rank([None]) == [None]
    assert rank([0.0, 0.0, -1.0]) == [2, 2, 1]


@pytest.mark.parametrize("cost", [math.nan, math.inf])
def test_cost_that_is_no_number_is_refused(cost):
    with pytest.raises(NumberError, match="strategy 2"):
        rank([1.0, cost])
