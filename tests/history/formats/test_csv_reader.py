"""How delimited text is read. Case numbers (C37 and so on) are those of public trouble reports, re-made as small files:
C37 pandas issues 4793 and 13497; C38 rainbow_csv issue 108; C40 pandas issue 14124; C41 pandas issue 9294."""

import hashlib
import json
from dataclasses import asdict

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.formats.csv_dialect import read_dialect
from lifetime.history.formats.csv_reader import CsvReader


def codes(history):
    return {notice.code for notice in history.notices}


def test_plain_file(write, read, gather):
    history = read(write("time_s,current_A\n0,10\n1,20\n2,30\n"))
    values = gather(history)
    assert values["time_s"].tolist() == [0.0, 1.0, 2.0]
    assert values["current_A"].tolist() == [10.0, 20.0, 30.0]
    assert (history.samples, history.duration_s, history.driven_by) == (3, 2.0, "current")
    assert values["power_W"] is None
    assert not history.has_temperature
    assert history.label == "log.csv"
    assert history.record.file_format == "CSV"


def test_content_hash_is_that_of_the_bytes(write, read):
    history = read(write("time_s,current_A\n0,1\n1,2\n"))
    assert history.sha256 == hashlib.sha256(b"time_s,current_A\n0,1\n1,2\n").hexdigest()


@pytest.mark.parametrize("quote", ["", '"'])
def test_C37_byte_order_mark(write, read, gather, quote):
    history = read(write(f"\ufeff{quote}time_s{quote},current_A\n0,1\n1,2\n"))
    assert gather(history)["time_s"].tolist() == [0.0, 1.0]
    assert "byte-order mark" in history.record.details


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_C38_separator_line_on_top(write, read, gather, line_end, mark):
    history = read(write(mark + line_end.join(["sep=;", "time_s;current_A", "0;10", "1;20", ""])))
    assert gather(history)["current_A"].tolist() == [10.0, 20.0]
    assert "semicolon" in history.record.details


def test_C38_rows_are_counted_as_an_editor_shows_them(write, read):
    with pytest.raises(HistoryError) as caught:
        read(write("sep=;\ntime_s;current_A\n0;10\n1;x\n"))
    assert caught.value.row == 4


def test_C40_trailing_separator_never_shifts_columns(write, read, gather):
    path = write("time_s,current_A,temp_C\n0,10,25,\n1,20,26\n2,30,27\n")
    values = gather(read(path, temperature="temp_C"))
    assert values["time_s"].tolist() == [0.0, 1.0, 2.0]
    assert values["current_A"].tolist() == [10.0, 20.0, 30.0]


def test_a_value_too_many_is_no_trailing_separator(write, read):
    path = write("time_s,current_A,temp_C\n0,10,25,7\n1,20,26\n2,30,27\n")
    with pytest.raises(HistoryError, match="4 fields where the header has 3") as caught:
        read(path)
    assert caught.value.row == 2


def test_trailing_separator_in_every_row_is_an_empty_column(write, read, gather):
    values = gather(read(write("time_s,current_A,\n0,10,\n1,20,\n")))
    assert values["time_s"].tolist() == [0.0, 1.0]
    assert values["current_A"].tolist() == [10.0, 20.0]


@pytest.mark.parametrize(
    ("bad", "row", "fields"), [("1,20,26,,", 3, "5 fields"), ("2,3", 3, "2 fields"), ("7", 3, "1 field ")]
)
def test_C41_ragged_rows(write, read, bad, row, fields):
    with pytest.raises(HistoryError, match=fields) as caught:
        read(write(f"time_s,current_A,temp_C\n0,10,25\n{bad}\n3,4,5\n"))
    assert caught.value.row == row


def test_C41_cut_last_row(write, read, gather):
    path = write("time_s,current_A,temp_C\n0,10,25\n1,20,26\n2,3")
    with pytest.raises(HistoryError, match="drop_unfinished_last_row") as caught:
        read(path)
    assert caught.value.row == 4
    history = read(path, clean=["drop_unfinished_last_row"])
    assert gather(history)["current_A"].tolist() == [10.0, 20.0]
    assert [(s.name, s.count, s.first_row) for s in history.record.steps] == [("drop_unfinished_last_row", 1, 4)]
    assert "unfinished_last_row" not in codes(history)


def test_last_row_without_line_end_is_read_with_a_warning(write, read, gather):
    history = read(write("time_s,current_A\n0,10\n1,20\n2,30"))
    assert gather(history)["current_A"].tolist() == [10.0, 20.0, 30.0]
    assert [n.severity for n in history.notices if n.code == "unfinished_last_row"] == ["warning"]


def test_extra_and_missing_fields_that_make_up_for_each_other(write, read):
    with pytest.raises(HistoryError) as caught:
        read(write("time_s,current_A,x\n0,1,2\n1,2,3,4\n2,3\n3,4,5\n"))
    assert caught.value.row == 3


def test_ragged_row_late_in_a_long_file_is_named(write, read):
    lines = [f"{i},{i % 7}" for i in range(300_000)]
    lines[250_000] = "250000,1,2"
    with pytest.raises(HistoryError) as caught:
        read(write("time_s,current_A\n" + "\n".join(lines) + "\n"))
    assert caught.value.row == 250_002


