"""The trace of a drive: charge, cycles and bins, against closed forms and against other cuts of the same drive."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from lifetime.stress.cycles import CHARGE
from lifetime.stress.drive import Drive


def moments(drive: Drive):
    """What any cut of the same drive must agree on: sums over bins, whatever bin an interval fell into."""
    states = drive.time_at_state
    t = states.time_s
    sums = [t.sum(), (t * states.charge_As).sum(), (t * states.rise_K).sum(), (t * states.decay).sum()]
    totals = [drive.duration_s, drive.drawn_As, drive.lowest_As, drive.highest_As, drive.throughput_As]
    ends = [drive.squared_A2s, drive.peak_A, drive.end_rise_K, drive.end_decay, drive.shortage]
    return np.array([*sums, (t * states.measured_K).sum(), *totals, *ends])


def half_cycles(drive: Drive):
    """Ranges of all half cycles, closed and still open.

    Where neighbours are equal to the last digit, whether one closes the other or both stay open is a matter of rounding
    and of where the stretch was cut (ASTM E1049 leaves it open); closed and open halves together are not.
    """
    closed = np.repeat(drive.cycles.range_As, np.rint(2.0 * drive.cycles.count).astype(int))
    together = np.concatenate([closed, np.abs(np.diff(drive.open_points[0]))])
    return np.sort(together[together > 1e-6])


def assert_same_drive(one: Drive, other: Drive, *, rtol=1e-9, samples=True):
    np.testing.assert_allclose(moments(other), moments(one), rtol=rtol, atol=1e-6)
    assert one.cycles.size == other.cycles.size
    for a, b in zip(one.cycles.columns(), other.cycles.columns(), strict=True):
        np.testing.assert_allclose(b, a, rtol=rtol, atol=1e-6)
    kept = slice(None) if samples else [row for row in range(one.open_points.shape[0]) if row != 1]
    np.testing.assert_allclose(other.open_points[kept], one.open_points[kept], rtol=rtol, atol=1e-6)
    for name in ("charge_low_As", "charge_high_As", "highest_A", "lowest_A"):
        np.testing.assert_allclose(getattr(other.envelope, name), getattr(one.envelope, name), rtol=rtol, atol=1e-9)


class TestChargeByHand:
    def test_held_values(self, source, trace):
        # 10 A for 2 s, then -5 A for 4 s.
        drive = trace(source(), [0.0, 2.0, 6.0], current_A=[10.0, -5.0, 7.0], interpolation="zero_order_hold")
        assert (drive.drawn_As, drive.highest_As, drive.lowest_As) == (0.0, 20.0, 0.0)
        assert drive.throughput_As == 40.0
        assert drive.squared_A2s == 300.0
        assert drive.peak_A == 10.0

    def test_straight_values_through_zero(self, source, trace):
        # 10 A to -10 A in 2 s: a triangle of 5 As out and one of 5 As back in; mean square 100/3 A^2.
        drive = trace(source(), [0.0, 2.0], current_A=[10.0, -10.0])
        assert drive.drawn_As == pytest.approx(0.0, abs=1e-12)
        assert drive.highest_As == pytest.approx(5.0)
        assert drive.throughput_As == pytest.approx(10.0)
        assert drive.squared_A2s == pytest.approx(200.0 / 3.0)
        assert drive.open_points[CHARGE].tolist() == pytest.approx([0.0, 5.0, 0.0])

    def test_straight_values_through_zero_off_the_middle(self, source, trace):
        # 30 A to -10 A in 4 s: zero after 3 s; 45 As out, 5 As in.
        drive = trace(source(), [0.0, 4.0], current_A=[30.0, -10.0])
        assert drive.highest_As == pytest.approx(45.0)
        assert drive.drawn_As == pytest.approx(40.0)

    def test_switching_edges_take_no_time(self, source, trace):
        # A jump written as two rows at one instant.
        drive = trace(source(), [0.0, 1.0, 1.0, 3.0], current_A=[10.0, 10.0, -5.0, -5.0])
        assert drive.drawn_As == pytest.approx(0.0, abs=1e-12)
        assert drive.highest_As == pytest.approx(10.0)
        assert drive.duration_s == 3.0
        assert drive.squared_A2s == pytest.approx(100.0 + 50.0)

    def test_zero_current_moves_nothing(self, source, trace):
        drive = trace(source(), np.arange(10.0), current_A=np.zeros(10))
        assert (drive.drawn_As, drive.throughput_As, drive.squared_A2s, drive.peak_A) == (0.0, 0.0, 0.0, 0.0)
        assert drive.cycles.size == 0
        assert drive.time_at_state.time_s.tolist() == [9.0]
        assert drive.time_at_state.charge_As.tolist() == [0.0]

    def test_mean_charge_in_a_bin(self, source, trace):
        # 12 A for 100 s draw 1200 As, mean 600 As; one charge bin of a large pack holds them all.
        drive = trace(source(capacity_As=1e7), np.linspace(0.0, 100.0, 11), current_A=np.full(11, 12.0))
        assert drive.time_at_state.charge_As.tolist() == [pytest.approx(600.0)]

    def test_mean_charge_under_a_straight_current(self, source, trace):
        # I = t: charge t^2/2, mean over 0..6 s is 6^2/6 = 6 As.
        drive = trace(source(capacity_As=1e7), [0.0, 6.0], current_A=[0.0, 6.0])
        assert drive.time_at_state.charge_As.tolist() == [pytest.approx(6.0)]


class TestCycleFacts:
    TIME = (0.0, 6.0, 16.0, 36.0, 86.0)
    CURRENT = (-200.0, 100.0, -50.0, 60.0, 60.0)

    def test_rates_of_a_closed_cycle(self, source, trace):
        # In 1200 As, out 1000 As at 100 A, back 1000 As at 50 A, then far out: one cycle of 1000 As has closed.
        # Both halves move the same charge, so the mean |current| is 75 A; the charging half ran at 50 A.
        drive = trace(source(), self.TIME, current_A=self.CURRENT, interpolation="zero_order_hold")
        table = drive.cycles
        assert table.size == 1
        assert table.range_As[0] == pytest.approx(1000.0)
        assert table.mean_As[0] == pytest.approx(-1200.0 + 500.0)
        assert table.count[0] == 1.0
        assert table.rate_A[0] == pytest.approx(75.0)
        assert table.charge_rate_A[0] == pytest.approx(50.0)

    def test_a_current_a_thousand_times_smaller_has_rates_a_thousand_times_smaller(self, source, trace):
        small = [0.001 * one for one in self.CURRENT]
        table = trace(source(capacity_As=180.0), self.TIME, current_A=small, interpolation="zero_order_hold").cycles
        assert table.range_As.tolist() == pytest.approx([1.0])
        assert (table.rate_A.tolist(), table.charge_rate_A.tolist()) == ([pytest.approx(0.075)], [pytest.approx(0.05)])

    def test_more_cycles_than_are_kept_apart_lose_no_charge(self, source, trace):
        # In far enough for all to close, then 40,000 ways of 10 As out and back again.
        n = 2 * 40_000
        current = np.concatenate([[-1000.0], np.tile([10.0, -10.0], n // 2), [2000.0, 0.0]])
        time = np.arange(0.0, n + 3.0)
        drive = trace(source(capacity_As=1e5), time, current_A=current, interpolation="zero_order_hold")
        assert drive.cycles.size < 100
        assert float(drive.cycles.count @ drive.cycles.range_As) == pytest.approx(10.0 * n / 2, rel=1e-3)

    def test_a_smaller_way_before_it_closes_nothing(self, source, trace):
        # In only 200 As first: the 1000 As are not inside anything yet (three-point rule), so they stay open.
        drive = trace(source(), [0.0, 1.0, 11.0, 31.0, 81.0], current_A=self.CURRENT, interpolation="zero_order_hold")
        assert drive.cycles.size == 0

    def test_a_ripple_inside_a_charging_half_does_not_blur_its_rate(self, source, trace):
        # As above, but the way back is 600 As at 50 A, 200 As out again at 100 A, then 600 As at 50 A: still charged
        # at 50 A. The large cycle's |current| is 1000 As at 100 A out, 1400 As back of which 200 As at 100 A.
        time = np.cumsum([0.0, 6.0, 10.0, 12.0, 2.0, 12.0, 50.0])
        current = [-200.0, 100.0, -50.0, 100.0, -50.0, 60.0, 60.0]
        table = trace(source(), time, current_A=current, interpolation="zero_order_hold").cycles
        large = int(np.argmax(table.range_As))
        np.testing.assert_allclose(np.sort(table.range_As), [200.0, 1000.0])
        np.testing.assert_allclose(table.charge_rate_A, 50.0)
        back = (1200.0 * 50.0 + 200.0 * 100.0) / 1400.0
        assert table.rate_A[large] == pytest.approx(0.5 * (100.0 + back))

    def test_temperature_of_a_cycle_is_weighted_with_charge(self, source, trace):
        # Measured 300 K on the way out (100 A), 310 K on the way back (50 A): both move 1000 As, mean 305 K.
        drive = trace(
            source(),
            self.TIME,
            current_A=self.CURRENT,
            temperature_K=[290.0, 300.0, 310.0, 320.0, 320.0],
            interpolation="zero_order_hold",
        )
        assert drive.cycles.measured_K[0] == pytest.approx(305.0)


class TestMeasuredChannels:
    def test_measured_temperature_is_not_heated_again(self, source, thermal, trace):
        drive = trace(
            source(thermal=thermal(0.02, 1e4)),
            np.arange(0.0, 101.0),
            current_A=np.full(101, 100.0),
            temperature_K=np.full(101, 310.0),
        )
        assert drive.time_at_state.measured_K.tolist() == [pytest.approx(310.0)] * drive.time_at_state.time_s.size
        assert not drive.time_at_state.rise_K.any()
        assert drive.end_measured_K == pytest.approx(310.0)

    def test_energy_at_the_measured_terminals(self, source, trace):
        # 10 A at 400 V for 1 h are 4 kWh.
        time = np.arange(0.0, 3601.0, 60.0)
        drive = trace(source(), time, current_A=np.full(61, 10.0), voltage_V=np.full(61, 400.0))
        assert drive.measured_energy_J == pytest.approx(4.0 * 3.6e6)

    def test_energy_with_a_voltage_held_between_rows(self, source, trace):
        # 10 A at 400 V for 10 s and at 300 V for 20 s.
        drive = trace(
            source(),
            [0.0, 10.0, 30.0],
            current_A=[10.0] * 3,
            voltage_V=[400.0, 300.0, 0.0],
            interpolation="zero_order_hold",
        )
        assert drive.measured_energy_J == pytest.approx(10.0 * (400.0 * 10.0 + 300.0 * 20.0))

    def test_energy_where_the_current_turns(self, source, trace):
        # 30 A to -10 A in 4 s: 45 As out and 5 As back at 400 V.
        drive = trace(source(), [0.0, 4.0], current_A=[30.0, -10.0], voltage_V=[400.0, 400.0])
        assert drive.measured_energy_J == pytest.approx(400.0 * 40.0)

    def test_a_bank_traced_by_its_voltage_moves_the_same_charge(self, source, trace):
        # 100 V * 10 F and 10 A for 10 s: 100 As either way of reckoning.
        bank = source(
            kind="ultracapacitor",
            capacity_As=1000.0,
            resistance_ohm=0.0,
            start_soc=1.0,
            open_circuit_V=lambda s: 100.0 * s,
        )
        time = np.linspace(0.0, 10.0, 101)
        channels = {"current_A": np.full(101, 10.0), "voltage_V": 100.0 - time}
        for how in ({}, {"charge_from_voltage": True}):
            drive = trace(bank, time, tracer=how, **channels)
            assert drive.throughput_As == pytest.approx(100.0)

    def test_power_over_measured_voltage(self, source, trace):
        time = np.arange(0.0, 101.0)
        drive = trace(source(), time, power_W=np.full(101, 4000.0), voltage_V=np.full(101, 400.0))
        assert drive.drawn_As == pytest.approx(1000.0)

    def test_a_banks_voltage_tells_its_charge(self, source, trace):
        # A current sensor off by 10 %: count of charge would end at 90 V, the voltmeter says 89 V at rest.
        bank = source(
            kind="ultracapacitor",
            capacity_As=1000.0,
            resistance_ohm=0.0,
            start_soc=1.0,
            open_circuit_V=lambda s: 100.0 * s,
        )
        time = np.linspace(0.0, 10.0, 101)
        voltage = 100.0 - 1.1 * time
        drive = trace(
            bank,
            time,
            current_A=np.full(101, 10.0),
            voltage_V=voltage,
            interpolation="zero_order_hold",
            tracer={"charge_from_voltage": True},
        )
        assert drive.highest_As == pytest.approx(110.0, rel=0.02)


# --- The same drive, cut otherwise -------------------------------------------------------------------------------

# Bin edges that no sum of these currents meets, so that the last digit never decides on a bin.
ODD_AS = 30_123.456789
# Nor do sums of these currents ever cancel, so that the last digit never decides whether a cycle closes.
CURRENTS = st.lists(
    st.integers(-40, 40).map(lambda value: 5.0 * value + 0.1 * math.sin(value * value)), min_size=3, max_size=80
)
HOW = st.sampled_from(["held", "straight"])


@settings(deadline=None)
@given(current=CURRENTS, how=HOW, data=st.data())
def test_any_split_into_blocks_gives_the_same_drive(source, thermal, trace, current, how, data):
    n = len(current)
    cuts = data.draw(st.lists(st.integers(1, n - 1), max_size=6))
    channels = {"current_A": current, "interpolation": how}
    if data.draw(st.booleans()):
        channels["temperature_K"] = 290.0 + np.arange(n) % 7
    pack = source(capacity_As=ODD_AS, thermal=thermal(0.05, 2e3))
    time = 10.0 * np.arange(n)
    assert_same_drive(trace(pack, time, **channels), trace(pack, time, cuts=cuts, **channels))


@settings(deadline=None)
@given(current=CURRENTS, how=HOW, data=st.data())
def test_bins_do_not_depend_on_blocks(source, trace, current, how, data):
    n = len(current)
    cuts = data.draw(st.lists(st.integers(1, n - 1), max_size=6))
    pack = source(capacity_As=ODD_AS)
    channels = {"current_A": current, "interpolation": how}
    whole = trace(pack, 12.0 * np.arange(n), **channels)
    parts = trace(pack, 12.0 * np.arange(n), cuts=cuts, **channels)
    np.testing.assert_allclose(parts.time_at_state.time_s, whole.time_at_state.time_s, rtol=1e-12)
    np.testing.assert_allclose(parts.time_at_state.charge_As, whole.time_at_state.charge_As, rtol=1e-12, atol=1e-9)


@settings(deadline=None)
@given(power=st.lists(st.integers(-30, 30).map(lambda value: 1000.0 * value), min_size=3, max_size=60), data=st.data())
def test_any_split_of_a_power_history_gives_the_same_drive(source, trace, power, data):
    n = len(power)
    cuts = data.draw(st.lists(st.integers(1, n - 1), max_size=4))
    whole, parts = (trace(source(), np.arange(n, dtype=float), power_W=power, cuts=some) for some in ((), cuts))
    np.testing.assert_allclose(moments(parts), moments(whole), rtol=1e-7, atol=1e-4)
    assert parts.cycles.size == whole.cycles.size
    np.testing.assert_allclose(parts.cycles.range_As, whole.cycles.range_As, rtol=1e-7, atol=1e-4)


@example(current=[25.0, -5.0, -65.0, 70.0, -5.0, 0.0], repeats=2, how="held")  # 700 A s closed here, left open there
@settings(deadline=None)
@given(current=CURRENTS, repeats=st.integers(2, 4), how=HOW)
def test_repeats_are_the_same_history_written_out(source, thermal, trace, current, repeats, how):
    time = 10.0 * np.arange(len(current))
    pack = source(capacity_As=ODD_AS, thermal=thermal(0.05, 2e3))
    # The last row of a held pass is only its end; written out it would hold for no time at all, so it is set to 0.
    current = [*current[:-1], 0.0] if how == "zero_order_hold" else current
    again = trace(pack, time, current_A=current, repeats=repeats, interpolation=how)
    written = trace(
        pack,
        np.concatenate([time + number * time[-1] for number in range(repeats)]),
        current_A=np.tile(current, repeats),
        interpolation=how,
    )
    np.testing.assert_allclose(moments(written), moments(again), rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(half_cycles(written), half_cycles(again), rtol=1e-9, atol=1e-6)


@settings(deadline=None)
@given(current=CURRENTS, data=st.data())
def test_splitting_a_held_interval_changes_nothing(source, thermal, trace, current, data):
    n = len(current)
    place = data.draw(st.integers(0, n - 2))
    share = data.draw(st.sampled_from([0.125, 0.25, 0.5, 0.75]))
    time = 10.0 * np.arange(n)
    extra_time = np.insert(time, place + 1, time[place] + 10.0 * share)
    extra = np.insert(np.array(current), place + 1, current[place])
    pack = source(capacity_As=ODD_AS, thermal=thermal(0.05, 2e3))
    one = trace(pack, time, current_A=current, interpolation="zero_order_hold")
    other = trace(pack, extra_time, current_A=extra, interpolation="zero_order_hold")
    np.testing.assert_allclose(moments(other), moments(one), rtol=1e-9, atol=1e-6)
    for a, b in zip(one.cycles.columns(), other.cycles.columns(), strict=True):
        np.testing.assert_allclose(b, a, rtol=1e-9, atol=1e-6)


@settings(deadline=None)
@given(current=CURRENTS, data=st.data())
def test_splitting_a_straight_interval_keeps_charge_and_cycles(source, trace, current, data):
    n = len(current)
    place = data.draw(st.integers(0, n - 2))
    share = data.draw(st.sampled_from([0.125, 0.25, 0.5, 0.75]))
    time = 10.0 * np.arange(n)
    extra_time = np.insert(time, place + 1, time[place] + 10.0 * share)
    between = (1.0 - share) * current[place] + share * current[place + 1]
    extra = np.insert(np.array(current), place + 1, between)
    one = trace(source(), time, current_A=current)
    other = trace(source(), extra_time, current_A=extra)
    np.testing.assert_allclose(moments(other), moments(one), rtol=1e-9, atol=1e-6)
    for a, b in zip(one.cycles.columns(), other.cycles.columns(), strict=True):
        np.testing.assert_allclose(b, a, rtol=1e-9, atol=1e-6)


@settings(deadline=None)
@given(current=CURRENTS, how=HOW)
def test_time_and_charge_are_all_there(source, trace, current, how):
    drive = trace(source(), 10.0 * np.arange(len(current)), current_A=current, interpolation=how)
    values = np.array(current)
    charge = 10.0 * values[:-1].sum() if how == "zero_order_hold" else np.trapezoid(values, dx=10.0)
    assert drive.drawn_As == pytest.approx(charge, abs=1e-6)
    assert drive.time_at_state.time_s.sum() == pytest.approx(10.0 * (values.size - 1))
    assert drive.lowest_As <= min(0.0, drive.drawn_As) + 1e-9
    assert drive.highest_As >= max(0.0, drive.drawn_As) - 1e-9
    # Closed cycles and the open way together make up half of all charge moved (ASTM E1049 counts every reversal once).
    open_way = np.sum(np.abs(np.diff(drive.open_points[CHARGE])))
    assert 2.0 * np.sum(drive.cycles.range_As) + open_way == pytest.approx(drive.throughput_As, abs=1e-6)


def test_more_than_one_block_of_a_long_history(source, trace):
    # 70,000 samples lie in two blocks of the absolute grid; cut elsewhere nothing changes.
    random = np.random.default_rng(3)
    current = random.integers(-20, 21, 70_000).astype(float)
    time = np.arange(70_000.0)
    from lifetime.history.model import History
    from lifetime.stress.drive import DriveTracer, trace_drive
    from lifetime.stress.intervals import intervals

    history = History.from_arrays(time_s=time, current_A=current, interpolation="zero_order_hold")
    assert len(list(history.blocks())) == 2
    drive = trace_drive(DriveTracer(source(), power_driven=False), intervals(history))
    charge = np.concatenate([[0.0], np.cumsum(current[:-1])])
    assert drive.drawn_As == charge[-1]
    assert drive.highest_As == charge.max()
    assert drive.lowest_As == charge.min()
    assert drive.throughput_As == np.abs(current[:-1]).sum()
