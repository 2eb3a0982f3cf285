"""Public trouble reports turned into small inputs with right values; each test is named after its case.

The right values were worked out by hand or by independent scripts, as said at each case; none is our own output.
"""

import numpy as np
import pytest

from lifetime.errors import HistoryError, NumberError
from lifetime.history.model import History
from lifetime.split.bank import Bank, follow
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.rainflow import count_cycles
from lifetime.stress.source import Source


def counted(series, **options):
    """Cycles added up by range, rounded as far as the cases print them."""
    cycles = count_cycles(np.asarray(series), **options)
    totals = {}
    for size, count in zip(np.round(cycles.range, 9), cycles.count, strict=True):
        totals[float(size)] = totals.get(float(size), 0.0) + float(count)
    return totals


def pack(capacity_Ah=50.0, start_soc=0.6):
    return Source(
        kind="battery",
        capacity_As=capacity_Ah * 3600.0,
        resistance_ohm=0.0,
        start_soc=start_soc,
        rest_soc=None,
        open_circuit_V=lambda soc: 300.0 + 0.0 * soc,
        minimum_voltage_V=1.0,
        maximum_voltage_V=1e3,
        minimum_soc=0.0,
        maximum_soc=1.0,
        thermal=None,
        hot_spot_K=0.0,
        parallel=1,
        series=1,
    )


def driven(time_s, current_A, how, source=None, repeats=1):
    history = History.from_arrays(
        time_s=np.asarray(time_s, dtype=float), current_A=np.asarray(current_A, dtype=float), interpolation=how
    )
    return trace_drive(DriveTracer(source or pack(), power_driven=False), intervals(history, repeats))


C01_SOC = [0.40, 0.55, 0.35, 0.75, 0.45, 0.65, 0.30, 0.70, 0.40]


