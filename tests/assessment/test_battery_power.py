"""A life that ends by power in a stated corner, and a resistance that grows by convention, worked by hand.

The battery has 300 V empty and 400 V full, 0.1 Ω and at least 250 V: at half charge 250 * 100 / 0.1 = 250 kW.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.assessment.load_table import LoadTable
from lifetime.assessment.power_split import battery_pulse_W
from lifetime.assessment.resolution import battery_setup
from lifetime.assessment.setups import HealthLimits
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import history_traces
from lifetime.packs.load import load_cell
from lifetime.projection.power_corner import PowerCorner
from lifetime.report.words import end_sentence
from lifetime.results.source import BatteryView
from lifetime.split.share import SharedPass
from lifetime.stress.day import Charging
from lifetime.study.duty import Service
from lifetime.study.evaluation import Counting, EndOfLife
from lifetime.study.sections import Battery

YEAR_S = 365.0 * 86_400.0
CORNER = PowerCorner(0.5, 298.15, 10.0)
WORDS = "10 s at 50 % state of charge and 25 °C"


def assessed(setup, day, yearly, corner=CORNER, **how):
    setup = replace(setup, power_corner=corner, limits=HealthLimits(0.8, 5.0), charging=Charging(None, 0.8))
    return assess_source(setup, history_traces(setup, day, 1), yearly(), **how)


def pulse(history, power_W):
    """A minute of nothing, 10 s of power, a minute of nothing."""
    return history(np.concatenate([np.zeros(60), np.full(10, power_W), np.zeros(60)]), "power_W")


def growing(model):
    """0.3 of the resistance a year."""
    return model(per_second=0.0, resistance_per_second=0.3 / YEAR_S, has_resistance=True)


def codes(result):
    return {one.code: one.message for one in result.notices}


def test_power_ends_the_life_before_resistance(battery, history, model, yearly):
    """250 kW of 100 kW: resistance may grow 2.5 times, 1.5 at 0.3 a year; five times only after 13.3 years."""
    result = assessed(battery(law=growing(model)), pulse(history, 100e3), yearly)
    assert (result.life_state, result.end_of_life_criterion) == ("reached", "power")
    assert result.life_years == pytest.approx(5.0, rel=1e-6)
    assert {one.limit: one.detail for one in result.crossings}["power"] == WORDS
    assert (result.power.available_W, result.power.required_W) == pytest.approx((250e3, 100e3))
    told = BatteryView.of(result, yearly().ambient_K)
    assert told.corner_power.available_W == pytest.approx(250e3)
    assert told.corner_power.temperature_C == pytest.approx(25.0)
    assert end_sentence(told).startswith(f"End of life after 5.0 years: power ({WORDS}).")


def test_a_strategy_that_leaves_the_battery_less_power_lives_longer(battery, history, model, yearly):
    """The same pulse at half the power: 5 times, not reached before the resistance's own limit of 5 times."""
    result = assessed(battery(law=growing(model)), pulse(history, 60e3), yearly)
    assert result.life_years == pytest.approx((250.0 / 60.0 - 1.0) / 0.3, rel=1e-6)


def test_a_current_is_judged_by_its_power_at_the_terminals(battery, history, model, yearly):
    """300 A at 80 % are 300 * (380 - 30) W, a little less as charge is drawn: 3 kAs of 360 kAs are 0.83 V."""
    setup = battery(law=growing(model))
    result = assessed(setup, history([0.0] * 60 + [300.0] * 10), yearly)
    assert result.power.required_W == pytest.approx(300.0 * (380.0 - 30.0 - 0.5 * 0.8333), rel=1e-5)


def test_not_met_when_new_is_named_with_its_corner(battery, history, model, yearly):
    """At the lowest charge of the day (300 V) 250 * 50 / 0.1 = 125 kW, and 150 kW asked."""
    result = assessed(battery(law=growing(model)), pulse(history, 150e3), yearly, replace(CORNER, soc=0.0))
    assert (result.life_years, result.life_state, result.end_of_life_criterion) == (0.0, "requirement_not_met", "power")
    said = codes(result)["power_not_met_when_new"]
    assert "10 s at 0 % state of charge and 25 °C" in said
    assert "150 kW" in said
    assert "125 kW (83 %)" in said
    told = BatteryView.of(result, yearly().ambient_K)
    words = "Requirement not met at beginning of life (power for 10 s at 0 % state of charge and 25 °C)."
    assert end_sentence(told) == words


def test_without_a_corner_nothing_is_said_of_power(battery, history, model, yearly):
    result = assessed(battery(law=growing(model)), pulse(history, 100e3), yearly, None)
    assert result.power is None
    assert {one.limit for one in result.crossings} == {"capacity", "resistance", "requirement"}
    assert BatteryView.of(result, yearly().ambient_K).corner_power is None


def test_the_limit_of_current_in_the_corner_counts(battery, history, model, yearly):
    """Peak current 400 A at 350 V and 0.1 Ω: 400 * 310 W."""
    table = LoadTable(100.0, 400.0, None, None, None, 250.0, 420.0, 1.0, None)
    setup = replace(battery(law=growing(model)), load=table)
    assert assessed(setup, pulse(history, 100e3), yearly).power.available_W == pytest.approx(124e3)


