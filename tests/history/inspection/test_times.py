"""Which column is the time, and times coarser than the rows, of another clock, or of a clock that was put back."""

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file


def suggested(path, role="time"):
    return next(found for found in describe_file(path).suggestions if found.role == role)


def charge_Ah(values):
    steps = np.diff(values["time_s"])
    return float(np.sum(steps * 0.5 * (values["current_A"][1:] + values["current_A"][:-1])) / 3600.0)


def test_a_counter_in_minutes_is_not_the_time(write):
    """Named like the current, and with a unit of time; but it moves once a minute, and the other column every row."""
    rows = "".join(f"{t},{t // 60},{t % 9},{300 - t % 9}\n" for t in range(600))
    header = "time [s],BMS.Pack.ChargeTime [min],BMS.Pack.Current [A],BMS.Pack.Voltage [V]\n"
    report = describe_file(write(header + rows))
    assert report.time.column == "time [s]"
    assert report.time.span == 599.0


def test_a_clock_that_starts_anew_at_each_step_is_not_the_time(write):
    rows = "".join(f"{t % 100},{t},{t % 9}\n" for t in range(600))
    assert suggested(write("Elapsed Total Time [s],t [s],I [A]\n" + rows)).column == "t [s]"


def test_a_column_that_never_moves_is_not_the_time(write):
    rows = "".join(f"7,{t % 9}\n" for t in range(600))
    report = describe_file(write("Time of calibration [s],I [A]\n" + rows))
    assert report.time is None
    assert any("no column looks like time" in found.message for found in report.findings)


def minute_stamps(first_s=0, seconds=1200):
    """1 Hz with stamps of whole minutes; about 100 A."""
    return "Timestamp,current_A\n" + "".join(
        f"2024-05-30 10:{t // 60:02d},{100 + 0.001 * (t % 2)}\n" for t in range(first_s, first_s + seconds)
    )


@pytest.mark.parametrize(("first_s", "seconds"), [(0, 1200), (37, 1200), (40, 1210)])
def test_stamps_of_whole_minutes_on_a_log_of_seconds(write, read, gather, first_s, seconds):
    """100 A for 1200 s is 33.3 Ah; read as switching edges nearly nothing of it would be left."""
    path = write(minute_stamps(first_s, seconds))
    found = next(found for found in describe_file(path).findings if "coarser than the rows come" in found.message)
    assert found.severity == "error"
    assert "spread_times" in found.remedy
    with pytest.raises(HistoryError, match="coarser than the rows come") as caught:
        read(path, time="Timestamp", time_format="iso")
    assert "spread_times" in caught.value.remedy
    history = read(path, time="Timestamp", time_format="iso", clean=["spread_times"])
    values = gather(history)
    assert charge_Ah(values) == pytest.approx(100.0 * (seconds - 1) / 3600.0, rel=1e-4)
    assert np.diff(values["time_s"]) == pytest.approx(np.ones(seconds - 1), abs=1e-6)
    assert "spread_times" in [notice.code for notice in history.notices]


def test_two_rows_to_every_stamp(write, read, gather):
    """2 Hz with stamps of whole seconds, a current that moves in every row: 99.5 s at 0.25 A a row on average."""
    path = write("time_s,current_A\n" + "".join(f"{k // 2},{k}\n" for k in range(200)))
    with pytest.raises(HistoryError, match="coarser than the rows come"):
        read(path)
    values = gather(read(path, clean=["spread_times"]))
    assert values["time_s"].tolist() == [0.5 * k for k in range(200)]
    assert charge_Ah(values) == pytest.approx(0.5 * 199.0 * 99.5 / 3600.0)  # a triangle


def test_held_values_with_edges_are_no_coarse_times(write, read, gather):
    """A rectangle: two rows at every edge, the value held between. 10 s at 5 A, 10 s at 7 A, five times."""
    edges = [(t, level) for n in range(10) for level in [5 + 2 * (n % 2)] for t in (10 * n, 10 * n + 10)]
    path = write("time_s,current_A\n" + "".join(f"{t},{level}\n" for t, level in edges))
    assert charge_Ah(gather(read(path))) == pytest.approx(600.0 / 3600.0)


def test_rows_written_three_times_are_no_coarse_times(write, read, gather):
    path = write("time_s,current_A\n" + "".join(f"{k},{k % 5}\n" * 3 for k in range(50)))
    assert gather(read(path))["time_s"][-1] == 49.0


def test_minutes_and_seconds_without_hours(write, read):
    """00:00 to 09:59 once a second is ten minutes, and as hours and minutes ten hours: only a person can tell."""
    path = write("Time,I [A]\n" + "".join(f"{t // 60:02d}:{t % 60:02d},1\n" for t in range(600)))
    report = describe_file(path)
    assert report.suggestions[0].patterns == ("%M:%S", "duration")
    assert report.study_keys["time_format"] == "?"
    assert read(path, time="Time", time_format="%M:%S", current="I [A]").duration_s == 599.0
    assert read(path, time="Time", time_format="duration", current="I [A]").duration_s == 599.0 * 60.0


