"""Every column that a study may name: used, refused, or said to be of no effect."""

import numpy as np
import pytest
from pydantic import ValidationError

from lifetime.assessment.notices.columns import column_notices
from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.strategy import assess_strategy
from lifetime.assessment.traces import demand_traces
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.split.share import MeasuredTemperature, SharedPass
from lifetime.stress.day import Charging
from lifetime.study.schema import Strategy

ALONE = {"rule": "battery_only"}
BY_SPEED = {"rule": "voltage_target", "mass_kg": 1500.0, "recovered_fraction": 0.6, "setpoint_time_constant_s": 10.0}
DRIVES = {
    "current": {"current": "i"},
    "power": {"power": "p"},
    "speed": {"speed": "v"},
    "two currents": {"charge_current": "ic", "discharge_current": "id"},
    "phases": {"phase_currents": ["ia", "ib"], "phase_voltages": ["ua", "ub"]},
    "torque": {"torque": "T", "shaft_speed": "n"},
}
USED, REFUSED = "used", "refused"
# What becomes of each column beside the one that drives the history: used, refused, or the words of the warning.
OF_DEMAND = {
    ("current", "voltage"): USED,
    ("two currents", "voltage"): USED,
    ("power", "voltage"): 'voltage = "x"',
    ("speed", "voltage"): 'voltage = "x"',
    ("phases", "voltage"): 'voltage = "x"',
    ("torque", "voltage"): 'voltage = "x"',
    ("current", "speed"): 'speed = "x"',
    ("two currents", "speed"): 'speed = "x"',
    ("power", "speed"): 'speed = "x"',
    ("phases", "speed"): 'speed = "x"',
    ("torque", "speed"): 'speed = "x"',
    **{(drive, "temperature"): USED for drive in DRIVES},
}
OF_SOURCE = {
    **{(drive, "voltage"): USED for drive in DRIVES if drive != "speed"},
    **{(drive, "temperature"): USED for drive in DRIVES if drive != "speed"},
    **{(drive, "speed"): 'speed = "x"' for drive in DRIVES if drive != "speed"},
    ("speed", "voltage"): REFUSED,
    ("speed", "temperature"): REFUSED,
}
ROLES_BESIDE = {"voltage", "temperature", "speed"}
SIGN_AND_TIME = {"time", "date", "mode"}


def history_of(drive, column, **more):
    voltage = {"voltage": "u"} if drive in ("current", "two currents") else {}
    return {"file": "log.csv", "time": "t", **voltage, **DRIVES[drive], column: "x", **more}


def said_of(strategy):
    return [notice.message for notice in column_notices(Strategy.model_validate({"name": "A", **strategy}))]


def test_the_lists_name_every_column():
    columns = {
        name for name, field in HistoryInput.model_fields.items() if (field.json_schema_extra or {}).get("column")
    }
    drives = {key for drive in DRIVES.values() for key in drive} - {"speed"}
    assert columns == drives | ROLES_BESIDE | SIGN_AND_TIME
    pairs = {(drive, role) for drive in DRIVES for role in ROLES_BESIDE if role not in DRIVES[drive]}
    assert set(OF_DEMAND) == set(OF_SOURCE) == pairs


@pytest.mark.parametrize(("beside", "expected"), OF_DEMAND.items())
def test_a_column_of_a_demand(beside, expected):
    messages = said_of({"demand": history_of(*beside), "split": ALONE})
    unused = [message for message in messages if "not used" in message]
    assert len(unused) == (expected != USED)
    assert all(f"demand: {expected} is named in the study, but not used" in message for message in unused)


@pytest.mark.parametrize("source", ["battery", "ultracapacitor"])
@pytest.mark.parametrize(("beside", "expected"), OF_SOURCE.items())
def test_a_column_of_a_source(source, beside, expected):
    strategy = {"battery": {"file": "b.csv", "time": "t", "current": "i"}, source: history_of(*beside)}
    if expected == REFUSED:
        with pytest.raises(ValidationError, match="a speed belongs to a demand"):
            said_of(strategy)
        return
    messages = said_of(strategy)
    assert len(messages) == (expected != USED)
    assert all(f"{source}: {expected} is named in the study, but not used" in message for message in messages)


def test_a_speed_is_used_where_the_rule_looks_at_it():
    messages = said_of({"demand": history_of("power", "speed"), "split": BY_SPEED})
    assert messages == []


def test_an_ambient_temperature_without_a_measured_one_is_said():
    (message,) = said_of({"battery": {"file": "b.csv", "time": "t", "current": "i", "ambient_C": 20.0}})
    assert "battery: ambient_C is named in the study, but not used" in message
    with_one = {"file": "b.csv", "time": "t", "current": "i", "ambient_C": 20.0, "temperature": "T"}
    assert said_of({"battery": with_one}) == []


def test_a_demands_temperature_is_the_batterys(battery):
    """Two passes of 100 s at 30 °C and 100 s at 40 °C, measured at 20 °C ambient."""
    setup = battery(charging=Charging(50.0, 0.8))
    ones = np.full(2, 100.0)
    shared = SharedPass(ones, 350.0 * ones, 0 * ones, 0 * ones, np.zeros(3))
    measured = MeasuredTemperature(np.array([303.15, 313.15]), 293.15)
    day = demand_traces(Drivetrain(setup), lambda _: [shared] * 2, [shared] * 2, measured).battery.new
    assert day.drive.end_measured_K == pytest.approx(313.15)
    states = day.drive.time_at_state
    assert np.sum(states.time_s * states.measured_K) / 400.0 == pytest.approx(308.15)
    # 10 K and 20 K above ambient, whatever the season; 200 s of each.
    driving = day.bins.fixed_K[: states.time_s.size]
    assert np.sum(states.time_s * driving) / 400.0 == pytest.approx(15.0)


def test_a_day_of_one_entry_repeats_the_temperature(battery):
    shared = SharedPass(np.ones(4), np.full(4, 350.0), np.zeros(4), np.zeros(4), np.zeros(5))
    measured = MeasuredTemperature(np.array([300.0, 310.0]))
    day = demand_traces(Drivetrain(battery()), lambda _: [shared], [shared], measured).battery.new
    states = day.drive.time_at_state
    assert np.sum(states.time_s * states.measured_K) / 4.0 == pytest.approx(305.0)


def test_the_result_says_that_the_demands_temperature_is_used(study_setup, battery):
    demand = HistoryInput(file="demand.csv", time="t", power="p", temperature="T")
    history = History.from_arrays(
        time_s=np.arange(101.0), power_W=np.full(101, 3500.0), temperature_K=np.full(101, 318.15)
    )
    setup = study_setup(battery(charging=Charging(50.0, 0.8)), histories={demand: history})
    strategy = Strategy.model_validate({"name": "A", "demand": demand.model_dump(), "split": ALONE})
    result = assess_strategy(setup, strategy, in_detail=False).result
    assert "measured_temperature" in {notice.code for notice in result.battery.notices}
    (note,) = [notice for notice in result.notices if notice.code == "demand_temperature"]
    assert 'the measured temperature "T" is taken as the battery\'s while driving' in note.message
