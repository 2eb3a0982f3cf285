"""The blend of days beside a new and a worn bank, against splits made and traced anew at a wear, and by month.

The reference is the program with one bank all its life, which the other tests hold to by-hand figures.
"""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.assessment.pair import beside_worn_bank
from lifetime.assessment.power_split import power_split
from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.traces import demand_traces
from lifetime.assessment.worn_bank import bank_wear
from lifetime.projection.years import project
from lifetime.results.records import HealthTrajectory
from lifetime.study.load import Folder, resolve_study

TWENTY_FIVE = [25.0] * 12
COLD_C = [-14, -12, -6, 2, 9, 15, 18, 16, 10, 3, -5, -11]
RULES = {
    "low-pass": {"rule": "low_pass", "time_constant_s": 30, "ultracapacitor_setpoint_V": 440,
                 "ultracapacitor_setpoint_time_constant_s": 200},
    "power limit": {"rule": "power_limit", "discharge_limit_W": 30000, "charge_limit_W": 5000,
                    "ultracapacitor_setpoint_V": 480, "ultracapacitor_setpoint_time_constant_s": 120},
}  # fmt: skip


class Bank:
    """A bank whose capacitance falls to 80 % and whose ESR doubles in ten years, straight."""

    def __init__(self):
        years, zeros = np.linspace(0.0, 10.0, 121), np.zeros(121)
        self.cost_life_years = 10.0
        self.trajectory = HealthTrajectory(years, 1.0 - years / 50.0, 1.0 + years / 10.0, zeros, zeros)


@pytest.fixture
def study(tmp_path):
    """Ten minutes of stop and go, six times a day; the cold battery may not take all of the braking."""
    time = np.arange(0, 601)
    power = 8e3 + 25e3 * np.sin(2 * np.pi * time / 60) + 8e3 * np.sin(2 * np.pi * time / 17)
    lines = "\n".join(f"{t},{p:.1f}" for t, p in zip(time, power, strict=True))
    (tmp_path / "demand.csv").write_text(f"t_s,p_W\n{lines}\n", encoding="utf-8")

    def _study(rule, ambient_C):
        limits = {"charge": {"temperature_C": [-40.0, 0.0, 5.0, 15.0], "continuous": [0.0, 0.05, 0.1, 0.5],
                             "pulse_10s": [0.0, 0.1, 0.2, 1.0]}}  # fmt: skip
        data = {
            "title": "pair",
            "service": {"years": 8, "working_days_per_year": 300, "ambient_C": ambient_C,
                        "day": {"drive_repeats": 6, "charge_c_rate": 0.4, "charge_to_soc": 0.9}},
            "battery": {"cell": "nmc_schmalstieg_2014", "series": 160, "parallel": 20, "start_soc": 0.9,
                        "price": {"purchase": 1},
                        "thermal": {"resistance_K_per_W": 0.01, "heat_capacity_J_per_K": 2e5}}
            | ({"parallel": 60, "limits": limits} if rule == "power limit" else {}),
            "ultracapacitor": {"cell": "edlc_3000F_10K_0p2V", "series": 216, "parallel": 1, "start_voltage_V": 440,
                               "minimum_voltage_V": 270, "maximum_voltage_V": 540, "rest_voltage_V": 300,
                               "price": {"purchase": 1}},
            "cost": {"currency": "EUR", "discount_rate": 0, "electricity_per_kWh": 0.2},
            "strategy": [{"name": "A", "demand": {"file": "demand.csv", "time": "t_s", "power": "p_W"},
                          "split": RULES[rule]}],
        }  # fmt: skip
        return resolve_setups(resolve_study(data, "pair", Folder(tmp_path)))

    return _study


class Pair:
    """A study's sources with the split of its only strategy."""

    def __init__(self, setup):
        strategy = setup.loaded.study.strategy[0]
        self.setup, self.drivetrain = setup, setup.drivetrain
        self.battery = setup.drivetrain.battery
        self.split = power_split(setup, strategy.split, setup.demands.of(strategy.demand))
        self.yearly = setup.operation.yearly(86_400.0)

    def traces(self, bank):
        """Traced with a bank that is as new, whatever its wear."""
        drivetrain = replace(self.drivetrain, ultracapacitor=replace(self.drivetrain.ultracapacitor, bank=bank))
        return demand_traces(drivetrain, self.split, self.split(bank), None, self.setup.operation.ambient_K)

    def beside(self):
        """Traced with the days beside the worn bank."""
        bank = self.drivetrain.ultracapacitor.bank
        traces = self.traces(bank)
        return beside_worn_bank(
            self.drivetrain, self.split, self.split(bank), traces, Bank(), None, self.setup.operation.ambient_K
        )

    def duty(self, traces):
        source = self.battery
        return self.yearly.duty(source.source, traces.battery.days, source.counting, traces.battery.beside)

    def turns(self, duty, *health):
        return duty.by_month(self.battery.model.clocks(duty.stress(*health)))

    def lost(self, rates, years=8):
        return 1.0 - project(self.battery.model, rates, years=years).capacity_fraction[-1]


def blended(pair, duty, wear, *health):
    """Turns with the bank held at a wear, by the days traced."""
    more = duty.beside.turns(lambda one: pair.turns(one, *health))
    groups = len({id(part.as_new) for part in duty.beside.parts})
    nodes = np.linspace(0.0, 1.0, len(duty.beside.parts) // groups + 1)
    shares = np.tile([np.interp(wear, nodes, column) for column in np.eye(len(nodes))[1:]], groups)
    return pair.turns(duty, *health) + np.tensordot(shares, more, axes=1)


@pytest.mark.parametrize("rule", RULES)
def test_the_blend_against_a_split_made_anew(study, rule):
    pair = Pair(study(rule, TWENTY_FIVE))
    duty = pair.duty(pair.beside())
    way, bank = bank_wear(Bank()), pair.drivetrain.ultracapacitor.bank

    def anew(wear):
        state = way.state(wear)
        made = pair.duty(pair.traces(bank.worn(state.capacitance_fraction, state.esr_ratio)))
        return pair.lost(lambda *health: pair.turns(made, *health))

    for wear in (0.25, 0.5, 0.75, 1.0):
        by_blend = pair.lost(lambda *health, wear=wear: blended(pair, duty, wear, *health))
        assert by_blend == pytest.approx(anew(wear), rel=1e-3)
    if rule == "low-pass":
        assert anew(1.0) > 1.005 * anew(0.0)


@pytest.mark.parametrize("wear", [0.5, 1.0])
def test_months_with_limits_have_worn_days_of_their_own(study, wear):
    """Braking that the cold battery may not take goes to the bank, so a worn one tells most there."""
    pair = Pair(study("power limit", COLD_C))
    duty = pair.duty(pair.beside())
    months = [Pair(study("power limit", [celsius] * 12)) for celsius in COLD_C]
    way, bank = bank_wear(Bank()), pair.drivetrain.ultracapacitor.bank
    state = way.state(wear)
    worn = [one.duty(one.traces(bank.worn(state.capacitance_fraction, state.esr_ratio))) for one in months]

    def every(*health):
        return np.array([pair.turns(one, *health)[0] for one in worn])

    by_blend = pair.lost(lambda *health: blended(pair, duty, wear, *health))
    assert by_blend == pytest.approx(pair.lost(every), rel=2e-4)
    assert by_blend > 1.001 * pair.lost(lambda *health: pair.turns(duty, *health))
