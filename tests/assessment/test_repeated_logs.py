"""A log that holds the same duty several times in a row gives the life of the duty, under every ageing model."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.assessment.resolution import battery_setup, ultracapacitor_setup
from lifetime.assessment.setups import YearlyDuty
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import history_traces
from lifetime.constants import DAYS_PER_YEAR, SECONDS_PER_DAY
from lifetime.history.model import History
from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder
from lifetime.study.schema import Study

THERMAL = {"resistance_K_per_W": 0.05, "heat_capacity_J_per_K": 60_000.0, "hot_spot_K": 3.0}
SETS = [
    (kind, path.stem)
    for folder, kind in (("batteries", "battery"), ("ultracapacitors", "ultracapacitor"))
    for path in sorted((profiles_folder() / folder).glob("*.toml"))
]


def setup_of(kind, name, thermal):
    """The source, in a study of logs of everything."""
    cell = load_cell(name, kind, Path())
    battery = {"cell": "lfp_naumann_2020", "series": 100, "parallel": 4, "start_soc": 0.5, "price": {"purchase": 1}}
    data = {
        "title": "Logs",
        "service": {"years": 1, "histories_cover": "everything", "ambient_C": 25},
        "battery": battery,
        "cost": {"currency": "EUR", "discount_rate": 0},
        # A duty of just the dead band's current would be rest to one log and load to the next.
        "counting": {"dead_band_c_rate": 0},
        "strategy": [{"name": "log", "battery": {"file": "log.csv", "time": "t_s", "current": "i_A"}}],
    }
    if kind == "battery":
        battery |= {"cell": name} | ({"thermal": THERMAL} if thermal else {})
        study = Study.model_validate(data)
        return battery_setup(study.battery, cell, study.end_of_life, study.service, study.counting)
    rated = 100 * cell.maximum_voltage_V
    data["ultracapacitor"] = {
        "cell": name,
        "series": 100,
        "parallel": 1,
        "minimum_voltage_V": 0.2 * rated,
        "start_voltage_V": 0.6 * rated,
        "rest_voltage_V": 0.6 * rated,
        "price": {"purchase": 1},
    } | ({"thermal": THERMAL} if thermal else {})
    data["strategy"][0]["ultracapacitor"] = data["strategy"][0]["battery"]
    study = Study.model_validate(data)
    return ultracapacitor_setup(study.ultracapacitor, cell, study.end_of_life, study.service)


def life_years(setup, moves, times):
    """Life under a log: states of charge reached one after the other, an hour each, and back to the start."""
    soc = np.array([0.0, *moves, 0.0])
    current = -np.diff(soc) * setup.source.capacity_As / 3600.0
    held = np.append(np.tile(np.append(current, 0.0), times), 0.0)
    history = History.from_arrays(time_s=np.arange(held.size) * 3600.0, current_A=held, interpolation="zero_order_hold")
    traces = history_traces(setup, history, 1)
    runs = DAYS_PER_YEAR * SECONDS_PER_DAY / traces.new.length_s
    return assess_source(setup, traces, YearlyDuty(1.0, runs, np.full(12, 298.15))).life_years


@pytest.mark.parametrize(("kind", "name"), SETS)
@given(
    moves=st.lists(st.integers(-30, 30).map(lambda part: part / 100), min_size=1, max_size=5).filter(any),
    times=st.integers(2, 7),
    thermal=st.booleans(),
)
@settings(deadline=None, max_examples=4)
def test_the_same_duty_several_times_in_a_row_lives_as_long(kind, name, moves, times, thermal):
    setup = setup_of(kind, name, thermal)
    once, often = life_years(setup, moves, 1), life_years(setup, moves, times)
    assert (once is None) == (often is None)
    if once is not None:
        # Time at a temperature is averaged within half a kelvin. The rate of a cycle with another nested in it is
        # averaged a little otherwise where the log begins anew: up to 5e-4 of the life seen.
        assert often == pytest.approx(once, rel=1e-3)
