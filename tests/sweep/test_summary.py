"""What a sweep shows, by definition: tables small enough to reckon by hand."""

import math

import numpy as np
import pandas as pd
import pytest

from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.sweep.axis import Axis
from lifetime.sweep.summary import summarise, summarise_rows

# The columns of a sweep's file, named once.
COST = "net_present_cost"
HAS_BANK = "has_ultracapacitor"
BREAK_EVEN_BANK = "break_even_ultracapacitor_price"
BREAK_EVEN_BATTERY = "break_even_battery_price"


def row(candidate, cost, strategy="split", *, bank=1.0, life=10.0, mass=100.0, problem=None, **axes):
    return {
        "candidate": candidate,
        "strategy": strategy,
        HAS_BANK: bank,
        COST: math.nan if cost is None else cost,
        "battery_life_years": math.nan if life is None else life,
        "cells_kg": mass,
        BREAK_EVEN_BANK: math.nan,
        BREAK_EVEN_BATTERY: math.nan,
        "problem": problem,
        **axes,
    }


def summary(rows, *names):
    return summarise_rows(pd.DataFrame(rows), list(names))


class TestSensitivity:
    def test_it_is_the_mean_over_the_lowest_and_the_highest_fifth(self):
        # Ten values 0..9 at cost x^2: the lowest fifth is {0, 1}, mean 0.5; the highest is {8, 9}, mean 72.5.
        # Halves would give 6 and 51, the two ends alone 0 and 81.
        rows = [row(at, float(at * at), size=float(at)) for at in range(10)]
        assert summary(rows, "size").sensitivity == (("size", 0.5, 72.5),)

    def test_a_grid_of_few_values_counts_all_that_stand_on_the_end(self):
        # Three values, each at four candidates: the lowest fifth lies within the first value, the highest in the last.
        costs = {1.0: (1.0, 2.0, 3.0, 6.0), 2.0: (100.0,) * 4, 3.0: (10.0, 20.0, 30.0, 60.0)}
        every = [(value, cost) for value, several in costs.items() for cost in several]
        rows = [row(at, cost, size=value) for at, (value, cost) in enumerate(every)]
        assert summary(rows, "size").sensitivity == (("size", 3.0, 30.0),)

    def test_each_candidate_counts_once_with_its_cheapest_strategy(self):
        rows = [row(at, cost, size=float(at)) for at, cost in enumerate([5.0, 7.0])]
        rows += [row(at, cost + 90.0, "dearer", size=float(at)) for at, cost in enumerate([5.0, 7.0])]
        assert summary(rows, "size").sensitivity == (("size", 5.0, 7.0),)

    def test_the_strongest_stands_first_whichever_way_it_goes(self):
        rows = [
            row(2 * i + j, 100.0 + i - 10.0 * j, weak=float(i), strong=float(j)) for i in range(2) for j in range(2)
        ]
        # weak: 95 at 0, 96 at 1; strong: 100.5 at 0, 90.5 at 1.
        assert summary(rows, "weak", "strong").sensitivity == (("strong", 100.5, 90.5), ("weak", 95.0, 96.0))

    def test_only_strategies_with_a_bank_count_where_there_are_any(self):
        rows = [row(at, cost, size=float(at)) for at, cost in enumerate([50.0, 70.0])]
        alone = [row(at, cost, "alone", bank=0.0, size=float(at)) for at, cost in enumerate([5.0, 6.0])]
        assert summary(rows + alone, "size").sensitivity == (("size", 50.0, 70.0),)
        assert summary(alone, "size").sensitivity == (("size", 5.0, 6.0),)


class TestNeighbours:
    def test_one_step_to_each_side_of_the_best(self):
        costs = {1.0: 9.0, 2.0: 5.0, 3.0: 2.0, 4.0: 6.0, 5.0: 8.0}
        rows = [row(at, cost, size=value) for at, (value, cost) in enumerate(costs.items())]
        assert summary(rows, "size").neighbours == (("size", 2.0, 5.0), ("size", 4.0, 6.0))

    def test_the_order_of_the_rows_does_not_matter(self):
        costs = [(4.0, 6.0), (1.0, 9.0), (3.0, 2.0), (5.0, 8.0), (2.0, 5.0)]
        rows = [row(at, cost, size=value) for at, (value, cost) in enumerate(costs)]
        assert summary(rows, "size").neighbours == (("size", 2.0, 5.0), ("size", 4.0, 6.0))

    @pytest.mark.parametrize(("costs", "only"), [((1.0, 2.0, 3.0), (2.0, 2.0)), ((3.0, 2.0, 1.0), (2.0, 2.0))])
    def test_at_an_end_there_is_one(self, costs, only):
        rows = [row(at, cost, size=at + 1.0) for at, cost in enumerate(costs)]
        assert summary(rows, "size").neighbours == (("size", *only),)

    def test_the_other_axes_and_the_strategy_stay(self):
        # Best at (2, 20). Cheaper candidates one step off on both axes at once, and of another strategy, are no steps.
        cost = {(1, 10): 4.1, (1, 20): 7.0, (2, 10): 8.0, (2, 20): 1.0, (3, 20): 9.0, (3, 10): 4.2}
        rows = [row(at, cost[one], a=float(one[0]), b=float(one[1])) for at, one in enumerate(cost)]
        rows += [row(at, 2.0, "other", a=float(one[0]), b=float(one[1])) for at, one in enumerate(cost)]
        assert summary(rows, "a", "b").neighbours == (("a", 1.0, 7.0), ("a", 3.0, 9.0), ("b", 10.0, 8.0))

    def test_they_are_those_of_the_best_with_a_bank(self):
        rows = [row(at, cost, size=float(at)) for at, cost in enumerate([30.0, 20.0, 40.0])]
        rows += [row(at, cost, "alone", bank=0.0, size=float(at)) for at, cost in enumerate([1.0, 2.0, 3.0])]
        assert summary(rows, "size").neighbours == (("size", 0.0, 30.0), ("size", 2.0, 40.0))


