"""Years, limits and crossings against closed forms, with laws simple enough to solve by hand."""

from dataclasses import dataclass

import numpy as np
import pytest

from lifetime.ageing.contract import Health, Mechanism
from lifetime.projection.limits import health_crossings
from lifetime.projection.years import project
from lifetime.stress.cycles import CycleTable, group


@dataclass(frozen=True)
class Simple:
    """Capacity loses ``root * sqrt(t) + line * t`` a year, resistance grows by ``rise * t``; t in years."""

    root: float = 0.0
    line: float = 0.0
    rise: float = 0.0
    has_resistance: bool = True

    mechanisms = (Mechanism("calendar", "calendar"), Mechanism("cycle", "cycle"), Mechanism("resistance", "calendar"))

    def rates(self, capacity_fraction, resistance_ratio):
        return np.tile([self.root**2 / 365.0, self.line / 365.0, self.rise / 365.0], (12, 1))

    def fade(self, clocks):
        loss = np.sqrt(clocks[..., 0]) + clocks[..., 1]
        return Health(1.0 - loss, 1.0 + clocks[..., 2])

    def run(self, *, capacity=0.8, resistance=2.0, years=50.0, **options):
        trajectory = project(self, self.rates, years=years, **options)
        crossings = health_crossings(
            self, trajectory, capacity_limit=capacity, resistance_limit=resistance, kind="battery"
        )
        return {one.limit: one.years for one in crossings}


def test_c73_end_of_life_by_capacity_or_by_resistance():
    """By hand: -2 % and +20 % a year: 10 and 5 years; with -30 %: 15 years."""
    law = Simple(line=0.02, rise=0.20)
    assert law.run() == pytest.approx({"capacity": 10.0, "resistance": 5.0}, rel=1e-9)
    assert law.run(capacity=0.7)["capacity"] == pytest.approx(15.0, rel=1e-9)


def test_c73_without_a_resistance_law_there_is_no_resistance_limit():
    assert set(Simple(line=0.02, has_resistance=False).run()) == {"capacity"}


def test_c68_a_short_profile_stretched_to_years():
    """1e-4 a pass, 2 passes on 300 days, 20 % at damage 1: 1.2 % a year; with 4 %/sqrt(year): 7.524 years."""
    cycling = 0.20 * 1e-4 * 2 * 300
    assert Simple(line=cycling).run()["capacity"] == pytest.approx(16.667, abs=5e-4)
    assert Simple(line=cycling, root=0.04).run()["capacity"] == pytest.approx(7.524, abs=5e-4)


def test_c65_a_root_law_extrapolates_as_a_root():
    """2.5 % after 10 months is 8.66 % after 10 years."""
    law = Simple(root=0.025 / np.sqrt(10 / 12))
    trajectory = project(law, law.rates, years=10.0)
    assert 1.0 - trajectory.capacity_fraction[-1] == pytest.approx(0.0866, abs=5e-5)
    assert 1.0 - trajectory.capacity_fraction[10] == pytest.approx(0.025, rel=1e-12)


@pytest.mark.parametrize("longest", [1, 3, 6, 12, 24])
def test_c64_steps_do_not_matter_under_constant_stress(longest):
    assert Simple(root=0.05).run(longest_step_months=longest)["capacity"] == pytest.approx(16.0, rel=1e-12)


def test_a_limit_within_a_month_is_found_within_the_month():
    assert Simple(line=0.02 * 365).run(years=1.0)["capacity"] == pytest.approx(0.2 / (0.02 * 365), rel=1e-12)


def test_seasons_add_up_whatever_the_step():
    """A year of twelve different rates: after whole years only their sum counts, inside the year their order does."""

    class Seasonal(Simple):
        def rates(self, capacity_fraction, resistance_ratio):
            monthly = np.arange(12.0) / 66.0  # sums to 1
            return np.stack([0 * monthly, self.line / (365.0 / 12.0) * monthly, 0 * monthly], axis=1)

    law = Seasonal(line=0.01)
    for longest in (1, 12, 24):
        trajectory = project(law, law.rates, years=30.0, longest_step_months=longest)
        assert 1.0 - trajectory.capacity_fraction[12 * 20] == pytest.approx(0.2, rel=1e-12)
        assert 1.0 - trajectory.capacity_fraction[12 * 20 + 6] == pytest.approx(0.2 + 0.01 * 15 / 66, rel=1e-12)


def test_feedback_against_an_exponential():
    """dL/dt = a (1 + b L) has L = (exp(a b t) - 1) / b; monthly Heun steps follow it to a few parts in 10^5."""
    a, b = 0.01, 4.0

    class Feedback(Simple):
        def rates(self, capacity_fraction, resistance_ratio):
            return np.tile([0.0, a * (1.0 + b * (1.0 - capacity_fraction)) / 365.0, 0.0], (12, 1))

    law = Feedback()
    right = np.log(1.0 + b * 0.2) / (a * b)
    assert law.run(longest_step_months=1)["capacity"] == pytest.approx(right, rel=5e-5)
    assert law.run()["capacity"] == pytest.approx(right, rel=1e-3)


def test_it_stops_where_a_pack_is_scrap():
    trajectory = project(Simple(line=0.5), Simple(line=0.5).rates, years=50.0)
    assert trajectory.years[-1] < 2.0
    assert np.isfinite(trajectory.capacity_fraction).all()


def test_c70_each_depth_counts_with_its_own_life():
    """N(D) = 3000 D^-1.5; 100 cycles of 0.2 and 10 of 0.8: 0.0053666; grouping must not average depths."""
    depths = np.concatenate([np.full(100, 0.2), np.full(10, 0.8)])
    ones = np.ones(110)
    rates, still = [ones] * 6, [0 * ones] * 3
    table = group(CycleTable(depths * 1000.0, 0 * ones, ones, *rates, *still), 1000.0)
    assert table.size == 2
    damage = float(np.sum(table.count * (table.range_As / 1000.0) ** 1.5 / 3000.0))
    assert damage == pytest.approx(0.0053666, abs=5e-8)
    assert 1.0 / damage == pytest.approx(186.3, abs=5e-2)
