"""Resistance over time, temperature and state of charge: the printed numbers, closed forms, and streams cut anywhere.

Expected numbers named "section 2" are those of the reference note on what decides between splits, worked out there
from the equations; closed forms are worked out beside each test.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.packs.resistance import Branch, ResistanceShape
from lifetime.stress.branches import BranchSteps
from lifetime.stress.current import to_currents
from lifetime.stress.intervals import NO_CROSSINGS, Intervals

ONE_BRANCH = ResistanceShape(ohmic_fraction=1.60, branches=(Branch(1.35, 26.0),))
"""In mΩ of section 2.1, with a stated resistance of 1 mΩ."""
DEFAULT = ResistanceShape(
    0.74, (Branch(0.10, 1.7), Branch(0.94, 45.0)), 20_000.0, (0.0, 0.13, 0.25, 0.9), (1.5, 1.25, 1.0, 1.0)
)


@pytest.fixture
def cell(source):
    """A cell of 33.1 Ah whose stated resistance is 1 mΩ."""

    def _cell(shape, **given):
        facts = {"resistance_ohm": 1e-3, "capacity_As": 33.1 * 3600, "shape": shape, "start_soc": 0.6}
        return source(**{**facts, **given})

    return _cell


class TestPrintedNumbers:
    @pytest.mark.parametrize(
        ("kilojoules", "expected"),
        # Section 2.1: factor to 25 °C at -20, -10, 0, 10 and 40 °C.
        [
            (20.0, (4.196, 2.925, 2.093, 1.533, 0.679)),
            (30.0, (8.596, 5.001, 3.027, 1.899, 0.560)),
            (45.0, (25.205, 11.184, 5.267, 2.616, 0.419)),
        ],
    )
    def test_factor_of_temperature(self, kilojoules, expected):
        shape = ResistanceShape(activation_J_per_mol=1000.0 * kilojoules)
        found = shape.at_temperature(273.15 + np.array([-20.0, -10.0, 0.0, 10.0, 40.0]))
        # The note computes with R = 8.314, which moves the last printed digit.
        np.testing.assert_allclose(found, expected, rtol=1.2e-3)

    def test_a_pulse_of_100_A_for_10_s(self, cell, trace):
        # Section 2.1: U1 43.1038 mV; heat in R0 160 J, in R1 5.03878 J; the rest is stored.
        both = trace(cell(ONE_BRANCH), [0.0, 10.0], current_A=[100.0, 100.0])
        assert 1e-3 * both.heat_A2s == pytest.approx(165.03878, abs=5e-6)
        assert 1e-3 * both.envelope.highest_A.max() == pytest.approx(0.160 + 0.0431038, abs=5e-8)
        # And all of what the current put in comes back as heat: 17.8913 J in the rest.
        later = trace(
            cell(ONE_BRANCH), [0.0, 10.0, 2000.0], current_A=[100.0, 0.0, 0.0], interpolation="zero_order_hold"
        )
        assert 1e-3 * (later.heat_A2s - both.heat_A2s) == pytest.approx(17.8913, abs=5e-5)

    @pytest.mark.parametrize(
        ("period_s", "milliohms"), [(2, 1.600), (10, 1.605), (60, 1.761), (300, 2.641), (1800, 2.939)]
    )
    def test_equivalent_resistance_of_a_sinusoid(self, cell, trace, period_s, milliohms):
        # Section 2.1; the mean heat over the last of many periods, over the mean square of the current.
        per_period = 400
        periods = max(2, int(np.ceil(400.0 / period_s)))
        time = np.arange(per_period * (periods + 1) + 1) * (period_s / per_period)
        wave = np.sin(2 * np.pi * time / period_s)
        last, before = (
            trace(cell(ONE_BRANCH), time[: n * per_period + 1], current_A=wave[: n * per_period + 1])
            for n in (periods + 1, periods)
        )
        heat, square = last.heat_A2s - before.heat_A2s, last.squared_A2s - before.squared_A2s
        assert heat / square == pytest.approx(milliohms, abs=6e-4)

    def test_pulses_heat_5_90_times_as_much_as_their_mean(self, cell, trace):
        # Section 2.1: duty 0.1, period 20 s, against the same mean current held; ten times with one resistance.
        edges = np.repeat(np.arange(0.0, 2000.0, 20.0), 2) + np.tile([0.0, 2.0], 100)
        pulses = trace(
            cell(ONE_BRANCH), [*edges, 2000.0], current_A=[*np.tile([10.0, 0.0], 100), 0.0],
            interpolation="zero_order_hold",
        )  # fmt: skip
        first = trace(
            cell(ONE_BRANCH), [*edges[:100], 1000.0], current_A=[*np.tile([10.0, 0.0], 50), 0.0],
            interpolation="zero_order_hold",
        )  # fmt: skip
        held = 1.0**2 * (1.60 + 1.35) * 1000.0
        assert (pulses.heat_A2s - first.heat_A2s) / held == pytest.approx(5.90, abs=0.005)

    def test_pulse_resistance(self):
        # Section 2.1, default in units of R(10 s): 0.74 + 0.10 (1 - e^(-10/1.7)) + 0.94 (1 - e^(-10/45)) = 1.0270.
        assert float(DEFAULT.pulse_fraction(np.array(10.0))) == pytest.approx(1.0270, abs=5e-5)
        assert DEFAULT.steady_fraction == pytest.approx(1.78)


class TestBranch:
    @given(
        length=st.floats(1e-4, 1e4),
        tau=st.floats(0.5, 200.0),
        left=st.floats(-300.0, 300.0),
        right=st.floats(-300.0, 300.0),
        start=st.floats(-200.0, 200.0),
    )
    @settings(deadline=None, max_examples=60)
    def test_heat_and_voltage_are_those_of_the_differential_equation(self, length, tau, left, right, start):
        # Gauss-Legendre quadrature of the textbook solution U(t) = c e^(-t/tau) + R (a - b tau + b t) on 64 pieces.
        resistance, slope = 0.94, (right - left) / length
        constant = start - resistance * (left - slope * tau)

        def voltage(t):
            return constant * np.exp(-t / tau) + resistance * (left - slope * tau + slope * t)

        edges = np.concatenate([[0.0], np.geomspace(length * 1e-6, length, 64)])
        nodes, weights = np.polynomial.legendre.leggauss(12)
        middle, half = 0.5 * (edges[1:] + edges[:-1]), 0.5 * np.diff(edges)
        heat = (
            float(np.sum(half[:, None] * weights * voltage(middle[:, None] + half[:, None] * nodes) ** 2)) / resistance
        )
        steps = BranchSteps.of(Branch(resistance, tau), np.array([length]))
        path = steps.voltages(np.array([left]), np.array([right]), 1.0, start)
        found = float(steps.energies(np.array([left]), np.array([right]), 1.0, path)[0][0])
        assert path[1] == pytest.approx(float(voltage(length)), rel=1e-9, abs=1e-7)
        scale = (abs(left) + abs(right) + abs(start)) ** 2 * length + 1e-9
        assert found == pytest.approx(heat, rel=1e-6, abs=2e-8 * scale)


@st.composite
def drives(draw):
    """A stop-and-go current or power with steps and ramps at uneven times."""
    n = draw(st.integers(6, 60))
    seed = np.random.default_rng(draw(st.integers(0, 10_000)))
    steps = seed.choice([0.1, 0.2, 0.5, 0.7], n)
    return np.concatenate([[0.0], np.cumsum(steps)]), seed.normal(0.0, 60.0, n + 1), seed


@given(drive=drives(), power=st.booleans())
@settings(deadline=None, max_examples=25)
def test_a_stream_cut_anywhere_gives_what_the_whole_gives(source, trace, thermal, drive, power):
    time, values, seed = drive
    pack = source(shape=DEFAULT, thermal=thermal(0.01, 50_000.0))
    channel = {"power_W": values * 350.0} if power else {"current_A": values}
    whole = trace(pack, time, **channel)
    cuts = np.unique(seed.integers(2, time.size, 4)).tolist()
    pieces = trace(pack, time, cuts=cuts, **channel)
    for name in ("heat_A2s", "squared_A2s", "drawn_As", "throughput_As", "end_rise_K", "heat_rise_K", "highest_As"):
        assert getattr(pieces, name) == pytest.approx(getattr(whole, name), rel=1e-9, abs=1e-7), name
    np.testing.assert_allclose(pieces.envelope.highest_A, whole.envelope.highest_A, rtol=1e-8, atol=1e-7)


def test_one_resistance_is_the_trace_of_before(source, trace, thermal):
    """With the ohmic part alone, no activation energy and a flat curve, everything is today's to rounding."""
    time = np.arange(0.0, 600.0, 1.0)
    power = 20_000.0 * np.sin(time / 20.0)
    plain = source(thermal=thermal(0.01, 50_000.0))
    # The same numbers by another way: two halves of one resistance, of which one follows at once (tau 1 µs).
    near = replace(plain, shape=ResistanceShape(0.5, (Branch(0.5, 1e-6),)))
    first, second = trace(plain, time, power_W=power), trace(near, time, power_W=power)
    assert second.heat_A2s == pytest.approx(first.heat_A2s, rel=1e-6)
    assert first.heat_A2s == pytest.approx(first.squared_A2s, rel=1e-12)
    assert second.drawn_As == pytest.approx(first.drawn_As, rel=1e-6)


