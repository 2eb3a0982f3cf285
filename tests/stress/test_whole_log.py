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


def test_without_a_measured_temperature_it_is_the_season_s(source, trace):
    pack = source(hot_spot_K=4.0)
    day = build_day(trace(pack, TIME, **OUT_AND_BACK), pack, LOG)
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
