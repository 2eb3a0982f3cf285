"""Losses between the sources and the machine, from the split to the energy bought and its cost, by hand.

A battery without resistance at 400 V, charged without loss: three passes a day of 60 s at 20 kW and 60 s at -5 kW.
"""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.assessment.demands import Demands
from lifetime.assessment.notices.converters import unlike_losses_notices
from lifetime.assessment.reference_splits import reference_splits, with_references
from lifetime.assessment.strategy import assess_strategy
from lifetime.history.spec import HistoryInput
from lifetime.split.converters import Converters
from lifetime.split.losses import Loss
from lifetime.split.share import Demand
from lifetime.split.windings import TwoWindings
from lifetime.stress.day import Charging
from lifetime.study.evaluation import Cost
from lifetime.study.schema import Strategy

DEMAND = HistoryInput(file="demand.csv", time="t_s", power="p_W")
DAYS_KWH = 3 * 365.0 / 3.6e6
"""From a pass's energy [J] to that of a year [kWh]."""
INVERTER = {"fixed_W": 150.0, "linear_V": 1.2, "quadratic_ohm": 0.004, "voltage_V": 400.0}


def strategy(name="A", rule="battery_only", **split):
    return Strategy.model_validate({"name": name, "demand": DEMAND.model_dump(), "split": {"rule": rule, **split}})


@pytest.fixture
def assessed(study_setup, battery, ultracapacitor, history):
    """Assess a strategy; the battery is charged after the drive unless told otherwise."""

    def _assessed(one, *, charged=True, windings=None, resistance_ohm=0.0):
        power = history(np.concatenate([np.full(60, 20_000.0), np.full(60, -5_000.0)]), "power_W")
        charging = Charging(50.0, 0.8) if charged else Charging(None, 0.8)
        flat = battery(charging=charging, resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0)
        setup = study_setup(flat, ultracapacitor(resistance_ohm=resistance_ohm), histories={DEMAND: power}, repeats=3)
        setup.loaded.study.cost = Cost(currency="EUR", discount_rate=0.0, electricity_per_kWh=0.2)
        setup = replace(setup, demands=Demands(setup.loaded.histories, None, windings))
        return assess_strategy(setup, one, in_detail=True)

    return _assessed


def energy_cost(result):
    return result.cost.present_value_by_item["energy bought"]


def test_a_worse_converter_costs_the_energy_it_loses(assessed):
    # From 100 to 80 %: 20 kW become 25 kW, -5 kW become -4 kW: 60 s * (5 + 1) kW more a pass, ten years at 0.20.
    full = assessed(strategy(battery_loss={"efficiency": 1.0})).result
    lossy = assessed(strategy(battery_loss={"efficiency": 0.8})).result
    more_kWh = 60.0 * 6_000.0 * DAYS_KWH
    assert lossy.energy.total_kWh_per_year - full.energy.total_kWh_per_year == pytest.approx(more_kWh, rel=1e-6)
    assert lossy.energy.converter_kWh_per_year == pytest.approx(more_kWh, rel=1e-6)
    assert energy_cost(lossy) - energy_cost(full) == pytest.approx(10.0 * 0.2 * more_kWh, rel=1e-6)
    # At the machine both did the same, and the day shows the demand there.
    assert lossy.trip.energy_kWh == pytest.approx(full.trip.energy_kWh)
    assert lossy.day.demand_W == pytest.approx(full.day.demand_W)
    assert lossy.day.battery_W[0] == pytest.approx(25_000.0)


def test_a_pack_that_nothing_charges_from_outside_pays_what_its_converter_loses(assessed):
    # 50 A and 12.5 A at 400 V: 150 + 60 + 10 = 220 W, 150 + 15 + 0.625 = 165.625 W.
    free = assessed(strategy(), charged=False).result.energy
    paid = assessed(strategy(battery_loss=INVERTER), charged=False).result.energy
    lost_kWh = 60.0 * (220.0 + 165.625) * DAYS_KWH
    assert paid.converter_kWh_per_year == pytest.approx(lost_kWh, rel=1e-6)
    assert paid.total_kWh_per_year - free.total_kWh_per_year == pytest.approx(lost_kWh, rel=1e-6)
    assert free.converter_kWh_per_year == 0.0


LOW_PASS = {"rule": "low_pass", "time_constant_s": 15.0}


