"""What if a key or a column lies? A wrong unit, a cell's value for a pack's, a lost signal: each is said or refused.

One sound study of a sound log, in which a single statement is wrong each time. The numbers in the messages are worked
out by hand beside them.
"""

import copy

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.errors import PackwearError
from lifetime.history.inspection.file_report import describe_file
from lifetime.study.load import Folder, resolve_study

TIME = np.arange(600.0)
CURRENT = np.where(TIME < 300.0, 40.0, -40.0)
# The pack has 0.06 ohm * 100 / 50 = 0.12 ohm, and 390 V at 90 % of a straight line from 3 to 4 V in 100 cells.
LOG = {
    "t [s]": TIME,
    "I [A]": CURRENT,
    "V [V]": 390.0 - 0.1 * CURRENT,  # 386 V discharging, 394 V charging
    "T [°C]": np.where(TIME % 50.0 < 25.0, 24.9, 25.1),  # 25.0 °C on average
}
HISTORY = {"file": "log.csv", "time": "t [s]", "current": "I [A]", "voltage": "V [V]", "temperature": "T [°C]"}
STUDY = {
    "title": "Sound",
    "service": {
        "years": 5,
        "working_days_per_year": 250,
        "ambient_C": 20,
        "day": {"drive_repeats": 2, "charge_c_rate": 0.5, "charge_to_soc": 0.9},
    },
    "battery": {
        "cell": "nmc_schmalstieg_2014",
        "series": 100,
        "parallel": 50,
        "start_soc": 0.9,
        "open_circuit": {"soc": [0.0, 1.0], "voltage_V": [3.0, 4.0]},
        "thermal": {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 200e3},
        "price": {"purchase_per_kWh": 150},
    },
    "cost": {"currency": "EUR", "discount_rate": 0.05, "electricity_per_kWh": 0.2},
    "strategy": [{"name": "As recorded", "battery": HISTORY}],
}
BY_SPEED = {
    "name": "Driven",
    "demand": {"file": "speed.csv", "time": "t [s]", "speed": "v", "speed_unit": "m/s"},
    "split": {"rule": "battery_only"},
}
VEHICLE = {"mass_kg": 1500, "rolling_resistance": 0.01, "drag_area_m2": 0.6}


def write(path, columns):
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    text = "".join(",".join(map(str, row)) + "\n" for row in rows)
    path.write_text(",".join(columns) + "\n" + text, encoding="utf-8")


@pytest.fixture
def result(tmp_path):
    """Everything said of a study of a log, after a change to either."""

    def _result(log=None, study=None, name="log.csv"):
        write(tmp_path / name, LOG | (log or {}))
        write(tmp_path / "speed.csv", {"t [s]": TIME, "v": 15.0 + 15.0 * np.sin(TIME / 60.0)})
        changed = copy.deepcopy(STUDY)
        for place, value in (study or {}).items():
            *way, last = place.split(".")
            section = changed
            for step in way:
                section = section[int(step)] if step.isdigit() else section[step]
            section[last] = value
        found = assess(resolve_study(changed, "study", Folder(tmp_path)))
        (strategy,) = found.strategies
        notices = (*found.notices, *strategy.notices, *strategy.battery.notices)
        return {notice.code: notice.message for notice in notices if notice.severity == "warning"}

    return _result


WARNED = {
    "measured_voltage_differs",
    "lost_signal",
    "hot_measurement",
    "repeated_file",
    "sign_disagrees",
}


def is_said(code):
    return code.startswith("implausible_") or code in WARNED


def test_the_sound_study_has_no_such_warning(result):
    assert not [code for code in result() if is_said(code)]


def lost(column, first, last, value):
    values = LOG[column].copy()
    values[first:last] = value
    return {column: values}


