"""The four conventions on every measured trip, and the fast-charge protocols that no built-in model can order.

Trips: M. Steinstraeter, J. Buberger, D. Trifonov, IEEE DataPort 2020. Protocols: Severson et al., Nature Energy 4
(2019) 383: all discharge at 4 C, their rates differ in charging alone, between 3.6 and 6 C and far above any rate the
models were fitted on. Skipped where the data are not beside the repository. Run with ``-s`` to see the tables.
"""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.report.page.conventions import convention_rows, indistinct_sentences, order_sentence
from lifetime.results.conventions import CONVENTIONS
from lifetime.results.document import ResultDocument
from lifetime.study.load import Folder, resolve_study

SHARED = Path(__file__).parents[3] / "shared" / "data"
TRIPS = sorted((SHARED / "ev_trips_bmw_i3").glob("Trip*.csv"))
POLICIES = SHARED / "ageing_lfp_fastcharge" / "cycle_life_and_policy.csv"
POLICY = re.compile(r"^([\d.]+)C\((\d+)%\)-([\d.]+)C$")

pytestmark = pytest.mark.skipif(not POLICIES.is_file(), reason="measured data are not beside this repository")


def shown(document):
    print()
    for name, lives in convention_rows(document):
        print(f"  {name:24}", *(f"{life:>12}" for life in lives))
    for sentence in [order_sentence(document), *indistinct_sentences(document)]:
        print(f"  {sentence}")


def trip_study(path):
    demand = {"file": str(path), "time": "Time [s]", "current": "Battery Current [A]", "voltage": "Battery Voltage [V]"}
    demand |= {"discharge_is": "negative"}
    low_pass = {
        "rule": "low_pass",
        "time_constant_s": 10.0,
        "ultracapacitor_setpoint_V": 110.0,
        "ultracapacitor_setpoint_time_constant_s": 60.0,
    }
    return {
        "title": path.stem,
        "service": {
            "years": 10,
            "working_days_per_year": 250,
            "climate": "temperate",
            "day": {"drive_repeats": 2, "charge_c_rate": 0.2, "charge_to_soc": 0.85},
        },
        "battery": {
            "cell": "lfp_naumann_2020",
            # So large that the set, scaled, allows the 357 A that one of the trips drew.
            "cell_capacity_Ah": 80.0,
            "series": 110,
            "parallel": 1,
            "start_soc": 0.85,
            "price": {"purchase_per_kWh": 200},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p2V",
            "series": 48,
            "parallel": 1,
            "start_voltage_V": 110.0,
            "minimum_voltage_V": 64.8,
            "rest_voltage_V": 90.0,
            "price": {"purchase_per_farad_cell": 0.012},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
        "strategy": [
            {"name": "battery alone", "demand": demand, "split": {"rule": "battery_only"}},
            {"name": "low-pass, 10 s", "demand": demand, "split": low_pass},
        ],
    }


@pytest.mark.parametrize("path", TRIPS, ids=lambda path: path.stem)
def test_four_conventions_on_a_trip(path, tmp_path):
    document = ResultDocument.of(assess(resolve_study(trip_study(path), "study", Folder(tmp_path))))
    shown(document)
    assert document.convention_order is not None
    for one in document.strategies:
        lives = {
            (outcome.small_cycles, outcome.cycle_rate): outcome.battery_life_years or 50.0
            for outcome in one.conventions
        }
        assert tuple(lives) == CONVENTIONS
        # Each bound lies on its side of the other, and the study's own convention between them.
        assert lives["all", "throughput_weighted"] <= lives["all", "time_mean"] <= lives["none", "time_mean"]
        assert lives["all", "throughput_weighted"] <= lives["none", "throughput_weighted"] <= lives["none", "time_mean"]
        own = one.battery.life_years or 50.0
        assert lives["all", "throughput_weighted"] <= own <= lives["none", "time_mean"] * (1.0 + 1e-3)


def policies(most):
    """Different two-step protocols of the 2017 batches: first rate, state of charge it ends at, second rate."""
    with POLICIES.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["Batch date"].endswith("/17")]
    found = dict.fromkeys(POLICY.match(row["Charging policy"]).groups() for row in rows)
    steps = [(float(first), int(until) / 100.0, float(second)) for first, until, second in found]
    return steps[:: max(len(steps) // most, 1)][:most]


def cycle(first_C, until, second_C):
    """Current of a cycle of a 1.1 Ah cell [A], a sample every 5 s: 4 C out from 90 %, rest, back in, 1 C above 80 %."""
    parts = [(4.0, 0.80), (0.0, 0.0), (-first_C, until - 0.10), (-second_C, 0.80 - until), (-1.0, 0.10), (0.0, 0.0)]
    current = []
    for rate, moved in parts:
        steps = round(moved / abs(rate) * 3600.0 / 5.0) if rate else 60
        current += [1.1 * np.sign(rate) * moved * 3600.0 / (5.0 * steps) if rate and steps else 0.0] * steps
    return np.array([*current, 0.0])


@pytest.mark.parametrize("model", ["lfp_naumann_2020", "lfp_schimpe_2018", "lfp_power_wang_2011"])
def test_no_built_in_model_orders_fast_charging(model, tmp_path):
    strategies = []
    for first, until, second in policies(4):
        name = f"{first:g}C({100 * until:.0f}%)-{second:g}C"
        current = cycle(first, until, second)
        rows = np.column_stack([5.0 * np.arange(current.size), current])
        np.savetxt(tmp_path / f"{name}.csv", rows, delimiter=",", header="t_s,i_A", comments="", fmt="%.6f")
        history = {"file": f"{name}.csv", "time": "t_s", "current": "i_A", "interpolation": "zero_order_hold"}
        strategies.append({"name": name, "battery": history})
    study = {
        "title": "Fast charging",
        "service": {"years": 5, "working_days_per_year": 365, "ambient_C": 30, "day": {"drive_repeats": 10}},
        "battery": {
            "cell": model,
            "cell_capacity_Ah": 1.1,
            "series": 1,
            "parallel": 1,
            "start_soc": 0.9,
            "price": {"purchase": 1},
        },
        # Protocols of different length are no equal duty; here their lives are compared all the same.
        "cost": {"currency": "EUR", "discount_rate": 0, "rank_unequal_duty": True},
        "strategy": strategies,
    }
    document = ResultDocument.of(assess(resolve_study(study, "study", Folder(tmp_path))))
    shown(document)
    pairs = {frozenset(pair.strategies) for pair in document.convention_order.indistinct}
    names = [one["name"] for one in strategies]
    assert pairs == {frozenset((one, other)) for one in names for other in names if one != other}
    assert all(one.battery.life_bound is not None for one in document.strategies) == (model != "lfp_power_wang_2011")
