"""A year by the hour through the whole program: against every hour by itself, and which way each statement moves life.

Directions: ageing rises faster than straight with temperature (Arrhenius), so a spread around the mean costs life; a
calendar model that rises with the state of charge loses less where the pack waits empty (Naumann et al. 2018).
"""

import numpy as np
import pytest

from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.run import assess
from lifetime.assessment.traces import history_traces
from lifetime.packs.climate import hours_by_month, monthly_means_K
from lifetime.projection.duty import Duty
from lifetime.projection.years import project
from lifetime.study.load import Folder, resolve_study

HOUR = np.arange(8760)
AIR_C = 11.0 - 13.0 * np.cos(2 * np.pi * HOUR / 8760) - 5.0 * np.cos(2 * np.pi * (HOUR % 24 - 3) / 24)


def epw(values_C):
    days = [(month, day) for month, n in enumerate((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), 1)
            for day in range(1, n + 1)]  # fmt: skip
    rows = [
        f"2001,{month},{day},{hour + 1},60,x,{values_C[24 * place + hour]:.2f}"
        for place, (month, day) in enumerate(days)
        for hour in range(24)
    ]
    return "\n".join(["LOCATION,here", *["x"] * 7, *rows])


@pytest.fixture
def study(tmp_path):
    """An hour of hard driving a day, charged to 90 %, in the given surroundings."""
    current = np.where(np.arange(3601) % 60 < 20, 240.0, -20.0)
    lines = "\n".join(f"{t},{i}" for t, i in enumerate(current))
    (tmp_path / "log.csv").write_text(f"t_s,i_A\n{lines}\n", encoding="utf-8")
    (tmp_path / "here.epw").write_text(epw(AIR_C), encoding="utf-8")

    def loaded(day=None, battery=None, **service):
        data = {
            "title": "hours",
            "service": {"years": 10, "working_days_per_year": 250, **service},
            "battery": {"cell": "nmc_schmalstieg_2014", "series": 160, "parallel": 60, "start_soc": 0.9,
                        "price": {"purchase": 1}, **(battery or {})},
            "cost": {"currency": "EUR", "discount_rate": 0, "electricity_per_kWh": 0.2},
            "strategy": [{"name": "log", "battery": {"file": "log.csv", "time": "t_s", "current": "i_A"}}],
        }  # fmt: skip
        data["service"]["day"] = {"charge_c_rate": 0.3, "charge_to_soc": 0.9, **(day or {})}
        return resolve_study(data, "hours", Folder(tmp_path))

    return loaded


def battery_life(loaded):
    return assess(loaded, in_detail=False).strategies[0].battery.life_years


def test_three_temperatures_a_month_against_all_hours(study):
    loaded = study(climate="here.epw")
    setup = resolve_setups(loaded)
    battery, (history,) = setup.drivetrain.battery, loaded.histories.values()
    days = history_traces(battery, history, 1, loaded.ambient_K).days
    months = [Duty(battery.source, days, hours, 250.0, battery.counting) for hours in hours_by_month(loaded.ambient_K)]

    def every_hour(capacity, resistance):
        return np.array([battery.model.clocks(one.stress(capacity, resistance)).mean(axis=0) for one in months])

    few = setup.operation.yearly(86400.0).duty(battery.source, days, battery.counting)
    assert few.stress(1.0, 1.0).temperature_K.shape[0] == 36

    def three(capacity, resistance):
        return few.by_month(battery.model.clocks(few.stress(capacity, resistance)))

    lost = [1.0 - project(battery.model, rates, years=8).capacity_fraction[-1] for rates in (every_hour, three)]
    assert lost[1] == pytest.approx(lost[0], rel=1e-3)


def test_the_spread_costs_life_and_the_result_says_how_much(study):
    hourly = assess(study(climate="here.epw")).strategies[0].battery
    means_C = (monthly_means_K(AIR_C + 273.15) - 273.15).tolist()
    by_means = battery_life(study(ambient_C=means_C))
    assert hourly.life_years < by_means
    (said,) = (notice.message for notice in hourly.notices if notice.code == "hourly_climate")
    assert f"{by_means:.1f} years" in said
    assert f"{hourly.life_years:.1f} years" in said
    assert "shorter than" in said


