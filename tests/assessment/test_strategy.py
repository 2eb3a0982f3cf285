"""One strategy from its histories or its demand to a result, with sources and a demand to reckon by hand."""

from dataclasses import replace

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.assessment.strategy import assess_strategy
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.stress.day import Charging
from lifetime.study.load import Folder, resolve_study
from lifetime.study.schema import Strategy

DEMAND = HistoryInput(file="demand.csv", time="t_s", power="p_W")
BATTERY = HistoryInput(file="battery.csv", time="t_s", current="i_A")
BANK = HistoryInput(file="bank.csv", time="t_s", current="i_A")


def split_by(**rule):
    return Strategy.model_validate({"name": "A", "demand": DEMAND.model_dump(), "split": rule})


@pytest.fixture
def setup(study_setup, battery, ultracapacitor, history):
    """Three passes a day of 60 s at 20 kW and 60 s at -5 kW; histories of both sources."""
    histories = {
        DEMAND: history(np.concatenate([np.full(60, 20_000.0), np.full(60, -5_000.0)]), "power_W"),
        BATTERY: history([36.0] * 100),
        BANK: history([20.0] * 100),
    }
    flat = battery(charging=Charging(50.0, 0.8), resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0)
    return study_setup(flat, ultracapacitor(), histories=histories, repeats=3)


def test_the_battery_alone_carries_the_demand(setup):
    assessed = assess_strategy(setup, split_by(rule="battery_only"), in_detail=True)
    result = assessed.result
    assert result.ultracapacitor is None
    # 20 kW at 400 V are 50 A, -5 kW are -12.5 A.
    assert result.battery.peak_current_A == pytest.approx(50.0)
    assert result.battery.rms_current_A == pytest.approx(np.sqrt((50.0**2 + 12.5**2) / 2))
    assert result.trip.energy_kWh == pytest.approx(3 * (1.2e6 - 0.3e6) / 3.6e6)
    assert result.trip.duration_s == pytest.approx(360.0)
    assert result.trip.net_battery_charge_Ah == pytest.approx(0.0, abs=1e-9)
    assert result.day.passes == 3
    assert result.day.ultracapacitor is None
    # Without a bank it is compared with nothing, and is what others are compared with.
    assert assessed.is_battery_alone
    assert result.reference_split is None


def test_a_limit_leaves_the_rest_to_the_bank(setup):
    split = {"rule": "power_limit", "discharge_limit_W": 15_000.0, "charge_limit_W": 0.0}
    assessed = assess_strategy(setup, split_by(**split), in_detail=True)
    day = assessed.result.day
    # The bank gives 5 kW for 60 s (300 kJ) and takes them back, at every pass.
    assert day.battery_W[:60] == pytest.approx(15_000.0)
    assert day.battery_W[60:120] == pytest.approx(0.0, abs=1e-6)
    assert day.ultracapacitor_W[:60] == pytest.approx(5_000.0)
    assert assessed.demand == DEMAND
    assert assessed.outcome.end_voltage_V == pytest.approx(300.0)
    assert assessed.outcome.battery_peak_W == pytest.approx(15_000.0)
    assert assessed.outcome.battery_rms_W == pytest.approx(15_000.0 / np.sqrt(2))
    assert assessed.result.ultracapacitor.kind == "ultracapacitor"
    assert {row.part for row in day.rows} == {"battery", "ultracapacitor"}
    assert "battery_limit_passed" not in {notice.code for notice in assessed.result.notices}


def test_a_limit_that_the_bank_cannot_keep_is_said_in_detail_only(setup):
    """Between 299 and 301 V there are 60 kJ, not the 300 kJ that the limit asks of the bank."""
    bank = setup.drivetrain.ultracapacitor
    narrow = replace(bank, bank=replace(bank.bank, minimum_voltage_V=299.0, maximum_voltage_V=301.0))
    setup = replace(setup, drivetrain=replace(setup.drivetrain, ultracapacitor=narrow))
    limited = split_by(rule="power_limit", discharge_limit_W=15_000.0, charge_limit_W=0.0)
    codes = {
        in_detail: {notice.code for notice in assess_strategy(setup, limited, in_detail=in_detail).result.notices}
        for in_detail in (False, True)
    }
    assert "battery_limit_passed" in codes[True]
    assert "battery_limit_passed" not in codes[False]