class TestCounting:
    def test_c01_worked_example_on_a_state_of_charge_scale(self):
        """ASTM E1049-85 example, x -> 0.5 + x / 20."""
        assert counted(C01_SOC) == pytest.approx({0.15: 0.5, 0.20: 1.5, 0.30: 0.5, 0.40: 1.0, 0.45: 0.5})
        cycles = count_cycles(np.array(C01_SOC))
        full = np.flatnonzero(cycles.count == 1.0)
        assert [(cycles.start[k], cycles.end[k]) for k in full] == [(4, 5)]
        assert cycles.mean[full] == pytest.approx([0.55], abs=1e-12)

    def test_c02_first_and_last_half_of_a_periodic_signal(self):
        """By hand: two triangles."""
        triangle = [0.2, 0.35, 0.5, 0.65, 0.8, 0.65, 0.5, 0.35, 0.2]
        series = triangle + triangle[1:]
        for repeating in (False, True):
            assert sum(counted(series, repeating=repeating).values()) == pytest.approx(2.0)
            assert counted(series, repeating=repeating) == pytest.approx({0.6: 2.0})

    @pytest.mark.parametrize("value", [0.60, 0.0])
    def test_c04_constant_series(self, value):
        assert counted([value] * 100) == {}
        assert counted([value] * 100, repeating=True) == {}

    @pytest.mark.parametrize(("series", "right"), [([], {}), ([0.5], {}), ([0.5, 0.5], {}), ([0.5, 0.7], {0.2: 0.5})])
    def test_c05_very_short_series(self, series, right):
        assert counted(np.array(series, dtype=float)) == pytest.approx(right)

    def test_c07_integers_do_not_overflow(self):
        """Own count on floats: 400000: 1.0 and 600000: 1.0; 40: 1.0 and 60: 1.0."""
        ppm = np.array([200000, 800000, 300000, 700000, 200000], dtype=np.int32)
        percent = np.array([20, 80, 30, 70, 20], dtype=np.uint8)
        assert counted(ppm) == pytest.approx({400000.0: 1.0, 600000.0: 1.0})
        assert counted(percent) == pytest.approx({40.0: 1.0, 60.0: 1.0})

    @pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
    def test_c08_what_is_not_a_number_is_refused_with_its_place(self, bad):
        with pytest.raises(NumberError, match="position 2"):
            count_cycles(np.array([0.5, 0.8, bad, 0.3, 0.6]))

    def test_c10_one_way_discharge(self):
        """By hand."""
        assert counted([0.9, 0.3]) == pytest.approx({0.6: 0.5})
        assert counted([0.9, 0.3], repeating=True) == pytest.approx({0.6: 1.0})
        assert counted([0.9, 0.3, 0.9]) == pytest.approx({0.6: 1.0})

    def test_c11_a_half_cycle_may_span_the_record(self):
        """By hand."""
        cycles = count_cycles(np.array([0.5, 0.9, 0.6, 0.8, 0.2, 0.4]))
        rows = {
            (int(start), int(end)): (round(float(size), 9), float(count), round(float(mean), 9))
            for size, mean, count, start, end in zip(
                cycles.range, cycles.mean, cycles.count, cycles.start, cycles.end, strict=True
            )
        }
        assert rows == {
            (2, 3): (0.2, 1.0, 0.7),
            (0, 1): (0.4, 0.5, 0.7),
            (1, 4): (0.7, 0.5, 0.55),
            (4, 5): (0.2, 0.5, 0.3),
        }

    def test_c13_cycles_come_in_the_order_in_which_they_end(self):
        cycles = count_cycles(np.array([0.5, 0.9, 0.6, 0.8, 0.2, 0.4]))
        ends = list(zip(cycles.start.tolist(), cycles.end.tolist(), strict=True))
        assert ends == [(0, 1), (2, 3), (1, 4), (4, 5)]

    def test_c14_sum_does_not_depend_on_bin_edges(self):
        """By hand from C01: (0, 0.15]: 0.5; (0.15, 0.30]: 2.0; (0.30, 0.45]: 1.5."""
        totals = np.zeros(3)
        for size, count in counted(C01_SOC).items():
            totals[int(np.ceil(size / 0.15 - 1e-9)) - 1] += count
        assert totals == pytest.approx([0.5, 2.0, 1.5])

    NOISY = (0.5, 0.502, 0.5, 0.501, 0.8, 0.798, 0.8, 0.3, 0.302, 0.3, 0.301, 0.6)

    def test_c16_sensor_noise(self):
        """Own counter with a range filter: without 0.002: 3.0, 0.3: 1.0, 0.5: 0.5; with 0.01 the first line goes."""
        totals = counted(self.NOISY)
        assert sum(totals.values()) == pytest.approx(4.5)
        assert 0.0 not in totals
        assert counted(self.NOISY, smallest_range=0.01) == pytest.approx({0.3: 1.0, 0.5: 0.5})
        movement = sum(size * count for size, count in totals.items())
        kept = sum(size * count for size, count in counted(self.NOISY, smallest_range=0.01).items())
        assert movement - kept == pytest.approx(0.006, abs=1e-9)

    def test_c17_a_threshold_moves_no_extreme(self):
        assert max(counted(self.NOISY, smallest_range=0.01)) == pytest.approx(0.5, abs=1e-12)

    def test_c19_a_repeated_drive(self):
        """By hand: one pass counted once 0.030, three passes 0.110, repeating 0.040 a pass, for damage range²."""
        one = [0.6, 0.7, 0.5, 0.6]

        def damage(series, **options):
            return sum(count * size**2 for size, count in counted(series, **options).items())

        assert damage(one) == pytest.approx(0.030)
        assert damage(one + one[1:] * 2) == pytest.approx(0.110)
        assert damage(one + one[1:] * 99) / 100 == pytest.approx(0.0399, abs=5e-5)
        assert damage(one, repeating=True) == pytest.approx(0.040)

    def test_c20_only_positions_matter(self):
        cycles = count_cycles(np.array([0, 1, 0]))
        assert float(cycles.count.sum()) == pytest.approx(1.0)
        assert cycles.range == pytest.approx([1.0, 1.0])

    def test_c22_ties_within_the_last_digit(self):
        """Two equal triangles by running sums: 2.0 cycles of 0.3, however ties fall."""
        steps = np.repeat([0.1, -0.1, 0.1, -0.1], 3)
        series = np.concatenate([[0.2], 0.2 + np.cumsum(steps)])
        assert sum(size * count for size, count in counted(series).items()) == pytest.approx(0.6, abs=1e-9)
        large = sum(count for size, count in counted(series).items() if size > 0.29)
        assert large == pytest.approx(2.0)

    def test_c23_nothing_is_resampled_before_counting(self):
        """By hand: 100 A held for half a second are 50 As; every fourth sample would show none of it."""
        drive = driven(np.arange(9) * 0.25, [0, 0, 100, 100, 0, 0, 0, 0, 0], "zero_order_hold")
        assert drive.throughput_As == pytest.approx(50.0)


