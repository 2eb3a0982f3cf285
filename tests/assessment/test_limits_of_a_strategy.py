"""Limits and curtailment of whole strategies, with a battery of 400 V and a bank of 100 F to reckon by hand."""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.assessment.load_table import LoadTable
from lifetime.assessment.ranked import ranking
from lifetime.assessment.run import assess
from lifetime.assessment.strategy import assess_strategy
from lifetime.history.spec import HistoryInput
from lifetime.packs.current_table import CurrentTable
from lifetime.stress.charging import Charging
from lifetime.study.evaluation import Cost
from lifetime.study.load import Folder, resolve_study
from lifetime.study.schema import Strategy

DEMAND = HistoryInput(file="demand.csv", time="t_s", power="p_W")
COLD_TABLE = CurrentTable((-40.0, 0.0, 10.0), (("continuous", (0.0, 0.1, 1.0)), ("pulse_10s", (0.0, 0.2, 2.0))))


def split_by(**rule):
    return Strategy.model_validate({"name": "A", "demand": DEMAND.model_dump(), "split": rule})


@pytest.fixture
def setup(study_setup, battery, ultracapacitor, history):
    """Three passes a day of 60 s at 20 kW and 60 s at -20 kW, 50 A each way at 400 V."""

    def _setup(peak_A=None, charge=None, seconds=60, **more):
        demand = history(np.concatenate([np.full(seconds, 20_000.0), np.full(seconds, -20_000.0)]), "power_W")
        flat = battery(charging=Charging(50.0, 0.8), resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0)
        load = LoadTable(100.0, peak_A, None, None, charge, 250.0, 420.0, 1.0, more.pop("power_W", None))
        return study_setup(replace(flat, load=load), ultracapacitor(), histories={DEMAND: demand}, repeats=3, **more)

    return _setup


def codes(result):
    return [notice.code for notice in result.notices]


def test_braking_that_the_battery_does_not_take_is_bought_again(setup):
    # At most 20 A of charge over a second: 12 of 20 kW go to the friction brakes for 3 times 600 s, 6 kWh a day.
    # What braking would have brought to the terminals the charger brings there: 6 kWh a day, 365 days, over 0.9.
    def charged_at(study):
        return replace(study, operation=replace(study.operation, charger_efficiency=0.9))

    limited = charged_at(setup(charge=CurrentTable((-40.0,), (("pulse_1s", (0.2,)),)), seconds=600))
    result = assess_strategy(limited, split_by(rule="battery_only"), in_detail=True).result
    new = result.feasibility[0]
    assert (new.condition, new.is_met) == ("beginning_of_life", True)
    assert new.friction_kWh == pytest.approx(6.0, rel=2e-3)
    assert result.energy.friction_kWh_per_year == pytest.approx(365.0 * 6.0 / 0.9, rel=2e-3)
    assert "regeneration_to_friction_brakes" in codes(result)
    # The battery is charged with less: 20 kW out, 8 kW in.
    assert result.trip.energy_kWh == pytest.approx(3 * 600 * (20.0 - 8.0) / 3600, rel=2e-3)
    free = assess_strategy(charged_at(setup(seconds=600)), split_by(rule="battery_only"), in_detail=True).result
    assert free.energy.friction_kWh_per_year == 0.0
    # Out and back without resistance buys nothing; with the brakes it buys what they took, once.
    assert free.energy.total_kWh_per_year == pytest.approx(0.0, abs=1e-6)
    assert result.energy.total_kWh_per_year == pytest.approx(365.0 * 6.0 / 0.9, rel=2e-3)
    # Ten years of it at 0.25 a kWh, nothing discounted.
    limited.loaded.study.cost = limited.loaded.study.cost.model_copy(update={"electricity_per_kWh": 0.25})
    cost = assess_strategy(limited, split_by(rule="battery_only"), in_detail=False).result.cost
    assert cost.present_value_by_item["energy bought"] == pytest.approx(10 * 365 * 6.0 / 0.9 * 0.25, rel=2e-3)


