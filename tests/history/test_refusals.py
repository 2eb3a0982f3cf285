"""What a history refuses, with file, row, column and remedy. C08, C26, C28, C49, C52 and C62 are public trouble reports
re-made as small files (numpy issues 13919, 4601, 16136 and 8230; home-assistant issue 106363; asammdf issue 281;
openaq-api issue 8)."""

import numpy as np
import pytest

from lifetime.errors import HistoryError, NumberError
from lifetime.history.model import History


def refusal(read, path, **keys):
    with pytest.raises(HistoryError) as caught:
        read(path, **keys)
    error = caught.value
    assert error.file == path.name
    assert error.remedy
    assert path.name in str(error)
    return error


@pytest.mark.parametrize(
    ("field", "expected"),
    [
        ("", "is empty"),
        ("nan", 'contains "nan"'),
        ("NaN", 'contains "NaN"'),
        ("inf", 'contains "inf"'),
        ("-Infinity", 'contains "-Infinity"'),
        ("1e999", 'contains "1e999"'),
        ("abc", 'contains "abc"'),
        ("0x1F", 'contains "0x1F"'),
        ("1_000", 'contains "1_000"'),
        ("#N/A", 'contains "#N/A"'),
        ("1.2.3", 'contains "1.2.3"'),
        ("none", 'contains "none"'),
        ("١", 'contains "١"'),
    ],
)
@pytest.mark.parametrize("column", ["time_s", "current_A"])
def test_C08_what_is_no_finite_number(write, read, field, expected, column):
    row = {"time_s": "2", "current_A": "0.3", column: field}
    path = write(f"time_s,current_A\n0,0.5\n1,0.8\n{row['time_s']},{row['current_A']}\n3,0.6\n")
    error = refusal(read, path)
    assert expected in error.problem
    assert (error.row, error.column) == (4, column)
    assert "drop_bad_rows" in error.remedy


def test_a_decimal_comma_among_decimal_points_is_named(write, read):
    error = refusal(read, write("time_s;current_A\n0;1,5\n1;2.5\n"))
    assert "a decimal comma, where the rest of the file has decimal points" in error.problem
    assert (error.row, error.column) == (2, "current_A")


def test_a_comma_that_may_mark_thousands_is_not_guessed(write, read):
    error = refusal(read, write("time_s;current_A\n0;1,500\n1;2,500\n"))
    assert "could be a decimal comma or mark thousands" in error.problem
    assert 'decimal = ","' in error.remedy


def test_the_first_bad_row_is_named_whatever_its_column(write, read):
    error = refusal(read, write("time_s,current_A\n0,1\n1,x\n,2\n"))
    assert (error.row, error.column) == (3, "current_A")


def test_bad_values_in_columns_not_asked_for_do_no_harm(write, read, gather):
    history = read(write("time_s,note,current_A,soc\n0,start,1,0.5\n1,,2,\n2,ok,3,NaN\n"))
    assert gather(history)["current_A"].tolist() == [1.0, 2.0, 3.0]


@pytest.mark.parametrize("code", ["-999", "327.67", "65535", "-300", "298.15", "120.01", "-50.01", "1e30"])
def test_C52_C62_error_codes_and_mistaken_units_of_temperature(write, read, code):
    path = write(f"time_s,current_A,T [°C]\n0,1,25\n1,1,25\n2,1,{code}\n3,1,25\n")
    error = refusal(read, path, temperature="T [°C]")
    assert "-50 to 120 °C" in error.problem
    assert code in error.problem or str(float(code)) in error.problem
    assert (error.row, error.column) == (4, "T [°C]")


def test_C62_celsius_taken_for_kelvin(write, read):
    error = refusal(read, write("time_s,current_A,T_K\n0,1,25\n1,1,25\n"), temperature="T_K")
    assert "25 K is outside" in error.problem


@pytest.mark.parametrize("value", ["-50", "120", "0"])
def test_the_ends_of_the_temperature_range_are_inside(write, read, gather, value):
    path = write(f"time_s,current_A,T_C\n0,1,{value}\n1,2,{value}\n")
    assert gather(read(path, temperature="T_C"))["temperature_K"][0] == pytest.approx(float(value) + 273.15, abs=1e-12)


def test_C49_a_channel_that_starts_late_is_refused_not_held_backwards(write, read):
    rows = "".join(f"{t},5,{'40' if t >= 100 else ''}\n" for t in range(200))
    error = refusal(read, write("time_s,current_A,T_C\n" + rows), temperature="T_C")
    assert "is empty" in error.problem
    assert (error.row, error.column) == (2, "T_C")


def test_C28_time_that_runs_backwards(write, read):
    error = refusal(read, write("time_s,current_A\n0,0\n2,4\n1,2\n"))
    assert "backwards by 1 s" in error.problem
    assert (error.row, error.column) == (4, "time_s")
    assert "sort_by_time" in error.remedy


def test_time_that_restarts_late_in_a_long_file(write, read):
    times = [*range(200_000), *range(10)]
    error = refusal(read, write("time_s,current_A\n" + "".join(f"{t},1\n" for t in times)))
    assert error.row == 200_002


def test_C26_a_night_without_samples(write, read):
    error = refusal(read, write("time_s,current_A\n0,0\n52200,50\n"))
    assert "gap of 52200 s" in error.problem
    assert error.row == 3
    assert "rest_in_gaps" in error.remedy
    assert "bridge_gaps" in error.remedy


