"""The heat of a drive, against closed forms.

Heat balance ``C dT/dt = I^2 R - (T - T_ambient) / R_th``: Bernardi, Pawlikowski, Newman, J. Electrochem. Soc. 132
(1985) 5, doi 10.1149/1.2113792, ohmic part; its step response is an exponential.
"""

import numpy as np
import pytest


def agrees(actual, printed):
    """Half a unit of the last digit printed."""
    half = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert abs(actual - float(printed)) <= half, f"{actual!r} against printed {printed}"


class TestStepResponse:
    """One 3000 F cell of a 2.7 V screw-terminal family: 130 A rms, 0.29 mOhm, 3.2 K/W, 600 J/K (its datasheet)."""

    def cell(self, source, thermal):
        return source(
            kind="ultracapacitor", resistance_ohm=0.29e-3, thermal=thermal(3.2, 600.0), capacity_As=1e9, start_soc=0.5
        )

    def test_time_constant(self, thermal):
        assert thermal(3.2, 600.0).time_constant_s == pytest.approx(1920.0)

    def test_after_ten_minutes(self, source, thermal, trace):
        # 15.683 K * (1 - exp(-600 / 1920)), computed from the balance above.
        drive = trace(self.cell(source, thermal), np.linspace(0.0, 600.0, 61), current_A=np.full(61, 130.0))
        agrees(drive.end_rise_K, "4.209")
        assert drive.end_decay == pytest.approx(np.exp(-600.0 / 1920.0))

    def test_steady_state(self, source, thermal, trace):
        time = np.arange(0.0, 20 * 1920.0 + 1.0, 60.0)
        drive = trace(self.cell(source, thermal), time, current_A=np.full(time.size, 130.0))
        agrees(drive.end_rise_K, "15.683")

    def test_step_width_does_not_matter_for_held_current(self, source, thermal, trace):
        ends = [
            trace(
                self.cell(source, thermal),
                np.linspace(0.0, 600.0, points),
                current_A=np.full(points, 130.0),
                interpolation="zero_order_hold",
            ).end_rise_K
            for points in (3, 7, 601)
        ]
        np.testing.assert_allclose(ends, 130.0**2 * 0.29e-3 * 3.2 * -np.expm1(-600.0 / 1920.0), rtol=1e-12)

    def test_mean_rise_is_exact_whatever_the_step(self, source, thermal, trace):
        # Integral of the step response: T_end * (t - tau * (1 - exp(-t / tau))).
        drive = trace(self.cell(source, thermal), [0.0, 300.0, 600.0], current_A=[130.0] * 3)
        states = drive.time_at_state
        steady = 130.0**2 * 0.29e-3 * 3.2
        expected = steady * (600.0 + 1920.0 * np.expm1(-600.0 / 1920.0))
        assert np.sum(states.time_s * states.rise_K) == pytest.approx(expected, rel=1e-9)

    def test_a_time_constant_far_below_the_drive(self, source, thermal, trace):
        # More than 300 time constants take another way through the code; the answer is the steady state.
        quick = source(resistance_ohm=0.1, thermal=thermal(0.5, 2.0), capacity_As=1e9)
        time = np.arange(0.0, 1001.0)
        current = np.where(time < 500.0, 10.0, 20.0)
        drive = trace(quick, time, current_A=current, interpolation="zero_order_hold")
        assert drive.end_rise_K == pytest.approx(20.0**2 * 0.1 * 0.5)
        states = drive.time_at_state
        # Heat in = heat out + heat stored.
        out = np.sum(states.time_s * states.rise_K) / 0.5
        assert out + 2.0 * drive.end_rise_K == pytest.approx(0.1 * drive.squared_A2s, rel=1e-9)
        assert 0.0 <= drive.end_decay < 1e-200

    def test_a_step_at_the_end_of_a_drive_of_many_time_constants(self, source, thermal, trace):
        # 10 A for 500 time constants of 2 s, then 20 A for 1 s: from 5 K half a time constant towards 20 K.
        quick = source(resistance_ohm=0.1, thermal=thermal(0.5, 4.0), capacity_As=1e9)
        time = np.arange(0.0, 1001.0)
        current = np.where(time < 999.0, 10.0, 20.0)
        drive = trace(quick, time, current_A=current, interpolation="zero_order_hold")
        assert drive.end_rise_K == pytest.approx(20.0 - 15.0 * np.exp(-0.5), rel=1e-9)


def test_heat_balance_of_any_drive(source, thermal, trace):
    # First law over the whole drive: heat made = heat given off + heat stored.
    time = np.arange(0.0, 3601.0, 5.0)
    current = 80.0 * np.sin(time / 50.0) + 40.0 * np.sign(np.sin(time / 333.0))
    pack = source(resistance_ohm=0.05, thermal=thermal(0.02, 40e3), capacity_As=1e7)
    drive = trace(pack, time, current_A=current)
    states = drive.time_at_state
    given_off = np.sum(states.time_s * states.rise_K) / 0.02
    stored = 40e3 * drive.end_rise_K
    assert given_off + stored == pytest.approx(0.05 * drive.squared_A2s, rel=1e-9)