# What is wrong, in the log, in the study; the warning, and the number worked out by hand that it names.
SAID = [
    # 386,000 V + 0.12 ohm * 40 A
    ("voltage in mV", {"V [V]": 1000.0 * LOG["V [V]"]}, {}, "measured_voltage_differs", "begins at 3.86e+05 V"),
    # 200 * 3.9 V
    (
        "series of another pack",
        {},
        {"battery.series": 200},
        "measured_voltage_differs",
        "200 cells in series have 780 V",
    ),
    # 3.86 V + 0.12 ohm * 40 A
    ("voltage of a cell", {"V [V]": LOG["V [V]"] / 100.0}, {}, "measured_voltage_differs", "begins at 8.66 V"),
    # 25.0 * 1.8 + 32
    ("°F read as °C", {"T [°C]": 1.8 * LOG["T [°C]"] + 32.0}, {}, "hot_measurement", "77 °C on average"),
    # rows are counted from the header, so that sample 100 is row 102; down and up again are two jumps
    (
        "-40 °C of a lost sensor",
        lost("T [°C]", 100, 200, -40.0),
        {},
        "lost_signal",
        "row 102: the temperature jumps from",
    ),
    ("0 °C of a lost sensor", lost("T [°C]", 100, 200, 0.0), {}, "lost_signal", "(2 times)"),
    ("zeros at the end", lost("V [V]", 500, 600, 0.0), {}, "lost_signal", "drops from 394 V to 0 V"),
    ("capacity in mAh", {}, {"battery.cell_capacity_Ah": 2050}, "implausible_capacity", "2,050 Ah"),
    ("electricity per MWh", {}, {"cost.electricity_per_kWh": 200.0}, "implausible_prices", "200 EUR per kWh"),
    # 100 * 50 cells of 2.05 Ah and 3.6 V are 36.9 kWh, give or take the set's nominal voltage
    ("price per kWh for the pack", {}, {"battery.price": {"purchase": 150}}, "implausible_prices", "4.0"),
    ("price of the pack per kWh", {}, {"battery.price": {"purchase_per_kWh": 6000}}, "implausible_prices", "6,000 EUR"),
    # 50,000 km in 2 * 599 s
    ("distance in m", {}, {"service.distance_km_per_day": 50_000}, "implausible_distance", "150,000 km/h"),
    # 0.001 / 0.12
    ("resistance of a cell", {}, {"battery.resistance_ohm": 0.001}, "implausible_resistance", "0.00833 times"),
    ("resistance in milliohm", {}, {"battery.resistance_ohm": 120.0}, "implausible_resistance", "1,000 times"),
    # 200 J/K for 5000 cells of 0.045 kg
    (
        "heat capacity in kJ/K",
        {},
        {"battery.thermal.heat_capacity_J_per_K": 200.0},
        "implausible_heat_capacity",
        "0.889 J/(kg K) for 225 kg",
    ),
    (
        "open-circuit voltage of the pack",
        {},
        {"battery.open_circuit.voltage_V": [300.0, 400.0]},
        "implausible_open_circuit",
        "from 300 to 400 V",
    ),
    # 100 * 2.5 V
    ("bound of a cell", {}, {"battery.minimum_voltage_V": 2.5}, "implausible_voltage_bound", "have 250 V"),
    ("ambient in °F", {}, {"service.ambient_C": 59.0}, "implausible_ambient", "59 °C"),
    ("sign inverted", {}, {"strategy.0.battery.discharge_is": "negative"}, "sign_disagrees", "opposite"),
    # 108 km/h, at most 30 m/s, read as m/s
    (
        "km/h read as m/s",
        {"v": 3.6 * (15.0 + 15.0 * np.sin(TIME / 60.0))},
        {
            "strategy": [BY_SPEED | {"demand": BY_SPEED["demand"] | {"file": "log.csv"}}],
            "vehicle": VEHICLE,
        },
        "implausible_speed",
        "108 m/s (389 km/h)",
    ),
    (
        "mass in t",
        {},
        {"strategy": [BY_SPEED], "vehicle": VEHICLE | {"mass_kg": 1.5}},
        "implausible_vehicle_mass",
        "less than the 225 kg",
    ),
    # a mode column with C and D changed about; charge and discharge change places
    (
        "mode inverted",
        {"mode": np.where(CURRENT > 0.0, "C", "D")},
        {"strategy.0.battery": HISTORY | {"mode": "mode", "charge_modes": ["C"], "discharge_modes": ["D"]}},
        "sign_disagrees",
        "opposite",
    ),
]


@pytest.mark.parametrize(("log", "study", "code", "words"), [one[1:] for one in SAID], ids=[one[0] for one in SAID])
def test_what_is_wrong_is_said(result, log, study, code, words):
    said = result(log, study)
    assert words in said[code]


# What is wrong, in the log, in the study, and what the refusal names.
REFUSED = [
    ("kelvin read as °C", {"T [°C]": LOG["T [°C]"] + 273.15}, {}, "outside -50 to 120 °C"),
    ("error code of 16 bits", lost("T [°C]", 100, 110, 6553.5), {}, "6553.5 °C is outside"),
    (
        "power in hp",
        {"P [hp]": CURRENT},
        {"strategy.0.battery": {"file": "log.csv", "time": "t [s]", "power": "P [hp]"}},
        "hp",
    ),
    ("400 days a year", {}, {"service.working_days_per_year": 400}, "365"),
    (
        "charging for longer than a day",
        {},
        {"service.day.charge_c_rate": 1e-4, "service.day.charge_to_soc": 0.95},
        "24 h",
    ),
    ("percent for a fraction", {}, {"battery.start_soc": 90.0}, "less than or equal to 1"),
    ("time reversed", {"t [s]": TIME[::-1]}, {}, "time runs backwards"),
    (
        "a zone in some times only",
        {"stamp": np.array([f"2024-05-30T10:{s // 60:02d}:{s % 60:02d}{'Z' if s < 300 else ''}" for s in range(600)])},
        {"strategy.0.battery": HISTORY | {"time": "stamp", "time_format": "iso"}},
        "does not fit the pattern",
    ),
]


@pytest.mark.parametrize(("log", "study", "words"), [one[1:] for one in REFUSED], ids=[one[0] for one in REFUSED])
def test_what_is_wrong_is_refused(result, log, study, words):
    with pytest.raises(PackwearError, match=words):
        result(log, study)


def test_one_log_under_two_names(result, tmp_path):
    """10 minutes at 40 A out and in, once and not twice."""
    write(tmp_path / "log_1.csv", LOG)
    write(tmp_path / "log_2.csv", LOG)
    history = HISTORY | {"file": "log_*.csv", "files_follow": "one_after_another"}
    said = result(study={"strategy.0.battery": history})
    assert "log_2.csv has the same samples as log_1.csv" in said["repeated_file"]
    report = describe_file(str(tmp_path / "log_*.csv"))
    assert any("same samples" in found.message and found.place.endswith("log_2.csv") for found in report.findings)
