"""Text with damage that costs one row or one field, never the file: control bytes, short rows, quoted rows, names."""

from pathlib import Path

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.formats.layout import Layout
from lifetime.history.inspection.file_report import describe_file

SHARED = Path(__file__).parents[4] / "shared" / "data" / "messy_exports_2"
HEADER = "time [s],I [A],U [V]\n"
ROWS = "".join(f"{t},{t % 5 + 1},{300 - t % 5}\n" for t in range(200))
KEYS = {"time": "time [s]", "current": "I [A]", "voltage": "U [V]"}


def messages(report, severity=None):
    return [found.message for found in report.findings if severity in (None, found.severity)]


def test_one_control_byte_costs_one_field(write, read):
    path = write((HEADER + ROWS).encode().replace(b"\n100,1,", b"\n100,\x001,"))
    report = describe_file(path)
    assert report.rows == 200
    assert report.columns[1].missing == 1
    assert report.columns[1].first_missing_row == 102
    assert any("1 control byte is in the text" in message for message in messages(report, "warning"))
    with pytest.raises(HistoryError) as caught:
        read(path, **KEYS)
    assert caught.value.row == 102
    assert read(path, clean=["drop_bad_rows"], **KEYS).samples == 199


def test_zeros_that_a_power_loss_left_at_the_end(write, read, gather):
    path = write((HEADER + ROWS).encode() + bytes(5000))
    assert describe_file(path).rows == 200
    assert gather(read(path, **KEYS))["current_A"].tolist() == [t % 5 + 1.0 for t in range(200)]


def test_many_control_bytes_are_no_text(write):
    rng = np.random.default_rng(3)
    with pytest.raises(HistoryError, match="binary file"):
        describe_file(write(HEADER.encode() + rng.integers(0, 9, 4000, dtype=np.uint8).tobytes()))


def test_a_short_row_costs_what_comes_after_it(write, read):
    path = write(HEADER + ROWS.replace("\n100,1,300\n", "\n100,1\n"))
    report = describe_file(path)
    assert report.rows == 100
    assert any("the row has 2 fields where the header has 3" in message for message in messages(report, "error"))
    with pytest.raises(HistoryError) as caught:
        read(path, **KEYS)
    assert caught.value.row == 102


@pytest.mark.parametrize("header_tab", ["", "\t"])
def test_a_last_row_without_its_trailing_tab(write, read, gather, header_tab):
    rows = "".join(f"{t}\t{t % 5 + 1}\t{300 - t % 5}\t\n" for t in range(200))
    path = write(f"time [s]\tI [A]\tU [V]{header_tab}\n" + rows.removesuffix("\t\n"))
    assert describe_file(path).rows == 200
    assert gather(read(path, **KEYS))["voltage_V"][-1] == 300 - 199 % 5


@pytest.mark.parametrize("header", [HEADER, '"time [s],I [A],U [V]"\n'])
def test_rows_quoted_whole(write, read, gather, header):
    path = write(header + "".join(f'"{row}"\n' for row in ROWS.splitlines()))
    assert describe_file(path).rows == 200
    values = gather(read(path, **KEYS))
    assert values["current_A"].tolist() == [t % 5 + 1.0 for t in range(200)]


@pytest.mark.parametrize(
    ("row", "why"),
    [(1, "that row has 1 of 3 names"), (3, "nothing but numbers"), (150, "nothing but numbers"), (204, "is empty")],
)
def test_a_header_row_that_does_not_fit_is_refused(write, row, why):
    path = write("a title\n" + HEADER + ROWS + "\n\n" + ROWS)
    with pytest.raises(HistoryError, match=f"header_row = {row} does not fit.*{why}") as caught:
        describe_file(path, Layout(header_row=row))
    assert caught.value.row == row
    assert describe_file(path, Layout(header_row=2)).columns[0].name == "time [s]"


def test_a_column_without_a_name_can_be_named(write, read):
    path = write(",CH1,CH2\nSecond,Volt,Ampere\n" + ROWS)
    report = describe_file(path)
    assert [column.name for column in report.columns] == ["column 1 [Second]", "CH1 [Volt]", "CH2 [Ampere]"]
    assert not any("no row with column names" in message for message in messages(report))
    keys = {key: value for key, value in report.study_keys.items() if key in ("time", "current", "voltage")}
    assert read(path, **keys).duration_s == 199.0


@pytest.mark.skipif(not SHARED.exists(), reason="the shared measured files are absent")
def test_measured_file_with_rows_quoted_whole():
    """3942 rows below a long preamble; the instrument's own counter ends at 0.0294679161 Ah."""
    report = describe_file(SHARED / "cyc_neware_nova.csv")
    assert report.rows == 3942
    assert (report.study_keys["time"], report.study_keys["current"]) == ("Run Time (h)", "Current (A)")
    assert any("the charge is 0.0295 Ah with positive current" in message for message in messages(report))