def test_the_power_is_delivered_with_what_the_branches_leave(source):
    # P = (OCV - sum U) I - R0 I² at both ends of every interval; U and OCV recomputed here from the currents found.
    pack = source(shape=ResistanceShape(0.7, (Branch(0.8, 20.0),)), open_circuit_V=lambda soc: 300.0 + 100.0 * soc)
    length = np.array([0.5, 1.0, 3.0, 20.0, 0.1])
    left = np.array([30e3, 30e3, -10e3, 40e3, 0.0])
    right = np.array([30e3, -10e3, 40e3, 0.0, 10e3])
    run, shortage = to_currents(Intervals(length, left, right, None, None, 0, NO_CROSSINGS), pack, 0.0)
    assert shortage == 0.0
    # A fine Euler walk of the branch, 20,000 steps an interval, with the current straight as the trace takes it.
    voltage, drawn, resistance = 0.0, 0.0, 0.1
    for place, seconds in enumerate(length):
        for end, amps, power in ((0, run.left[place], left[place]), (1, run.right[place], right[place])):
            if end:
                step = seconds / 20_000
                path = np.linspace(run.left[place], run.right[place], 20_001)
                for current in 0.5 * (path[:-1] + path[1:]):
                    voltage += (0.8 * resistance * current - voltage) / 20.0 * step
                drawn += 0.5 * (run.left[place] + run.right[place]) * seconds
            terminal = 300.0 + 100.0 * (0.6 - drawn / pack.capacity_As) - voltage - 0.7 * resistance * amps
            assert terminal * amps == pytest.approx(power, rel=2e-5, abs=0.5)