def test_without_detail_there_is_no_day_and_nothing_to_compare(setup):
    split = {"rule": "power_limit", "discharge_limit_W": 15_000.0, "charge_limit_W": 0.0}
    assessed = assess_strategy(setup, split_by(**split), in_detail=False)
    assert assessed.result.day is None
    assert assessed.outcome is assessed.demand is None


def test_in_detail_every_limit_is_looked_for(study_setup, battery, history, model):
    """Resistance doubles after 5 years of 10, capacity reaches 80 % after 20: only detail looks that far."""
    year_s = 365.0 * 86_400.0
    law = model(per_second=0.01 / 0.8 / year_s, resistance_per_second=0.2 / year_s, has_resistance=True)
    demand = history(np.full(10, 100.0), "power_W")
    setup = study_setup(battery(law=law, charging=Charging(50.0, 0.8)), histories={DEMAND: demand})
    for in_detail, capacity in ((False, None), (True, pytest.approx(20.0, rel=1e-4))):
        result = assess_strategy(setup, split_by(rule="battery_only"), in_detail=in_detail).result
        years = {crossing.limit: crossing.years for crossing in result.battery.crossings}
        assert years["resistance"] == pytest.approx(5.0, rel=1e-6)
        assert years["capacity"] == capacity


def test_the_converters_loss_is_the_batterys_too(setup):
    # 20 kW behind 80 % are 25 kW at the terminals: 62.5 A at 400 V.
    split = split_by(rule="battery_only", battery_loss={"efficiency": 0.8})
    result = assess_strategy(setup, split, in_detail=False).result
    assert result.battery.peak_current_A == pytest.approx(62.5)


def test_modes_have_their_share_of_the_capacity_loss(setup):
    """Under a model of state of charge times time, modes have the share of their seconds, at the charge they have."""
    split = {"rule": "power_limit", "discharge_limit_W": 15_000.0, "charge_limit_W": 0.0}
    rows = assess_strategy(setup, split_by(**split), in_detail=True).result.day.rows
    shares = sum(row.capacity_loss_share_fraction for row in rows if row.part == "battery")
    # 360 s of driving in a day of 86,400 s. Each pass takes 0.625 Ah of 100 Ah in its first half, from 80 % down;
    # the rest of the day, but for a short charge, is spent at 80 %.
    driving = 0.8 - 0.00625 * (0.5 + 1.0 + 1.5 + 2.0 + 2.5 + 3.0) / 6.0
    assert shares == pytest.approx(360.0 * driving / (86_400.0 * 0.8), rel=5e-4)


def test_a_setpoint_pulls_the_bank(setup):
    setpoint = {"ultracapacitor_setpoint_V": 320.0, "ultracapacitor_setpoint_time_constant_s": 20.0}
    split = {"rule": "power_limit", "discharge_limit_W": 50_000.0, "charge_limit_W": 50_000.0}
    plain = assess_strategy(setup, split_by(**split), in_detail=True).outcome
    pulled = assess_strategy(setup, split_by(**split, **setpoint), in_detail=True).outcome
    assert plain.end_voltage_V == pytest.approx(300.0)
    # After 360 s, 18 time constants, the energy's distance from its setpoint is gone.
    assert pulled.end_voltage_V == pytest.approx(320.0, rel=1e-6)


def test_a_demand_beyond_a_map_is_said(setup):
    lookup = {
        "rule": "lookup",
        "demand_W": [0.0, 30_000.0],
        "ultracapacitor_voltage_V": [100.0, 400.0],
        "battery_fraction": [[1.0, 1.0], [1.0, 1.0]],
    }
    result = assess_strategy(setup, split_by(**lookup), in_detail=False).result
    (message,) = [notice.message for notice in result.notices if notice.code == "demand_beyond_map"]
    assert "in 50.0 % of its intervals" in message


def test_histories_that_are_already_split(setup):
    both = Strategy(name="H", battery=BATTERY, ultracapacitor=BANK)
    result = assess_strategy(setup, both, in_detail=True).result
    assert result.day is None
    assert result.battery.peak_current_A == pytest.approx(36.0)
    assert result.ultracapacitor.peak_current_A == pytest.approx(20.0)
    assert result.trip.duration_s == pytest.approx(300.0)
    keys = [notice.message.split(":")[0] for notice in result.notices if notice.code == "interpolation"]
    assert keys == ["battery", "ultracapacitor"]
    # A bank with a history of its own may leave its window: 300 V less 3 * 20 V stay within, so it has that limit too.
    assert "requirement" in {crossing.limit for crossing in result.ultracapacitor.crossings}
    alone = assess_strategy(setup, Strategy(name="H", battery=BATTERY), in_detail=True).result
    assert alone.ultracapacitor is None


