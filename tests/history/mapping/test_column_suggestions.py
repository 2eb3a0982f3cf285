"""Which column is suggested for which role, and where none is; measured files and small invented ones."""

import math
from pathlib import Path

import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

DATA = Path(__file__).parents[4] / "shared/data"


def shared(name):
    path = DATA / name
    if not path.exists():
        pytest.skip("the shared measured data are not here")
    return describe_file(path)


def roles(report):
    return {one.role: one.column for one in report.suggestions}


def objection(report, role, column):
    return next(one.objection for one in report.candidates if (one.role, one.column) == (role, column))


def table(columns, rows=60):
    """CSV text of invented columns, each a function of the row number; an empty text where it gives None."""
    lines = [",".join(columns)]
    for row in range(rows):
        values = (make(row) for make in columns.values())
        lines.append(",".join("" if value is None else f"{value:.6g}" for value in values))
    return "\n".join(lines) + "\n"


def amps(row):
    return 40.0 * math.sin(row / 5.0) + 10.0


def volts(row):
    return 360.0 - 0.1 * amps(row)


def seconds(row):
    return float(row)


def test_the_temperature_of_a_motor_is_not_the_packs(write):
    report = describe_file(
        write(table({"t [s]": seconds, "I_bat [A]": amps, "Motor Temp [°C]": lambda row: 60.0 + row % 7}))
    )
    assert "temperature" not in roles(report)
    assert "Motor" in objection(report, "temperature", "Motor Temp [°C]")


