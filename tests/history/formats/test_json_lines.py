"""JSON lines: one object a line. Values and rows are written down beside each text; all data made up."""

import gzip

import pytest

from lifetime.errors import HistoryError
from lifetime.history.formats.json_lines_reader import JsonLinesReader
from lifetime.history.inspection.file_report import describe_file

LINES = '{"time_s": 0, "pack": {"I_A": 1.5}, "mode": "D"}\n{"time_s": 1, "pack": {"I_A": -2e0}, "late": 1}\n'


def test_a_value_inside_an_object_is_named_by_its_path(write, read, gather):
    history = read(write(LINES, "log.jsonl"), current="pack.I_A")
    assert gather(history)["time_s"].tolist() == [0.0, 1.0]
    assert gather(history)["current_A"].tolist() == [1.5, -2.0]
    assert history.record.file_format == "JSON lines"
    report = describe_file(write(LINES))
    assert [(column.name, column.kind, column.missing) for column in report.columns] == [
        ("time_s", "numbers", 0),
        ("pack.I_A", "numbers", 0),
        ("mode", "text", 0),
        ("late", "numbers", 1),
    ]


@pytest.mark.parametrize("pack", [bytes, gzip.compress, lambda text: b"\xef\xbb\xbf" + text])
def test_packed_and_marked_text(write, read, gather, pack):
    assert gather(read(write(pack(LINES.encode())), current="pack.I_A"))["current_A"].tolist() == [1.5, -2.0]


def test_blank_lines_and_timestamps_keep_their_rows(write, read, gather):
    text = '{"at": "2026-01-01T00:00:00Z", "current_A": 1}\n\n{"at": "2026-01-01T00:00:02Z", "current_A": 3}\n'
    history = read(write(text), time="at", time_format="iso")
    assert history.duration_s == 2.0
    assert gather(history)["current_A"].tolist() == [1.0, 3.0]
    with pytest.raises(HistoryError) as caught:
        read(write(text.replace("3}", '"off"}')), time="at", time_format="iso")
    assert (caught.value.row, caught.value.column) == (3, "current_A")


@pytest.mark.parametrize(
    "bad",
    ["[1, 2]", "7", '{"time_s": 2, "current_A": 1} {"time_s": 3}', '{"time_s": 2, "time_s": 3, "current_A": 1}', "{"],
)
def test_a_line_that_is_no_object_is_refused_by_row(write, read, bad):
    text = '{"time_s": 0, "current_A": 1}\n{"time_s": 1, "current_A": 1}\n' + bad + "\n"
    with pytest.raises(HistoryError, match="not one whole JSON object") as caught:
        read(write(text))
    assert caught.value.row == 3


@pytest.mark.parametrize("bad", ["null", "true", '"7"', "[7]", '{"x": 7}'])
def test_a_value_that_is_no_number_is_no_number(write, read, bad):
    with pytest.raises(HistoryError) as caught:
        read(write(f'{{"time_s": 0, "current_A": 1}}\n{{"time_s": 1, "current_A": {bad}}}\n'))
    assert (caught.value.row, caught.value.column) == (2, "current_A")


@pytest.mark.parametrize("piece_bytes", [1, 40, 1 << 22])
def test_pieces_of_any_size_give_the_same_rows(write, piece_bytes):
    path = write("".join(f'{{"time_s": {k}, "current_A": {k * k}}}\n' for k in range(50)))
    reader = JsonLinesReader.open(path, "log")
    cut = JsonLinesReader(
        reader.label, reader.lines, reader.paths, reader.numeric, unfinished=False, piece_bytes=piece_bytes
    )
    found = [(row, value) for chunk in cut.chunks([1]) for row, value in zip(chunk.rows, chunk.values[0], strict=True)]
    assert found == [(k + 1, k * k) for k in range(50)]


@pytest.mark.parametrize(
    "content", ['{"t": [0, 1], "i": [1, 2]}', '{\n "t": 0\n}\n{\n}', "[[0, 1], [1, 2]]", '{"a": 1}']
)
def test_a_document_is_refused_by_name(write, content):
    with pytest.raises(HistoryError, match="JSON document, not a table") as caught:
        describe_file(write(content))
    assert "one object a line" in caught.value.remedy


def test_one_signal_a_line_is_no_sample(write):
    lines = '{"name": "speed", "value": 3, "timestamp": 0}\n{"name": "torque", "value": 9, "timestamp": 1}\n'
    with pytest.raises(HistoryError, match="each line has one signal"):
        describe_file(write(lines))


def test_nesting_without_end_is_refused(write):
    deep = '{"time_s": 0, "current_A": 1}\n' * 2 + '{"a":' * 200_000 + "\n"
    with pytest.raises(HistoryError):
        read_path = write(deep)
        list(JsonLinesReader.open(read_path, "log").chunks([0, 1]))