@pytest.mark.parametrize(
    "loss",
    [
        {"battery_loss": INVERTER},
        {"ultracapacitor_loss": INVERTER},
        {"battery_loss": {"map_power_W": [5e3, 2e4], "map_efficiency": [0.9, 0.96]}},
        {"topology": "two_converters", "inverter_loss": {"efficiency": 0.97}},
    ],
)
@pytest.mark.parametrize("charged", [True, False])
def test_a_loss_more_never_costs_less_energy(assessed, loss, charged):
    free = assessed(strategy(**LOW_PASS), charged=charged).result
    paid = assessed(strategy(**LOW_PASS, **loss), charged=charged).result
    assert energy_cost(paid) > energy_cost(free)
    copper = assessed(strategy(**LOW_PASS, **loss), charged=charged, windings=TwoWindings(1e5, 0.03)).result
    assert energy_cost(copper) > energy_cost(paid)


def test_equal_rules_through_different_topologies_tie_without_losses_and_not_with_them(assessed):
    topologies = ("two_inverters", "one_converter", "two_converters")

    def costs(windings):
        found = [assessed(strategy(**LOW_PASS, topology=one), windings=windings) for one in topologies]
        return [one.result.cost.net_present_cost for one in found]

    free = costs(None)
    assert free[0] == free[1] == free[2]
    # One inverter shares the torque evenly, whichever source has a converter; two inverters pay for one-sided running.
    own, one, two = costs(TwoWindings(1e5, 0.03))
    assert free[0] < one == two < own


class TestReferences:
    CONVERTERS = Converters(battery=Loss(efficiency=0.9), ultracapacitor=Loss(efficiency=0.8))

    def test_both_go_through_the_same_converters(self, battery, ultracapacitor, study_setup):
        # 10 kW and nothing by turns: the lossless split has the battery at 5 kW. Then the bank's 5 kW become 4 kW at
        # the machine, and a charge of 5 kW takes 6.25 kW there: the battery gives 6 / 0.9 and 6.25 / 0.9 kW.
        demand = Demand(np.ones(200), np.tile(np.concatenate([np.full(20, 1e4), np.zeros(20)]), 5))
        setup = study_setup(battery(), ultracapacitor())
        found = reference_splits(setup, demand, 300.0, converters=self.CONVERTERS)
        (day,) = found.least_rms.passes
        assert day.battery_W[:20] == pytest.approx(6e3 / 0.9)
        assert day.battery_W[20:40] == pytest.approx(6.25e3 / 0.9)
        assert day.bank_V[-1] == pytest.approx(300.0)
        (alone,) = found.battery_alone.passes
        assert alone.battery_W[:20] == pytest.approx(1e4 / 0.9)

    def test_the_banks_resistance_is_charged_to_the_least_rms_split(self, battery, ultracapacitor, study_setup):
        # 5 kW out of 300 V and back: about 16.7 A each way lose 0.1 ohm * 16.7**2 = 28 W, which the battery gives.
        demand = Demand(np.ones(40), np.concatenate([np.full(20, 1e4), np.zeros(20)]))
        free = reference_splits(study_setup(battery(), ultracapacitor()), demand, 300.0).least_rms
        setup = study_setup(battery(), ultracapacitor(resistance_ohm=0.1))
        paid = reference_splits(setup, demand, 300.0).least_rms
        more_W = paid.passes[0].battery_W - free.passes[0].battery_W
        assert more_W == pytest.approx(0.1 * paid.passes[0].bank_A ** 2)
        assert more_W.mean() == pytest.approx(28.0, rel=0.02)
        assert paid.passes[0].bank_V == pytest.approx(free.passes[0].bank_V)

    def test_each_strategy_has_references_of_its_own_converters(self, assessed):
        """The battery alone that the study holds is the reference of the strategies with its own loss."""
        lossy = {"battery_loss": {"efficiency": 0.9}}
        found = [
            assessed(strategy("alone", **lossy)),
            assessed(strategy("lossy", **LOW_PASS, **lossy)),
            assessed(strategy("free", **LOW_PASS)),
        ]
        shared = found[0].setup
        found = [replace(one, setup=shared) for one in found]
        alone, with_loss, free = with_references(found)
        assert alone.reference_split is None
        assert with_loss.reference_split.alone_peak_W == pytest.approx(20e3 / 0.9)
        assert free.reference_split.alone_peak_W == pytest.approx(20e3)
        assert with_loss.reference_split.alone_net_present_cost == alone.cost.net_present_cost
        assert with_loss.reference_split.reference_rms_W > free.reference_split.reference_rms_W


def test_strategies_without_losses_among_others_with_them_are_named():
    lossy = strategy("lossy", battery_loss={"efficiency": 0.9})
    free, parallel = strategy("free"), strategy("parallel", "passive_parallel")
    (said,) = unlike_losses_notices([lossy, free, parallel])
    assert said.code == "losses_not_alike"
    assert '"free", "parallel" none' in said.message
    assert unlike_losses_notices([lossy]) == unlike_losses_notices([free, parallel]) == []
