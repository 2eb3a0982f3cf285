"""Whether an order hangs on a convention, and which strategies no ageing model tells apart: worked by hand."""

import pytest

from lifetime.results.conventions import CONVENTIONS, ConventionView, NamedOutcomes, convention_order

OWN = ("smooth", "time_mean")


def view(convention, life, cost):
    small, rate = convention
    return ConventionView(small_cycles=small, cycle_rate=rate, battery_life_years=life, net_present_cost=cost)


def strategy(name, own, lives, costs=(100.0, 100.0, 100.0, 100.0), free=None):
    """A strategy whose costs are equal unless said."""
    outcomes = tuple(view(*one) for one in zip(CONVENTIONS, lives, costs, strict=True))
    mine = view(OWN, own, 100.0)
    return NamedOutcomes(name, mine, outcomes, mine if free is None else view(OWN, free, 100.0))


def test_the_same_order_under_every_convention():
    one = strategy("A", 10.0, [9.0, 10.0, 9.5, 10.5])
    order = convention_order([one, strategy("B", 8.0, [7.0, 8.0, 7.5, 8.5])])
    assert order.same_order
    assert order.swaps == ()
    assert order.indistinct == ()


def test_a_pair_that_changes_places_is_named_with_what_it_is_measured_by():
    one = strategy("A", 10.0, [9.0, 10.0, 9.0, 10.0])
    order = convention_order([one, strategy("B", 9.5, [9.2, 9.5, 9.2, 9.5]), strategy("C", 5.0, [5.0] * 4)])
    assert not order.same_order
    assert [(swap.measure, swap.strategies) for swap in order.swaps] == [("battery_life", ("A", "B"))]


def test_the_order_of_the_ranking_counts_however_small_the_difference():
    # The study's own convention ranks A by a hair; one bound puts B first by 10 %.
    one = strategy("A", 10.0001, [9.0, 10.0, 9.0, 10.0])
    order = convention_order([one, strategy("B", 10.0, [10.0, 10.0, 10.0, 10.0])])
    assert not order.same_order


def test_costs_change_places_too():
    one = strategy("A", 10.0, [10.0] * 4, [90.0, 110.0, 90.0, 110.0])
    order = convention_order([one, strategy("B", 8.0, [8.0] * 4)])
    assert [(swap.measure, swap.strategies) for swap in order.swaps] == [("cost", ("A", "B"))]


def test_lives_within_a_hundredth_are_equal_and_beyond_are_not():
    close = convention_order([strategy("A", 10.0, [10.0] * 4), strategy("B", 9.95, [9.95] * 4)])
    assert [(pair.reason, pair.strategies) for pair in close.indistinct] == [("equal", ("A", "B"))]
    apart = convention_order([strategy("A", 10.0, [10.0] * 4), strategy("B", 9.8, [9.8] * 4)])
    assert apart.indistinct == ()


@pytest.mark.parametrize(("life", "free"), [(9.99, 6.0), (11.0, 6.0)])
def test_a_pair_whose_order_hangs_on_a_limit_of_the_model_is_marked_with_its_lives_without(life, free):
    one, other = strategy("A", 10.0, [10.0] * 4, free=9.0), strategy("B", life, [life] * 4, free=free)
    (pair,) = convention_order([one, other]).indistinct
    assert (pair.reason, pair.lives_without_limits_years) == ("held", (9.0, free))


def test_lives_beyond_the_search_limit_are_ahead_of_any_and_not_equal_to_each_other():
    long = strategy("A", None, [None] * 4)
    order = convention_order([long, strategy("B", 20.0, [20.0] * 4), strategy("C", None, [None] * 4)])
    assert order.same_order
    assert order.indistinct == ()
