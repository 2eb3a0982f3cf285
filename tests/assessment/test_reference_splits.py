"""The battery alone and the least-rms split, on demands whose best split follows by hand.

A lossless bank that is large enough leaves the battery the mean of the demand: of a demand that alternates between P
and 0 for equal times, rms P / sqrt(2) and peak P become P / 2.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.assessment import reference_splits as module
from lifetime.assessment.least_rms import least_rms_day
from lifetime.assessment.reference_splits import comparison, reference_splits, with_references
from lifetime.assessment.strategy import StrategyWithSplit
from lifetime.costing.life_cycle import NoLifeCycleCost
from lifetime.split.converters import NO_CONVERTERS
from lifetime.split.share import Demand

POWER_W = 10_000.0
PERIOD = np.concatenate([np.full(20, POWER_W), np.zeros(20)])


@pytest.fixture
def demand():
    return Demand(np.ones(200), np.tile(PERIOD, 5))


class TestLeastRms:
    def test_a_large_bank_leaves_the_mean(self, demand, ultracapacitor):
        bank = ultracapacitor().bank
        (day,) = least_rms_day(demand, bank, (300.0, 300.0), 2)
        assert day.length_s.size == 400
        assert day.battery_W == pytest.approx(POWER_W / 2, rel=1e-9)
        assert day.battery_W + day.bank_W == pytest.approx(np.tile(demand.power_W, 2))
        assert day.bank_V[0] == pytest.approx(300.0)
        assert day.bank_V[-1] == pytest.approx(300.0)
        # In 20 s the bank gives 100 kJ: 50 * (300^2 - V^2).
        assert day.bank_V[20] == pytest.approx(np.sqrt(300.0**2 - 2000.0))

    def test_what_the_bank_may_end_below_is_shared_out(self, demand, ultracapacitor):
        # 50 * (300^2 - 280^2) J over 200 s.
        (day,) = least_rms_day(demand, ultracapacitor().bank, (300.0, 280.0), 1)
        assert day.battery_W == pytest.approx(POWER_W / 2 - 580e3 / 200, rel=1e-9)

    def test_ends_outside_the_window_are_kept_within(self, demand, ultracapacitor):
        (day,) = least_rms_day(demand, ultracapacitor().bank, (500.0, 500.0), 1)
        assert day.bank_V[0] == pytest.approx(400.0)

    def test_a_moment_without_length_stays_the_batterys(self, ultracapacitor):
        still = Demand(np.array([1.0, 0.0, 1.0]), np.array([0.0, 7.0, 1000.0]))
        (day,) = least_rms_day(still, ultracapacitor().bank, (300.0, 300.0), 1)
        assert day.battery_W == pytest.approx([500.0, 7.0, 500.0])
        assert day.bank_A[1] == 0.0


def test_both_references_of_a_demand(demand, battery, ultracapacitor, study_setup):
    setup = study_setup(battery(), ultracapacitor(), repeats=3)
    references = reference_splits(setup, demand, lowest_end_V=300.0)
    alone, best = references.battery_alone, references.least_rms
    assert alone.drivetrain.ultracapacitor is None
    assert alone.life.ultracapacitor is None
    assert alone.battery_rms_W == pytest.approx(POWER_W / np.sqrt(2))
    assert alone.battery_peak_W == pytest.approx(POWER_W)
    assert [best.battery_rms_W, best.battery_peak_W] == pytest.approx([POWER_W / 2, POWER_W / 2])
    assert best.life.ultracapacitor is not None
    assert best.end_voltage_V == pytest.approx(300.0)


def test_the_best_may_end_as_empty_as_any_strategy_but_not_fuller_than_it_began(
    demand, battery, ultracapacitor, study_setup
):
    setup = study_setup(battery(), ultracapacitor())
    assert reference_splits(setup, demand, 280.0).least_rms.end_voltage_V == pytest.approx(280.0)
    assert reference_splits(setup, demand, 320.0).least_rms.end_voltage_V == pytest.approx(300.0)


def outcome(rms_W, peak_W, left, cost, life_years=5.0):
    """As much of a split as a comparison looks at."""
    battery = SimpleNamespace(capacity_fraction_at_service_end=left, life_years=life_years)
    # A bank of 4000 that is never replaced; all else does not depend on its price.
    by_item = {f"ultracapacitor {what}": 0.0 for what in ("purchase", "replacement", "second life", "residual")}
    bank = {**by_item, "ultracapacitor purchase": 4000.0}
    priced = (
        cost
        if isinstance(cost, NoLifeCycleCost)
        else SimpleNamespace(net_present_cost=cost, present_value_by_item=bank if life_years < 10.0 else by_item)
    )
    life = SimpleNamespace(battery=battery, cost=priced)
    return SimpleNamespace(battery_rms_W=rms_W, battery_peak_W=peak_W, life=life)


def compared(strategy, alone, best):
    return comparison(strategy, SimpleNamespace(battery_alone=alone, least_rms=best))


ALONE = outcome(7000.0, 10_000.0, 0.80, 60_000.0, life_years=10.0)
BEST = outcome(5000.0, 5000.0, 0.90, 50_000.0, life_years=9.0)


def test_shares_of_what_the_least_rms_split_reaches():
    # Loss 20 %, 13 %, 10 %: 7 of 10 points. Cost 60, 55, 50: half.
    gain = compared(outcome(6000.0, 8000.0, 0.87, 55_000.0), ALONE, BEST)
    assert gain.reached_capacity_loss_fraction == pytest.approx(0.7)
    assert gain.reached_cost_saving_fraction == pytest.approx(0.5)
    assert (gain.battery_rms_W, gain.alone_rms_W, gain.reference_rms_W) == (6000.0, 7000.0, 5000.0)
    assert (gain.battery_peak_W, gain.alone_peak_W, gain.reference_peak_W) == (8000.0, 10_000.0, 5000.0)
    assert (gain.alone_net_present_cost, gain.reference_net_present_cost) == (60_000.0, 50_000.0)
    assert gain.reference_life_years == 9.0
    # It saves 5000 with a bank of 4000, which may so cost 9000.
    assert gain.ultracapacitor_break_even_price == pytest.approx(9000.0)
    assert gain.alone_no_cost_reason is gain.reference_no_cost_reason is None


def test_a_reference_without_a_cost_says_why():
    none = outcome(7000.0, 10_000.0, 0.80, NoLifeCycleCost("it lasts 3 h"))
    gain = compared(outcome(6000.0, 8000.0, 0.87, 55_000.0), none, BEST)
    assert (gain.alone_net_present_cost, gain.alone_no_cost_reason) == (None, "it lasts 3 h")
    assert gain.reference_no_cost_reason is None
    assert gain.reached_cost_saving_fraction is None
    assert gain.reached_capacity_loss_fraction == pytest.approx(0.7)


def test_a_battery_that_is_scrap_has_no_share():
    scrap = outcome(7000.0, 10_000.0, None, 60_000.0)
    assert compared(outcome(6000.0, 8000.0, 0.87, 55_000.0), scrap, BEST).reached_capacity_loss_fraction is None


def test_each_demand_has_its_own_references(battery, ultracapacitor, study_setup, monkeypatch):
    """Two strategies on one demand, one on another, one without any; ends at 290, 270, 310 V."""
    asked = []
    setup = study_setup(battery(), ultracapacitor())
    setup = replace(setup, demands=SimpleNamespace(of=lambda spec: f"demand {spec}"))

    def references(given, of_demand, lowest_end_V, alone, converters):
        assert alone is None
        assert converters == NO_CONVERTERS
        asked.append((of_demand, lowest_end_V))
        return of_demand

    monkeypatch.setattr(module, "reference_splits", references)
    monkeypatch.setattr(module, "comparison", lambda split, reference: (split.name, reference))
    monkeypatch.setattr(module, "replace", lambda result, reference_split: (result, reference_split))
    splits = {
        name: SimpleNamespace(name=name, end_voltage_V=volts, drivetrain=setup.drivetrain)
        for name, volts in zip("abc", (290.0, 270.0, 310.0), strict=True)
    }
    larger = replace(setup)
    strategies = [
        StrategyWithSplit(setup, "A", "one", splits["a"]),
        StrategyWithSplit(setup, "alone"),
        StrategyWithSplit(setup, "B", "one", splits["b"]),
        StrategyWithSplit(setup, "C", "other", splits["c"]),
        # A design of its own has references of its own, on the same demand.
        StrategyWithSplit(larger, "D", "one", splits["a"]),
    ]
    assert with_references(strategies) == [
        ("A", ("a", "demand one")),
        "alone",
        ("B", ("b", "demand one")),
        ("C", ("c", "demand other")),
        ("D", ("a", "demand one")),
    ]
    assert asked == [("demand one", 270.0), ("demand other", 310.0), ("demand one", 290.0)]