def test_braking_that_nobody_takes_is_a_loss_where_nothing_charges_from_outside(setup):
    # The same 6 kWh a day; without a charger and without resistance the brakes' heat is all that is lost.
    limited = setup(charge=CurrentTable((-40.0,), (("pulse_1s", (0.2,)),)), seconds=600)
    drivetrain = limited.drivetrain
    battery = replace(drivetrain.battery, charging=Charging(None, 0.8))
    limited = replace(limited, drivetrain=replace(drivetrain, battery=battery))
    energy = assess_strategy(limited, split_by(rule="battery_only"), in_detail=False).result.energy
    assert energy.friction_kWh_per_year == pytest.approx(365.0 * 6.0, rel=2e-3)
    assert energy.total_kWh_per_year == pytest.approx(365.0 * 6.0, rel=2e-3)


def test_the_bank_takes_what_the_battery_does_not(setup):
    # By its rule the bank does nothing below 30 kW; asked for the 12 kW that the battery refuses it takes 720 kJ a
    # pass, 2.16 MJ a day, and from 300 to 400 V hold 3.5 MJ.
    limited = setup(charge=CurrentTable((-40.0,), (("pulse_1s", (0.2,)),)))
    rule = {"rule": "power_limit", "discharge_limit_W": 30_000.0, "charge_limit_W": 30_000.0}
    result = assess_strategy(limited, split_by(**rule), in_detail=True).result
    assert result.feasibility[0].friction_kWh == pytest.approx(0.0, abs=0.02)
    assert result.day.ultracapacitor_W[70:110] == pytest.approx(-12_000.0, rel=0.02)
    assert result.day.battery_W[70:110] == pytest.approx(-8_000.0, rel=0.02)


def test_the_bank_gives_what_the_battery_does_not(setup):
    rule = {"rule": "power_limit", "discharge_limit_W": 30_000.0, "charge_limit_W": 30_000.0}
    result = assess_strategy(setup(peak_A=40.0), split_by(**rule), in_detail=True).result
    # 4 kW for 60 s are 240 kJ a pass, and as much comes back.
    assert result.feasibility[0].is_met
    assert result.day.ultracapacitor_W[:60] == pytest.approx(4_000.0, rel=0.02)
    alone = assess_strategy(setup(peak_A=40.0), split_by(rule="battery_only"), in_detail=True).result
    # Without it 4 of 20 kW are missing for 180 s: 0.2 kWh, and no cost is given.
    assert alone.battery.life_state == "requirement_not_met"
    assert alone.life_cycle_cost is None
    new = alone.feasibility[0]
    assert (new.unserved_kWh, new.unserved_s, new.largest_gap_W) == pytest.approx((0.2, 180.0, 4_000.0), rel=1e-6)
    (said,) = (notice.message for notice in alone.battery.notices if notice.code == "cannot_deliver_when_new")
    assert "0.2 kWh of traction per day unserved for 180 s, the largest gap 4 kW at 0 s into the day" in said


def test_the_coldest_month_is_a_statement_of_its_own(setup):
    # Twelve months at 15 °C allow 1C = 100 A of charge; with one at -5 °C that month allows nothing: 3 times 60 s of 20
    # kW, 1 kWh a day, go to the friction brakes there, and the year's mean of 13.3 °C stays in the step from 10 °C.
    study = setup(charge=COLD_TABLE)
    ambient = np.full(12, 288.15)
    ambient[0] = 268.15
    study = replace(study, operation=replace(study.operation, ambient_K=ambient))
    result = assess_strategy(study, split_by(rule="battery_only"), in_detail=True).result
    found = {one.condition: one for one in result.feasibility}
    assert list(found) == ["beginning_of_life", "end_of_life", "coldest_month"]
    assert found["beginning_of_life"].friction_kWh == 0.0
    assert found["coldest_month"].friction_kWh == pytest.approx(1.0, rel=1e-6)
    (said,) = (notice.message for notice in result.notices if notice.code == "requirement_by_condition")
    assert said.endswith("in the coldest month met (1 kWh of braking per day to the friction brakes).")
    (said,) = (notice.message for notice in result.notices if notice.code == "months_with_other_limits")
    assert "in Jan 1 kWh of braking goes to the friction brakes" in said
    assert "30.4 kWh per year is bought" in said
    # Split anew for that month alone: a twelfth of 365 days, charger without loss.
    assert result.energy.friction_kWh_per_year == pytest.approx(365.0 / 12.0, rel=1e-6)