def test_a_switch_of_0_and_1_is_no_power(write):
    report = describe_file(write(table({"t [s]": seconds, "Power SW": lambda row: row // 20 % 2, "x": amps})))
    assert "power" not in roles(report)
    assert "switch" in objection(report, "power", "Power SW")


@pytest.mark.parametrize("name", ["Charge [C]", "Q [C]", "counter (C)", "Rate [C]"])
def test_coulombs_are_not_degrees(write, name):
    # 60 rows at 10 A and 1 s: 0 to 590 C, far above any pack's temperature, and 0 to 59 of the first rows below it.
    for scale in (1.0, 10.0):
        text = table({"t [s]": seconds, "I [A]": amps, name: lambda row, scale=scale: scale * row})
        assert "temperature" not in roles(describe_file(write(text)))


def test_the_amplitude_of_a_sweep_is_not_the_packs_current(write):
    report = describe_file(
        write(
            table({"t [s]": seconds, "Excitation Amplitude [A]": lambda row: 0.5 + row % 3, "Pack current [A]": amps})
        )
    )
    assert roles(report)["current"] == "Pack current [A]"
    report = describe_file(write(table({"t [s]": seconds, "Excitation Amplitude [A]": lambda row: 0.5 + row % 3})))
    assert "current" not in roles(report)


def test_of_columns_that_fit_equally_well_none_is_suggested_and_all_are_listed(write, tmp_path):
    columns = {f"P_{number} [kW]": lambda row, number=number: number * amps(row) for number in range(1, 29)}
    report = describe_file(write(table({"t [s]": seconds, **columns})))
    assert "power" not in roles(report)
    assert [one.column for one in report.candidates if one.role == "power"] == list(columns)
    finding = next(finding for finding in report.findings if "equally well" in finding.message)
    assert (finding.severity, finding.number) == ("warning", 28)
    assert report.study_keys["power"] == "?"
    with pytest.raises(HistoryError, match="no such column for power"):
        open_history(HistoryInput(**{**report.study_keys, "file": "log.csv", "discharge_is": "positive"}), tmp_path)


def test_power_that_is_voltage_times_current_comes_first(write):
    text = table(
        {
            "t [s]": seconds,
            "P_mech [kW]": lambda row: 3.0 * math.cos(row / 5.0),
            "P_el [kW]": lambda row: amps(row) * volts(row) / 1000.0,
            "I2 [A]": lambda row: 5.0 * math.cos(row / 3.0) + 1.0,
            "I1 [A]": amps,
            "U [V]": volts,
        }
    )
    report = describe_file(write(text))
    assert roles(report) == {"time": "t [s]", "current": "I1 [A]", "power": "P_el [kW]", "voltage": "U [V]"}
    power = next(one for one in report.candidates if one.column == "P_el [kW]")
    assert '"U [V]" times "I1 [A]"' in power.evidence


def test_a_current_whose_charge_follows_the_state_of_charge_comes_first(write):
    def soc(row):  # 10 Ah; the integral of 10 + 40 sin(row / 5) is 10 row + 200 (1 - cos(row / 5))
        return 80.0 - (10.0 * row + 200.0 * (1.0 - math.cos(row / 5.0))) / 36_000.0 * 100.0

    text = table({"t [s]": seconds, "I_a [A]": lambda row: 20.0 * math.cos(row), "I_b [A]": amps, "SOC [%]": soc})
    report = describe_file(write(text))
    assert roles(report)["current"] == "I_b [A]"
    assert "follows" in next(one.evidence for one in report.candidates if one.column == "I_b [A]")


def test_a_full_column_comes_before_an_empty_one(write):
    def nothing(row):
        return None

    text = table({"t [s]": seconds, "Battery Current [A]": nothing, "Current [A]": amps, "Battery U [V]": nothing})
    assert roles(describe_file(write(text))) == {"time": "t [s]", "current": "Current [A]"}


def test_two_columns_of_the_same_numbers_are_no_doubt(write):
    report = describe_file(write(table({"t [s]": seconds, "I [A]": amps, "I copy [A]": amps})))
    assert roles(report)["current"] == "I [A]"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("ev_trips_nissan_leaf/2022_Denver_to_Portland_day1.csv", {"current": "Pack Amps", "voltage": "Pack Volts"}),
        (
            "ev_trips_bmw_i3/TripB13.csv",
            {"current": "Battery Current [A]", "temperature": "Battery Temperature [°C]", "speed": "Velocity [km/h]"},
        ),
        ("messy_exports/sim_vehicle_18m_Urban_1Hz_first1500s.vmod", {"speed": "v_act [km/h]"}),
        ("messy_exports_2/cyc_novonix.csv", {"current": "Current (A)", "temperature": "Temperature (°C)"}),
        ("messy_exports_2/cyc_biologic_mb.csv", {"current": "I/mA", "voltage": "Ecell/V", "power": "P/W"}),
    ],
)
def test_measured_files(name, expected):
    assert roles(shared(name)).items() >= expected.items()


@pytest.mark.parametrize(
    ("name", "role", "column"),
    [
        ("ev_trips_nissan_leaf/2022_Denver_to_Portland_day1.csv", "temperature", "Motor Temp"),
        ("ev_trips_nissan_leaf/2022_Denver_to_Portland_day1.csv", "power", "Power SW"),
        ("ev_trips_bmw_i3/TripB13.csv", "power", "Heating Power CAN [kW]"),
        ("messy_exports/cycler_biologic_decimal_comma_gcpl.mpt", "current", "control/mA"),
        ("messy_exports_2/osc_rigol_ds1204b.csv", "voltage", "CH2 [Volt]"),
    ],
)
def test_columns_of_measured_files_that_are_listed_and_not_suggested(name, role, column):
    report = shared(name)
    assert objection(report, role, column)
    assert roles(report).get(role) != column


def test_28_columns_of_power_of_a_simulated_vehicle():
    # README of the file: a truck's drivetrain, engine, gearbox and axle each with its power; none is a battery's.
    report = shared("messy_exports/sim_vehicle_18m_Urban_1Hz_first1500s.vmod")
    assert "power" not in roles(report)


def test_a_temperature_next_to_a_speed_alone_may_be_the_weathers(write):
    """A demand's temperature becomes the battery's: a logger of position and weather has none of it."""
    columns = {"t [s]": seconds, "Speed [km/h]": lambda row: 30.0 + row % 9, "Temperature [°C]": lambda _: 21.4}
    report = describe_file(write(table(columns)))
    assert "temperature" not in roles(report)
    assert "may be the air's" in objection(report, "temperature", "Temperature [°C]")
    named = {"t [s]": seconds, "Speed [km/h]": seconds, "Battery Temperature [°C]": lambda _: 21.4}
    assert roles(describe_file(write(table(named))))["temperature"] == "Battery Temperature [°C]"


def test_the_whole_time_comes_before_the_time_of_a_step(write):
    """A cycler's clock that starts anew after its 1000th row, and one that does not."""
    rows = "".join(f"{t // 60 % 20:02d}:{t % 60:02d}:00,{t // 60:02d}:{t % 60:02d}:00,1\n" for t in range(2400))
    assert roles(describe_file(write("Time,Cumulative Time,I [A]\n" + rows)))["time"] == "Cumulative Time"


def test_the_unit_of_a_column_still_to_be_chosen_is_asked_for(write):
    columns = {"t [s]": seconds, "Current 1": amps, "Current 2": lambda row: 2.0 * amps(row)}
    keys = describe_file(write(table(columns))).study_keys
    assert (keys["current"], keys["current_unit"]) == ("?", "?")