class TestCharge:
    def test_c25_held_or_straight(self):
        """By hand: 120 As held, 70 As straight."""
        assert driven([0, 1, 2, 12], [10, 10, 10, 0], "zero_order_hold").drawn_As == pytest.approx(120.0)
        assert driven([0, 1, 2, 12], [10, 10, 10, 0], "linear").drawn_As == pytest.approx(70.0)

    def test_c26_an_outage_is_refused(self):
        """A slope would invent 0.5 * 50 A * 14.5 h = 362.5 Ah."""
        with pytest.raises(HistoryError, match="gap"):
            History.from_arrays(time_s=np.array([0.0, 52200.0]), current_A=np.array([0.0, 50.0]))

    def test_c28_rows_out_of_order_are_refused(self):
        with pytest.raises(HistoryError, match="backwards"):
            History.from_arrays(time_s=np.array([0.0, 2.0, 1.0]), current_A=np.array([0.0, 4.0, 2.0]))

    def test_c29_a_drift_is_reported_not_hidden(self):
        """Second input: -0.11 then +0.09 of a 50 Ah pack, five passes: -0.02 a pass, -0.10 in all."""
        hours = [0.0, 0.5, 1.0]
        current = [0.11 * 50 / 0.5, -0.09 * 50 / 0.5, 0.0]
        drive = driven(np.array(hours) * 3600.0, current, "zero_order_hold", pack(50.0, 0.8), repeats=5)
        assert drive.drawn_As / (50.0 * 3600.0) == pytest.approx(0.10)
        assert 0.8 - drive.highest_As / (50.0 * 3600.0) == pytest.approx(0.8 - 0.19)

    def test_c32_float64_all_the_way(self):
        """4,000,000 samples of 0.001 Ah: 4000.000 Ah; a float32 running sum says 3920.83."""
        samples = 4_000_001
        drive = driven(np.arange(samples), np.full(samples, 3.6), "zero_order_hold", pack(1e6, 0.5))
        assert drive.drawn_As / 3600.0 == pytest.approx(4000.0, abs=1e-3)

    def test_c34_charge_and_energy_of_a_capacitor(self):
        """48 V, 100 F down to 24 V: charge fraction 0.50, energy fraction 0.25, 24.0 Wh released."""
        bank = Bank(100.0, 0.0, 24.0, 48.0, 1e6)
        path = follow(bank, np.ones(100), np.full(100, 1000.0), 48.0)
        released = float(np.sum(path.power_W)) / 3600.0
        assert path.voltage_V[-1] == pytest.approx(24.0)
        assert released == pytest.approx(24.0)
        assert bank.energy_J(24.0) / bank.energy_J(48.0) == pytest.approx(0.25)
        assert float(np.sum(path.current_A)) / (100.0 * 48.0) == pytest.approx(0.50)

    def test_c35_rms_current_by_time(self):
        """100 A for 1 s, then 10 A for 10 s: 31.62 A by time, not 71.06 A by rows."""
        drive = driven([0, 1, 11], [100, 10, 10], "zero_order_hold")
        assert np.sqrt(drive.squared_A2s / drive.duration_s) == pytest.approx(31.62, abs=5e-3)

    def test_c59_nearly_equal_times(self):
        """5 A * 0.111 s - 5 A * 0.489 s = -1.889 As."""
        time = [1.0, 1.11111111111111, 1.11111111111113, 1.11111111111114, 1.6]
        drive = driven(time, [5, 5, -5, -5, -5], "linear")
        assert drive.drawn_As == pytest.approx(-1.889, abs=1e-3)
        assert np.isfinite(drive.open_points).all()


def test_c113_chain_of_everything():
    """50 Ah, -50 A for 300 s, +50 A for 600 s, -50 A for 300 s, held rows of 1 s, from 0.60; by hand in the case."""
    current = np.concatenate([np.full(300, -50.0), np.full(600, 50.0), np.full(300, -50.0), [0.0]])
    soc = 0.60 - np.concatenate([[0.0], np.cumsum(current[:-1])]) / (50.0 * 3600.0)
    assert [soc[300], soc[900], soc[-1]] == pytest.approx([0.683333, 0.516667, 0.60], abs=5e-7)
    assert counted(soc, repeating=True) == pytest.approx({0.166666667: 1.0}, abs=1e-8)
    cycles = count_cycles(soc, repeating=True)
    assert cycles.mean == pytest.approx([0.60])
    assert counted(soc) == pytest.approx({0.083333333: 1.0, 0.166666667: 0.5}, abs=1e-8)
    drive = driven(np.arange(current.size), current, "zero_order_hold")
    assert drive.throughput_As / 3600.0 == pytest.approx(16.6667, abs=5e-5)
    assert 0.5 * drive.throughput_As / (50.0 * 3600.0) == pytest.approx(0.166667, abs=5e-7)

    def passes(sizes):
        return sum(count * size**1.5 / 3000.0 for size, count in sizes.items())

    assert passes(counted(soc, repeating=True)) == pytest.approx(2.26805e-5, abs=5e-11)
    assert 1.0 / (600.0 * passes(counted(soc, repeating=True))) == pytest.approx(73.48, abs=5e-3)
    assert 1.0 / (600.0 * passes(counted(soc))) == pytest.approx(86.09, abs=5e-3)
