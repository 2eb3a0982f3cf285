"""How far a day stays from its bounds, at any health, against plain circuit arithmetic: ``V = U(soc) - R I``."""

import numpy as np
import pytest

from lifetime.history.model import History
from lifetime.projection.duty import Duty, WornDay
from lifetime.projection.limits import DutyMargin
from lifetime.stress.day import Charging, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source

PACK = Source(
    kind="battery",
    capacity_As=180_000.0,
    resistance_ohm=0.1,
    start_soc=0.6,
    rest_soc=0.6,
    open_circuit_V=lambda soc: 300.0 + 100.0 * soc,
    minimum_voltage_V=250.0,
    maximum_voltage_V=400.0,
    minimum_soc=0.1,
    maximum_soc=0.95,
    thermal=None,
    hot_spot_K=0.0,
    parallel=1,
    series=1,
)
LOW_SOC, HIGH_SOC, LOW_V, HIGH_V = DutyMargin.BOUNDS


def margin(current_A, **options):
    """A drive of one row a second, as its margin to the bounds."""
    history = History.from_arrays(
        time_s=np.arange(float(len(current_A))),
        current_A=np.asarray(current_A, dtype=float),
        interpolation="zero_order_hold",
    )
    drive = trace_drive(DriveTracer(PACK, power_driven=False), intervals(history))
    day = build_day(drive, PACK, Charging(None, 0.0))
    return DutyMargin(PACK, Duty(PACK, [WornDay(day, "none")], np.full(12, 298.15), 300.0), **options)


@pytest.mark.parametrize(("health", "ratio"), [(1.0, 1.0), (0.8, 1.0), (1.0, 2.0), (0.7, 1.8)])
def test_discharge_by_hand(health, ratio):
    # 60 A for 600 s: 36,000 As, 0.2 of rated capacity.
    found = margin(np.full(601, 60.0)).by_bound(health, ratio)
    lowest = 0.6 - 0.2 / health
    assert found[LOW_SOC] == pytest.approx(lowest - 0.1, abs=1e-8)
    assert found[HIGH_SOC] == pytest.approx(0.95 - 0.6, abs=1e-8)
    assert found[LOW_V] == pytest.approx((300.0 + 100.0 * lowest - 60.0 * 0.1 * ratio - 250.0) / 400.0, abs=1e-8)


@pytest.mark.parametrize(("health", "ratio"), [(1.0, 1.0), (0.8, 1.5)])
def test_charge_by_hand(health, ratio):
    # -60 A for 300 s: 0.1 of rated capacity up.
    found = margin(np.full(301, -60.0)).by_bound(health, ratio)
    highest = 0.6 + 0.1 / health
    assert found[HIGH_SOC] == pytest.approx(0.95 - highest, abs=1e-8)
    assert found[HIGH_V] == pytest.approx(1.0 - (300.0 + 100.0 * highest + 60.0 * 0.1 * ratio) / 400.0, abs=1e-8)


def test_a_pulse_counts_at_the_state_it_falls_on():
    # 500 A for a second at the start cost 50 V there; 60 A at the far end only 6 V but 20 V of open-circuit voltage.
    found = margin(np.concatenate([[500.0], np.full(600, 60.0)])).by_bound(1.0, 1.0)
    at_pulse = 300.0 + 60.0 - 50.0
    # The pulse's level of charge is 1/128 of capacity wide, 0.8 V of this curve, and is judged at its lower end.
    assert 250.0 + 400.0 * found[LOW_V] == pytest.approx(at_pulse, abs=100.0 / 128.0 + 1e-6)


def test_the_tightest_bound_is_named():
    # After 600 s: 0.30 and 0.35 of charge left, 84 V of 400 V below and 46 V (360 V less 6 V) above.
    assert margin(np.full(601, 60.0)).smallest(1.0, 1.0)[1] == HIGH_V
    value, bound = margin(np.full(1401, 60.0)).smallest(1.0, 1.0)
    assert (bound, value) == (LOW_SOC, pytest.approx(0.6 - 84_000.0 / 180_000.0 - 0.1, abs=1e-8))


def test_a_skipped_bound_never_ends_anything():
    _, bound = margin(np.full(1401, 60.0), skip=frozenset({LOW_SOC})).smallest(1.0, 1.0)
    assert bound != LOW_SOC


def test_standing_exactly_on_a_bound_is_inside():
    # 90,000 As are half the capacity: 0.6 - 0.5 = 0.1, the bound itself.
    assert margin(np.full(1501, 60.0)).by_bound(1.0, 1.0)[LOW_SOC] > 0.0
    assert margin(np.full(1502, 60.0)).by_bound(1.0, 1.0)[LOW_SOC] < 0.0
