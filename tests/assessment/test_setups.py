"""Setups from a study's sections against pack arithmetic by hand; cell values are those printed in the shipped sets."""

from copy import deepcopy

import numpy as np
import pytest

from lifetime.assessment.resolution import resolve_setups
from lifetime.study.load import Folder, resolve_study

# lfp_naumann_2020: 3 Ah, 3.2 V, 2.0 to 3.6 V, 30 mohm. edlc_3000F_10K_0p2V: 3000 F, 2.7 V, 0.29 mohm, 2200 A.
STUDY = {
    "title": "Setups",
    "service": {
        "years": 8.0,
        "working_days_per_year": 300.0,
        "ambient_C": 25.0,
        "day": {"drive_repeats": 3, "charge_c_rate": 0.5, "charge_to_soc": 0.9},
    },
    "battery": {
        "cell": "lfp_naumann_2020",
        "series": 100,
        "parallel": 20,
        "start_soc": 0.85,
        "price": {"purchase_per_kWh": 200.0, "replacement_labour": 300.0},
    },
    "ultracapacitor": {
        "cell": "edlc_3000F_10K_0p2V",
        "series": 150,
        "parallel": 2,
        "start_voltage_V": 324.0,
        "minimum_voltage_V": 200.0,
        "rest_voltage_V": 202.5,
        "price": {"purchase_per_farad_cell": 0.01},
    },
    "end_of_life": {"battery_capacity": 0.7, "ultracapacitor_esr": 1.8},
    "counting": {"smallest_battery_depth_of_discharge": 0.01},
    "cost": {"currency": "EUR", "discount_rate": 0.05},
    "strategy": [
        {
            "name": "alone",
            "demand": {"file": "p.csv", "time": "t_s", "power": "p_W"},
            "split": {"rule": "battery_only"},
        }
    ],
}


@pytest.fixture
def setup(tmp_path):
    """Resolve the study with some sections changed."""

    def _setup(**sections):
        (tmp_path / "p.csv").write_text("t_s,p_W\n0,100\n10,100\n", encoding="utf-8")
        data = deepcopy(STUDY)
        for name, keys in sections.items():
            data[name] = None if keys is None else data.get(name, {}) | keys
        data = {name: section for name, section in data.items() if section is not None}
        return resolve_setups(resolve_study(data, "study", Folder(tmp_path)))

    return _setup


def test_the_battery_by_hand(setup):
    battery = setup().drivetrain.battery
    assert battery.kind == battery.source.kind == "battery"
    assert battery.source.capacity_As == pytest.approx(60.0 * 3600.0)
    assert battery.source.resistance_ohm == pytest.approx(0.03 * 100 / 20)
    assert (battery.source.minimum_voltage_V, battery.source.maximum_voltage_V) == pytest.approx((200.0, 360.0))
    assert (battery.source.start_soc, battery.source.rest_soc) == (0.85, 0.9)
    # The curve prints 3.295 V at half charge.
    assert battery.source.open_circuit_V(np.array([0.5])) == pytest.approx(329.5)
    assert (battery.limits.capacity_fraction, battery.limits.resistance_ratio) == (0.7, 2.0)
    assert battery.charging.current_A == pytest.approx(0.5 * 60.0)
    assert battery.charging.to_soc == 0.9
    # 60 Ah at 320 V are 19.2 kWh.
    assert battery.price.purchase == pytest.approx(19.2 * 200.0)
    assert battery.price.replacement_labour == 300.0
    assert battery.smallest_cycle_soc == 0.01


