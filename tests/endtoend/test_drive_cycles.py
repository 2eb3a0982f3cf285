"""Published drive cycles as demands: speeds become powers by a stated vehicle, and rules are compared on them.

The vehicles, packs and prices are invented; the cycles are those of the US EPA and of UN GTR No. 15, and the urban
mission of a bus, in the shared data.
"""

from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.split.demand import read_demand
from lifetime.split.vehicle import Vehicle
from lifetime.study.load import resolve_study
from lifetime.sweep.cached_folder import CachedFolder

CYCLES = Path(__file__).parents[3] / "shared" / "data" / "drive_cycles"
pytestmark = pytest.mark.skipif(not CYCLES.is_dir(), reason="the shared drive cycles are not here")

CAR = {
    "mass_kg": 1600, "rolling_resistance": 0.009, "drag_area_m2": 0.65, "rotating_mass_fraction": 0.04,
    "drive_efficiency": 0.88, "recuperation_fraction": 0.9, "auxiliary_W": 400,
}  # fmt: skip
BUS = {
    "mass_kg": 22000, "rolling_resistance": 0.007, "drag_area_m2": 5.5, "rotating_mass_fraction": 0.05,
    "drive_efficiency": 0.86, "recuperation_fraction": 0.8, "auxiliary_W": 6000,
}  # fmt: skip
EPA = {"time": "cycSecs", "time_unit": "s", "speed": "cycMps", "speed_unit": "m/s"}
BUS_LOG = {"time": "time_s", "speed": "speed_kmh"}

# File, columns, vehicle, drives a day, cells in series and parallel of battery and bank, battery power limit [W].
CASES = {
    "UDDS, car": ("udds.csv", EPA, CAR, 8, (100, 24), (120, 1), 12_000),
    "WLTC 3b, car": ("wltc_3b.csv", EPA, CAR, 3, (100, 24), (120, 1), 15_000),
    "US06, car": ("us06.csv", EPA, CAR, 4, (100, 24), (120, 1), 25_000),
    "urban bus": ("bus_18m_urban_1hz.csv", BUS_LOG, BUS, 2, (190, 110), (220, 2), 90_000),
}


def study(name):
    """The study of one case as plain data."""
    file, columns, vehicle, repeats, battery, bank, limit = CASES[name]
    demand = {"file": file, "clean": ["bridge_gaps"], **columns}
    rated = 2.7 * bank[0]
    rules = {
        "battery alone": {"rule": "battery_only"},
        "low-pass, 20 s": {"rule": "low_pass", "time_constant_s": 20.0},
        "power limit": {"rule": "power_limit", "discharge_limit_W": float(limit), "charge_limit_W": 0.3 * limit,
                        "ultracapacitor_setpoint_V": 0.8 * rated, "ultracapacitor_setpoint_time_constant_s": 300.0},
        "ramp": {"rule": "ramp_limit", "rise_W_per_s": limit / 20.0, "fall_W_per_s": limit / 20.0},
    }  # fmt: skip
    return {
        "title": name,
        "service": {
            "years": 10, "working_days_per_year": 300, "ambient_C": 20,
            "day": {"drive_repeats": repeats, "charge_c_rate": 0.5, "charge_to_soc": 0.9},
        },
        "vehicle": vehicle,
        "battery": {
            "cell": "lfp_naumann_2020", "series": battery[0], "parallel": battery[1], "start_soc": 0.9,
            "thermal": {"resistance_K_per_W": 0.1 / battery[1], "heat_capacity_J_per_K": 3000.0 * battery[1]},
            "price": {"purchase_per_kWh": 150},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p2V", "series": bank[0], "parallel": bank[1],
            "start_voltage_V": 0.8 * rated, "minimum_voltage_V": 0.5 * rated, "rest_voltage_V": 0.5 * rated,
            "price": {"purchase_per_farad_cell": 0.004},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
        "strategy": [{"name": rule, "demand": demand, "split": split} for rule, split in rules.items()],
    }  # fmt: skip


def load(name):
    return resolve_study(study(name), name, CachedFolder(CYCLES))


def table():
    """Battery life and achieved share by rule, for each case: what the README shows."""
    rows = []
    for name in CASES:
        for one in sorted(assess(load(name)).strategies, key=lambda one: one.name):
            share = None if one.reference_split is None else one.reference_split.reached_capacity_loss_fraction
            rows.append((name, one.name, one.battery.life_years, share, one))
    return rows


@pytest.mark.parametrize(
    ("file", "columns", "distance_km"),
    # Lengths of the schedules: 40 CFR 86 and 1066 (7.45, 8.01 miles) and UN GTR No. 15 (23.27 km); from memory.
    [("udds.csv", EPA, 7.45 * 1.609344), ("us06.csv", EPA, 8.01 * 1.609344), ("wltc_3b.csv", EPA, 23.266)],
)
def test_distances_and_consumption(file, columns, distance_km):
    history = CachedFolder(CYCLES).history(_spec(file, columns), series=1, parallel=1)
    demand = read_demand(history, Vehicle(**CAR))
    driven_km = float(np.sum(demand.speed_m_s * demand.length_s)) / 1000.0
    assert driven_km == pytest.approx(distance_km, rel=0.005)
    # A compact electric car takes 100 to 200 Wh/km at the pack on these; common practice, no source.
    assert 100.0 < demand.energy_J / 3600.0 / driven_km < 200.0


def test_the_bus_takes_what_a_bus_takes():
    history = CachedFolder(CYCLES).history(_spec("bus_18m_urban_1hz.csv", BUS_LOG), series=1, parallel=1)
    demand = read_demand(history, Vehicle(**BUS))
    driven_km = float(np.sum(demand.speed_m_s * demand.length_s)) / 1000.0
    # Articulated city buses take 1 to 2.5 kWh/km with auxiliaries; common practice, no source.
    assert 1.0 < demand.energy_J / 3.6e6 / driven_km < 2.5


@pytest.mark.parametrize("name", CASES)
def test_no_rule_beats_the_best_and_none_is_absurd(name):
    found = {one.name: one for one in assess(load(name)).strategies}
    alone = found.pop("battery alone")
    for one in found.values():
        assert one.reference_split.reference_rms_W <= one.reference_split.battery_rms_W * (1 + 1e-9)
        assert one.reference_split.reached_capacity_loss_fraction <= 1.01
        # Published gains of battery life by hybridisation: 1.0 to 1.6.
        assert 0.95 <= one.battery.life_years / alone.battery.life_years <= 1.6


def _spec(file, columns):
    from lifetime.history.spec import HistoryInput

    return HistoryInput(file=file, clean=("bridge_gaps",), **columns)