def test_blank_lines_hold_no_sample_and_do_not_shift_rows(write, read, gather):
    path = write("time_s,current_A\n0,10\n\n1,20\n   \n2,30\n\n")
    assert gather(read(path))["current_A"].tolist() == [10.0, 20.0, 30.0]
    with pytest.raises(HistoryError) as caught:
        read(write("time_s,current_A\n0,10\n\n1,x\n"))
    assert caught.value.row == 4


@pytest.mark.parametrize(("separator", "word"), [(",", "comma"), (";", "semicolon"), ("\t", "tab")])
def test_separators(write, read, gather, separator, word):
    text = "\n".join(separator.join(fields) for fields in [("time_s", "current_A"), ("0", "1.5"), ("1", "2.5")])
    history = read(write(text + "\n"))
    assert gather(history)["current_A"].tolist() == [1.5, 2.5]
    assert word in history.record.details
    assert any(word in n.message for n in history.notices if n.code == "read_as")


def test_a_comma_inside_a_header_is_not_the_separator(write, read, gather):
    history = read(write("t (s, abs);current_A\n0;1\n1;2\n"), time="t (s, abs)", time_unit="s")
    assert gather(history)["time_s"].tolist() == [0.0, 1.0]


def test_quoted_fields(write, read, gather):
    history = read(write('time_s,note,current_A\n"0","a, b","1"\n1,"say ""x""",2\n'))
    assert gather(history)["current_A"].tolist() == [1.0, 2.0]


def test_a_quote_that_is_not_closed_is_refused(write, read):
    with pytest.raises(HistoryError, match="quotes") as caught:
        read(write('time_s,note,current_A\n0,"a,1\n1,"b,2\n'))
    assert caught.value.row == 2


def test_latin1_is_read_and_noted(write, read, gather):
    history = read(
        write("Time [s];I [A];T [°C] \r\n0;1;20\r\n1;2;21\r\n".encode("latin-1")),
        time="Time [s]",
        current="I [A]",
        temperature="T [°C]",
    )
    assert gather(history)["temperature_K"].tolist() == [293.15, 294.15]
    assert "latin1_encoding" in codes(history)
    assert "Latin-1" in history.record.details


@pytest.mark.parametrize("text", ["+1.5", " 1.5 ", "1.5e0", "15E-1", "+.15e1", "1.50"])
def test_spellings_of_a_number(write, read, gather, text):
    assert gather(read(write(f"time_s,current_A\n0,{text}\n1,2\n")))["current_A"].tolist() == [1.5, 2.0]


def test_numbers_are_rounded_correctly(write, read, gather):
    # Python's own float() is correctly rounded (IEEE 754); 20,000 random numbers of 17 digits and all magnitudes.
    rng = np.random.default_rng(7)
    numbers = rng.normal(size=20_000) * 10.0 ** rng.integers(-9, 7, 20_000)
    text = "time_s,current_A\n" + "".join(f"{i},{x!r}\n" for i, x in enumerate(numbers.tolist()))
    assert np.array_equal(gather(read(write(text)))["current_A"], numbers)


def test_only_carriage_returns_are_refused(write, read):
    with pytest.raises(HistoryError, match="carriage return"):
        read(write("time_s,current_A\r0,1\r1,2\r"))


def test_a_stray_carriage_return_is_no_line_end(write, read):
    with pytest.raises(HistoryError) as caught:
        read(write("time_s,current_A\n0,1\r1,2\n2,3\n"))
    assert caught.value.row == 2


@pytest.mark.parametrize("piece_bytes", [1, 7, 64, 1000, 1 << 22])
def test_pieces_of_any_size_give_the_same_rows(write, piece_bytes):
    text = "time_s,current_A\n" + "".join(f"{i},{i * 0.1:.3f}\n" for i in range(500)) + "\n500,+1\n501,x\n502,3"
    path = write(text)
    reader = CsvReader(path, "log.csv", read_dialect(path, "log.csv"), piece_bytes=piece_bytes)
    chunks = list(reader.chunks([1, 0]))
    rows = np.concatenate([chunk.rows for chunk in chunks])
    current = np.concatenate([chunk.values[0] for chunk in chunks])
    assert rows.tolist() == [*range(2, 502), 503, 504, 505]
    assert current[:500].tolist() == [float(f"{i * 0.1:.3f}") for i in range(500)]
    assert current[500] == 1.0
    assert np.isnan(current[501])
    assert current[502] == 3.0


def test_time_with_a_trailing_space_in_its_name(write, read, gather):
    values = gather(read(write("time_s , current_A \n0,1\n1,2\n")))
    assert values["current_A"].tolist() == [1.0, 2.0]


def test_the_record_is_plain_data(write, read):
    history = read(write("time_s,current_A\n0,1\n1,2\n"))
    document = json.loads(json.dumps(asdict(history.record), allow_nan=False))
    assert document["rows_read"] == 2
    assert document["columns"][1] == {
        "quantity": "current",
        "column": "current_A",
        "unit": "A",
        "unit_from": "header",
    }