def test_a_split_that_its_battery_cannot_deliver_has_no_day(study_setup, battery, history):
    """At most 380 V squared over 0.4 ohm, 361 kW, can be drawn; the energies of 400 kW are those of no current."""
    demand = history([4e5] * 10, "power_W")
    setup = study_setup(battery(), histories={DEMAND: demand})
    result = assess_strategy(setup, split_by(rule="battery_only"), in_detail=True).result
    assert result.battery.life_state == "requirement_not_met"
    assert result.day is None


def test_an_assessment_ranks_what_has_a_cost(tmp_path):
    """Two equal strategies share rank 1; one whose day empties the pack has no rank and stands last."""
    for name, current in (("light", 1.0), ("heavy", 100.0)):
        (tmp_path / f"{name}.csv").write_text(f"t_s,i_A\n0,{current}\n3600,{current}\n", encoding="utf-8")

    def strategy(name, file):
        return {"name": name, "battery": {"file": f"{file}.csv", "time": "t_s", "current": "i_A"}}

    study = {
        "title": "ranks",
        "service": {"years": 10.0, "working_days_per_year": 300.0, "ambient_C": 25.0},
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 10,
            "parallel": 10,
            "start_soc": 0.5,
            "price": {"purchase": 1000.0},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
        "strategy": [strategy("heavy", "heavy"), strategy("A", "light"), strategy("B", "light")],
    }
    done = []
    found = assess(resolve_study(study, "study", Folder(tmp_path)), done.append)
    assert done == ["heavy", "A", "B"]
    assert [(one.name, one.rank) for one in found.strategies] == [("A", 1), ("B", 1), ("heavy", None)]
    # What is not ranked need not compare: the heavy day is another trip.
    assert found.notices == ()


def test_two_winding_sets_by_torque_shares(study_setup, battery, ultracapacitor, tmp_path):
    """A machine of 2.2 kW at 1000 rpm, evenly split without loss: 21.0 N·m, and 2.75 A from each source of 400 V."""
    (tmp_path / "log.csv").write_text("t [s],T [Nm],n [rpm],U [V]\n0,21.0085,1000,400\n9,21.0085,1000,400\n")
    half = {"file": "log.csv", "time": "t [s]", "torque": "T [Nm]", "shaft_speed": "n [rpm]", "torque_fraction": 0.5}
    specs = [HistoryInput(**half), HistoryInput(**half, voltage="U [V]")]
    flat = battery(resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0)
    setup = study_setup(flat, ultracapacitor(), histories={spec: open_history(spec, tmp_path) for spec in specs})
    strategy = Strategy(name="A", battery=specs[0], ultracapacitor=specs[1])
    result = assess_strategy(setup, strategy, in_detail=False).result
    assert result.battery.peak_current_A == pytest.approx(2.75, rel=1e-5)
    assert result.ultracapacitor.peak_current_A == pytest.approx(2.75, rel=1e-5)


def test_a_file_has_the_same_rms_as_a_demand_and_as_a_history(study_setup, battery, history):
    """A power that runs straight from 0 to 10 kW and back has the rms 10 kW / sqrt(3): 14.4 A at 400 V."""
    power = history([0.0, 10e3, -10e3, 10e3, -10e3], "power_W", interpolation="linear")
    own = HistoryInput(file="demand.csv", time="t_s", power="p_W")
    flat = battery(charging=Charging(50.0, 0.8), resistance_ohm=0.0, open_circuit_V=lambda soc: 0.0 * soc + 400.0)
    setup = study_setup(flat, histories={DEMAND: power, own: power})
    ways = split_by(rule="battery_only"), Strategy(name="B", battery=own)
    for strategy in ways:
        result = assess_strategy(setup, strategy, in_detail=False).result
        assert result.battery.rms_current_A == pytest.approx(25.0 / np.sqrt(3.0), rel=1e-3)
