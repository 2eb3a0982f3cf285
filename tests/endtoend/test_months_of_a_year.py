"""A cold year with limits by temperature: the few days that are traced against a study of every month by itself.

Each month's reference is the program at one temperature all year, which the other tests hold to by-hand figures: the
demand split and traced anew at the month's limits and resistance, new and worn. Charging limits after a maker's manual
of a 48 V LFP pack (secondary source): nothing below 0 °C, then in steps.
"""

import numpy as np
import pytest

from lifetime.assessment import traces as traced
from lifetime.assessment.power_split import power_split
from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.traces import demand_traces
from lifetime.projection.duty import Duty
from lifetime.projection.years import project
from lifetime.study.load import Folder, resolve_study

COLD_C = [-14, -12, -6, 2, 9, 15, 18, 16, 10, 3, -5, -11]


@pytest.fixture
def study(tmp_path):
    """Ten minutes of stop and go with braking that the cold battery may not take, six times a day."""
    time = np.arange(0, 601)
    power = 8e3 + 25e3 * np.sin(2 * np.pi * time / 60) + 8e3 * np.sin(2 * np.pi * time / 17)
    lines = "\n".join(f"{t},{p:.1f}" for t, p in zip(time, power, strict=True))
    (tmp_path / "demand.csv").write_text(f"t_s,p_W\n{lines}\n", encoding="utf-8")
    demand = {"file": "demand.csv", "time": "t_s", "power": "p_W"}

    def loaded(ambient_C, cell="nmc_schmalstieg_2014", rule=None):
        data = {
            "title": "cold",
            "service": {"years": 8, "working_days_per_year": 300, "ambient_C": ambient_C,
                        "day": {"drive_repeats": 6, "charge_c_rate": 0.4, "charge_to_soc": 0.9}},
            "battery": {"cell": cell, "series": 160, "parallel": 60, "start_soc": 0.9, "price": {"purchase": 1},
                        "thermal": {"resistance_K_per_W": 0.01, "heat_capacity_J_per_K": 2e5},
                        "limits": {"charge": {"temperature_C": [-40.0, 0.0, 5.0, 15.0],
                                              "continuous": [0.0, 0.05, 0.1, 0.5], "pulse_10s": [0.0, 0.1, 0.2, 1.0]}}},
            "ultracapacitor": {"cell": "edlc_3000F_10K_0p2V", "series": 216, "parallel": 1, "start_voltage_V": 480,
                               "minimum_voltage_V": 270, "maximum_voltage_V": 540, "rest_voltage_V": 300,
                               "price": {"purchase": 1}},
            "cost": {"currency": "EUR", "discount_rate": 0, "electricity_per_kWh": 0.2},
            "strategy": [{"name": "A", "demand": demand, "split": rule or {"rule": "battery_only"}}],
        }  # fmt: skip
        return resolve_setups(resolve_study(data, "cold", Folder(tmp_path)))

    return loaded


def parts(setup):
    strategy = setup.loaded.study.strategy[0]
    drivetrain = setup.drivetrain if strategy.has_ultracapacitor else setup.drivetrain.battery_alone()
    split = power_split(setup, strategy.split, setup.demands.of(strategy.demand))
    return drivetrain, split


def all_traces(setup):
    drivetrain, split = parts(setup)
    bank = drivetrain.ultracapacitor
    return drivetrain, demand_traces(drivetrain, split, split(bank and bank.bank), None, setup.operation.ambient_K)


BANK = {"rule": "power_limit", "discharge_limit_W": 30000, "charge_limit_W": 5000,
        "ultracapacitor_setpoint_V": 480, "ultracapacitor_setpoint_time_constant_s": 120}  # fmt: skip


@pytest.mark.parametrize("rule", [None, BANK], ids=["battery alone", "with a bank"])
def test_few_traces_against_every_month_by_itself(study, rule, monkeypatch):
    monkeypatch.setattr(traced, "build_day", counting := Counted(traced.build_day))
    setup = study(COLD_C, rule=rule)
    drivetrain, few = all_traces(setup)
    used = counting.calls
    kinds = ["battery"] if rule is None else ["battery", "ultracapacitor"]
    every = [all_traces(study(celsius, rule=rule))[1] for celsius in COLD_C]
    assert 2 * used < counting.calls - used
    for kind in kinds:
        source = getattr(drivetrain, kind)
        duty = setup.operation.yearly(86400.0).duty(source.source, getattr(few, kind).days, source.counting)
        months = [
            Duty(source.source, getattr(one, kind).days, np.full(12, celsius + 273.15), 300.0, source.counting)
            for one, celsius in zip(every, COLD_C, strict=True)
        ]

        def by_few(capacity, resistance, duty=duty, source=source):
            return duty.by_month(source.model.clocks(duty.stress(capacity, resistance)))

        def by_every(capacity, resistance, months=months, source=source):
            return np.array([source.model.clocks(one.stress(capacity, resistance))[0] for one in months])

        lost = [1.0 - project(source.model, rates, years=8).capacity_fraction[-1] for rates in (by_few, by_every)]
        assert lost[0] == pytest.approx(lost[1], rel=1e-3)


class Counted:
    """Counts the calls of a function."""

    def __init__(self, function):
        self.function, self.calls = function, 0

    def __call__(self, *given, **named):
        self.calls += 1
        return self.function(*given, **named)
