"""The stress of an average day, reckoned by hand from a day of two bins and two cycles."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.projection.duty import Duty, WornDay
from lifetime.stress.cycles import CycleTable
from lifetime.stress.day import Bins, Day
from lifetime.stress.source import Source

AMBIENT_K = np.linspace(270.0, 303.0, 12)
DAYS = 292.0
"""0.8 of all days."""
PACK = Source(
    kind="battery",
    capacity_As=1000.0,
    resistance_ohm=0.1,
    start_soc=0.6,
    rest_soc=0.5,
    open_circuit_V=lambda soc: 300.0 + 100.0 * soc,
    minimum_voltage_V=250.0,
    maximum_voltage_V=420.0,
    minimum_soc=0.0,
    maximum_soc=1.0,
    thermal=None,
    hot_spot_K=0.0,
    parallel=4,
    series=10,
)


def array(*values):
    return np.array(values)


DAY = Day(
    drive=SimpleNamespace(duration_s=3000.0, drawn_As=150.0),
    bins=Bins(
        time_s=array(3600.0, 7200.0),
        soc=array(0.6, 0.6),
        charge_As=array(100.0, 200.0),
        ambient_share=array(1.0, 0.5),
        fixed_K=array(0.0, 150.0),
        rise_K=array(2.0, 4.0),
        decay=array(1.0, 0.5),
    ),
    cycles=CycleTable(
        range_As=array(300.0, 100.0),
        mean_As=array(50.0, -20.0),
        count=array(1.0, 2.0),
        rate_A=array(5.0, 4.0),
        charge_rate_A=array(2.0, 1.0),
        discharge_rate_A=array(6.0, 5.0),
        time_mean_rate_A=array(3.0, 2.0),
        time_mean_charge_rate_A=array(1.5, 0.5),
        time_mean_discharge_rate_A=array(4.5, 3.5),
        rise_K=array(1.0, 2.0),
        decay=array(0.5, 0.25),
        measured_K=array(0.0, 0.0),
    ),
    cycle_ambient_share=array(1.0, 0.0),
    cycle_fixed_K=array(1.0, 300.0),
    length_s=86_400.0,
    starting_rise_K=3.0,
    charging_s=1800.0,
    squared_A2s=4800.0 * 400.0,
    throughput_As=0.0,
    open_charge_As=0.0,
)
NEW = WornDay(DAY, "none")


def yearly(day=DAY, source=PACK, days=DAYS):
    return Duty(source, [WornDay(day, "none")], AMBIENT_K, days)


class TestTime:
    def test_each_bin_on_the_days_worked_and_rest_for_what_is_left(self):
        found = yearly().stress(1.0, 1.0)
        assert found.duration_s.tolist() == pytest.approx([0.8 * 3600, 0.8 * 7200, 0.2 * 86_400])

    def test_days_that_fill_the_year_leave_no_rest(self):
        # Two days each, on 0.8 of all days, are more than there are; none of the rest is negative.
        long = replace(DAY, length_s=2 * 86_400.0)
        assert yearly(long).stress(1.0, 1.0).duration_s[-1] == 0.0
        assert yearly(days=365.0).stress(1.0, 1.0).duration_s[-1] == 0.0

    def test_charge_is_taken_from_what_the_present_capacity_holds(self):
        assert yearly().stress(0.8, 1.0).soc.tolist() == pytest.approx([0.6 - 100 / 800, 0.6 - 200 / 800, 0.5])

    def test_without_a_place_to_rest_it_rests_where_the_drive_ended(self):
        found = yearly(source=replace(PACK, rest_soc=None)).stress(0.8, 1.0)
        assert found.soc[-1] == pytest.approx(0.6 - 150 / 800)

    def test_temperature_follows_season_resistance_and_the_day_before(self):
        found = yearly().stress(1.0, 2.0).temperature_K
        # First bin: ambient + 2 (2 + 3 * 1); second: half the ambient + 150 + 2 (4 + 3 * 0.5); rest: ambient.
        expected = np.stack([AMBIENT_K + 10.0, 0.5 * AMBIENT_K + 161.0, AMBIENT_K], axis=1)
        np.testing.assert_allclose(found, expected, rtol=1e-12)

    def test_voltage_is_that_of_one_cell(self):
        found = yearly().stress(1.0, 1.0)
        assert found.voltage_V.tolist() == pytest.approx([(300 + 100 * soc) / 10 for soc in (0.5, 0.4, 0.5)])


class TestCycles:
    def test_counts_depths_and_rates(self):
        found = yearly().stress(0.8, 1.0)
        assert found.count.tolist() == pytest.approx([0.8, 1.6])
        assert found.depth.tolist() == pytest.approx([300 / 800, 100 / 800])
        assert found.mean_soc.tolist() == pytest.approx([0.6 - 50 / 800, 0.6 + 20 / 800])
        assert found.c_rate.tolist() == pytest.approx([5 * 3600 / 800, 4 * 3600 / 800])
        assert found.charge_c_rate.tolist() == pytest.approx([2 * 3600 / 800, 1 * 3600 / 800])

    def test_throughput_is_that_of_the_rated_capacity_at_any_health(self):
        for health in (1.0, 0.8):
            assert yearly().stress(health, 1.0).throughput_fec.tolist() == pytest.approx([0.8 * 0.3, 1.6 * 0.1])

    def test_temperature(self):
        found = yearly().stress(1.0, 2.0).cycle_temperature_K
        # First: ambient + 1 + 2 (1 + 3 * 0.5); second: measured 300 + 2 (2 + 3 * 0.25), whatever the season.
        expected = np.stack([AMBIENT_K + 6.0, np.full(12, 305.5)], axis=1)
        np.testing.assert_allclose(found, expected, rtol=1e-12)

    def test_quadratic_mean_of_a_straight_voltage(self):
        # Over a depth d about a mean m, U = a + b soc has the mean square U(m)^2 + (b d)^2 / 12.
        found = yearly().stress(1.0, 1.0)
        for at, (mean, depth) in enumerate([(0.55, 0.3), (0.62, 0.1)]):
            assert found.rms_voltage_V[at] == pytest.approx(np.sqrt((30 + 10 * mean) ** 2 + (10 * depth) ** 2 / 12))

    def test_rms_current_of_one_cell_while_driving_and_charging(self):
        # 400 A^2 over 3000 s of driving and 1800 s of charging: 20 A, over four cells side by side.
        assert float(yearly().stress(1.0, 1.0).rms_current_A) == pytest.approx(5.0)

    def test_a_day_without_load_has_no_current(self):
        idle = replace(DAY, drive=SimpleNamespace(duration_s=0.0, drawn_As=0.0), charging_s=0.0)
        assert float(yearly(idle).stress(1.0, 1.0).rms_current_A) == 0.0


class TestWornDays:
    HALF = replace(
        DAY,
        bins=replace(DAY.bins, charge_As=2.0 * DAY.bins.charge_As),
        cycles=replace(DAY.cycles, rate_A=2.0 * DAY.cycles.rate_A),
    )

    @pytest.mark.parametrize(
        ("wear", "health", "progress"),
        [
            ("both", (0.9, 1.0), 0.5),
            ("capacity", (0.95, 3.0), 0.25),
            ("resistance", (0.8, 1.25), 0.5),
            ("both", (0.7, 1.0), 1.0),
            ("resistance", (1.0, 0.9), 0.0),
            ("capacity", (1.1, 1.0), 0.0),
        ],
    )
    def test_how_far_the_present_health_has_come(self, wear, health, progress):
        # Traced at 80 % of capacity and 1.5 times the resistance.
        assert WornDay(DAY, wear, 0.8, 1.5).progress(*health) == pytest.approx(progress)

    def test_bins_and_cycles_are_blended_and_rest_is_not(self):
        duty = Duty(PACK, [NEW, WornDay(self.HALF, "both", 0.8, 1.5)], AMBIENT_K, DAYS)
        assert duty.weights(0.95, 1.0) == pytest.approx([0.75, 0.25])
        found = duty.stress(0.95, 1.0)
        share = np.repeat([0.75, 0.25], 2)
        np.testing.assert_allclose(found.duration_s, [*(share * 0.8 * [3600, 7200, 3600, 7200]), 0.2 * 86_400])
        np.testing.assert_allclose(found.count, share * [0.8, 1.6, 0.8, 1.6])
        np.testing.assert_allclose(found.soc[:4], 0.6 - np.array([100, 200, 200, 400]) / 950)

    def test_capacity_and_resistance_each_have_their_own(self):
        worn = [WornDay(self.HALF, "capacity", 0.8, 1.0), WornDay(DAY, "resistance", 1.0, 2.0)]
        duty = Duty(PACK, [NEW, *worn], AMBIENT_K, DAYS)
        assert duty.weights(0.9, 1.25) == pytest.approx([0.25, 0.5, 0.25])
        # Both fully worn: the new day counts once less. Clocks are linear, so that is the sum of both changes.
        assert duty.weights(0.8, 2.0) == pytest.approx([-1.0, 1.0, 1.0])


class TestSmallCycles:
    def test_those_up_to_a_range_are_left_out_with_their_temperatures(self):
        left = NEW.without_small_cycles(100.0).day
        assert left.cycles.range_As.tolist() == [300.0]
        assert left.cycles.charge_rate_A.tolist() == [2.0]
        assert (left.cycle_ambient_share.tolist(), left.cycle_fixed_K.tolist()) == ([1.0], [1.0])
        assert left.bins is DAY.bins

    @pytest.mark.parametrize("range_As", [0.0, 99.9])
    def test_smaller_ones_than_any_leave_all(self, range_As):
        assert NEW.without_small_cycles(range_As).day.cycles.range_As.tolist() == [300.0, 100.0]