def test_the_air_of_the_hour_that_is_driven(study):
    loaded = study({"drive_starts_at_hour": 14}, climate="here.epw")
    setup = resolve_setups(loaded)
    battery, (history,) = setup.drivetrain.battery, loaded.histories.values()
    days = history_traces(battery, history, 1, loaded.ambient_K).days
    duty = setup.operation.yearly(86400.0).duty(battery.source, days, battery.counting)
    stress = duty.stress(1.0, 1.0)
    driven = days[0].day.drive.time_at_state.time_s.size
    time, kelvin = stress.duration_s, stress.temperature_K
    means = [duty.by_month(time[:, part] * kelvin[:, part]).sum(axis=1) / duty.by_month(time[:, part]).sum(axis=1)
             for part in (slice(0, driven), slice(driven, -1))]  # fmt: skip
    # Without a thermal model the cells are at the air's temperature: that of 14:00 to 15:00, and of the 23 other hours.
    by_day = [hours.reshape(-1, 24) for hours in hours_by_month(loaded.ambient_K)]
    np.testing.assert_allclose(means[0], [hours[:, 14].mean() for hours in by_day])
    np.testing.assert_allclose(means[1], [np.delete(hours, 14, axis=1).mean() for hours in by_day])


def test_charging_just_in_time_gains_life(study):
    at_once = battery_life(study({"drive_starts_at_hour": 6}, ambient_C=20))
    in_time = battery_life(study({"drive_starts_at_hour": 6, "charge_ends_at_hour": 6}, ambient_C=20))
    assert in_time > at_once * 1.005


def test_an_hour_that_changes_nothing_is_named(study):
    def said(**keys):
        return {notice.code for notice in assess(study({"drive_starts_at_hour": 6}, **keys), in_detail=False).notices}

    assert "hour_not_used" in said(ambient_C=20)
    assert "hour_not_used" not in said(climate="here.epw")


def test_a_charge_that_does_not_end_in_time_is_told(study):
    loaded = study({"drive_starts_at_hour": 6, "charge_ends_at_hour": 7.5}, ambient_C=20)
    notices = assess(loaded).strategies[0].battery.notices
    assert "charging_ends_late" in {notice.code for notice in notices}


COOLANT = {"setpoint_C": 15.0, "resistance_K_per_W": 0.05}


def test_a_coolant_takes_the_season_away_and_is_paid_for(study):
    held = {"coolant": {**COOLANT, "heating_cop": 1.0, "cooling_cop": 2.0}}
    cold, steady = (
        assess(study(battery=battery, **air), in_detail=False).strategies[0]
        for battery, air in ((held, {"climate": "here.epw"}), (None, {"ambient_C": 15.0}))
    )
    assert cold.battery.life_years == pytest.approx(steady.battery.life_years, rel=1e-12)
    # By hand from the hours written in the file: 20 W/K, the pack's own heat spread over the year.
    own_W = cold.battery.energy_losses_kWh_per_year / 8.76
    missing_W = (15.0 - np.round(AIR_C, 2)) * 20.0 - own_W
    watts = np.where(missing_W > 0.0, missing_W, -missing_W / 2.0).mean()
    assert cold.energy.coolant_kWh_per_year == pytest.approx(watts * 8.76 / 0.92, rel=1e-9)
    assert cold.energy.total_kWh_per_year > steady.energy.total_kWh_per_year


def test_a_heater_alone_leaves_the_summer(study):
    heated = battery_life(study(battery={"coolant": {**COOLANT, "heating_cop": 1.0}}, climate="here.epw"))
    both = battery_life(study(battery={"coolant": {**COOLANT, "heating_cop": 1.0, "cooling_cop": 2.0}}, ambient_C=10))
    neither = battery_life(study(climate="here.epw"))
    assert heated < neither
    assert heated < both
