"""Times written as text; expected values are calendar arithmetic done by hand."""

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.mapping.timestamps import Timestamps, fitting_patterns


def stamped(stamps, extra=""):
    return f"stamp,current_A{extra}\n" + "".join(f"{one},{k}\n" for k, one in enumerate(stamps))


@pytest.mark.parametrize(
    ("pattern", "first", "second", "step_s"),
    [
        ("iso", "2024-05-30T23:59:59Z", "2024-05-31T00:00:01Z", 2.0),
        ("iso", "2024-02-28 23:00", "2024-02-29 00:00", 3600.0),
        ("iso", "2024-05-30T10:00:00+02:00", "2024-05-30T10:00:00+01:00", 3600.0),
        ("iso", "2024-05-30T10:00:00.250", "2024-05-30T10:00:00.750", 0.5),
        ("%d/%m/%Y %H:%M:%S", "05/03/2024 08:00:00", "17/03/2024 08:00:00", 12 * 86400.0),  # case C43
        ("%d-%b-%Y %H:%M:%S", "30-May-2024 23:59:59", "01-Jun-2024 00:00:00", 86401.0),  # case C44
        ("%m/%d/%Y %I:%M:%S %p", "01/02/2024 11:59:59 AM", "01/02/2024 12:00:01 PM", 2.0),
        ("%d.%m.%Y %H:%M:%S", "01.02.2024 00:00:00.125", "01.02.2024 00:00:00.375", 0.25),
        ("duration", "0d 23:59:59.5000", "1d 00:00:00.2500", 0.75),
        ("duration", "143:59:59", "144:02:18", 139.0),
        ("duration", "1:00", "24:00", 23 * 3600.0),
    ],
)
def test_patterns(write, read, pattern, first, second, step_s):
    history = read(write(stamped([first, second])), time="stamp", time_format=pattern, clean=["bridge_gaps"])
    assert history.duration_s == pytest.approx(step_s, abs=1e-6)


def test_C43_one_pattern_for_the_whole_column(write, read):
    path = write(stamped(["05/03/2024 08:00:00", "17/03/2024 08:00:00"]))
    with pytest.raises(HistoryError, match="does not fit the pattern") as caught:
        read(path, time="stamp", time_format="%m/%d/%Y %H:%M:%S")
    assert caught.value.row == 3


def test_stamps_are_offered_never_applied(write, read):
    with pytest.raises(HistoryError) as caught:
        read(write(stamped(["05/03/2024 08:00:00", "06/03/2024 08:00:00"])), time="stamp")
    assert "only you know which is meant" in caught.value.remedy
    with pytest.raises(HistoryError) as caught:
        read(write(stamped(["2024-03-05 08:00:00", "2024-03-06 08:00:00"])), time="stamp")
    assert 'time_format = "iso" to the study (fits)' in caught.value.remedy


def test_C47_the_hour_that_comes_twice(write, read):
    # Summer time ends on the last Sunday of October at 1:00 UTC (Directive 2000/84/EC, from memory): 27 October 2024.
    local = ["2024-10-27 01:30", "2024-10-27 02:30", "2024-10-27 02:30", "2024-10-27 03:30"]
    keys = {"time": "stamp", "time_format": "iso"}
    history = read(write(stamped(local)), time_zone="Europe/Berlin", clean=["bridge_gaps"], **keys)
    assert history.duration_s == 3 * 3600.0
    assert [block.time_s.tolist() for block in history.blocks()] == [
        [1729985400.0, 1729989000.0, 1729992600.0, 1729996200.0]  # 2024-10-26T23:30Z to 2024-10-27T02:30Z
    ]
    plain = read(write(stamped(local)), clean=["bridge_gaps"], **keys)
    assert plain.duration_s == 2 * 3600.0
    assert "switching_edges" in {notice.code for notice in plain.notices}


