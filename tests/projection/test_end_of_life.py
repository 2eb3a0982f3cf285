"""When a limit comes, against laws that a straight line solves."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.ageing.contract import Health, Mechanism
from lifetime.projection.duty import Duty, WornDay
from lifetime.projection.limits import DutyMargin, first_below, health_crossings
from lifetime.projection.years import Trajectory, project
from lifetime.stress.bins import Bins
from lifetime.stress.cycles import empty_table
from lifetime.stress.day import Day
from lifetime.stress.source import Source


@dataclass(frozen=True)
class Straight:
    """Capacity loses ``fall`` a year, resistance grows by ``rise`` a year."""

    fall: float = 0.02
    rise: float = 0.0
    has_resistance: bool = True

    mechanisms = (Mechanism("capacity", "calendar"), Mechanism("resistance", "calendar"))

    def rates(self, capacity_fraction, resistance_ratio):
        return np.tile([self.fall / 365.0, self.rise / 365.0], (12, 1))

    def fade(self, clocks):
        return Health(1.0 - clocks[..., 0], 1.0 + clocks[..., 1])

    def run(self, years=30.0, **options):
        return project(self, self.rates, years=years, **options)


class TestFirstBelow:
    MONTHS = Trajectory(np.arange(4) / 12, np.arange(4.0).reshape(-1, 1), np.ones(4), np.ones(4))

    def run(self, *margins):
        values = np.array(margins)
        return first_below(self.MONTHS, lambda clocks: np.interp(clocks[0], np.arange(4.0), values), values)

    def test_within_the_month(self):
        # From 1 down to -3 over the second month: zero a quarter into it.
        assert self.run(2.0, 1.0, -3.0, -4.0) == pytest.approx(1.25 / 12, rel=1e-12)

    def test_a_margin_of_zero_is_reached(self):
        assert self.run(2.0, 1.0, 0.0, 0.0) == pytest.approx(2.0 / 12, rel=1e-12)

    def test_at_once(self):
        assert self.run(0.0, -1.0, -2.0, -3.0) == 0.0

    def test_never(self):
        assert self.run(4.0, 3.0, 2.0, 1e-9) is None


class TestHealthCrossings:
    def run(self, law, kind="battery"):
        found = health_crossings(law, law.run(), capacity_limit=0.8, resistance_limit=2.0, kind=kind)
        return [(one.limit, one.years, one.detail) for one in found]

    def test_both_within_their_months(self):
        # 20 % at 1.96 % a year; 100 % at 9.7 % a year; neither falls on the end of a month.
        found = self.run(Straight(0.0196, 0.097))
        assert found == [
            ("capacity", pytest.approx(0.2 / 0.0196, rel=1e-9), ""),
            ("resistance", pytest.approx(1.0 / 0.097, rel=1e-9), ""),
        ]

    def test_a_bank_has_its_own_words(self):
        assert [name for name, _, _ in self.run(Straight(), "ultracapacitor")] == ["capacitance", "esr"]

    def test_limits_that_are_not_reached(self):
        assert [years for _, years, _ in self.run(Straight(0.001, 0.01))] == [None, None]


class TestTrajectory:
    RUN = Trajectory(np.arange(3) / 12, np.array([[0.0, 0.0], [1.0, 10.0], [4.0, 20.0]]), np.ones(3), np.ones(3))

    @pytest.mark.parametrize(
        ("months", "clocks"),
        [
            (0.0, [0, 0]),
            (0.5, [0.5, 5]),
            (1.0, [1, 10]),
            (1.25, [1.75, 12.5]),
            (2.0, [4, 20]),
            (9, [4, 20]),
            (-1, [0, 0]),
        ],
    )
    def test_clocks_run_straight_within_a_month(self, months, clocks):
        assert self.RUN.clocks_at(months / 12).tolist() == pytest.approx(clocks)

    def test_a_run_of_no_months(self):
        start = Trajectory(np.zeros(1), np.array([[7.0]]), np.ones(1), np.ones(1))
        assert start.clocks_at(3.0).tolist() == [7.0]


class TestProject:
    def test_it_can_be_told_that_it_is_enough(self):
        asked = []

        def enough(years, capacity_fraction, resistance_ratio):
            asked.append((years, capacity_fraction, resistance_ratio))
            return years >= 1.0

        found = Straight(0.02, 0.1).run(enough=enough, longest_step_months=1)
        assert found.years[-1] == pytest.approx(1.0)
        # Asked at the end of every month, with the health there.
        assert [one[0] for one in asked] == pytest.approx(np.arange(13) / 12)
        assert asked[6] == (0.5, pytest.approx(0.99), pytest.approx(1.05))

    def test_where_health_is_as_predicted_stress_is_reckoned_once_a_step(self):
        calls = []

        def rates(*health):
            calls.append(health)
            return Straight().rates(*health)

        found = project(Straight(), rates, years=1.0, longest_step_months=1)
        assert found.years.size == 13
        assert len(calls) == 13  # the first, and the end of each of twelve steps

    def test_resistance_that_runs_away_ends_the_run(self):
        found = Straight(0.0, 60.0).run()
        assert found.years[-1] < 1.0
        assert found.resistance_ratio[-1] >= 10.0

    def test_it_ends_where_it_was_asked_to(self):
        found = Straight(0.001).run(years=2.5)
        assert found.years[-1] == 2.5
        assert found.capacity_fraction[-1] == pytest.approx(1.0 - 0.0025)
        assert found.capacity_fraction.shape == found.resistance_ratio.shape == (31,)


PACK = Source(
    kind="battery",
    capacity_As=100_000.0,
    resistance_ohm=0.1,
    start_soc=0.6,
    rest_soc=0.6,
    open_circuit_V=lambda soc: 300.0 + 100.0 * soc,
    minimum_voltage_V=250.0,
    maximum_voltage_V=420.0,
    minimum_soc=0.1,
    maximum_soc=0.95,
    thermal=None,
    hot_spot_K=0.0,
    parallel=1,
    series=1,
)
LOW_SOC = DutyMargin.BOUNDS[0]


def day(highest_As, *, highest_A=0.0):
    """A day that only takes charge: from nothing to ``highest_As``, its largest current where most is drawn."""
    level = SimpleNamespace(
        charge_high_As=np.array([highest_As]),
        charge_low_As=np.zeros(1),
        highest_A=np.array([highest_A]),
        lowest_A=np.zeros(1),
    )
    drive = SimpleNamespace(
        duration_s=3600.0, drawn_As=highest_As, highest_As=highest_As, lowest_As=0.0, envelope=level
    )
    none = np.empty(0)
    return Day(drive, Bins(*[none] * 7), empty_table(), none, none, 86_400.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def margin(*days, **options):
    return DutyMargin(PACK, Duty(PACK, days, np.full(12, 298.15), 300.0), **options)


class TestDutyMargin:
    def test_every_traced_day_has_its_share(self):
        # 20,000 As when new and 30,000 As at 80 %: half way, at 90 %, the mean of the two margins.
        found = margin(WornDay(day(20e3), "none"), WornDay(day(30e3), "both", 0.8, 2.0)).by_bound(0.9, 1.5)
        margins = [0.6 - charge / 90e3 - 0.1 for charge in (20e3, 30e3)]
        assert found[LOW_SOC] == pytest.approx(sum(margins) / 2, abs=1e-8)

    def test_resistance_has_a_share_of_its_own(self):
        worn = WornDay(day(30e3), "resistance", 1.0, 2.0)
        found = margin(WornDay(day(20e3), "none"), worn).by_bound(1.0, 1.25)
        margins = [0.6 - charge / 100e3 - 0.1 for charge in (20e3, 30e3)]
        assert found[LOW_SOC] == pytest.approx(0.75 * margins[0] + 0.25 * margins[1], abs=1e-8)

    def test_with_every_bound_skipped_nothing_ends_it(self):
        found = margin(WornDay(day(90e3), "none"), skip=frozenset(DutyMargin.BOUNDS))
        assert found.smallest(1.0, 1.0) == (1.0, "")
        assert found.crossing(Straight(), Straight().run()).years is None

    def test_when_the_pack_no_longer_holds_the_day(self):
        # 39,200 As go down from 0.6 to the bound at 0.1 at 78.4 % of capacity: 21.6 % at 2 % a year are 10.8 years.
        found = margin(WornDay(day(39_200.0), "none")).crossing(Straight(), Straight().run())
        assert (found.limit, found.detail) == ("requirement", LOW_SOC)
        assert found.years == pytest.approx(10.8, rel=1e-6)

    def test_when_the_voltage_no_longer_holds(self):
        # 40,000 As at 100 A: 300 + 20 - 10 r V against 250 V: r = 7, so 6 of growth at 0.5 a year are 12 years.
        found = margin(WornDay(day(40e3, highest_A=100.0), "none")).crossing(
            Straight(0.0, 0.5), Straight(0.0, 0.5).run()
        )
        assert found.detail == DutyMargin.BOUNDS[2]
        assert found.years == pytest.approx(12.0, rel=1e-6)

    def test_when_it_never_held(self):
        assert margin(WornDay(day(60e3), "none")).crossing(Straight(), Straight().run()).years == 0.0

    def test_when_it_always_holds(self):
        found = margin(WornDay(day(10e3), "none")).crossing(Straight(0.001), Straight(0.001).run())
        assert (found.limit, found.years, found.detail) == ("requirement", None, "")
