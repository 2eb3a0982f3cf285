"""What each convention of counting does to battery life: pairs of duties or studies that differ in it alone.

Directions and sizes beside the figures are published or follow from the forms: small cycles count 1.5 times the life
where they are a third of all throughput (Soto et al., J. Energy Storage 55 (2022) 105343); the ageing per throughput of
Xu et al. rises twofold towards 1 % depth, that of Naumann et al. falls to a twentieth, so the first moves by a factor
and the second by per cent; a mean over time is never above a mean over throughput. Run with ``-s`` to see the table.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from lifetime.assessment.resolution import battery_setup
from lifetime.assessment.setups import YearlyDuty
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import history_traces
from lifetime.history.model import History
from lifetime.packs.load import load_cell
from lifetime.packs.pack import Pack
from lifetime.study.schema import Study

MODELS = ["lfp_naumann_2020", "lfp_schimpe_2018", "lfp_power_wang_2011", "lmo_xu_2018", "nmc_schmalstieg_2014"]
REPEATS = 8
AS_IT_IS = {"averaging_s": 0, "dead_band_c_rate": 0}


def setup(model, **counting):
    """About 40 kWh in a moderate climate, driven eight times ten minutes a day and charged at night."""
    cell = load_cell(model, "battery", Path())
    parallel = round(80.0 / Pack(cell, 1, 1).pack_capacity_Ah)
    data = {
        "title": "effects",
        "service": {
            "years": 10,
            "working_days_per_year": 300,
            "ambient_C": 25,
            "day": {"drive_repeats": REPEATS, "charge_c_rate": 0.3, "charge_to_soc": 0.9},
        },
        "battery": {
            "cell": model,
            "series": 160,
            "parallel": parallel,
            "start_soc": 0.9,
            "resistance_ohm": 0.1,
            "price": {"purchase": 1},
        },
        "cost": {"currency": "EUR", "discount_rate": 0},
        "counting": counting,
        "strategy": [{"name": "log", "battery": {"file": "log.csv", "time": "t_s", "current": "i_A"}}],
    }
    study = Study.model_validate(data)
    return battery_setup(study.battery, cell, study.end_of_life, study.service, study.counting)


@cache
def drive(per_second, noise_W=0.0):
    """Ten minutes of launch, cruise, regeneration and rest; noise evenly spread over ± its size."""
    n = 600 * per_second + 1
    time = np.arange(n) / per_second
    of_minute = time % 60.0
    power = np.select([of_minute < 12, of_minute < 35, of_minute < 42], [60e3, 15e3, -45e3], 0.0)
    noise = np.random.default_rng(3).uniform(-noise_W, noise_W, n)
    return History.from_arrays(time_s=time, power_W=power + noise, interpolation="zero_order_hold")


def life(battery, history):
    traces = history_traces(battery, history, REPEATS)
    yearly = YearlyDuty(10.0, 300.0, np.full(12, 298.15))
    result = assess_source(battery, traces, yearly, first_limit_only=True)
    assert result.life_state == "reached"
    return result.life_years


@pytest.mark.parametrize("model", MODELS)
def test_effects(model):
    usual = life(setup(model), drive(1))
    lives = {
        "noise of ±5 kW at 1 Hz": life(setup(model), drive(1, 5e3)),
        "noise of ±5 kW at 10 Hz": life(setup(model), drive(10, 5e3)),
        "10 Hz in place of 1 Hz": life(setup(model), drive(10)),
        "every small cycle": life(setup(model, small_cycles="all"), drive(1)),
        "no small cycle": life(setup(model, small_cycles="none"), drive(1)),
        "C-rate weighted by throughput": life(setup(model, cycle_rate="throughput_weighted"), drive(1)),
    }
    print(f"\n{model}: {usual:.2f} years")
    for effect, years in lives.items():
        print(f"  {effect:30} {years:6.2f} years {100 * (years / usual - 1):+6.1f} %")
    # Noise moves no model by more than 5 %, and the same signal sampled ten times as often is the same signal.
    assert lives["noise of ±5 kW at 1 Hz"] == pytest.approx(usual, rel=0.05)
    assert lives["noise of ±5 kW at 10 Hz"] == pytest.approx(usual, rel=0.05)
    assert lives["10 Hz in place of 1 Hz"] == pytest.approx(usual, rel=1e-3)
    # Less weight never shortens a life; the mean over time is the optimistic bound.
    assert lives["every small cycle"] <= usual <= lives["no small cycle"] * (1.0 + 1e-3)
    assert lives["C-rate weighted by throughput"] <= usual * (1.0 + 1e-9)


def test_noise_halves_a_life_where_every_tiny_cycle_counts():
    # Without the weight and the averaging Xu's model takes noise for cycles that age the cell most per throughput.
    battery = setup("lmo_xu_2018", small_cycles="all", **AS_IT_IS)
    assert life(battery, drive(1, 5e3)) < 0.9 * life(battery, drive(1))
