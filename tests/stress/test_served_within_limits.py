"""A power served within limits: voltage, current by duration and state of charge, inverter; and what is left over."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.packs.resistance import Branch, ResistanceShape
from lifetime.stress.clipping import Clipping
from lifetime.stress.current import delivery
from lifetime.stress.current_limits import WINDOWS_S, Ceiling, LoadLimits, Moved, kept_within, running_mean
from lifetime.stress.current_watch import CurrentWatch
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import NO_CROSSINGS, Intervals

SHAPE = ResistanceShape(0.74, (Branch(0.10, 1.7), Branch(0.94, 45.0)), 20e3, (0.0, 0.13, 0.25), (1.5, 1.25, 1.0))


def held(length_s, power_W):
    power = np.asarray(power_W, dtype=np.float64)
    return Intervals(np.asarray(length_s, dtype=np.float64), power, power, None, None, 0, NO_CROSSINGS)


def traced(source, power_W, limits, step_s=1.0, ratio=1.0):
    tracer = DriveTracer(source, power_driven=True, resistance_ratio=ratio, limits=limits)
    drive = trace_drive(tracer, [held(np.full(len(power_W), step_s), power_W)])
    return drive, tracer.follower.missed_W


class TestOneCell:
    """The LFP cell of section 2.2: OCV 3.3 V, 2.5 to 3.65 V, R(10 s, 25 °C) 2.0 mΩ, activation 30 kJ/mol."""

    ARRHENIUS = ResistanceShape(activation_J_per_mol=30e3)

    @pytest.fixture
    def cell(self, source):
        return source(
            resistance_ohm=2e-3, open_circuit_V=lambda soc: 3.3 + 0.0 * soc, capacity_As=1e9, shape=self.ARRHENIUS
        )

    @pytest.mark.parametrize(
        ("celsius", "discharge_W", "charge_W"),
        [(25.0, 1000.0, 638.7), (0.0, 330.3, 211.0), (-10.0, 200.0, 127.7), (-20.0, 116.3, 74.3)],
    )
    def test_power_capability(self, cell, celsius, discharge_W, charge_W):
        ratio = float(self.ARRHENIUS.at_temperature(np.array(273.15 + celsius)))
        limits = LoadLimits(minimum_voltage_V=2.5, maximum_voltage_V=3.65)
        drive, missed = traced(cell, [5000.0, -5000.0], limits, ratio=ratio)
        # Of 5 kW each way the cell serves what section 2.2 prints; one part in a thousand is its gas constant.
        np.testing.assert_allclose([5000.0 - missed[0], 5000.0 + missed[1]], [discharge_W, charge_W], rtol=1.2e-3)
        assert drive.unserved.energy_J == pytest.approx(missed[0])
        assert drive.refused.energy_J == pytest.approx(-missed[1])

    def test_500_W_at_25_degrees(self, cell):
        # Section 2.2: 168.780 A, 2.96244 V, loss 56.973 W.
        drive, missed = traced(cell, [500.0], LoadLimits(minimum_voltage_V=2.5, maximum_voltage_V=3.65))
        assert not missed.any()
        assert drive.peak_A == pytest.approx(168.780, abs=5e-4)
        assert 2e-3 * drive.heat_A2s == pytest.approx(56.973, abs=5e-4)

    def test_500_W_at_minus_10_degrees_has_no_current(self, cell):
        # Section 2.2: the discriminant is -9.115 V². Served is what 2.5 V leave.
        ratio = float(self.ARRHENIUS.at_temperature(np.array(263.15)))
        assert 3.3**2 - 4.0 * 2e-3 * ratio * 500.0 == pytest.approx(-9.115, abs=0.03)
        drive, _ = traced(cell, [500.0], LoadLimits(minimum_voltage_V=2.5), ratio=ratio)
        assert drive.unserved.energy_J == pytest.approx(300.0, rel=2e-3)
        assert drive.shortage == 0.0

    def test_190_W_at_minus_10_degrees(self, cell):
        # Section 2.2: 74.316 A, loss 55.24 W.
        ratio = float(self.ARRHENIUS.at_temperature(np.array(263.15)))
        drive, missed = traced(cell, [190.0], LoadLimits(minimum_voltage_V=2.5), ratio=ratio)
        assert not missed.any()
        assert drive.peak_A == pytest.approx(74.316, rel=1e-3)


class TestDurations:
    def test_a_pulse_ends_when_its_window_is_full(self):
        # 100 A asked for 20 s in steps of 1 s, at most 40 A over 10 s: 400 As go in the first 4 s, the rest must wait
        # until the first pulse leaves the window after 10 s; then it goes on as it began.
        moved = kept_within(Moved(), np.ones(20), np.full(20, 100.0), [(10.0, np.full(20, 40.0))])
        assert moved.tolist() == pytest.approx([100.0] * 4 + [0.0] * 6 + [100.0] * 4 + [0.0] * 6)

    @given(
        seed=st.integers(0, 10_000),
        limit=st.floats(5.0, 80.0),
        window=st.sampled_from(WINDOWS_S),
        cut=st.integers(1, 58),
    )
    @settings(deadline=None, max_examples=60)
    def test_the_running_mean_is_kept_and_streams_agree(self, seed, limit, window, cut):
        random = np.random.default_rng(seed)
        length = random.choice([0.1, 0.5, 1.0, 2.0, 45.0], 60)
        asked = np.maximum(random.normal(20.0, 60.0, 60), 0.0) * length
        limits = np.full(60, limit)
        moved = kept_within(Moved(), length, asked, [(window, limits)])
        assert (moved <= asked + 1e-9).all()
        assert (moved >= -1e-9).all()
        ends_inside = running_mean(Moved(), length, moved, window)
        assert (ends_inside <= limit * (1.0 + 1e-9) + 1e-9).all()
        # Cut anywhere, the second part looks back on the first.
        first = kept_within(Moved(), length[:cut], asked[:cut], [(window, limits[:cut])])
        second = kept_within(Moved().after(length[:cut], first), length[cut:], asked[cut:], [(window, limits[cut:])])
        np.testing.assert_allclose(np.concatenate([first, second]), moved, rtol=1e-9, atol=1e-9)

    @pytest.mark.parametrize(("window_s", "column"), [(1.0, 0), (10.0, 1), (30.0, 2), (300.0, 3)])
    def test_each_duration_has_its_own_limit(self, source, window_s, column):
        means = [float("inf")] * 4
        means[column] = 50.0
        limits = LoadLimits(discharge=Ceiling(mean_A=tuple(means)))
        # 35 kW at 350 V ask for 100 A and more: after the window the mean is half of it, and 50 A are served.
        flat = source(open_circuit_V=lambda soc: 350.0 + 0.0 * soc, resistance_ohm=0.0)
        steps = 1200
        drive, missed = traced(flat, np.full(steps, 35_000.0), limits, step_s=0.5)
        assert drive.drawn_As == pytest.approx(50.0 * steps * 0.5, rel=0.02)
        assert missed.max() == pytest.approx(35_000.0, rel=1e-6)


class TestStatesOfCharge:
    def test_the_step_of_the_lower_edge_holds(self):
        ceiling = Ceiling(100.0, soc=np.array([0.0, 0.2, 0.8]), factor=np.array([0.5, 1.0, 0.25]))
        assert ceiling.at_soc(np.array([0.1, 0.2, 0.79, 0.8, 1.0])).tolist() == [0.5, 1.0, 1.0, 0.25, 0.25]

    def test_a_full_battery_takes_nothing(self, source):
        # 36 As from full at 350 V: of 100 A for 1 s 36 are taken.
        flat = source(
            open_circuit_V=lambda soc: 350.0 + 0.0 * soc, resistance_ohm=0.0, start_soc=0.9, capacity_As=360_000.0
        )
        drive, missed = traced(flat, [-35_000.0, -35_000.0, 35_000.0], LoadLimits(maximum_soc=0.9001))
        assert drive.lowest_As == pytest.approx(-36.0)
        assert missed.tolist() == pytest.approx([-64.0 * 350.0, -35_000.0, 0.0])


def test_the_inverter_passes_no_more_than_its_power(source):
    drive, missed = traced(source(), [40_000.0, -40_000.0, 10_000.0], LoadLimits(power_W=25_000.0), step_s=2.0)
    assert missed.tolist() == pytest.approx([15_000.0, -15_000.0, 0.0], abs=0.1)
    assert (drive.unserved.energy_J, drive.unserved.duration_s) == pytest.approx((30_000.0, 2.0), abs=0.3)
    assert (drive.refused.largest_W, drive.refused.largest_at_s) == pytest.approx((15_000.0, 2.0), abs=0.1)


def test_a_current_of_21_A_on_a_cell_of_20_A(source):
    # By hand: 21 A at 3 s are 1 A above 20 A; the mean over 10 s stays below.
    watch = CurrentWatch(LoadLimits(discharge=Ceiling(20.0, (float("inf"), 18.0, float("inf"), float("inf")))))
    current = np.array([5.0, 10.0, 21.0, 5.0])
    run = Intervals(np.ones(4), current, current, None, None, 0, NO_CROSSINGS)
    list(watch.over([run], source()))
    (excess,) = watch.excesses
    assert (excess.way, excess.window_s, excess.current_A, excess.limit_A, excess.at_s) == (
        "discharge",
        0.0,
        21.0,
        20.0,
        3.0,
    )


@given(
    power=st.floats(-300_000.0, 300_000.0),
    ratio=st.floats(1.0, 3.0),
    seconds=st.sampled_from([0.1, 5.0]),
    soc=st.floats(0.1, 0.9),
)
@settings(deadline=None, max_examples=60)
def test_more_resistance_never_raises_what_is_delivered(source, power, ratio, seconds, soc):
    limits = LoadLimits(minimum_voltage_V=300.0, maximum_voltage_V=390.0)
    run, served = held([seconds], [power]), []
    for health in (1.0, ratio):
        clipping = Clipping(limits, run.length_s, Moved(), Moved())
        ended = delivery(run, source(shape=SHAPE, start_soc=soc), 0.0, (1.0, health), clipping=clipping)
        served.append(abs(power) - abs(clipping.missed_W(run, ended)[0]))
    assert served[1] <= served[0] * (1.0 + 1e-9) + 1e-6


@given(seed=st.integers(0, 10_000))
@settings(deadline=None, max_examples=25)
def test_a_stream_cut_anywhere_misses_the_same(source, seed):
    random = np.random.default_rng(seed)
    power = np.repeat(random.normal(0.0, 60_000.0, 40), 5)
    limits = LoadLimits(
        Ceiling(150.0, (140.0, 90.0, 60.0, 50.0)), Ceiling(100.0, (90.0, 40.0, 20.0, 10.0)), 300.0, 385.0, 0.62
    )
    whole, missed = traced(source(shape=SHAPE), power, limits, step_s=0.5)
    tracer = DriveTracer(source(shape=SHAPE), power_driven=True, limits=limits)
    cuts = np.sort(random.integers(1, power.size, 3))
    pieces = trace_drive(tracer, [held(np.full(part.size, 0.5), part) for part in np.split(power, cuts) if part.size])
    np.testing.assert_allclose(tracer.follower.missed_W, missed, rtol=1e-6, atol=1e-3)
    assert pieces.unserved.energy_J == pytest.approx(whole.unserved.energy_J, rel=1e-8, abs=1e-2)
    assert pieces.refused.energy_J == pytest.approx(whole.refused.energy_J, rel=1e-8, abs=1e-2)
    assert pieces.heat_A2s == pytest.approx(whole.heat_A2s, rel=1e-9)
