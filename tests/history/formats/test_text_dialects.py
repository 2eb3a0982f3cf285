"""Text in the dialects that instruments, spreadsheets and simulators write; all made up here, none of it measured."""

import gzip

import pytest
import zstandard

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file

TIMES = [0.0, 0.5, 1.0, 1.5]
CURRENTS = [10.25, -1234.5, 0.125, 7.0]
PAIRS = list(zip(TIMES, CURRENTS, strict=True))


def table(separator=",", decimal=".", line_end="\n"):
    """Time and current without a header."""
    return "".join(f"{t}{separator}{i}{line_end}".replace(".", decimal) for t, i in PAIRS)


def test_all_dialects_say_the_same(write, read, gather):
    header = "time_s,current_A\n"
    texts = {
        "plain": header + table(),
        "tab": header.replace(",", "\t") + table("\t"),
        "bar": header.replace(",", "|") + table("|"),
        "blanks": "  time_s   current_A\n" + "".join(f"  {t:6.2f}   {i:9.3f}\n" for t, i in PAIRS),
        "decimal comma": header.replace(",", ";") + table(";", ","),
        "decimal comma and tab": header.replace(",", "\t") + table("\t", ",", "\r\n"),
        "quoted": '"time_s","current_A"\n' + "".join(f'"{t}","{i}"\n' for t, i in PAIRS),
        "thousands": header.replace(",", ";") + "0.0;10.25\n0.5;-1,234.5\n1.0;0.125\n1.5;7\n",
        "thousands with a decimal comma": header.replace(",", ";") + "0,0;10,25\n0,5;-1.234,5\n1,0;0,125\n1,5;7\n",
        "thousands with apostrophes": header + "0,10.25\n0.5,-1'234.5\n1,0.125\n1.5,7\n",
        "exponents": header + "0e0,1.025E+1\n5.0e-1,-1.2345e3\n1,1.25e-1\n1.5,7\n",
        "preamble": "Rig;7\nDate;1.2.2026\n\nRemark;none;at;all\n" + header.replace(",", ";") + table(";"),
        "preamble of one long line": "Test of a pack, channel 4\t 3.2.2026\n" + header.replace(",", "\t") + table("\t"),
        "commented header": "# written by a rig\n# time_s,current_A\n" + table(),
        "trailing separator": header + table(line_end=",\n"),
        "trailing separator, header too": "time_s,current_A,\n" + table(line_end=",\n"),
        "empty rows at the end": header.replace(",", ";") + table(";") + ";\n;\n\n",
    }
    for name, text in texts.items():
        values = gather(read(write(text)))
        assert values["time_s"].tolist() == TIMES, name
        assert values["current_A"].tolist() == CURRENTS, name


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("packing", ["", "gzip", "zstd"])
def test_encodings_and_packings(write, read, gather, encoding, packing):
    content = ("time_s;current_A;T_°C\n" + "".join(f"{t};{i};25\n" for t, i in PAIRS)).encode(encoding)
    pack = {"": bytes, "gzip": gzip.compress, "zstd": zstandard.compress}[packing]
    history = read(write(pack(content)), temperature="T_°C")
    values = gather(history)
    assert values["current_A"].tolist() == CURRENTS
    assert values["temperature_K"].tolist() == [298.15] * 4
    assert packing in history.record.details
    assert ("UTF-16" in history.record.details) == encoding.startswith("utf-16")


@pytest.mark.parametrize("packing", [gzip.compress, zstandard.compress])
def test_a_packed_file_cut_anywhere_is_refused_or_warned_of(write, read, packing):
    whole = packing(("time_s,current_A\n" + "".join(f"{k},{k * 37 % 101}\n" for k in range(400))).encode())
    for cut in range(1, len(whole), 7):
        with pytest.raises(HistoryError):
            read(write(whole[:cut]))


def test_units_row(write, read, gather):
    path = write("Time,Current,Temp\ns,mA,degF\n0,1500,32\n1,2500,212\n")
    history = read(path, time="Time [s]", current="Current [mA]", temperature="Temp [degF]")
    assert gather(history)["current_A"].tolist() == [1.5, 2.5]
    assert gather(history)["temperature_K"] == pytest.approx([273.15, 373.15])
    assert "units in row 2" in history.record.details


def test_several_header_rows(write, read, gather):
    path = write("Rig,Battery,Battery\nTime,Current,Voltage\ns,A,V\n0,1,350\n1,2,349\n")
    values = gather(read(path, time="Rig Time [s]", current="Battery Current [A]", voltage="Battery Voltage [V]"))
    assert values["voltage_V"].tolist() == [350.0, 349.0]


def test_sections_of_other_shapes(write, read, gather):
    head = "# HEAD;;\noperator;me;\nmass;0.0012;\n# LOG;;\n15;Started;\n773;Reloaded;\n# DATA;;\n"
    path = write(head + "time_s;current_A;step\n" + "".join(f"{k};{k * 2};1\n" for k in range(8)) + ";;\n")
    history = read(path)
    assert gather(history)["current_A"].tolist() == [2.0 * k for k in range(8)]
    assert "header in row 8" in history.record.details