def test_minutes_beyond_an_hour_and_tenths(write, read):
    path = write("Time,I [A]\n59:59.5,1\n60:00.0,1\n75:30.5,1\n")
    report = describe_file(path)
    assert report.suggestions[0].patterns == ("%M:%S",)
    clean = ["bridge_gaps"]
    assert read(path, time="Time", time_format="%M:%S", current="I [A]", clean=clean).duration_s == 931.0


def test_the_pattern_by_which_time_runs_forward(write):
    """By day and month 11 December to 1 January; by month and day 12 November to 1 January, so both run forward."""
    rows = "".join(f"{day:02d}/{month:02d}/2024 10:00:00,1\n" for day, month in ((11, 12), (12, 12), (1, 1)))
    report = describe_file(write("Date/Time,I [A]\n" + rows.replace("01/01/2024", "01/01/2025")))
    assert report.suggestions[0].patterns == ("%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S")
    rows = "".join(f"{text}/2024 10:00:00,1\n" for text in ("12/05", "01/06", "02/06"))
    report = describe_file(write("Date/Time,I [A]\n" + rows))
    assert report.suggestions[0].patterns == ("%d/%m/%Y %H:%M:%S",)  # 5 December would come before 6 January


LOCAL = {"time": "Timestamp", "time_format": "iso", "time_zone": "Europe/Berlin"}


def test_a_local_time_that_does_not_exist(write, read):
    """On 31 March 2024 clocks went from 2:00 to 3:00 (Directive 2000/84/EC, unverified): there is no 2:30."""
    path = write("Timestamp,current_A\n2024-03-31 01:30,1\n2024-03-31 02:30,1\n2024-03-31 03:30,1\n")
    with pytest.raises(HistoryError, match="does not exist in this zone") as caught:
        read(path, **LOCAL)
    assert caught.value.row == 3
    assert "time_zone" in caught.value.remedy


def test_the_hour_that_comes_twice_names_the_zone(write, read):
    rows = [*range(0, 180, 10), *range(120, 240, 10)]
    path = write("Timestamp,current_A\n" + "".join(f"2024-10-27 {m // 60:02d}:{m % 60:02d},1\n" for m in rows))
    with pytest.raises(HistoryError, match="time runs backwards by 3000 s") as caught:
        read(path, time="Timestamp", time_format="iso")
    assert "state time_zone" in caught.value.remedy
    back = next(found for found in describe_file(path).findings if found.message == "time runs backwards.")
    assert "state time_zone" in back.remedy
    assert read(path, **LOCAL).duration_s == 290 * 60.0


def test_a_table_of_short_tests_is_no_history(write):
    """Ten pulses of 5 rows each: as one course over time its charge would mean nothing, in whatever order."""
    rows = "".join(f"{pulse},{t},{10 * pulse}\n" for pulse in range(1, 11) for t in (0.1, 0.5, 1, 2, 5))
    report = describe_file(write("pulse,pulse_time_s,current_A\n" + rows))
    assert report.study_entry is None
    assert any("9 of 50 rows: this looks like a table of results" in found.message for found in report.findings)


def test_a_table_of_monthly_means_is_no_history(write):
    """The first of every month of 2023 but the last is 30 or 31 days after the one before."""
    rows = "".join(f"2023-{month:02d}-01 00:00,{month}\n" for month in range(1, 13))
    report = describe_file(write("Timestamp,current_A\n" + rows))
    assert report.study_entry is None
    assert any("31 days pass" in found.message for found in report.findings)


@pytest.mark.parametrize(
    ("rows", "remedy", "warned"),
    [
        # Two stretches of 100 rows, both from 0 s: sorted, their rows alternate.
        ([*range(100), *range(100)], "join_restarts", "sort_by_time"),
        # Two neighbours changed places: joined, the second between them counts twice.
        ([*range(50), 51, 50, *range(52, 100)], "sort_by_time", "join_restarts"),
    ],
)
def test_the_cleaning_that_would_change_the_charge_is_said(write, read, rows, remedy, warned):
    path = write("time_s,current_A\n" + "".join(f"{t},5\n" for t in rows))
    back = next(found for found in describe_file(path).findings if found.message == "time runs backwards.")
    with pytest.raises(HistoryError, match="time runs backwards") as caught:
        read(path)
    for said in (back.remedy, caught.value.remedy):
        assert f'ask for clean = ["{remedy}"]' in said
        assert f'clean = ["{warned}"] would' in said
        assert "change the charge" in said


def test_rows_in_reverse_order(write, read):
    path = write("time_s,current_A\n" + "".join(f"{t},{t}\n" for t in range(99, -1, -1)))
    report = describe_file(path)
    assert any("reverse order" in found.message and "sort_by_time" in found.remedy for found in report.findings)
    assert read(path, clean=["sort_by_time"]).duration_s == 99.0
