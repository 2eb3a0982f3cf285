"""Days traced at the beginning and at the end of life, against ``P = U I - R I²`` and counted charge."""

import numpy as np
import pytest

from lifetime.assessment.setups import Drivetrain, HealthLimits
from lifetime.assessment.traces import DayTraces, demand_traces, history_traces
from lifetime.history.model import History
from lifetime.split.share import SharedPass
from lifetime.stress.day import Charging


def current_for(power_W, voltage_V, resistance_ohm):
    """The smaller root of ``P = U I - R I²``."""
    return (voltage_V - np.sqrt(voltage_V**2 - 4.0 * resistance_ohm * power_W)) / (2.0 * resistance_ohm)


def test_a_current_is_the_same_at_any_health(battery, history):
    traces = history_traces(battery(), history(np.full(60, 90.0)), 2)
    assert traces.worn == ()
    assert not traces.power_driven
    assert traces.new.drive.drawn_As == pytest.approx(2 * 60 * 90.0)
    assert [worn.wear for worn in traces.days] == ["none"]


@pytest.mark.parametrize(("has_resistance", "wears"), [(False, ["capacity"]), (True, ["capacity", "resistance"])])
def test_a_power_is_traced_at_each_limit(battery, history, model, has_resistance, wears):
    setup = battery(
        law=model(has_resistance=has_resistance),
        limits=HealthLimits(0.7, 1.6),
        open_circuit_V=lambda soc: 0 * soc + 350.0,
    )
    traces = history_traces(setup, history(np.full(10, 30_000.0), "power_W"), 1)
    assert traces.power_driven
    assert [worn.wear for worn in traces.worn] == wears
    assert [(worn.capacity_fraction, worn.resistance_ratio) for worn in traces.worn] == [(0.7, 1.0), (1.0, 1.6)][
        : len(wears)
    ]
    # At a flat voltage only resistance changes the current.
    assert traces.new.drive.peak_A == pytest.approx(current_for(30_000.0, 350.0, 0.1), rel=1e-9)
    assert traces.worn[0].day.drive.peak_A == pytest.approx(traces.new.drive.peak_A, rel=1e-9)
    if has_resistance:
        assert traces.worn[1].day.drive.peak_A == pytest.approx(current_for(30_000.0, 350.0, 0.16), rel=1e-9)


def test_a_measured_voltage_tells_the_current(battery, history):
    power = history(np.full(10, 30_000.0), "power_W", voltage_V=np.full(11, 300.0))
    traces = history_traces(battery(), power, 1)
    assert not traces.power_driven
    assert traces.new.drive.peak_A == pytest.approx(100.0)


def test_what_a_new_source_cannot_deliver_is_traced_once(battery, history):
    # At most 380^2 / 0.4 = 361 kW.
    traces = history_traces(battery(), history(np.full(10, 4e5), "power_W"), 1)
    assert traces.new.drive.shortage > 0.0
    assert traces.worn == ()


def test_a_day_that_does_not_fit_at_end_of_life_is_said(battery, model):
    """22 h at 1 kW and 350 V take 2.88 A at 1 ohm, 3.14 A at 10 ohm; 2 h charge back the one and not the other."""
    hours = 22.0 * 3600.0
    charging = Charging(1.001 * current_for(1000.0, 350.0, 1.0) * hours / 7200.0, 0.8)
    setup = battery(
        law=model(has_resistance=True),
        limits=HealthLimits(0.8, 10.0),
        resistance_ohm=1.0,
        open_circuit_V=lambda soc: 0 * soc + 350.0,
        charging=charging,
    )
    power = History.from_arrays(time_s=np.linspace(0.0, hours, 221), power_W=np.full(221, 1000.0))
    traces = history_traces(setup, power, 1)
    assert [worn.wear for worn in traces.worn] == ["capacity"]
    (notice,) = traces.notices
    assert notice.code == "worn_trace_failed"
    assert "does not fit into 24 h" in notice.message


def test_small_cycles_go_from_every_trace(battery, history):
    power = np.concatenate([np.full(10, 7e4), np.full(10, -7e4), np.full(100, 7e4), np.full(100, -7e4)])
    traces = history_traces(battery(resistance_ohm=0.0), history(power, "power_W"), 1)
    fewer = traces.without_small_cycles(0.02 * 360_000.0)
    assert len(fewer.days) == len(traces.days) == 2
    for kept, every in zip(fewer.days, traces.days, strict=True):
        assert every.day.cycles.size == 2
        assert kept.day.cycles.size == 1
        assert kept.day.cycles.range_As > 0.02 * 360_000.0
        assert kept.day.drive is every.day.drive
    assert traces.without_small_cycles(0.0).days == traces.days


def shared(battery_W, bank_W, bank_A):
    n = len(battery_W)
    arrays = (np.asarray(values, dtype=np.float64) for values in (battery_W, bank_W, bank_A))
    return SharedPass(np.ones(n), *arrays, np.full(n + 1, 300.0))


def test_a_split_demand_is_traced_in_both_sources(battery, ultracapacitor):
    asked = []

    def split(bank):
        asked.append(bank)
        return [shared([20_000.0] * 10, [3_000.0] * 10, [12.0] * 10)]

    new = [shared([10_000.0] * 10, [3_000.0] * 10, [10.0] * 10)] * 2
    traces = demand_traces(Drivetrain(battery(), ultracapacitor()), split, new)
    assert traces.battery.power_driven
    assert not traces.battery.within_bounds
    assert traces.ultracapacitor.within_bounds
    # Two passes of 10 s at 10 A when new; the worn bank's split gives 12 A for one pass of 10 s.
    assert traces.ultracapacitor.new.drive.drawn_As == pytest.approx(200.0)
    (worn,) = traces.ultracapacitor.worn
    assert (worn.wear, worn.capacity_fraction, worn.resistance_ratio) == ("both", 0.8, 2.0)
    assert worn.day.drive.drawn_As == pytest.approx(120.0)
    # The split is asked once more, for a bank of 80 F.
    (bank,) = asked
    assert bank.capacitance_F == pytest.approx(80.0)


def test_a_battery_alone_has_one_trace(battery):
    passes = [shared([35_000.0] * 10, [0.0] * 10, [0.0] * 10)]
    traces = demand_traces(Drivetrain(battery()), lambda _: passes, passes)
    assert traces.ultracapacitor is None
    assert isinstance(traces.battery, DayTraces)
