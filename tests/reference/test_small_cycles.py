"""Small cycles, noise and the C-rate of a cycle, against numbers worked out from the forms by hand.

The forms: w = d⁴ / (d⁴ + d0⁴), no weight below 2 % (Soto et al., J. Energy Storage 55 (2022) 105343: micro-cycles of
less than 2 % depth inside a larger cycle do no harm); C_tm = ∫|I| dt / (T Q) and C_tw = ∫I² dt / (Q ∫|I| dt) of a half
cycle's own samples; white noise of standard deviation σ at rest moves σ √(2/π). Every number below is worked out from
these and from the published equations of the ageing models, none is our own output.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.ageing.naumann import cubic
from lifetime.constants import SECONDS_PER_DAY
from lifetime.history.model import History
from lifetime.packs.load import load_cell
from lifetime.projection.duty import Duty, WornDay
from lifetime.stress.charging import Charging
from lifetime.stress.counting import EVERY_CYCLE, CycleCounting
from lifetime.stress.day import build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source

DEPTHS = np.array([0.0025, 0.005, 0.01, 0.02, 0.05])
CAPACITY_AS = 360_000.0
SMOOTH = CycleCounting(small_cycles="smooth", smooth_depth=0.01)
SMOOTHER = CycleCounting(small_cycles="smooth", smooth_depth=0.02)
NONE = CycleCounting(small_cycles="none")
HELD = "zero_order_hold"


def pack():
    """100 Ah at 25 °C, with a straight open-circuit voltage."""
    return Source(
        kind="battery",
        capacity_As=CAPACITY_AS,
        resistance_ohm=0.01,
        start_soc=0.8,
        rest_soc=None,
        open_circuit_V=lambda soc: 300.0 + 60.0 * soc,
        minimum_voltage_V=200.0,
        maximum_voltage_V=400.0,
        minimum_soc=0.0,
        maximum_soc=1.0,
        thermal=None,
        hot_spot_K=0.0,
        parallel=1,
        series=100,
    )


def law(name):
    return load_cell(name, "battery", Path()).law


def stretches(lengths_s, currents_A):
    """Time and held current of stretches one after the other, sampled every ten seconds or more often."""
    pieces = np.maximum(np.ceil(np.asarray(lengths_s) / 10.0), 1.0).astype(int)
    steps = np.repeat(np.asarray(lengths_s) / pieces, pieces)
    return np.concatenate([[0.0], np.cumsum(steps)]), np.append(np.repeat(currents_A, pieces), 0.0)


def traced(time_s, current_A, counting=EVERY_CYCLE, rest_below_A=None):
    history = History.from_arrays(time_s=time_s, current_A=current_A, interpolation=HELD)
    tracer = DriveTracer(pack(), power_driven=False, counting=counting, rest_below_A=rest_below_A)
    return trace_drive(tracer, intervals(history))


@pytest.fixture(scope="module")
def three_depths():
    """One day of a cycle of depth 0.6, ten of 0.03 and 120 of 0.005, all around half charge, at half the capacity/h."""
    soc = [0.8, 0.4975, *[0.5025, 0.4975] * 120, 0.485, *[0.515, 0.485] * 10, 0.2, 0.8]
    moved_As = -np.diff(soc) * CAPACITY_AS
    drive = traced(*stretches(np.abs(moved_As) / 50.0, np.sign(moved_As) * 50.0), rest_below_A=1.0)
    return build_day(drive, pack(), Charging(None, 0.8, whole_log=True))


def stress(day, counting):
    """One run of the day a day, without regard to how long it is."""
    return Duty(pack(), [WornDay(day, "none")], np.full(12, 298.15), 365.0, counting).stress(1.0, 1.0)


class TestDepthWeight:
    @pytest.mark.parametrize(
        ("counting", "expected"),
        [
            (SMOOTH, [0.0039, 0.0588, 0.5, 0.9412, 0.9984]),
            (SMOOTHER, [0.0002, 0.0039, 0.0588, 0.5, 0.9750]),
            (NONE, [0.0, 0.0, 0.0, 1.0, 1.0]),
            (EVERY_CYCLE, [1.0, 1.0, 1.0, 1.0, 1.0]),
        ],
    )
    def test_weight_by_depth(self, counting, expected):
        assert counting.weight(DEPTHS).tolist() == pytest.approx(expected, abs=5e-5)

    def test_xu_ageing_per_throughput_no_longer_rises_towards_depth_zero(self):
        from lifetime.ageing.xu import depth_stress

        depth = np.array([0.001, 0.005, 0.01, 0.02, 0.05, 0.8])
        per_throughput = depth_stress(depth, k1=1.40e5, k2=-0.501, k3=-1.23e5) / depth
        plain = per_throughput / per_throughput[-1]
        assert plain[:-1].tolist() == pytest.approx([6.193, 2.875, 2.092, 1.542, 1.063], abs=5e-4)
        weighed = plain * SMOOTH.weight(depth)
        assert weighed[:-1].tolist() == pytest.approx([0.0006, 0.169, 1.046, 1.451, 1.062], abs=1e-3)

    @pytest.mark.parametrize(
        ("counting", "full_cycles", "xu", "naumann"),
        [
            (EVERY_CYCLE, 1.5, 9.60836e-5, 0.787798),
            (SMOOTH, 0.931636, 3.54265e-5, 0.753629),
            (SMOOTHER, 0.852849, 2.96767e-5, None),
            (NONE, 0.9, 3.18237e-5, 0.751962),
        ],
    )
    def test_a_day_of_three_depths(self, three_depths, counting, full_cycles, xu, naumann):
        one = stress(three_depths, counting)
        assert one.throughput_fec.sum() == pytest.approx(full_cycles, rel=2e-6)
        assert law("lmo_xu_2018").clocks(one)[0, 1] == pytest.approx(xu, rel=2e-5)
        if naumann is not None:
            depth_factor = cubic(one.depth, cubic_term=4.0253, centre=0.6, constant=1.0923)
            assert float(one.throughput_fec @ depth_factor**2) == pytest.approx(naumann, rel=2e-6)

    def test_larger_cycles_and_their_counts_stay_when_small_ones_go(self, three_depths):
        every, left = stress(three_depths, EVERY_CYCLE), stress(three_depths, NONE)
        large = every.depth >= 0.02
        assert left.count[large].tolist() == every.count[large].tolist()
        assert left.count[~large].tolist() == [0.0] * int((~large).sum())
        assert left.depth.tolist() == every.depth.tolist()

    @pytest.mark.parametrize("name", ["lfp_naumann_2020", "lfp_schimpe_2018", "lfp_power_wang_2011", "lmo_xu_2018"])
    def test_no_clock_turns_faster_with_less_weight(self, three_depths, name):
        countings = (EVERY_CYCLE, SMOOTH, SMOOTHER)
        every, smooth, smoother = (law(name).clocks(stress(three_depths, one)) for one in countings)
        assert np.all(smooth <= every)
        assert np.all(smoother <= smooth)


@given(st.floats(0.001, 0.1), st.lists(st.floats(1e-6, 1.2), min_size=2, max_size=20).map(sorted))
@settings(deadline=None)
def test_weight_rises_with_depth_and_falls_with_the_half_weight_depth(half, depths):
    depth = np.array(depths)
    weight = CycleCounting(small_cycles="smooth", smooth_depth=half).weight(depth)
    assert np.all(np.diff(weight) >= 0.0)
    assert np.all((weight >= 0.0) & (weight <= 1.0))
    assert np.all(CycleCounting(small_cycles="smooth", smooth_depth=2.0 * half).weight(depth) <= weight)


class TestNoise:
    def test_throughput_of_noise_at_rest_before_and_after_averaging(self):
        # σ of 0.1C over 10 h of rest at 10 Hz: 0.399 equivalent full cycles; after means over 1 s 0.126.
        noise = np.random.default_rng(1).normal(0.0, 10.0, 360_001)
        drive = traced(np.arange(360_001) / 10.0, noise, CycleCounting(averaging_s=1.0))
        assert drive.throughput_As / (2.0 * CAPACITY_AS) == pytest.approx(0.399, rel=5e-3)
        assert drive.counted_throughput_As / (2.0 * CAPACITY_AS) == pytest.approx(0.126, rel=1e-2)

    def test_heat_is_that_of_the_current_as_it_is(self):
        time = np.arange(6001) / 10.0
        current = np.where(np.arange(6001) % 2, 80.0, 20.0)
        averaged = traced(time, current, CycleCounting(averaging_s=1.0, dead_band_c_rate=0.02))
        assert averaged.squared_A2s == pytest.approx(600.0 * (80.0**2 + 20.0**2) / 2.0, rel=1e-3)

    def test_the_dead_band_loses_no_charge(self):
        # An hour at C/100 is rest to the count, and still takes its hundredth of the capacity out of the battery.
        drive = traced(np.arange(3601.0), np.full(3601, 1.0), CycleCounting(averaging_s=1.0, dead_band_c_rate=0.02))
        assert drive.drawn_As == pytest.approx(3600.0)
        assert drive.counted_throughput_As == pytest.approx(3600.0)


class TestCycleRate:
    @pytest.mark.parametrize(
        ("lengths_s", "currents_C", "time_mean", "throughput_weighted"),
        [
            ([100, 200, 300], [2.0, 0.0, 0.5], 0.58333, 1.35714),
            ([200, 80, 120, 200], [1.0, -1.5, 0.0, 1.0], 0.86667, 1.11538),
            ([600], [1.0], 1.0, 1.0),
        ],
    )
    def test_both_means_of_a_discharging_half(self, lengths_s, currents_C, time_mean, throughput_weighted):
        # Rest and regeneration inside the half count in the mean over time; then half an hour of rest, which does not,
        # and the charge comes back.
        back_s = sum(length * current for length, current in zip(lengths_s, currents_C, strict=True)) / 0.5
        day_s, rates_C = [*lengths_s, 1800.0, back_s, 600.0], np.array([*currents_C, 0.0, -0.5, 0.0])
        day = build_day(traced(*stretches(day_s, 100.0 * rates_C)), pack(), Charging(None, 0.8))
        deepest = int(np.argmax(day.cycles.range_As))
        assert day.cycles.time_mean_discharge_rate_A[deepest] / 100.0 == pytest.approx(time_mean, abs=5e-6)
        assert day.cycles.discharge_rate_A[deepest] / 100.0 == pytest.approx(throughput_weighted, abs=5e-6)
        assert day.cycles.time_mean_charge_rate_A[deepest] / 100.0 == pytest.approx(0.5)

    @given(st.lists(st.tuples(st.floats(0.0, 300.0), st.floats(10.0, 60.0)), min_size=1, max_size=8))
    @settings(deadline=None, max_examples=50)
    def test_the_mean_over_time_is_never_the_larger_one(self, parts):
        current = np.array([one[0] for one in parts] + [0.0])
        time = np.concatenate([[0.0], np.cumsum([one[1] for one in parts])])
        if not current.any():
            return
        cycles = build_day(traced(time, current), pack(), Charging(30.0, 0.8)).cycles
        assert np.all(cycles.time_mean_rate_A <= cycles.rate_A * (1.0 + 1e-12))
        assert np.all(cycles.time_mean_charge_rate_A <= cycles.charge_rate_A * (1.0 + 1e-9))

    def test_wang_is_fed_the_discharging_half_and_counts_1_C_as_2_A(self, three_depths):
        # 2.2 Ah cell, 1 C = 2 A of discharge: half the capacity an hour is 1.1 A, 0.55 C (from memory, see the set).
        wang = law("lfp_power_wang_2011")
        rates = wang.discharge_rate(stress(three_depths, EVERY_CYCLE))
        assert rates.tolist() == pytest.approx([0.55] * rates.size)

    def test_seconds_of_regeneration_do_not_charge_schimpes_cell_at_the_rate_of_the_pulse(self):
        # 57 s at 1 C out, 3 s at 3 C in (depth 0.25 %), thirty times: charging at 3 C would multiply the
        # low-temperature term by 196 against 1 C (exp[2.64 (3 - 1)]); over the drive 900 As come back in 60 s.
        time = np.concatenate([[0.0], np.cumsum([57.0, 3.0] * 30)])
        current = 100.0 * np.array([1.0, -3.0] * 30 + [0.0])
        cycles = build_day(traced(time, current), pack(), Charging(20.0, 0.8)).cycles
        small = cycles.range_As < 0.02 * CAPACITY_AS
        assert cycles.charge_rate_A[small] == pytest.approx(np.full(small.sum(), 300.0))
        assert cycles.time_mean_charge_rate_A[small] == pytest.approx(np.full(small.sum(), 15.0))
        # The last pulse runs into charging: 900 As in 3 s, then the 144 kAs that are missing at 20 A.
        assert cycles.time_mean_charge_rate_A[~small] == pytest.approx([144_900.0 / 7203.0])

    def test_charging_rate_factor_of_schimpe(self):
        from lifetime.ageing.schimpe import charge_rate_factor

        factor = charge_rate_factor(np.array([0.1, 0.5, 1.0, 1.5, 3.0]), beta=2.64, reference=1.0)
        assert factor.tolist() == pytest.approx([0.0929, 0.2671, 1.0, 3.743, 196.4], rel=5e-4)


def test_a_day_of_seconds_is_not_a_year(three_depths):
    # The day above is as long as its currents ask: 3 capacities moved at half the capacity an hour.
    assert three_depths.length_s == pytest.approx(2.0 * 1.5 * 3600.0 / 0.5)
    assert three_depths.length_s < SECONDS_PER_DAY
