"""Figures of a day's trip against ``E = ∫ U dq - R I² t``, by hand."""

import numpy as np
import pytest

from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traces import DrivetrainTraces, history_traces
from lifetime.assessment.trip import trip_figures
from lifetime.stress.day import Charging


def test_a_battery_by_hand(battery, history):
    # 100 A for 360 s take 36,000 As, a tenth: the voltage falls from 380 to 370 V, 375 V on average; 1 kW is lost.
    setup = battery(charging=Charging(50.0, 0.75))
    figures = trip_figures("A", Drivetrain(setup), DrivetrainTraces(history_traces(setup, history([100.0] * 360), 1)))
    assert figures.name == "A"
    assert figures.energy_kWh == pytest.approx((375.0 * 36_000.0 - 0.1 * 100.0**2 * 360.0) / 3.6e6)
    assert figures.duration_s == pytest.approx(360.0)
    # Charged to 75 %: 18,000 As come back, 18,000 As stay open.
    assert figures.net_battery_charge_Ah == pytest.approx(5.0)
    # 5 Ah between 380 and 375 V; half of 15 Ah at 375 V.
    assert figures.net_battery_energy_kWh == pytest.approx(5.0 * 377.5 / 1000.0)
    assert figures.moved_kWh == pytest.approx(7.5 * 375.0 / 1000.0)
    assert figures.net_ultracapacitor_energy_kWh == 0.0


def test_the_bank_gives_what_its_voltage_says(battery, ultracapacitor, history):
    # 100 F from 300 to 280 V: 50 * (300^2 - 280^2) = 580 kJ, less 0.5 ohm * 20^2 A^2 * 100 s.
    drivetrain = Drivetrain(battery(), ultracapacitor(resistance_ohm=0.5))
    traces = DrivetrainTraces(
        history_traces(drivetrain.battery, history([0.0] * 100), 1),
        history_traces(drivetrain.ultracapacitor, history([20.0] * 100), 1),
    )
    figures = trip_figures("B", drivetrain, traces)
    assert figures.net_ultracapacitor_energy_kWh == pytest.approx(580e3 / 3.6e6)
    assert figures.energy_kWh == pytest.approx((580e3 - 20e3) / 3.6e6)


def test_a_measured_voltage_goes_before_the_model(battery, history):
    setup = battery()
    measured = history([100.0] * 360, voltage_V=np.full(361, 333.0))
    figures = trip_figures("C", Drivetrain(setup), DrivetrainTraces(history_traces(setup, measured, 1)))
    assert figures.energy_kWh == pytest.approx(333.0 * 100.0 * 360.0 / 3.6e6)


def test_a_log_is_told_as_its_mean_day(battery, history):
    # 3 A for four hours take 12 Ah; a log fits six times into a day.
    setup = battery(charging=Charging(None, 0.8, whole_log=True))
    log = history([3.0] * 14_400)
    figures = trip_figures("D", Drivetrain(setup), DrivetrainTraces(history_traces(setup, log, 1)))
    assert figures.duration_s == pytest.approx(86_400.0)
    assert figures.net_battery_charge_Ah == pytest.approx(72.0)
    assert figures.moved_kWh == pytest.approx(0.5 * figures.net_battery_energy_kWh)
