"""Cycling between the limits of the present capacity: depth and C-rate stay, charge, current and heat fall."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.history.block import Block
from lifetime.projection.duty import Duty, WornDay
from lifetime.projection.limits import DutyMargin
from lifetime.stress.charging import Charging
from lifetime.stress.day import build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source, Thermal

# 50 Ah at 1 C from full to empty and back, 300 V to 400 V, 0.1 ohm.
PACK = Source(
    kind="battery",
    capacity_As=180_000.0,
    resistance_ohm=0.1,
    start_soc=1.0,
    rest_soc=None,
    open_circuit_V=lambda soc: 300.0 + 100.0 * soc,
    minimum_voltage_V=200.0,
    maximum_voltage_V=450.0,
    minimum_soc=0.0,
    maximum_soc=1.0,
    thermal=Thermal(0.02, 100_000.0),
    hot_spot_K=0.0,
    parallel=1,
    series=100,
    keeps_soc_limits=True,
)


def duty_of(pack, rounding=0.0):
    """A log of one full-depth cycle, an hour each way; the discharge may be longer by a rounding."""
    time = np.linspace(0.0, 7200.0, 721)
    current = np.where(time < 3600.0, 50.0 * (1.0 + rounding), -50.0)
    history = SimpleNamespace(
        blocks=lambda: iter([Block(0, time, current, None, None, None)]),
        interpolation="zero_order_hold",
        driven_by="current",
        samples=time.size,
    )
    tracer = DriveTracer(pack, power_driven=False, rest_below_A=0.5)
    day = build_day(trace_drive(tracer, intervals(history)), pack, Charging(None, 1.0, whole_log=True))
    return Duty(pack, [WornDay(day, "none")], np.full(12, 298.15), 4380.0)


def test_depth_and_rate_stay_while_charge_current_and_heat_fall():
    # At 80 % of its capacity the pack moves 40 Ah at 40 A: depth 1, 1 C, 0.64 of the heat.
    duty = duty_of(PACK)
    new, aged = duty.stress(1.0, 1.0), duty.stress(0.8, 1.0)
    for stress in (new, aged):
        assert stress.depth.max() == pytest.approx(1.0)
        assert stress.c_rate.max() == pytest.approx(1.0)
        assert stress.soc.min() >= 0.0
    assert aged.throughput_fec.sum() == pytest.approx(0.8 * new.throughput_fec.sum())
    assert aged.rms_current_A == pytest.approx(0.8 * new.rms_current_A)
    np.testing.assert_allclose(aged.temperature_K - 298.15, 0.64 * (new.temperature_K - 298.15))
    np.testing.assert_allclose(aged.cycle_temperature_K - 298.15, 0.64 * (new.cycle_temperature_K - 298.15))


def test_the_same_charge_goes_deeper_as_capacity_falls():
    # 50 Ah of 40 Ah are a depth of 1.25, at 1.25 C.
    aged = duty_of(replace(PACK, keeps_soc_limits=False)).stress(0.8, 1.0)
    assert aged.depth.max() == pytest.approx(1.25)
    assert aged.c_rate.max() == pytest.approx(1.25)


@pytest.mark.parametrize("rounding", [0.0, 1e-8, -1e-8])
def test_a_log_between_empty_and_full_stays_within_its_bounds_at_any_health(rounding):
    margin = DutyMargin(PACK, duty_of(PACK, rounding))
    for capacity_fraction in (1.0, 0.8, 0.5):
        assert margin.smallest(capacity_fraction, 1.0)[0] > 0.0
    # With the same charge, the first loss of capacity leaves it short.
    same = replace(PACK, keeps_soc_limits=False)
    assert DutyMargin(same, duty_of(same)).smallest(0.99, 1.0)[0] < 0.0


def test_voltage_bounds_see_the_current_that_falls():
    # Full and charged with 40 A at 0.2 ohm: 400 V + 8 V, against 450 V: 42 / 450; empty and loaded: 300 V - 8 V,
    # against 200 V: 92 / 450.
    found = DutyMargin(PACK, duty_of(PACK)).by_bound(0.8, 2.0)
    assert found["highest voltage"] == pytest.approx(42 / 450, rel=1e-6)
    assert found["lowest voltage"] == pytest.approx(92 / 450, rel=1e-6)
