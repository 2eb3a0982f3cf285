"""A log of everything, charging and rest too: nothing is added; reversals left open are half cycles (ASTM E1049)."""

import numpy as np
import pytest

from lifetime.stress.day import GROUP_ABOVE, Charging, build_day

LOG = Charging(None, 0.0, whole_log=True)
OUT_AND_BACK = {"current_A": [25.0] * 1200 + [-10.0] * 601, "interpolation": "zero_order_hold"}
TIME = np.arange(0.0, 1801.0)


def test_it_is_taken_as_it_is(source, trace):
    # 25 A for 1200 s out, 10 A for 600 s back.
    pack = source(rest_soc=0.6, hot_spot_K=4.0)
    day = build_day(trace(pack, TIME, **OUT_AND_BACK), pack, LOG)
    assert (day.length_s, day.charging_s, day.starting_rise_K) == (1800.0, 0.0, 0.0)
    assert day.throughput_As == pytest.approx(36_000.0)
    assert day.open_charge_As == pytest.approx(24_000.0)
    assert day.squared_A2s == pytest.approx(25.0**2 * 1200 + 10.0**2 * 600)
    assert day.bins.time_s.sum() == pytest.approx(1800.0)
    assert set(day.bins.fixed_K.tolist()) == {4.0}


def test_reversals_left_open_count_one_half_each(source, trace):
    pack = source()
    table = build_day(trace(pack, TIME, **OUT_AND_BACK), pack, LOG).cycles
    assert table.count.tolist() == [0.5, 0.5]
    assert table.range_As.tolist() == pytest.approx([30_000.0, 6_000.0])
    assert table.mean_As.tolist() == pytest.approx([15_000.0, 27_000.0])
    assert table.rate_A.tolist() == pytest.approx([25.0, 10.0])


def test_one_way_is_one_half_cycle(source, trace):
    pack = source()
    table = build_day(trace(pack, np.arange(0.0, 101.0), current_A=np.full(101, 25.0)), pack, LOG).cycles
    assert (table.count.tolist(), table.range_As.tolist()) == ([0.5], [pytest.approx(2500.0)])


@pytest.mark.parametrize(
    ("ambient_at_test_K", "share", "fixed"), [(None, 0.0, 310.0 + 4.0), (295.0, 1.0, 310.0 - 295.0 + 4.0)]
)
def test_a_measured_temperature_as_it_is_or_shifted_with_the_season(source, trace, ambient_at_test_K, share, fixed):
    pack = source(hot_spot_K=4.0)
    drive = trace(pack, TIME, temperature_K=np.full(1801, 310.0), **OUT_AND_BACK)
    day = build_day(drive, pack, LOG, ambient_at_test_K=ambient_at_test_K)
    assert day.cycle_ambient_share.tolist() == [share, share]
    assert day.cycle_fixed_K.tolist() == pytest.approx([fixed, fixed])
    assert set(day.bins.ambient_share.tolist()) == {share}
    assert day.bins.fixed_K.tolist() == pytest.approx([fixed] * day.bins.time_s.size)


@pytest.mark.parametrize("ambient_at_test_K", [None, 295.0])
def test_without_a_measured_temperature_it_is_the_season_s(source, trace, ambient_at_test_K):
    pack = source(hot_spot_K=4.0)
    day = build_day(trace(pack, TIME, **OUT_AND_BACK), pack, LOG, ambient_at_test_K=ambient_at_test_K)
    assert set(day.bins.fixed_K.tolist()) == {4.0}
    assert day.cycle_ambient_share.tolist() == [1.0, 1.0]
    assert day.cycle_fixed_K.tolist() == [4.0, 4.0]
    assert set(day.bins.ambient_share.tolist()) == {1.0}


def swings(count):
    """Ever wider swings: every reversal stays open, each way ``count`` As wider than the one before."""
    return np.array([10.0 * (-1) ** at * (1 + 0.02 * at) for at in range(count)])