def test_the_ultracapacitor_by_hand(setup):
    bank = setup().drivetrain.ultracapacitor
    assert bank.kind == bank.source.kind == "ultracapacitor"
    assert bank.bank.capacitance_F == pytest.approx(3000.0 * 2 / 150)
    assert bank.bank.resistance_ohm == bank.source.resistance_ohm == pytest.approx(0.29e-3 * 150 / 2)
    assert bank.bank.maximum_current_A == pytest.approx(4400.0)
    # 150 cells of 2.7 V are 405 V; the state of charge is the voltage over that.
    assert (bank.bank.minimum_voltage_V, bank.bank.maximum_voltage_V) == pytest.approx((200.0, 405.0))
    assert bank.source.capacity_As == pytest.approx(40.0 * 405.0)
    assert (bank.source.start_soc, bank.source.rest_soc) == pytest.approx((0.8, 0.5))
    assert (bank.source.minimum_soc, bank.source.maximum_soc) == pytest.approx((200.0 / 405.0, 1.0))
    assert bank.source.open_circuit_V(np.array([0.5])) == pytest.approx(202.5)
    assert (bank.limits.capacity_fraction, bank.limits.resistance_ratio) == (0.8, 1.8)
    assert bank.price.purchase == pytest.approx(0.01 * 3000.0 * 300)
    assert bank.charging.current_A is None
    assert bank.start_voltage_V == 324.0
    assert bank.smallest_cycle_soc == 0.0


def test_what_the_study_states_goes_before_the_cells(setup):
    stated = setup(
        battery={"resistance_ohm": 0.2, "minimum_voltage_V": 250.0, "price": {"purchase": 9000.0}},
        ultracapacitor={"maximum_current_A": 500.0, "maximum_voltage_V": 390.0, "price": {"purchase": 4000.0}},
    ).drivetrain
    assert stated.battery.source.resistance_ohm == 0.2
    assert stated.battery.source.minimum_voltage_V == 250.0
    assert stated.battery.price.purchase == 9000.0
    assert stated.ultracapacitor.bank.maximum_current_A == 500.0
    assert stated.ultracapacitor.bank.maximum_voltage_V == 390.0
    assert stated.ultracapacitor.source.maximum_soc == pytest.approx(390.0 / 405.0)
    assert stated.ultracapacitor.price.purchase == 4000.0


def test_the_fade_shape_is_the_studys(setup):
    assert setup(ultracapacitor={"fade_shape": "square_root"}).drivetrain.ultracapacitor.model.shape == "square_root"


def test_a_battery_that_is_never_charged_stays_where_it_is(setup):
    service = STUDY["service"] | {"day": {}}
    battery = setup(service=service).drivetrain.battery
    assert battery.charging.current_A is None
    assert battery.source.rest_soc is None


def test_a_whole_log_adds_no_charging(setup):
    service = {"years": 8.0, "ambient_C": 25.0, "histories_cover": "everything"}
    found = setup(service=service | {"working_days_per_year": None, "day": {}})
    assert found.drivetrain.battery.charging.whole_log
    assert found.drivetrain.ultracapacitor.charging.whole_log
    # Half a day recorded is contained 730 times in a year.
    assert found.operation.yearly(43_200.0).runs_per_year == pytest.approx(730.0)


def test_the_operation_is_the_services(setup):
    operation = setup().operation
    assert operation.drive_repeats == 3
    yearly = operation.yearly(86_400.0)
    assert (yearly.service_years, yearly.runs_per_year) == (8.0, 300.0)
    assert yearly.ambient_K == pytest.approx(np.full(12, 298.15))


def test_a_drivetrain_without_bank(setup):
    both = setup().drivetrain
    assert both.start_voltage_V == 324.0
    alone = both.battery_alone()
    assert alone.ultracapacitor is None
    assert alone.battery is both.battery
    assert alone.start_voltage_V == 0.0
    assert setup(ultracapacitor=None).drivetrain.ultracapacitor is None


def test_a_demand_is_read_once(setup):
    found = setup()
    (strategy,) = found.loaded.study.strategy
    demand = found.demands.of(strategy.demand)
    assert demand.energy_J == pytest.approx(1000.0)
    assert found.demands.of(strategy.demand) is demand