def test_what_the_day_needs_against_what_the_window_holds(study_setup, battery, history):
    # 400 V flat, 100 Ah, from 80 % down to 70 %: 10 Ah are 4 kWh; 20 kW for an hour need 20.
    demand = history(np.full(3600, 20_000.0), "power_W")
    flat = battery(
        charging=Charging(50.0, 0.8), resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0, minimum_soc=0.7
    )
    load = LoadTable(100.0, None, None, None, None, 250.0, 420.0, 1.0, None)
    setup = study_setup(replace(flat, load=load), histories={DEMAND: demand})
    result = assess_strategy(setup, split_by(rule="battery_only"), in_detail=True).result
    new = result.feasibility[0]
    assert (new.needed_kWh, new.held_kWh) == pytest.approx((20.0, 4.0))
    assert not new.is_met
    (said,) = (notice.message for notice in result.notices if notice.code == "requirement_by_condition")
    assert "the day needs 20 kWh, the window holds 4 kWh" in said


@pytest.mark.parametrize(("parallel", "breaks"), [(10, True), (14, False)])
def test_a_history_beyond_a_limit_has_figures_and_no_rank(tmp_path, parallel, breaks):
    """One strategy draws 210 A for a second, 21 A a cell of at most 20 A with ten in parallel; the other 20 A."""
    for name, peak in (("gentle", 20.0), ("harsh", 210.0)):
        rows = [0.0, peak, 10.0, -10.0, 0.0]
        lines = "\n".join(f"{place},{current}" for place, current in enumerate(rows))
        (tmp_path / f"{name}.csv").write_text(f"t_s,i_A\n{lines}\n", encoding="utf-8")
    study = {
        "title": "limits",
        "service": {"years": 10.0, "working_days_per_year": 300.0, "ambient_C": 25.0},
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 10,
            "parallel": parallel,
            "start_soc": 0.5,
            "minimum_voltage_V": 1.0,
            "price": {"purchase": 1000.0},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05, "rank_unequal_duty": True},
        "strategy": [
            {"name": name, "battery": {"file": f"{name}.csv", "time": "t_s", "current": "i_A"}}
            for name in ("harsh", "gentle")
        ],
    }
    found = assess(resolve_study(study, "study", Folder(tmp_path)))
    ranks = {one.name: one.rank for one in found.strategies}
    harsh = next(one for one in found.strategies if one.name == "harsh")
    assert harsh.life_cycle_cost is not None
    assert (harsh.breaks_limit, ranks["harsh"] is None) == (breaks, breaks)
    assert (harsh.not_ranked_reason is None) == (not breaks)
    assert ranks["gentle"] is not None
    if breaks:
        assert [one.name for one in found.strategies] == ["gentle", "harsh"]
        (said,) = (
            notice.message for notice in harsh.battery.notices if notice.code == "current_limit_exceeded_when_new"
        )
        assert "is 210 A, above its limit of 200 A by 5 %" in said