def test_many_cycles_are_grouped_and_keep_their_throughput(source, trace):
    n = 2 * GROUP_ABOVE
    current = swings(n)
    pack = source(capacity_As=1e4)
    day = build_day(
        trace(pack, np.arange(0.0, n + 1.0), current_A=[*current, 0.0], interpolation="zero_order_hold"), pack, LOG
    )
    assert day.cycles.size < n
    # Every ampere-second belongs to one half cycle.
    assert np.sum(day.cycles.count * day.cycles.range_As) == pytest.approx(0.5 * np.abs(current).sum(), rel=1e-9)
    assert day.cycle_fixed_K.size == day.cycle_ambient_share.size == day.cycles.size


def test_open_ranges_are_counted_again_at_the_end(source, trace):
    # 20 A in for an hour, 0.05 A out for an hour, 20.05 A in for an hour, on 50 Ah from 0.1: the charge goes to 0.5,
    # back to 0.499 and on to 0.9. By ASTM E1049 5.4.4 that is a range of 0.8 once half and one of 0.001 once full.
    pack = source(start_soc=0.1)
    drive = trace(
        pack, [0.0, 3600.0, 7200.0, 10800.0], current_A=[-20.0, 0.05, -20.05, 0.0], interpolation="zero_order_hold"
    )
    table = build_day(drive, pack, LOG).cycles
    counted = sorted(zip((table.range_As / pack.capacity_As).tolist(), table.count.tolist(), strict=True))
    assert counted == [(pytest.approx(0.001), 1.0), (pytest.approx(0.8), 0.5)]


def test_an_open_discharge_comes_back_at_the_log_s_charging_current(source, trace):
    # 10 A in for 600 s, then 25 A out for 1200 s: it stays 24,000 As down, so both are halves (5.4.4).
    pack = source()
    current = [-10.0] * 600 + [25.0] * 1201
    table = build_day(trace(pack, TIME, current_A=current, interpolation="zero_order_hold"), pack, LOG).cycles
    assert table.range_As.tolist() == pytest.approx([6_000.0, 30_000.0])
    assert table.rate_A.tolist() == pytest.approx([10.0, 25.0])
    assert table.charge_rate_A.tolist() == pytest.approx([10.0, 10.0])


def test_a_log_that_closes_is_counted_as_repeated(source, trace):
    # 5 A out and in again from the middle: repeated, the ranges 6000 up and 6000 down close to one cycle of 6000 As.
    pack = source()
    current = [5.0] * 600 + [-5.0] * 1200 + [5.0] * 601
    drive = trace(pack, np.arange(0.0, 2401.0), current_A=current, interpolation="zero_order_hold")
    table = build_day(drive, pack, LOG).cycles
    assert table.count.tolist() == [1.0]
    assert table.range_As.tolist() == pytest.approx([6_000.0])


def test_the_hottest_cell_is_hotter_under_load_only(source, trace):
    # 1200 s at 25 A, then 600 s at the 0.01 A of a control unit, which is rest.
    pack = source(hot_spot_K=4.0)
    drive = trace(
        pack,
        TIME,
        current_A=[25.0] * 1200 + [0.01] * 601,
        interpolation="zero_order_hold",
        tracer={"rest_below_A": 0.5},
    )
    bins = build_day(drive, pack, LOG).bins
    hot = bins.fixed_K == 4.0
    assert bins.time_s[hot].sum() == pytest.approx(1200.0)
    assert bins.time_s[~hot].sum() == pytest.approx(600.0)
    assert set(bins.fixed_K[~hot].tolist()) == {0.0}


def test_a_log_begins_as_warm_as_it_ends(source, thermal, trace):
    # Repeated, a constant current brings the pack to its steady rise: 100² A² * 0.05 ohm * 0.02 K/W = 10 K.
    pack = source(resistance_ohm=0.05, thermal=thermal(0.02, 3600.0 / 0.02))
    day = build_day(trace(pack, TIME, current_A=np.full(1801, 100.0)), pack, LOG)
    assert day.starting_rise_K == pytest.approx(10.0)