class TestFront:
    def test_what_another_beats_in_cost_life_and_mass_is_left_out(self):
        rows = [
            row(0, 30.0, life=20.0, mass=100.0),
            row(1, 10.0, life=10.0, mass=100.0),
            row(2, 20.0, life=10.0, mass=50.0),
            row(3, 20.0, life=9.0, mass=60.0),  # beaten by 2 in life and mass at the same cost
            row(4, 31.0, life=19.0, mass=100.0),  # beaten by 0
        ]
        assert [one["candidate"] for one in summary(rows).front] == [1, 2, 0]

    def test_a_life_beyond_the_search_counts_as_its_horizon(self):
        # As dear and as heavy, and longer-lived than any that ends; one that ends after the horizon would beat it.
        rows = [row(0, 10.0, life=49.0), row(1, 10.0, life=None)]
        assert [one["candidate"] for one in summary(rows).front] == [1]
        rows = [row(0, 10.0, life=LIFE_SEARCH_YEARS + 1.0), row(1, 10.0, life=None)]
        assert [one["candidate"] for one in summary(rows).front] == [0]

    def test_an_unknown_mass_counts_as_none(self):
        rows = [row(0, 10.0, mass=math.nan), row(1, 10.0, mass=1.0)]
        assert [one["candidate"] for one in summary(rows).front] == [0]

    def test_equals_are_shown_once(self):
        rows = [row(0, 10.0), row(1, 10.0), row(2, 12.0)]
        assert [one["candidate"] for one in summary(rows).front] == [0]


class TestCountsAndBest:
    def test_what_was_run_and_what_has_no_cost(self):
        rows = [
            row(0, 10.0),
            row(0, 8.0, "alone", bank=0.0),
            row(1, None),
            row(1, 9.0, "alone", bank=0.0),
            row(2, None, None, bank=math.nan, problem="does not fit into 24 h"),
            row(3, None, None, bank=math.nan, problem="another reason"),
        ]
        found = summary(rows)
        assert (found.candidates, found.rows, found.without_cost) == (4, 3, 1)
        assert found.problems == (2, "does not fit into 24 h")
        assert (found.best["candidate"], found.best[COST], found.best["strategy"]) == (0, 8.0, "alone")
        assert found.best_with_ultracapacitor[COST] == 10.0
        assert (found.best["problem"], found.best[BREAK_EVEN_BANK]) == (None, None)

    def test_plain_numbers_come_out(self):
        frame = pd.DataFrame([row(7, 10.0)])
        frame["parallel"] = np.array([3], dtype=np.int64)
        best = summarise_rows(frame, []).best
        assert list(best) == list(frame.columns)
        assert {key: type(best[key]) for key in ("candidate", COST, "parallel")} == {
            "candidate": int,
            COST: float,
            "parallel": int,
        }

    def test_without_a_bank_there_is_no_best_with_one(self):
        assert summary([row(0, 10.0, "alone", bank=0.0)]).best_with_ultracapacitor is None

    def test_nothing_with_a_cost(self):
        found = summary([row(0, None), row(1, None, problem="why")])
        assert (found.candidates, found.rows, found.without_cost, found.problems) == (2, 0, 1, (1, "why"))
        assert (found.best, found.best_with_ultracapacitor) == (None, None)
        assert (found.neighbours, found.front, found.sensitivity, found.break_even) == ((), (), (), ())

    def test_no_problem_has_no_reason(self):
        assert summary([row(0, 1.0)]).problems == (0, "")


def test_break_even_is_that_of_each_strategy_at_its_cheapest():
    rows = [
        row(0, 5.0) | {BREAK_EVEN_BANK: 0.5, BREAK_EVEN_BATTERY: 2.0},
        row(1, 4.0) | {BREAK_EVEN_BANK: 0.7, BREAK_EVEN_BATTERY: math.nan},
        row(0, 6.0, "second") | {BREAK_EVEN_BANK: 0.1, BREAK_EVEN_BATTERY: 0.2},
        row(0, 3.0, "alone", bank=0.0),
    ]
    # In the order in which the strategies first come; the battery alone has none, and is not listed.
    assert summary(rows).break_even == (("split", 0.7, None), ("second", 0.1, 0.2))


def test_the_file_of_a_sweep_is_read_by_the_names_of_its_axes(tmp_path):
    path = tmp_path / "sweep.parquet"
    pd.DataFrame([row(at, cost, size=float(at)) for at, cost in enumerate([3.0, 1.0, 2.0])]).to_parquet(path)
    found = summarise(path, [Axis(("size",), (0.0, 1.0, 2.0), "linear", whole=False)])
    assert found.neighbours == (("size", 0.0, 3.0), ("size", 2.0, 2.0))
    assert found.sensitivity == (("size", 3.0, 2.0),)
