"""Laws of a whole assessment: heat never helps, order and cuts do not matter, every key of a study has an effect."""

import copy
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.assessment.run import assess
from lifetime.study.load import Folder, resolve_study

MINUTES = 20


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("study")
    time = np.arange(MINUTES * 60 + 1.0)
    power = 40e3 * np.sin(time / 15.0) + 25e3 * np.sin(time / 3.1) + 9e3
    power[-1] = 0.0
    np.savetxt(path / "p.csv", np.column_stack([time, power]), delimiter=",", header="t_s,p_W", comments="", fmt="%.3f")
    current = power / 500.0
    half = time.size // 2
    table = np.column_stack([time, current])
    np.savetxt(path / "i.csv", table, delimiter=",", header="t_s,i_A", comments="", fmt="%.6f")
    doubled = np.insert(table, half, table[half], axis=0)  # one sample written twice takes no time
    np.savetxt(path / "i_twice.csv", doubled, delimiter=",", header="t_s,i_A", comments="", fmt="%.6f")
    return path


def base():
    return {
        "title": "laws",
        "service": {
            "years": 12.0,
            "working_days_per_year": 250.0,
            "distance_km_per_day": 50.0,
            "ambient_C": 22.0,
            "day": {"drive_repeats": 3, "charge_c_rate": 0.3, "charge_to_soc": 0.85},
        },
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 160,
            "parallel": 30,
            "start_soc": 0.85,
            "thermal": {"resistance_K_per_W": 0.006, "heat_capacity_J_per_K": 150e3, "hot_spot_K": 2.0},
            "price": {"purchase": 15000.0, "replacement_labour": 900.0},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p1V",
            "series": 200,
            "parallel": 1,
            "start_voltage_V": 470.0,
            "minimum_voltage_V": 260.0,
            "maximum_voltage_V": 530.0,
            "rest_voltage_V": 450.0,
            "maximum_current_A": 150.0,
            "thermal": {"resistance_K_per_W": 0.03, "heat_capacity_J_per_K": 110e3, "hot_spot_K": 4.0},
            "price": {"purchase": 7000.0, "replacement_labour": 500.0},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.06, "electricity_per_kWh": 0.2},
        "strategy": [
            {
                "name": "low-pass",
                "demand": {"file": "p.csv", "time": "t_s", "power": "p_W"},
                "split": {
                    "rule": "low_pass",
                    "time_constant_s": 12.0,
                    "ultracapacitor_setpoint_V": 470.0,
                    "ultracapacitor_setpoint_time_constant_s": 90.0,
                },
            }
        ],
    }


def result(study, folder):
    return assess(resolve_study(study, "study", Folder(folder))).strategies[0]


def figures(one):
    """Everything that a key may move."""
    battery, bank, cost = one.battery, one.ultracapacitor, one.cost
    return (
        battery.life_years,
        battery.capacity_fraction_at_service_end,
        battery.resistance_ratio_at_service_end,
        battery.crossings,
        battery.energy_losses_kWh_per_year,
        battery.rms_current_A,
        bank.life_years,
        bank.crossings,
        bank.capacity_fraction_at_service_end,
        bank.rms_current_A,
        bank.energy_losses_kWh_per_year,
        None if cost is None else (cost.net_present_cost, cost.equivalent_annual_cost, cost.cost_per_km),
    )


CHANGES = [
    ("service.years", 9.0),
    ("service.working_days_per_year", 200.0),
    ("service.distance_km_per_day", 60.0),
    ("service.ambient_C", 25.0),
    ("service.day.drive_repeats", 2),
    ("service.day.charge_c_rate", 0.5),
    ("battery.cell", "lfp_schimpe_2018"),
    ("battery.cell_capacity_Ah", 3.2),
    ("battery.series", 170),
    ("battery.parallel", 36),
    ("battery.resistance_ohm", 0.2),
    ("battery.thermal.resistance_K_per_W", 0.012),
    ("battery.thermal.heat_capacity_J_per_K", 50e3),
    ("battery.thermal.hot_spot_K", 4.0),
    ("battery.price.purchase", 16000.0),
    ("battery.minimum_soc", 0.62),
    ("battery.minimum_voltage_V", 505.0),
    ("ultracapacitor.cell", "edlc_3000F_10K_x1p3"),
    ("ultracapacitor.series", 210),
    ("ultracapacitor.parallel", 2),
    ("ultracapacitor.start_voltage_V", 440.0),
    ("ultracapacitor.minimum_voltage_V", 440.0),
    ("ultracapacitor.maximum_voltage_V", 480.0),
    ("ultracapacitor.rest_voltage_V", 400.0),
    ("ultracapacitor.maximum_current_A", 60.0),
    ("ultracapacitor.fade_shape", "linear"),
    ("ultracapacitor.initial_surplus_fraction", 0.1),
    ("ultracapacitor.esr_rate_ratio", 1.5),
    ("ultracapacitor.rms_current_coefficient_per_A", 0.0075),
    ("ultracapacitor.thermal.resistance_K_per_W", 0.06),
    ("ultracapacitor.thermal.heat_capacity_J_per_K", 40e3),
    ("ultracapacitor.thermal.hot_spot_K", 8.0),
    ("ultracapacitor.price.purchase", 8000.0),
    ("end_of_life.battery_capacity", 0.75),
    ("end_of_life.battery_resistance", 1.3),
    ("end_of_life.battery_power", {"soc": 0.2, "temperature_C": -10.0, "duration_s": 10.0}),
    ("end_of_life.ultracapacitor_capacitance", 0.7),
    ("end_of_life.ultracapacitor_esr", 1.5),
    ("end_of_life.battery_longest_life_years", 3.0),
    ("end_of_life.ultracapacitor_longest_life_years", 12.0),
    ("counting.smallest_battery_depth_of_discharge", 0.02),
    ("counting.small_cycles", "all"),
    ("counting.half_weight_depth_of_discharge", 0.02),
    ("counting.cycle_rate", "throughput_weighted"),
    ("counting.averaging_s", 5.0),
    ("counting.dead_band_c_rate", 0.1),
    ("cost.discount_rate", 0.03),
    ("cost.electricity_per_kWh", 0.4),
    ("cost.residual_value", "none"),
    ("service.day.charger_efficiency", 0.8),
    ("ultracapacitor.refill_efficiency", 0.7),
    ("ultracapacitor.energy_at_rest", "lost"),
    ("ultracapacitor.standby_W", 50.0),
    ("strategy.0.split.time_constant_s", 25.0),
    ("strategy.0.split.ultracapacitor_setpoint_V", 440.0),
    ("strategy.0.split.ultracapacitor_setpoint_time_constant_s", 300.0),
]


