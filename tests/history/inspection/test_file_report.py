"""What ``describe_file`` says of a file before any study names it."""

import json
import tomllib
from dataclasses import asdict

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.spec import HistoryInput


def places(report, severity):
    return [finding.place for finding in report.findings if finding.severity == severity]


def log(rows=50, *, sign=1):
    """An invented pack: 0.1 Ω, so that the voltage falls by 0.1 V an ampere; 20 A out, the state of charge falls."""
    lines = ["Time [s];I_bat [A];U_bat [V];T_bat [°C];SOC [%]"]
    for k in range(rows):
        amps = 20 + 10 * (k % 2)
        lines.append(f"{k};{sign * amps};{360 - 0.1 * amps};{25 + k % 3};{80 - 0.5 * k}")
    return "\n".join(lines) + "\n"


def test_a_sound_file(write):
    report = describe_file(write(log()))
    assert (report.rows, report.file_format) == (50, "CSV")
    assert "semicolon" in report.details
    assert {suggestion.role: suggestion.column for suggestion in report.suggestions} == {
        "time": "Time [s]",
        "current": "I_bat [A]",
        "voltage": "U_bat [V]",
        "temperature": "T_bat [°C]",
    }
    current = report.columns[1]
    assert (current.low, current.high, current.mean, current.unit) == (20.0, 30.0, 25.0, "A")
    assert (report.time.span, report.time.unit, report.time.gaps) == (49.0, "s", 0)
    assert report.time.median_step == pytest.approx(1.0)
    assert places(report, "error") == []
    assert all(suggestion.evidence for suggestion in report.suggestions)


@pytest.mark.parametrize(("sign", "expected"), [(1, "positive"), (-1, "negative")])
def test_the_sign_of_discharge_shows_twice(write, sign, expected):
    report = describe_file(write(log(sign=sign)))
    assert (report.sign.by_voltage, report.sign.by_soc, report.sign.agree) == (expected, expected, True)
    assert f'discharge_is = "{expected}"' in report.study_entry


def test_signs_that_disagree_are_a_warning(write):
    lines = log().splitlines()
    turned = [lines[0], *(";".join([*line.split(";")[:4], str(k)]) for k, line in enumerate(lines[1:]))]
    report = describe_file(write("\n".join(turned) + "\n"))
    assert report.sign.agree is False
    assert report.sign.sign is None
    assert 'discharge_is = "?"' in report.study_entry
    assert "file" in places(report, "warning")


def test_the_suggested_study_entry_can_be_pasted(write):
    path = write(log())
    line = tomllib.loads(describe_file(path).study_entry)["battery"]
    spec = HistoryInput(**line)
    assert (spec.file, spec.time, spec.current, spec.temperature) == (str(path), "Time [s]", "I_bat [A]", "T_bat [°C]")


def test_units_that_no_header_names_are_left_open(write):
    report = describe_file(write("time,current\n0,1\n1,2\n"))
    assert 'time_unit = "?"' in report.study_entry
    assert 'current_unit = "?"' in report.study_entry
    assert len(places(report, "warning")) == 2


def test_everything_wrong_is_found_in_one_pass(write):
    report = describe_file(
        write("time_s,current_A,T_C,name\n0,1,25,a\n1,,25,b\n0.5,2,-999,c\n2,3,25,d\n3,3,25,e\n60,3,25,f")
    )
    by_place = {finding.place: finding for finding in report.findings}
    assert by_place['row 3, column "current_A"'].number == 1
    assert by_place['column "T_C"'].number == -999.0
    assert by_place['row 4, column "time_s"'].number == 1
    assert by_place['row 7, column "time_s"'].number == 1
    assert (report.time.backward_steps, report.time.first_backward_row) == (1, 4)
    assert (report.time.largest_step, report.time.largest_step_row) == (57.0, 7)
    assert report.columns[1].missing == 1
    assert report.columns[3].kind == "text"
    assert "file" in places(report, "warning")  # the last row has no line end
    assert [finding.severity for finding in report.findings] == sorted(
        (finding.severity for finding in report.findings), key=["error", "warning", "note"].index
    )
    assert all(finding.remedy for finding in report.findings if finding.severity == "error")


def test_a_ragged_row_ends_reading_and_is_named(write):
    report = describe_file(write("time_s,current_A\n0,1\n1,2,3\n2,3\n"))
    assert places(report, "error")[0] == "row 3"


def test_no_header_and_no_rows(write):
    bare = describe_file(write("0,1.5\n1,2.5\n"))
    assert "no row with column names" in bare.findings[-1].message
    assert [column.name for column in bare.columns] == ["column 1", "column 2"]
    report = describe_file(write("time_s,current_A\n"))
    assert report.rows == 0
    assert report.time is None
    assert "file" in places(report, "error")


def test_a_file_without_time_or_current(write):
    report = describe_file(write("altitude_m,gear\n0,1\n1,2\n"))
    assert report.study_entry is None
    assert len(places(report, "error")) == 2


def test_the_pack_comes_before_other_devices(write):
    report = describe_file(write("Heater Current [A],Battery Current [A],Time [s]\n0,1,0\n0,2,1\n"))
    assert {suggestion.role: suggestion.column for suggestion in report.suggestions}["current"] == "Battery Current [A]"


def test_parquet(tmp_path):
    path = tmp_path / "log.parquet"
    columns = {"time_s": np.arange(10.0), "power_kW": np.arange(10), "note": ["a"] * 10}
    parquet.write_table(pa.table(columns), path)
    report = describe_file(path)
    assert (report.file_format, report.rows) == ("Parquet", 10)
    assert report.columns[2].kind == "text"
    assert 'power = "power_kW"' in report.study_entry
    assert report.sign is None


@pytest.mark.parametrize("content", [b"", b"\x00\x01" * 40, b"PK\x03\x04", b"PAR1", b"PAR1PAR1"])
def test_junk(write, content):
    path = write(content, name="junk.bin")
    with pytest.raises(HistoryError, match=r"junk\.bin: .+\. .+\."):
        describe_file(path)


def test_files_not_there(tmp_path):
    with pytest.raises(HistoryError, match="directory"):
        describe_file(tmp_path)
    with pytest.raises(HistoryError, match="does not exist"):
        describe_file(tmp_path / "nothing.csv")


@pytest.mark.parametrize("huge", ["1e308", "-1.7e308", "9e999"])
def test_no_infinity_or_nan_leaves_the_report(write, huge):
    rows = f"{huge},{huge},{huge}\n-1e308,-1e308,1e308\n{huge},{huge},1\n"
    report = describe_file(write("time_h,current_A,voltage_V\n" + rows))
    json.dumps(asdict(report), allow_nan=False)
