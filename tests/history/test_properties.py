"""Laws of reading: what is written is read, and a damaged file never gives wrong numbers without a word."""

import csv
import io

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyarrow import parquet

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

SPEC = HistoryInput(file="log.csv", time="time_s", current="I [A]", temperature="T [°C]", clean=["bridge_gaps"])
HEADER = "time_s;note;I [A];T [°C]"
relaxed = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])

# Fewer rows than it takes to call times coarse, so that any of them may be edges.
STEPS = st.lists(st.floats(0.0, 100.0), min_size=2, max_size=20).filter(lambda steps: sum(steps[1:]) > 1e-6)
CURRENTS = st.floats(-1e6, 1e6)
TEMPERATURES = st.floats(-49.9, 119.9)


def collect(history):
    blocks = list(history.blocks())
    return [np.concatenate([getattr(b, name) for b in blocks]) for name in ("time_s", "current_A", "temperature_K")]


@relaxed
@given(steps=STEPS, data=st.data(), line_end=st.sampled_from(["\n", "\r\n"]), mark=st.sampled_from(["", "\ufeff"]))
def test_what_is_written_is_read(tmp_path, steps, data, line_end, mark):
    n = len(steps)
    time = np.cumsum(steps)
    current = np.array(data.draw(st.lists(CURRENTS, min_size=n, max_size=n)))
    temperature = np.array(data.draw(st.lists(TEMPERATURES, min_size=n, max_size=n)))
    columns = (time.tolist(), current.tolist(), temperature.tolist())
    rows = [f"{t!r};;{i!r};{c!r}" for t, i, c in zip(*columns, strict=True)]
    (tmp_path / "log.csv").write_bytes((mark + line_end.join([HEADER, *rows, ""])).encode())
    history = open_history(SPEC, tmp_path)
    assert history.samples == n
    for found, written in zip(collect(history), (time, current, temperature + 273.15), strict=True):
        assert np.array_equal(found, written)
    parquet.write_table(pa.table({"time_s": time, "I [A]": current, "T [°C]": temperature}), tmp_path / "log.parquet")
    stored = open_history(SPEC.model_copy(update={"file": "log.parquet"}), tmp_path)
    for found, written in zip(collect(stored), collect(history), strict=True):
        assert np.array_equal(found, written)
    assert stored.duration_s == history.duration_s


LINES = [HEADER, *(f"{k * 0.5};run {k};{(k * 37) % 101 - 50}.25;{20 + k % 7}.5" for k in range(30))]


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_file_cut_at_any_byte(tmp_path, line_end):
    """An error, or the rows before the cut; where the last number itself may be cut, a warning says so."""
    content = line_end.join([*LINES, ""]).encode()
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    whole = collect(open_history(SPEC, tmp_path))
    opened = 0
    for cut in range(len(content)):
        path.write_bytes(content[:cut])
        try:
            history = open_history(SPEC, tmp_path)
        except HistoryError:
            continue
        opened += 1
        warned = "unfinished_last_row" in {notice.code for notice in history.notices}
        assert warned == (not content[:cut].endswith(b"\n"))
        sure = history.samples - warned
        for found, written in zip(collect(history), whole, strict=True):
            assert np.array_equal(found[:sure], written[:sure])
        dropped = SPEC.model_copy(update={"clean": ("bridge_gaps", "drop_unfinished_last_row")})
        if sure >= 2:
            assert open_history(dropped, tmp_path).samples == sure
    assert opened >= 29


@relaxed
@given(st.binary(max_size=400))
def test_junk_gives_one_clear_error(tmp_path, junk):
    path = tmp_path / "log.csv"
    for content in (junk, b"PAR1" + junk, b"PAR1" + junk + b"PAR1", HEADER.encode() + b"\n" + junk):
        path.write_bytes(content)
        with pytest.raises(HistoryError, match="log.csv"):
            open_history(SPEC, tmp_path)
        try:
            describe_file(path)
        except HistoryError as error:
            assert str(error)  # noqa: PT017 - either outcome is right, a crash is not


@relaxed
@given(
    st.lists(
        st.text(alphabet='0123456789.;,-+eE"nai \t\r', max_size=30).map(lambda text: text.replace("\n", "")),
        min_size=1,
        max_size=6,
    )
)
def test_odd_rows_are_refused_or_read_as_python_reads_them(tmp_path, rows):
    """Whatever is accepted agrees with the standard library's csv module and float()."""
    content = "\n".join(["time_s;I [A]", "0;1", *rows, ""])
    (tmp_path / "log.csv").write_text(content, newline="")
    spec = HistoryInput(file="log.csv", time="time_s", current="I [A]", clean=["bridge_gaps", "sort_by_time"])
    try:
        history = open_history(spec, tmp_path)
    except HistoryError:
        return
    parsed = [row for row in csv.reader(io.StringIO(content, newline=""), delimiter=";") if "".join(row).strip()]
    expected = sorted(((float(t), float(i)) for t, i in parsed[1:]), key=lambda pair: pair[0])
    block = next(history.blocks())
    assert block.time_s.tolist() == [t for t, _ in expected]
    assert block.current_A.tolist() == [i for _, i in expected]