def changed(study, place, value):
    study = copy.deepcopy(study)
    *path, last = place.split(".")
    part = study
    for key in path:
        part = part[int(key)] if isinstance(part, list) else part.setdefault(key, {})
    part[last] = value
    return study


@pytest.fixture(scope="module")
def usual(folder):
    return figures(result(base(), folder))


@pytest.mark.parametrize(("place", "value"), CHANGES, ids=[place for place, _ in CHANGES])
def test_every_key_has_an_effect(place, value, folder, usual):
    assert figures(result(changed(base(), place, value), folder)) != usual


def test_voltages_by_cell_are_those_of_the_pack_over_the_cells_in_series(folder, usual):
    """160 cells between 505 and 580 V, 200 capacitors between 260 and 530 V with a setpoint of 470 V."""
    study = base()
    bounds = {"minimum_voltage_V": 505.0, "maximum_voltage_V": 580.0}
    study["battery"] |= bounds
    bank, split = study["ultracapacitor"], study["strategy"][0]["split"]
    by_pack = figures(result(study, folder))
    assert by_pack != usual
    for section, series in ((study["battery"], 160), (bank, 200)):
        section["voltages_of"] = "cell"
        for key in section:
            if key.endswith("_voltage_V"):
                section[key] /= series
    split["ultracapacitor_setpoint_V"] /= 200
    by_cell = figures(result(study, folder))
    for place in (slice(0, 3), slice(4, 6), slice(8, 11), -1):
        assert by_cell[place] == pytest.approx(by_pack[place], rel=1e-9)
    reached = [
        {one.limit: one.years for one in (*found[3], *found[7]) if one.years is not None}
        for found in (by_cell, by_pack)
    ]
    assert reached[0] == pytest.approx(reached[1], rel=1e-9)


def test_labour_counts_where_something_is_replaced(folder):
    short = changed(base(), "end_of_life.battery_capacity", 0.93)
    more = changed(short, "battery.price.replacement_labour", 2000.0)
    assert result(short, folder).cost.replacements["battery"] > 0
    assert result(more, folder).cost.net_present_cost > result(short, folder).cost.net_present_cost


@pytest.mark.parametrize(
    ("key", "value", "direction"),
    [
        ("battery.price.price_decline_fraction_per_year", 0.05, -1),
        ("battery.price.second_life_fraction", 0.2, -1),
        ("battery.price.replacement_downtime_days", 3.0, 1),
    ],
)
def test_what_a_replacement_costs_follows_its_keys(folder, key, value, direction):
    short = changed(base(), "end_of_life.battery_capacity", 0.93)
    short = changed(changed(short, "cost.downtime_per_day", 400.0), "cost.residual_value", "none")
    before, after = result(short, folder).cost, result(changed(short, key, value), folder).cost
    assert before.replacements["battery"] > 0
    assert direction * (after.net_present_cost - before.net_present_cost) > 0.0


def test_cost_goes_by_the_longest_life_of_a_bank_that_its_model_does_not_limit(folder):
    capped = result(changed(base(), "end_of_life.ultracapacitor_longest_life_years", 2.0), folder)
    lifted = result(changed(base(), "end_of_life.ultracapacitor_longest_life_years", 50.0), folder)
    assert capped.ultracapacitor.life_state == "not_limited_by_model"
    assert lifted.ultracapacitor.life_state in ("reached", "beyond_search_limit")
    assert capped.ultracapacitor.life_years == lifted.ultracapacitor.life_years
    # A bank every two years of the service, the last one needs no successor.
    assert capped.cost.replacements["ultracapacitor"] == math.ceil(base()["service"]["years"] / 2.0) - 1
    # With a bank that is changed sooner, and so is never as worn, a battery never lives shorter.
    assert capped.battery.life_years >= lifted.battery.life_years