def test_a_gap_of_more_than_ten_steps(write, read):
    times = [0, 1, 2, 3, 14, 15, 16, 40, 41]
    error = refusal(read, write("time_s,current_A\n" + "".join(f"{t},1\n" for t in times)))
    assert "gap of 24 s" in error.problem
    assert "longest of 2" in error.problem
    assert error.row == 9


def test_a_gap_of_exactly_ten_steps_is_sampling(write, read):
    times = [f"{0.1 * k:.1f}" for k in (0, 1, 2, 3, 13, 14, 15)]
    assert read(write("time_s,current_A\n" + "".join(f"{t},1\n" for t in times))).samples == 7


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("", "is empty"),
        ("\n\n \n", "is empty"),
        ("\ufeff", "is empty"),
        ("time_s,current_A\n", "no data row"),
        ("time_s,current_A", "no data row"),
        ("time_s,current_A\n\n\n", "no data row"),
        ("time_s,current_A\n0,1\n", "only one row"),
        ("time_s,current_A\n5,1\n5,2\n5,3\n", "no time passes"),
        ("time_s,current_A\n1e12,1\n2e12,2\n", "-1e11 to 1e11 s"),
        ("\x00\x01\x02" * 50, "binary"),
        ("PK\x03\x04" + "x" * 50, "archive is cut"),
    ],
)
def test_files_without_a_history(write, read, content, expected):
    assert expected in refusal(read, write(content)).problem


def test_milliseconds_since_1970_taken_for_seconds(write, read):
    error = refusal(read, write("time_s,current_A\n1718000000001,1\n1718000000002,2\n"))
    assert "outside -1e11 to 1e11 s" in error.problem


def test_a_missing_column_lists_those_there_and_suggests_the_nearest(write, read):
    error = refusal(read, write("time_s,I_bat [A],U_bat [V]\n0,1,2\n1,1,2\n"), current="I_batt [A]")
    assert '"time_s", "I_bat [A]", "U_bat [V]"' in error.problem
    assert 'Did you mean "I_bat [A]"?' in error.remedy
    assert error.column == "I_batt [A]"


def test_column_names_match_exactly(write, read):
    error = refusal(read, write("Time_s,current_A\n0,1\n1,2\n"))
    assert 'Did you mean "Time_s"?' in error.remedy


def test_a_file_without_a_header(write, read):
    assert "The file has no header" in refusal(read, write("0.0,10\n0.1,20\n")).remedy


def test_a_name_that_stands_twice_is_refused_only_when_asked_for(write, read):
    path = write("time_s,T_C,T_C,current_A\n0,1,2,3\n1,1,2,3\n")
    assert "2 columns" in refusal(read, path, temperature="T_C").problem
    assert read(path).samples == 2


def test_units_are_never_guessed(write, read):
    path = write("t,I,temp\n0,1,25\n1,2,25\n")
    assert 'time_unit = "s"' in refusal(read, path, time="t", current="I").remedy
    assert "current_unit" in refusal(read, path, time="t", current="I", time_unit="s").remedy
    units = {"time_unit": "s", "current_unit": "A"}
    assert "temperature_unit" in refusal(read, path, time="t", current="I", temperature="temp", **units).remedy
    assert read(path, time="t", current="I", **units).record.columns[1].unit_from == "study"


def test_files_that_are_not_there(tmp_path, read):
    assert "does not exist" in refusal(read, tmp_path / "nothing.csv").problem
    (tmp_path / "folder").mkdir()
    assert "directory" in refusal(read, tmp_path / "folder").problem


def test_a_file_name_no_system_accepts(tmp_path, read):
    with pytest.raises(HistoryError, match="cannot be read"):
        read(tmp_path / "a\0b.csv")


class TestArrays:
    def test_the_same_checks_as_for_files(self):
        with pytest.raises(HistoryError, match="backwards") as caught:
            History.from_arrays(time_s=np.array([0.0, 2.0, 1.0]), current_A=np.zeros(3), label="bench")
        assert (caught.value.file, caught.value.row) == ("bench", 4)
        with pytest.raises(HistoryError, match="finite number"):
            History.from_arrays(time_s=np.arange(3.0), current_A=np.array([0.0, np.nan, 1.0]))
        with pytest.raises(HistoryError, match="-50 to 120"):
            History.from_arrays(time_s=np.arange(2.0), current_A=np.ones(2), temperature_K=np.full(2, 25.0))
        with pytest.raises(HistoryError, match="gap"):
            History.from_arrays(time_s=np.array([0.0, 1.0, 2.0, 100.0]), current_A=np.ones(4))
        with pytest.raises(HistoryError, match="no data row"):
            History.from_arrays(time_s=np.empty(0), current_A=np.empty(0))

    def test_shapes_and_drive(self):
        with pytest.raises(NumberError, match="exactly one"):
            History.from_arrays(time_s=np.arange(2.0))
        with pytest.raises(NumberError, match="exactly one"):
            History.from_arrays(time_s=np.arange(2.0), current_A=np.ones(2), power_W=np.ones(2))
        with pytest.raises(NumberError, match="equally long"):
            History.from_arrays(time_s=np.arange(2.0), current_A=np.ones(3))

    def test_later_writes_to_the_arrays_do_no_harm(self):
        current = np.ones(3)
        history = History.from_arrays(time_s=np.arange(3.0), current_A=current)
        current[:] = 99.0
        assert next(history.blocks()).current_A.tolist() == [1.0, 1.0, 1.0]