def test_what_is_asked_counts_whether_the_battery_serves_it_or_not():
    ones = np.ones(20)
    idle = np.zeros(20)
    served = SharedPass(ones, 60e3 * ones, idle, idle, np.zeros(21))
    missed = replace(served, missed_W=np.where(np.arange(20) < 5, 40e3, 0.0))
    assert battery_pulse_W([served, served], 10.0) == pytest.approx(60e3)
    assert battery_pulse_W([served, missed], 10.0) == pytest.approx(80e3)


class TestAssumedGrowth:
    """2 % lost a year by time; 250 kW of 208.33 kW asked leave 1.2 times the resistance: 10 % lost at a ratio of 2."""

    def setup(self, battery, model, ratio=2.0):
        loses = model(per_second=0.02 / (0.8 * YEAR_S))
        # So large that a pulse does not move its state of charge.
        return replace(battery(capacity_As=3.6e7), model=AssumedGrowth(loses, ratio, ratio))

    def test_life_with_other_ratios_is_told_where_resistance_ends_it(self, battery, history, model, yearly):
        result = assessed(self.setup(battery, model), pulse(history, 250e3 / 1.2), yearly)
        assert result.end_of_life_criterion == "power"
        assert result.life_years == pytest.approx(5.0, rel=1e-3)
        # 20 % at a ratio of 1 after 10 years, where capacity ends it too; 6.67 % at 3 after 3.33 years.
        assert "the life is 10.0 years at 1 and 3.3 years at 3" in codes(result)["resistance_growth_decides"]

    def test_where_capacity_ends_it_the_assumption_is_a_note(self, battery, history, model, yearly):
        result = assessed(self.setup(battery, model), pulse(history, 100e3), yearly)
        assert result.end_of_life_criterion == "capacity"
        (note,) = [one for one in result.notices if one.code.startswith("resistance_growth")]
        assert (note.code, note.severity) == ("resistance_growth_assumed", "note")
        assert "2 times the calendar and 2 times the cyclic loss" in note.message
        assert "no_resistance_law" not in codes(result)

    def test_a_sweep_does_not_run_the_others(self, battery, history, model, yearly):
        result = assessed(self.setup(battery, model), pulse(history, 250e3 / 1.2), yearly, first_limit_only=True)
        assert result.end_of_life_criterion == "power"
        assert "resistance_growth_decides" not in codes(result)

    @pytest.mark.parametrize(("ratio", "capacity", "most"), [(2.0, 0.8, 1.4), (3.0, 0.7, 1.9), (5.0, 0.7, 2.0)])
    def test_an_aged_day_has_the_resistance_that_its_capacity_leaves(self, battery, model, ratio, capacity, most):
        """1 + ratio * (1 - 0.8); a limit of resistance of 2 comes first where that is more."""
        setup = replace(self.setup(battery, model, ratio), limits=HealthLimits(capacity, 2.0))
        assert setup.grown_resistance == pytest.approx(most)
        cyclic = replace(setup, model=replace(setup.model, per_calendar_loss=0.0))
        assert cyclic.grown_resistance == pytest.approx(most)

    def test_a_model_of_its_own_goes_to_the_limit_and_one_without_stays(self, battery, model):
        assert battery(law=model(has_resistance=True)).grown_resistance == 2.0
        assert battery(law=model()).grown_resistance == 1.0


def section(cell, **more):
    return Battery(cell=cell, series=100, parallel=10, start_soc=0.9, price={"purchase": 1.0}, **more)


@pytest.mark.parametrize(
    ("cell", "given", "model_has_own"),
    [
        ("lfp_schimpe_2018", {}, False),
        ("lfp_power_wang_2011", {"resistance_per_cyclic_loss": 0.0}, False),
        ("lmo_xu_2018", {"resistance_per_calendar_loss": 0.5, "resistance_per_cyclic_loss": 5.0}, False),
        ("lfp_naumann_2020", {}, True),
        ("nmc_schmalstieg_2014", {}, True),
    ],
)
def test_a_model_without_resistance_has_one_by_convention(cell, given, model_has_own):
    service = Service(years=10.0, working_days_per_year=250.0, ambient_C=20.0)
    setup = battery_setup(section(cell, **given), load_cell(cell, "battery", Path()), EndOfLife(), service, Counting())
    entries = {one.key: one for one in setup.cell.provenance if one.key.startswith("study.resistance_per")}
    assert setup.model.has_resistance
    assert isinstance(setup.model, AssumedGrowth) is not model_has_own
    assert bool(entries) is not model_has_own
    if not model_has_own:
        ratios = [given.get(f"resistance_per_{part}_loss", 2.0) for part in ("calendar", "cyclic")]
        assert [setup.model.per_calendar_loss, setup.model.per_cyclic_loss] == ratios
        assert [one.value for one in entries.values()] == ratios
        assert {one.grade for one in entries.values()} == {"convention"}


def test_no_growth_where_both_ratios_are_0():
    service = Service(years=10.0, working_days_per_year=250.0, ambient_C=20.0)
    none = {"resistance_per_calendar_loss": 0.0, "resistance_per_cyclic_loss": 0.0}
    cell = load_cell("lfp_schimpe_2018", "battery", Path())
    setup = battery_setup(section("lfp_schimpe_2018", **none), cell, EndOfLife(), service, Counting())
    assert setup.model is cell.law
    assert setup.cell is cell