def test_cost_goes_by_the_longest_life_of_a_battery_that_its_model_does_not_limit(folder):
    capped = result(changed(base(), "end_of_life.battery_longest_life_years", 3.0), folder)
    lifted = result(changed(base(), "end_of_life.battery_longest_life_years", 50.0), folder)
    assert capped.battery.life_state == "not_limited_by_model"
    assert lifted.battery.life_state == "reached"
    assert capped.battery.life_years == lifted.battery.life_years
    # A pack every three years of the service, the last one needs no successor.
    assert capped.cost.replacements["battery"] == math.ceil(base()["service"]["years"] / 3.0) - 1


@given(st.floats(-5.0, 40.0), st.floats(0.5, 12.0))
@settings(max_examples=15, deadline=None)
def test_heat_never_lengthens_life(ambient_C, warmer_K):
    """Naumann's law and the doubling rule both age faster when warmer; batteries and banks alike."""
    study = changed(base(), "service.ambient_C", ambient_C)
    warm = changed(base(), "service.ambient_C", ambient_C + warmer_K)
    cool_one, warm_one = result(study, FOLDER), result(warm, FOLDER)
    for cool, hot in (
        (cool_one.battery, warm_one.battery),
        (cool_one.ultracapacitor, warm_one.ultracapacitor),
    ):
        assert (hot.life_years or 50.0) <= (cool.life_years or 50.0) + 1e-9
        assert hot.capacity_fraction_at_service_end <= cool.capacity_fraction_at_service_end + 1e-12


@pytest.fixture(scope="module", autouse=True)
def _where(folder):
    global FOLDER  # noqa: PLW0603 - hypothesis gives no fixtures per example
    FOLDER = folder


def test_a_sample_written_twice_changes_nothing(folder):
    lives = []
    for name in ("i.csv", "i_twice.csv"):
        study = base()
        study["strategy"] = [{"name": "s", "battery": {"file": name, "time": "t_s", "current": "i_A"}}]
        lives.append(result(study, folder).battery.life_years)
    assert lives[0] == pytest.approx(lives[1], rel=1e-12)


def test_order_of_strategies_does_not_matter(folder):
    study = base()
    other = {**study["strategy"][0], "name": "battery", "split": {"rule": "battery_only"}}
    one_way = assess(resolve_study({**study, "strategy": [study["strategy"][0], other]}, "s", Folder(folder)))
    other_way = assess(resolve_study({**study, "strategy": [other, study["strategy"][0]]}, "s", Folder(folder)))
    assert [one.name for one in one_way.strategies] == [one.name for one in other_way.strategies]
    assert [one.cost.net_present_cost for one in one_way.strategies] == [
        one.cost.net_present_cost for one in other_way.strategies
    ]


def test_what_the_threshold_removed_is_recorded(folder):
    small = result(changed(base(), "counting.smallest_battery_depth_of_discharge", 0.02), folder).battery
    every = result(base(), folder).battery
    assert small.small_cycles.threshold_soc == 0.02
    assert small.small_cycles.removed_cycles_per_year > 0
    assert small.small_cycles.removed_loss_fraction == pytest.approx(
        small.capacity_fraction_at_service_end - every.capacity_fraction_at_service_end, rel=1e-9
    )
    assert small.small_cycles.life_years_with_all == pytest.approx(every.life_years, rel=1e-12)


def test_different_demands_are_ranked_only_where_the_study_asks(folder):
    """15 of 20 minutes: a quarter less of the driving; two demands, and nothing says which of them is meant."""
    study = base()
    shorter = np.loadtxt(folder / "p.csv", delimiter=",", skiprows=1)[: 15 * 60]
    np.savetxt(folder / "short.csv", shorter, delimiter=",", header="t_s,p_W", comments="", fmt="%.3f")
    other = copy.deepcopy(study["strategy"][0])
    other["name"], other["demand"]["file"] = "shorter trip", "short.csv"
    two = {**study, "strategy": [study["strategy"][0], other]}
    unranked = assess(resolve_study(two, "s", Folder(folder)), in_detail=False)
    assert {one.rank for one in unranked.strategies} == {None}
    assert all("driving takes" in one.not_ranked_reason for one in unranked.strategies)
    asked = assess(resolve_study(changed(two, "cost.rank_unequal_duty", True), "s", Folder(folder)), in_detail=False)
    assert {one.rank for one in asked.strategies} == {1, 2}
    assert {one.code for one in asked.notices} == {"duty_differs"}
    # A third strategy with the first one's demand decides which duty is meant.
    third = {**study["strategy"][0], "name": "battery", "split": {"rule": "battery_only"}}
    three = assess(resolve_study({**two, "strategy": [*two["strategy"], third]}, "s", Folder(folder)), in_detail=False)
    assert [one.name for one in three.strategies if one.rank is None] == ["shorter trip"]