def test_no_header_at_all(write, read, gather):
    path = write("\ufeff0,0.025,4.14\n1,-8.96,3.88\n2,-9.01,3.86\n")
    keys = {"time": "column 1", "time_unit": "s", "current": "column 2", "current_unit": "A"}
    assert gather(read(path, **keys))["current_A"].tolist() == [0.025, -8.96, -9.01]
    assert "no header" in read(path, **keys).record.details


def test_the_study_may_say_where_the_header_is(write, read, gather):
    text = "a,b\n1,2\n3,4\ntime_s,current_A\n0,1\n1,2\n"
    assert gather(read(write(text), header_row=4))["current_A"].tolist() == [1.0, 2.0]
    keys = {"time": "column 1", "time_unit": "s", "current": "column 2", "current_unit": "A"}
    assert read(write("0,1\n1,2\n2,3\n"), header_row=0, **keys).samples == 3
    with pytest.raises(HistoryError, match="is beyond"):
        read(write(text), header_row=99)


@pytest.mark.parametrize(("decimal", "expected"), [(",", [1.5, 2.5]), (".", [1500.0, 2500.0])])
def test_the_study_may_say_what_a_comma_is(write, read, gather, decimal, expected):
    path = write("time_s;current_A\n0;1,500\n1;2,500\n")
    assert gather(read(path, decimal=decimal))["current_A"].tolist() == expected


def test_a_field_that_breaks_the_dialect_later_is_refused_by_row(write, read):
    rows = "".join(f"{k};{k % 9}.5\n" for k in range(5000))
    with pytest.raises(HistoryError, match="decimal comma") as caught:
        read(write("time_s;current_A\n" + rows + "5000;1,5\n"))
    assert caught.value.row == 5002


@pytest.mark.parametrize("literal", ["none", "na", "NaN", "N/A", "#N/A", "null", "-", "---", ""])
def test_literals_for_missing(write, read, gather, literal):
    path = write(f"time_s,current_A\n0,1\n1,{literal}\n2,3\n")
    with pytest.raises(HistoryError) as caught:
        read(path)
    assert caught.value.row == 3
    assert gather(read(path, clean=["drop_bad_rows"]))["current_A"].tolist() == [1.0, 3.0]


def test_silent_sensors_in_the_first_rows_do_not_make_them_headers(write, read, gather):
    path = write("time_s,current_A,T1,T2,T3,T4\n0,5,,,,\n1,6,,,,\n" + "".join(f"{k},7,1,2,3,4\n" for k in range(2, 9)))
    assert gather(read(path))["current_A"].tolist() == [5.0, 6.0] + [7.0] * 7


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"PK\x03\x04 no archive", "archive is cut or damaged"),
        ("Title: * demo\nPlotname: Transient Analysis\nBinary:\n".encode("utf-16-le") + bytes(40), "waveform file"),
        (b"date Wed, 08 Nov\r\nbase hex  timestamps absolute\r\n 0.07 0 59E Rx d 8 00\r\n", "raw frames"),
        (b"(1700000000.123456) can0 1A2#1122334455667788\n(1700000000.2) vcan0 12345678#R\n", "raw frames"),
        (b" (1700000000.1)  can0  1A2   [8]  11 22 33 44 55 66 77 88\n can1  123  [0]\n", "raw frames"),
        (b"   0.0756 1  59Ex  Rx   d 8 00 00 00 00 18 0E 00 00\n   0.0758 2 5A3 Tx r\n", "raw frames"),
        (b";$FILEVERSION=1.1\n;---\n     1)      1059.9  Rx     0300  7  00 00 00 00 04 00 00\n", "raw frames"),
        (b"Time Stamp,ID,Extended,Bus,LEN,D1,D2\n1,7DF,false,0,2,02,01\n2,7DF,false,0,2,02\n", "raw frames"),
        (b"MODULAR FILE\x1a\xff\xfe\x00\x01", "instrument's own binary file"),
        (bytes(range(256)) * 3, "binary file"),
    ],
)
def test_what_is_not_read_says_what_to_export(write, content, expected):
    with pytest.raises(HistoryError, match=expected) as caught:
        describe_file(write(content))
    assert caught.value.remedy


@pytest.mark.parametrize("row", ["(1) can0 7", "0.5 1 20 Rx", "1) 2.0 A 3", "12 3.5 AB 77"])
def test_a_table_that_only_looks_a_little_like_frames_is_read(write, read, row):
    text = "time_s current_A x y\n" + f"0 1 2 3\n1 2 3 4\n2 3 4 5\n{row.replace('(', '').replace(')', '')}\n"
    assert describe_file(write(text)).rows >= 3