def test_a_logger_that_runs_through_the_night_of_the_clock_change(write, read):
    # One row every ten minutes from 0:00 summer time on: 1:50, 2:00 ... 2:50, 2:00 again ... 3:00.
    minutes = [*range(0, 180, 10), *range(120, 240, 10)]
    local = [f"2024-10-27 {m // 60:02d}:{m % 60:02d}:00" for m in minutes]
    history = read(write(stamped(local)), time="stamp", time_format="iso", time_zone="Europe/Berlin")
    steps = np.diff(next(history.blocks()).time_s)
    assert set(steps.tolist()) == {600.0}


def test_the_hour_that_is_left_out(write, read):
    # It begins on the last Sunday of March at 1:00 UTC: on 31 March 2024 clocks went from 2:00 to 3:00.
    local = ["2024-03-31 01:30", "2024-03-31 03:30"]
    keys = {"time": "stamp", "time_format": "iso", "time_zone": "Europe/Berlin"}
    assert read(write(stamped(local)), **keys).duration_s == 3600.0


def test_a_stamp_with_its_own_offset_is_no_local_time(write, read):
    path = write(stamped(["2024-10-27T01:30:00Z", "2024-10-27T02:30:00Z"]))
    with pytest.raises(HistoryError, match="does not fit"):
        read(path, time="stamp", time_format="iso", time_zone="Europe/Berlin")


def test_date_and_time_of_day_in_two_columns(write, read):
    rows = "05/25/2021,23:59:58,1\n05/25/2021,23:59:59,2\n05/26/2021,00:00:01,3\n"
    history = read(
        write("Date,Time,current_A\n" + rows),
        date="Date",
        date_format="%m/%d/%Y",
        time="Time",
        time_format="duration",
    )
    assert history.duration_s == 3.0
    assert any('on the day in "Date"' in sentence for sentence in history.record.meaning)


def test_spreadsheet_day_numbers(write, read):
    # Spreadsheets count days: 43374.5 is noon, half a day after 43374.
    history = read(
        write("day,current_A\n43374.0,1\n43374.25,2\n43374.5,2\n"), time="day", time_unit="d", clean=["bridge_gaps"]
    )
    assert history.duration_s == 43200.0


@pytest.mark.parametrize(
    ("text", "patterns"),
    [
        (["144:02:18", "00:00:01"], ["duration"]),
        (["25.12.2024 10:00:00"], ["%d.%m.%Y %H:%M:%S"]),
        (["01/02/2024 10:00:00"], ["%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S"]),
        (["01/13/2024 10:00:00", "01/02/2024 10:00:00"], ["%m/%d/%Y %H:%M:%S"]),
        (["2024-12-25T10:00:00Z"], ["iso"]),
        (["yesterday"], []),
        ([], []),
    ],
)
def test_which_patterns_fit(text, patterns):
    assert fitting_patterns(text) == patterns


@pytest.mark.parametrize("text", ["", "25:61:00", "1:2:3:4", "12:00:60", "2024-13-01", "x", "1e3"])
def test_what_is_no_time(text):
    for pattern in ("duration", "iso", "%d.%m.%Y"):
        assert np.isnan(Timestamps(pattern).numbers([text])).all()


@pytest.mark.parametrize("pattern", ["%d%d", "%f %f", "%Y-%m-%d %d", "%Q", "%", "(", "\\", "%z%Z"])
def test_a_pattern_that_is_none_fits_nothing(pattern):
    """Also where a directive stands twice, which the parser takes for a fault of its own pattern."""
    assert np.isnan(Timestamps(pattern).numbers(["12 3", "2026-01-01"])).all()


@pytest.mark.parametrize("text", ["9" * 5_000 + ":00:00", "9" * 5_000 + "d 1:00:00", "9" * 400 + ":00:00"])
def test_a_duration_of_endless_digits_is_none(text):
    """A whole number of so many digits is refused by the language, and is no number of seconds."""
    assert np.isnan(Timestamps("duration").numbers([text])).all()