def test_a_voltage_bound_is_waived_for_nobody(tmp_path):
    """A current at 3C passes the lowest voltage when new, one at 2C does not: the second leads, whatever they cost."""
    for name, amperes in (("2C", 60.0), ("3C", 90.0)):
        lines = "\n".join(f"{place},{amperes}" for place in range(0, 61, 10))
        (tmp_path / f"{name}.csv").write_text(f"t_s,i_A\n{lines}\n", encoding="utf-8")
    study = {
        "title": "bounds",
        "service": {"years": 10.0, "working_days_per_year": 300.0, "ambient_C": 25.0},
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 10,
            "parallel": 10,
            "start_soc": 0.5,
            "resistance_ohm": 0.02,
            "minimum_voltage_V": 30.5,
            "price": {"purchase": 1000.0},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
        "strategy": [
            {"name": name, "battery": {"file": f"{name}.csv", "time": "t_s", "current": "i_A"}} for name in ("3C", "2C")
        ],
    }
    found = assess(resolve_study(study, "study", Folder(tmp_path)))
    assert [(one.name, one.rank) for one in found.strategies] == [("2C", 1), ("3C", None)]
    assert found.strategies[1].battery.life_years is not None


def ranked(results, **cost):
    keys = {"currency": "EUR", "discount_rate": 0.0, **cost}
    return ranking(results, Cost.model_validate(keys)).strategies


def test_braking_to_the_friction_brakes_costs_the_rank_where_no_price_pays_for_it(setup):
    # 6 kWh a day as above, 60 % of the 10 kWh of traction.
    limited = setup(charge=CurrentTable((-40.0,), (("pulse_1s", (0.2,)),)), seconds=600)
    one = assess_strategy(limited, split_by(rule="battery_only"), in_detail=False).result
    (unpaid,) = ranked([one])
    assert unpaid.rank is None
    assert unpaid.not_ranked_reason.startswith("6 kWh of braking per day (60 % of the traction) is taken by neither")
    (paid,) = ranked([one], electricity_per_kWh=0.2)
    assert (paid.rank, paid.not_ranked_reason) == (1, None)


def test_traction_that_nobody_serves_costs_the_rank_with_its_figure(setup):
    # 40 A of the 50 A asked for: 4 of 20 kW are missing for 3 times 600 s, 2 kWh a day.
    one = assess_strategy(setup(peak_A=40.0, seconds=600), split_by(rule="battery_only"), in_detail=False).result
    (found,) = ranked([one], electricity_per_kWh=0.2)
    assert found.rank is None
    assert "does not meet its requirement" in found.not_ranked_reason
    assert ": 2 kWh of traction per day unserved for 1,800 s, the largest gap 4 kW" in found.not_ranked_reason


def test_traction_that_a_cold_month_does_not_serve_is_bought_all_the_same(setup):
    # Below 0 °C at most 0.2C = 20 A of discharge over a second: 8 of 20 kW in one month of twelve, else all. What is
    # missing makes the strategy no cheaper than one that serves it: the energy bought is that of the year's demand.
    study = setup(seconds=600)
    load = study.drivetrain.battery.load
    cold = CurrentTable((-40.0, 0.0), (("pulse_1s", (0.2, 2.0)),))
    weak = replace(study.drivetrain.battery, load=replace(load, discharge=cold))
    ambient = np.full(12, 288.15)
    ambient[0] = 268.15
    operation = replace(study.operation, ambient_K=ambient)
    results = [
        assess_strategy(
            replace(study, drivetrain=replace(study.drivetrain, battery=one), operation=operation),
            split_by(rule="battery_only"),
            in_detail=False,
        ).result
        for one in (weak, study.drivetrain.battery)
    ]
    # 12 kW less for 3 times 600 s on a twelfth of the days.
    (said,) = (one for one in results[0].notices if one.code == "months_with_other_limits")
    assert said.severity == "warning"
    assert "in Jan 0 kWh of braking goes to the friction brakes and 6 kWh of traction per day unserved" in said.message
    assert results[0].battery.equivalent_full_cycles_per_year == results[1].battery.equivalent_full_cycles_per_year
    assert results[0].energy.total_kWh_per_year == pytest.approx(results[1].energy.total_kWh_per_year, abs=0.1)
