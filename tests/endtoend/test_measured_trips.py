"""Measured car trips through the whole program: as measured, and with their power shared anew over a small bank.

Data: M. Steinstraeter, J. Buberger, D. Trifonov, "Battery and Heating Data in Real Driving Cycles", IEEE DataPort,
2020: 96 cells in series, 60 Ah, negative current is discharge. Skipped where the data are not beside the repository.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.packs.locate import profiles_folder
from lifetime.stress.intervals import intervals
from lifetime.study.load import Folder, resolve_study

TRIPS = Path(__file__).parents[3] / "shared" / "data" / "ev_trips_bmw_i3"
NAMES = ["TripA01", "TripA04", "TripB13", "TripB26"]

pytestmark = pytest.mark.skipif(not TRIPS.is_dir(), reason="measured trips are not beside this repository")


def columns(name):
    """Trip columns read with the standard library alone, independent of our reader; NaN where SoC is empty."""
    with (TRIPS / f"{name}.csv").open(encoding="latin-1", newline="") as file:
        rows = list(csv.reader(file, delimiter=";"))
    header = [cell.strip() for cell in rows[0]]
    wanted = ["Time [s]", "Battery Voltage [V]", "Battery Current [A]", "SoC [%]"]
    places = [header.index(name) for name in wanted]
    return np.array([[float(row[place].strip() or "nan") for place in places] for row in rows[1:] if row]).T


def spec(name, **more):
    return {
        "file": str(TRIPS / f"{name}.csv"),
        "time": "Time [s]",
        "current": "Battery Current [A]",
        "voltage": "Battery Voltage [V]",
        "temperature": "Battery Temperature [°C]",
        "discharge_is": "negative",
        **more,
    }


def vehicle_cell(folder):
    """A set for a vehicle cell: the shipped one for NMC with 1.2 mOhm and 400 A of a 78 Ah cell, per 2.05 Ah."""
    text = (profiles_folder() / "batteries" / "nmc_schmalstieg_2014.toml").read_text(encoding="utf-8")
    for key, small, large in (
        ("resistance_ohm", "0.060", 0.0012 * 78 / 2.05),
        ("maximum_current_A", "6.0", 400 * 2.05 / 78),
    ):
        assert f"{key} = {{ value = {small}," in text
        text = text.replace(f"{key} = {{ value = {small},", f"{key} = {{ value = {large},")
    (folder / "vehicle_cell.toml").write_text(text, encoding="utf-8")
    return "vehicle_cell.toml"


def study(strategy, start_soc, cell):
    return {
        "title": "Measured trip",
        "service": {
            "years": 10,
            "working_days_per_year": 250,
            "distance_km_per_day": 20,
            "climate": "temperate",
            "day": {"drive_repeats": 2, "charge_c_rate": 0.2, "charge_to_soc": start_soc},
        },
        "battery": {
            "cell": cell,
            "cell_capacity_Ah": 60.0,
            "series": 96,
            "parallel": 1,
            "start_soc": start_soc,
            "thermal": {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 150e3},
            "price": {"purchase_per_kWh": 200},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p2V",
            "series": 48,
            "parallel": 1,
            "start_voltage_V": 110.0,
            "minimum_voltage_V": 64.8,
            "rest_voltage_V": 90.0,
            "thermal": {"resistance_K_per_W": 0.07, "heat_capacity_J_per_K": 29e3},
            "price": {"purchase_per_farad_cell": 0.012},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05, "electricity_per_kWh": 0.2},
        "strategy": strategy,
    }


@pytest.mark.parametrize("name", NAMES)
def test_counted_soc_follows_the_logged_soc_within_half_a_point(name):
    time, _, _, logged = columns(name)
    history = open_history(HistoryInput(**spec(name)), TRIPS)
    runs = list(intervals(history))
    drawn_Ah = np.concatenate([[0.0], np.cumsum(np.concatenate([run.mean * run.length_s for run in runs]))]) / 3600.0
    at = np.concatenate([[0.0], np.cumsum(np.concatenate([run.length_s for run in runs]))])
    counted = logged[0] - 100.0 * np.interp(time - time[0], at, drawn_Ah) / 60.0
    assert np.nanmax(np.abs(counted - logged)) < 0.5
    assert np.count_nonzero(np.isfinite(logged)) > 0.99 * logged.size


@pytest.mark.parametrize("name", NAMES)
def test_trip_as_measured_and_shared_anew(name, tmp_path):
    time, voltage, current, logged = columns(name)
    power = tmp_path / "power.csv"
    rows = np.column_stack([time, -voltage * current])
    np.savetxt(power, rows, delimiter=",", header="t_s,p_W", comments="", fmt="%.6f")
    start = logged[0] / 100.0
    demand = {"file": str(power), "time": "t_s", "power": "p_W"}
    strategies = [
        {"name": "as measured", "battery": spec(name)},
        {"name": "battery alone", "demand": demand, "split": {"rule": "battery_only"}},
        {
            "name": "low-pass 10 s",
            "demand": demand,
            "split": {
                "rule": "low_pass",
                "time_constant_s": 10.0,
                "ultracapacitor_setpoint_V": 110.0,
                "ultracapacitor_setpoint_time_constant_s": 60.0,
            },
        },
    ]
    result = assess(resolve_study(study(strategies, start, vehicle_cell(tmp_path)), "study", Folder(tmp_path)))
    by_name = {one.name: one for one in result.strategies}
    measured, alone, shared = (by_name[one["name"]] for one in strategies)

    # With a typical resistance some measured currents pass a voltage bound; then that strategy has no rank.
    # The set scales to 308 A; where the car drew up to 357 A a split does not meet its requirement with it.
    beyond = {one.name for one in result.strategies if one.life_cycle_cost is None}
    assert beyond in (set(), {"battery alone", "low-pass 10 s"})
    ranked = [one.rank for one in result.strategies if not one.breaks_limit and one.name not in beyond]
    assert sorted(ranked) == list(range(1, len(ranked) + 1))
    assert measured.breaks_limit == (measured.battery.peak_current_A > 308.0)
    assert not alone.breaks_limit
    assert not shared.breaks_limit
    for one in result.strategies:
        life = one.battery.life_years
        assert one.name in beyond or life is None or 1.0 < life <= 50.0
        assert one.name in beyond or one.cost.net_present_cost > 0.0
    # The log's own energy, added up by numpy: our trip figures are per day of two trips.
    energy_kWh = np.trapezoid(-voltage * current, time) / 3.6e6
    assert measured.trip.energy_kWh == pytest.approx(2.0 * energy_kWh, rel=2e-3)
    unserved_kWh = alone.feasibility[0].unserved_kWh - alone.feasibility[0].friction_kWh
    assert alone.trip.energy_kWh + unserved_kWh == pytest.approx(2.0 * energy_kWh, rel=2e-3)
    # The same work, but for what the friction brakes took of the one and of the other.
    works = [
        one.trip.energy_kWh - one.feasibility[0].friction_kWh + one.feasibility[0].unserved_kWh
        for one in (shared, alone)
    ]
    assert works[0] == pytest.approx(works[1], rel=1e-5)
    # The published law NMC-B is blind to current amplitude, and says so; the bank still takes throughput and heat off.
    assert any("current amplitude" in words for words in shared.battery.not_modelled)
    assert shared.battery.rms_current_A < alone.battery.rms_current_A
    assert shared.battery.peak_current_A <= alone.battery.peak_current_A
    assert shared.battery.throughput_Ah_per_year < alone.battery.throughput_Ah_per_year
    assert shared.ultracapacitor is not None
    assert shared.ultracapacitor.throughput_Ah_per_year > 0.0
