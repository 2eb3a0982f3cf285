"""A working day repeated for ever: everything closes, heat balances over the day, charging brings charge back.

Sources: ASTM E1049-85, 5.4.5 (repeating history); first law of thermodynamics for the heat balance.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.errors import AssessmentError
from lifetime.stress.day import GROUP_ABOVE, Charging, build_day
from lifetime.stress.source import Thermal

NEVER = Charging(None, 0.0)
DAY_S = 86400.0


def day_sums(day):
    """Time, and the integral of the temperature rise over the day."""
    bins = day.bins
    return bins.time_s.sum(), np.sum(bins.time_s * (bins.rise_K + day.starting_rise_K * bins.decay))


def state_of_charge(day, source):
    return day.bins.soc - day.bins.charge_As / source.capacity_As


class TestChargeByHand:
    """50 Ah, start at 0.6, 25 A out for 1200 s = 30,000 As; charging at 10 A brings them back in 3000 s."""

    def day(self, source, trace, charging):
        pack = source(rest_soc=0.6)
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        return pack, build_day(drive, pack, charging)

    def test_charging_time_and_throughput(self, source, trace):
        _, day = self.day(source, trace, Charging(10.0, 0.6))
        assert day.charging_s == pytest.approx(3000.0)
        assert day.throughput_As == pytest.approx(60_000.0)
        assert day.open_charge_As == pytest.approx(0.0, abs=1e-6)
        assert day.squared_A2s == pytest.approx(25.0**2 * 1200 + 10.0**2 * 3000)

    def test_one_full_cycle_with_both_halves(self, source, trace):
        _pack, day = self.day(source, trace, Charging(10.0, 0.6))
        assert day.cycles.size == 1
        assert day.cycles.range_As[0] == pytest.approx(30_000.0)
        assert day.cycles.count[0] == 1.0
        # Mean of the two ends: half of it drawn. Out at 25 A, back at 10 A, equal charge: 17.5 A; charged at 10 A.
        assert day.cycles.mean_As[0] == pytest.approx(15_000.0)
        assert day.cycles.rate_A[0] == pytest.approx(17.5)
        assert day.cycles.charge_rate_A[0] == pytest.approx(10.0)

    def test_mean_state_of_charge_over_the_day(self, source, trace):
        # Down over 1200 s and up over 3000 s, both straight, mean 1/12 below the start; at 0.6 for the rest.
        pack, day = self.day(source, trace, Charging(10.0, 0.6))
        mean = np.sum(day.bins.time_s * state_of_charge(day, pack)) / DAY_S
        assert mean == pytest.approx(0.6 - 0.5 * (30_000 / 180_000) * 4200 / DAY_S, rel=1e-9)

    def test_without_charging_it_stays_down_and_stays_open(self, source, trace):
        pack = source()
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        day = build_day(drive, pack, NEVER)
        assert day.charging_s == 0.0
        assert day.open_charge_As == pytest.approx(30_000.0)
        resting = state_of_charge(day, pack)[-1]
        assert resting == pytest.approx(0.6 - 30_000 / 180_000)
        # Repeated for ever it is one full cycle a day all the same (5.4.5), and the caller is told of the open charge.
        assert day.cycles.count.sum() == 1.0

    def test_too_long_a_day_is_refused(self, source, trace):
        pack = source()
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        with pytest.raises(AssessmentError, match="does not fit into 24 h"):
            build_day(drive, pack, Charging(0.3, 0.6))

    def test_what_the_source_never_held_is_charged_as_long_as_the_day_lasts(self, source, trace):
        # The trace goes on below empty; that the source cannot deliver such a day is said elsewhere.
        pack = source(capacity_As=20_000.0, start_soc=0.6)
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        day = build_day(drive, pack, Charging(0.3, 0.6))
        assert day.charging_s == 86_400.0 - 1200.0
        assert day.open_charge_As == pytest.approx(30_000.0 - 0.3 * 85_200.0)

    def test_a_source_that_is_emptied_to_its_end_held_it_all(self, source, trace):
        # 0.6 of 50,000 As are just the 30,000 As drawn: the day can be delivered, and does not fit.
        pack = source(capacity_As=50_000.0, start_soc=0.6)
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        with pytest.raises(AssessmentError, match="does not fit into 24 h"):
            build_day(drive, pack, Charging(0.3, 0.6))

    def test_a_drive_of_24_hours_leaves_no_rest(self, source, trace):
        pack = source(rest_soc=0.6)
        drive = trace(pack, np.arange(0.0, DAY_S + 1.0, 600.0), current_A=np.zeros(145))
        bins = build_day(drive, pack, NEVER).bins
        assert bins.time_s.sum() == DAY_S
        assert (bins.time_s > 0.0).all()

    def test_charging_goes_on_where_braking_left_off(self, source, trace):
        # 25 A for 1200 s out, 50 A for 100 s back by braking, the other 25,000 As at 10 A in 2500 s.
        pack = source()
        current = np.concatenate([np.full(1200, 25.0), np.full(101, -50.0)])
        drive = trace(pack, np.arange(0.0, 1301.0), current_A=current, interpolation="zero_order_hold")
        day = build_day(drive, pack, Charging(10.0, 0.6))
        assert day.charging_s == pytest.approx(2500.0)
        assert day.cycles.range_As.tolist() == pytest.approx([30_000.0])
        assert day.cycles.charge_rate_A.tolist() == pytest.approx([30_000.0 / 2600.0])
        # Weighed with charge, back: 5000 As at 50 A and 25,000 As at 10 A; out all at 25 A.
        back = (5000.0 * 50.0 + 25_000.0 * 10.0) / 30_000.0
        assert day.cycles.rate_A.tolist() == pytest.approx([0.5 * (25.0 + back)])

    def test_nothing_to_charge_takes_no_time(self, source, trace):
        pack = source()
        drive = trace(pack, np.arange(0.0, 11.0), current_A=np.full(11, -25.0))
        assert build_day(drive, pack, Charging(10.0, 0.6)).charging_s == 0.0


class TestHeatOverTheDay:
    def pack(self, source, thermal, tau_s=7200.0):
        return source(resistance_ohm=0.05, thermal=thermal(0.02, tau_s / 0.02), rest_soc=0.6)

    def test_a_long_time_constant_keeps_heat_until_the_morning(self, source, thermal, trace):
        # Constant current all driving long, no charging: the periodic solution in closed form.
        # Rise in the morning x: ((x - s) e^(-a) + s) e^(-b) = x with a = 3600/tau, b = (86400 - 3600)/tau.
        pack = self.pack(source, thermal, tau_s=40_000.0)
        drive = trace(pack, np.arange(0.0, 3601.0, 10.0), current_A=np.full(361, 100.0))
        day = build_day(drive, pack, NEVER)
        steady = 100.0**2 * 0.05 * 0.02
        a, b = 3600.0 / 40_000.0, 82_800.0 / 40_000.0
        expected = steady * -np.expm1(-a) * np.exp(-b) / -np.expm1(-(a + b))
        assert day.starting_rise_K == pytest.approx(expected, rel=1e-9)

    @pytest.mark.parametrize("tau_s", [600.0, 7200.0, 100_000.0])
    @pytest.mark.parametrize("charge_A", [None, 20.0])
    def test_heat_made_is_heat_given_off(self, source, thermal, trace, tau_s, charge_A):
        # A repeated day ends as it began, so all heat made leaves: integral of rise / R_th = R * integral of I^2.
        pack = self.pack(source, thermal, tau_s)
        time = np.arange(0.0, 7201.0, 10.0)
        drive = trace(pack, time, current_A=30.0 + 90.0 * np.sin(time / 100.0))
        day = build_day(drive, pack, Charging(charge_A, 0.6))
        time_s, kelvin_seconds = day_sums(day)
        assert time_s == pytest.approx(DAY_S)
        assert kelvin_seconds / 0.02 == pytest.approx(0.05 * day.squared_A2s, rel=1e-9)

    def test_a_model_of_heat_leaves_all_of_the_season(self, source, thermal, trace):
        pack = self.pack(source, thermal)
        drive = trace(pack, np.arange(0.0, 3601.0, 10.0), current_A=np.full(361, 100.0))
        bins = build_day(drive, pack, Charging(20.0, 0.6)).bins
        np.testing.assert_allclose(bins.ambient_share, 1.0, rtol=1e-12)

    def test_without_a_thermal_model_charging_warms_nothing(self, source, trace):
        drive = trace(source(), np.arange(0.0, 101.0), current_A=np.full(101, 50.0))
        day = build_day(drive, source(), Charging(20.0, 0.6))
        assert not day.bins.rise_K.any()
        assert day.starting_rise_K == 0.0

    def test_without_thermal_model_everything_is_at_ambient(self, source, trace):
        drive = trace(source(), np.arange(0.0, 101.0), current_A=np.full(101, 50.0))
        day = build_day(drive, source(), NEVER)
        assert (day.bins.ambient_share == 1.0).all()
        assert not day.bins.rise_K.any()

    def test_hot_spot_only_under_load(self, source, thermal, trace):
        pack = source(thermal=thermal(0.02, 1e5), hot_spot_K=4.0, rest_soc=0.6)
        drive = trace(pack, np.arange(0.0, 601.0), current_A=np.full(601, 60.0))
        # An ambient temperature of a test that measured no other changes nothing.
        day = build_day(drive, pack, Charging(20.0, 0.6), ambient_at_test_K=295.0)
        loaded = drive.duration_s + day.charging_s
        assert np.sum(day.bins.time_s * (day.bins.fixed_K > 0.0)) == pytest.approx(loaded)
        assert set(day.bins.fixed_K.tolist()) == {0.0, 4.0}
        assert set(day.cycle_fixed_K.tolist()) == {4.0}


class TestMeasuredTemperature:
    def day(self, source, thermal, trace, ambient_at_test_K):
        pack = source(thermal=thermal(0.02, 7200 / 0.02), rest_soc=0.6)
        n = 361
        drive = trace(pack, np.arange(0.0, 3601.0, 10.0), current_A=np.full(n, 50.0), temperature_K=np.full(n, 310.0))
        return build_day(drive, pack, NEVER, ambient_at_test_K=ambient_at_test_K)

    def test_as_it_is_all_year(self, source, thermal, trace):
        day = self.day(source, thermal, trace, None)
        driving = day.bins.ambient_share == 0.0
        assert np.sum(day.bins.time_s[driving]) == pytest.approx(3600.0)
        assert day.bins.fixed_K[driving].tolist() == pytest.approx([310.0] * int(driving.sum()))
        assert set(day.cycle_ambient_share.tolist()) == {0.0}

    def test_shifted_with_the_season(self, source, thermal, trace):
        # 310 K at 295 K ambient: 15 K above whatever the season brings.
        day = self.day(source, thermal, trace, 295.0)
        assert (day.bins.ambient_share == 1.0).all()
        assert day.bins.fixed_K[0] == pytest.approx(15.0)
        assert set(day.cycle_fixed_K.tolist()) == {15.0}

    @pytest.mark.parametrize("ambient_at_test_K", [None, 295.0])
    def test_no_heat_is_reckoned_beside_a_measured_temperature(self, source, thermal, trace, ambient_at_test_K):
        day = self.day(source, thermal, trace, ambient_at_test_K)
        assert not day.bins.rise_K.any()
        assert not day.bins.decay[day.bins.ambient_share > 0.0][-1:].any()
        assert day.starting_rise_K == 0.0

    @pytest.mark.parametrize(
        ("ambient_at_test_K", "share", "fixed"), [(None, 0.0, 310.0), (295.0, 1.0, 0.5 * (310.0 + 295.0) - 295.0)]
    )
    def test_charging_goes_on_at_the_temperature_of_the_test(self, source, trace, ambient_at_test_K, share, fixed):
        # Without a thermal model the pack is at ambient as soon as the drive ends, where that is known; both halves
        # of the cycle move the same charge.
        pack = source()
        drive = trace(pack, np.arange(0.0, 101.0), current_A=np.full(101, 50.0), temperature_K=np.full(101, 310.0))
        day = build_day(drive, pack, Charging(20.0, 0.6), ambient_at_test_K=ambient_at_test_K)
        assert day.cycle_ambient_share.tolist() == [share]
        assert day.cycle_fixed_K.tolist() == pytest.approx([fixed])

    def test_it_cools_towards_ambient_at_rest(self, source, thermal, trace):
        # Newton's law of cooling from 15 K above: integral over the rest is 15 K * tau * (1 - exp(-rest / tau)).
        day = self.day(source, thermal, trace, 295.0)
        excess = np.sum(day.bins.time_s * day.bins.fixed_K)
        expected = 15.0 * 3600.0 + 15.0 * 7200.0 * -np.expm1(-82_800.0 / 7200.0)
        assert excess == pytest.approx(expected, rel=1e-9)


def test_a_bank_rests_where_it_is_told_and_the_way_there_is_a_cycle(source, trace):
    # From 0.6 up to 0.7 and back to 0.6 in the drive; rest at 0.3 is a way of its own, closed by the next morning.
    bank = source(kind="ultracapacitor", rest_soc=0.3)
    drive = trace(bank, [0.0, 100.0, 200.0], current_A=[-180.0, 180.0, 0.0], interpolation="zero_order_hold")
    day = build_day(drive, bank, NEVER)
    # By hand, from the top: 0.7 -> 0.3 -> 0.7 is one cycle of 0.4 capacity; 0.6 on the way is no reversal.
    assert (day.cycles.range_As / bank.capacity_As).tolist() == [pytest.approx(0.4)]
    assert state_of_charge(day, bank)[-1] == pytest.approx(0.3)


@settings(deadline=None)
@given(
    current=st.lists(st.integers(-30, 40).map(lambda value: 5.0 * value), min_size=3, max_size=60),
    charge_A=st.sampled_from([None, 15.0, 60.0]),
    repeats=st.integers(1, 3),
)
def test_a_closed_day_counts_all_charge_it_moves(source, trace, current, charge_A, repeats):
    # In a loop every way down has its way up, so cycles make up exactly half of the charge moved.
    pack = source(rest_soc=None)
    drive = trace(pack, 10.0 * np.arange(len(current)), current_A=current, repeats=repeats)
    day = build_day(drive, pack, Charging(charge_A, 0.6))
    moved = day.throughput_As + abs(day.open_charge_As)
    counted = 2.0 * np.sum(day.cycles.count * day.cycles.range_As)
    assert counted == pytest.approx(moved, rel=1e-9, abs=1e-6)
    assert day.bins.time_s.sum() == pytest.approx(DAY_S)
    assert (day.cycles.count > 0.0).all()
    if charge_A is not None:
        # Charging stops at its target; what came in beyond it stays open and is reported.
        assert day.open_charge_As <= 1e-6


def test_many_cycles_of_a_day_are_grouped_and_keep_their_throughput(source, trace):
    # Swings of all sizes, one after another; in a loop every ampere-second belongs to one half of a cycle.
    n = 3 * GROUP_ABOVE
    sizes = 5.0 + 20.0 * np.random.default_rng(5).random(n)  # any sizes will do; fixed so that a fault can be repeated
    current = np.stack([sizes, -sizes], axis=1).reshape(-1)
    pack = source(capacity_As=1e4)
    drive = trace(pack, np.arange(0.0, 2.0 * n + 1.0), current_A=[*current, 0.0], interpolation="zero_order_hold")
    day = build_day(drive, pack, NEVER)
    assert 1 < day.cycles.size < n
    assert np.sum(day.cycles.count * day.cycles.range_As) == pytest.approx(sizes.sum(), rel=1e-9)


class TestChargeAtAStatedHour:
    """The same day: driven for 1200 s from 0.6 to 13/30, charged in 3000 s, at the latest 8 h after its start."""

    def day(self, source, trace, ends_after_s, **more):
        pack = source(rest_soc=0.6, **more)
        drive = trace(pack, np.arange(0.0, 1201.0), current_A=np.full(1201, 25.0))
        return pack, build_day(drive, pack, Charging(10.0, 0.6, ends_after_s=ends_after_s))

    def test_time_at_each_state_of_charge(self, source, trace):
        pack, day = self.day(source, trace, 8 * 3600.0)
        soc, time = state_of_charge(day, pack), day.bins.time_s
        low = 0.6 - 30_000 / 180_000
        # It waits at the low state for 8 h less drive and charging, and is full for the other 16 h.
        assert time[np.isclose(soc, low, atol=1e-12)].sum() == pytest.approx(8 * 3600 - 1200 - 3000)
        assert time[np.isclose(soc, 0.6, atol=1e-12)].sum() == pytest.approx(16 * 3600)
        assert time.sum() == pytest.approx(DAY_S)
        # The 4200 s in between are straight; mean half way.
        mean = (low * (8 * 3600 - 4200) + 0.6 * 16 * 3600 + 0.5 * (low + 0.6) * 4200) / DAY_S
        assert np.sum(time * soc) / DAY_S == pytest.approx(mean, rel=1e-9)
        # Only driving and charging are load.
        assert np.sum(time * day.loaded_fraction) == pytest.approx(4200.0)

    def test_charge_and_cycles_are_the_same(self, source, trace):
        (_, late), (_, at_once) = (self.day(source, trace, ends) for ends in (DAY_S, None))
        assert late.throughput_As == at_once.throughput_As
        for one, other in zip(late.cycles.columns(), at_once.cycles.columns(), strict=True):
            np.testing.assert_allclose(one, other)

    def test_heat_balances_over_the_day_all_the_same(self, source, trace):
        _, day = self.day(source, trace, 8 * 3600.0, thermal=Thermal(0.01, 720_000.0), resistance_ohm=0.1)
        # First law: the mean rise is the day's heat over its length times the thermal resistance.
        heat_J = 0.1 * (25.0**2 * 1200 + 10.0**2 * 3000)
        time, rise = day_sums(day)
        assert rise / time == pytest.approx(0.01 * heat_J / DAY_S, rel=1e-6)

    def test_too_little_time_is_charged_at_once_and_told(self, source, trace):
        _, day = self.day(source, trace, 3600.0)
        assert day.charging_late_s == pytest.approx(600.0)
        _, at_once = self.day(source, trace, None)
        np.testing.assert_array_equal(day.bins.time_s, at_once.bins.time_s)
        assert at_once.charging_late_s == 0.0
