"""Any history written in any dialect or format reads back equal to the last bit."""

import gzip
import io
import json

import h5py
import numpy as np
import openpyxl
import pyarrow as pa
import pytest
import zstandard
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyarrow import feather, parquet
from scipy.io import savemat

from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

NAMES = ("time_s", "current_A", "voltage_V")
few = settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])


@st.composite
def histories(draw):
    """Two to thirty samples; steps that are no gaps."""
    n = draw(st.integers(2, 30))
    steps = draw(st.lists(st.floats(0.5, 2.0), min_size=n, max_size=n))
    values = [draw(st.lists(st.floats(-1e5, 1e5), min_size=n, max_size=n)) for _ in range(2)]
    return np.cumsum(steps), *(np.array(one) for one in values)


def equal(folder, name, arrays, **keys):
    spec = {"time": "time_s", "current": "current_A", "voltage": "voltage_V"} | keys
    history = open_history(HistoryInput(file=name, **spec), folder)
    blocks = list(history.blocks())
    for channel, wanted in zip(("time_s", "current_A", "voltage_V"), arrays, strict=True):
        assert np.array_equal(np.concatenate([getattr(block, channel) for block in blocks]), wanted)
    return history.data_sha256


@few
@given(
    arrays=histories(),
    separator=st.sampled_from([",", ";", "\t", "|"]),
    decimal=st.sampled_from([".", ","]),
    line_end=st.sampled_from(["\n", "\r\n"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "latin-1", "utf-16"]),
    head=st.sampled_from(["", "Rig;7\n\n", "# by a rig\n", "sep={}\n"]),
    pack=st.sampled_from([bytes, gzip.compress, zstandard.compress]),
    quote=st.sampled_from(["", '"']),
)
def test_text(tmp_path, arrays, separator, decimal, line_end, encoding, head, pack, quote):
    if decimal == separator:
        quote = '"'

    def line(fields):
        return separator.join(f"{quote}{field}{quote}" for field in fields) + line_end

    rows = zip(*(one.tolist() for one in arrays), strict=True)
    body = "".join(line(repr(value).replace(".", decimal) for value in row) for row in rows)
    text = head.format(separator).replace("\n", line_end) + line(NAMES) + body
    (tmp_path / "log.csv").write_bytes(pack(text.encode(encoding)))
    equal(tmp_path, "log.csv", arrays, decimal=decimal)


@few
@given(arrays=histories())
def test_every_format_gives_the_same_history(tmp_path, arrays):
    table = dict(zip(NAMES, arrays, strict=True))
    parquet.write_table(pa.table(table), tmp_path / "log.parquet")
    feather.write_feather(pa.table(table), tmp_path / "log.feather")
    savemat(tmp_path / "log.mat", table)
    savemat(tmp_path / "log4.mat", table, format="4")
    rows = zip(*(one.tolist() for one in arrays), strict=True)
    (tmp_path / "log.jsonl").write_text("".join(json.dumps(dict(zip(NAMES, row, strict=True))) + "\n" for row in rows))
    with h5py.File(tmp_path / "log.h5", "w") as file:
        for name, values in table.items():
            file[name] = values
    book = openpyxl.Workbook()
    for row in [NAMES, *zip(*(one.tolist() for one in arrays), strict=True)]:
        book.active.append(list(row))
    book.save(tmp_path / "log.xlsx")
    names = ("log.parquet", "log.feather", "log.mat", "log4.mat", "log.h5", "log.jsonl")
    prints = {equal(tmp_path, name, arrays) for name in names}
    assert len(prints) == 1
    # A workbook keeps numbers with 15 or 16 digits (Office Open XML, common practice of its writers).
    spec = HistoryInput(file="log.xlsx", time="time_s", current="current_A")
    found = next(open_history(spec, tmp_path).blocks())
    np.testing.assert_allclose(found.current_A, arrays[1], rtol=1e-14)


@pytest.mark.parametrize("seed", range(3))
def test_measurement_files(tmp_path, seed):
    from asammdf import MDF, Signal

    rng = np.random.default_rng(seed)
    arrays = np.cumsum(rng.uniform(0.5, 2.0, 50)), rng.normal(0, 100, 50), rng.normal(350, 5, 50)
    with MDF() as mdf:
        mdf.append(
            [
                Signal(arrays[1], arrays[0], name="current_A", unit="A"),
                Signal(arrays[2], arrays[0], name="voltage_V", unit="V"),
            ]
        )
        mdf.save(tmp_path / "log.mf4", overwrite=True)
    keys = {"time": "time [s]", "current": "current_A [A]", "voltage": "voltage_V [V]"}
    equal(tmp_path, "log.mf4", arrays, **keys)


def test_a_parquet_file_cut_at_any_byte_is_refused(tmp_path):
    from lifetime.errors import HistoryError

    buffer = io.BytesIO()
    parquet.write_table(pa.table({"time_s": [0.0, 1.0, 2.0], "current_A": [1.0, 2.0, 3.0]}), buffer)
    whole = buffer.getvalue()
    for cut in range(len(whole)):
        (tmp_path / "log.parquet").write_bytes(whole[:cut])
        with pytest.raises(HistoryError):
            open_history(HistoryInput(file="log.parquet", time="time_s", current="current_A"), tmp_path)


CUT_ROWS = [(0.0, 1.25), (1.0, -20.5), (2.0, 3e2)]


def contents():
    """Three rows in formats that may be read as far as they go."""
    text = "".join(f'{{"time_s": {time}, "current_A": {current}}}\n' for time, current in CUT_ROWS).encode()
    version_4 = io.BytesIO()
    time, current = np.array(CUT_ROWS).T
    savemat(version_4, {"time_s": time, "current_A": current}, format="4")
    return {"jsonl": text, "mat": version_4.getvalue()}


@pytest.mark.parametrize("ending", ["jsonl", "mat"])
@pytest.mark.parametrize("clean", [[], ["drop_unfinished_last_row"]])
def test_a_file_cut_at_any_byte_gives_whole_rows_or_a_refusal(tmp_path, ending, clean):
    """The right rows are the first ones of ``CUT_ROWS``; a value that was cut is never a number."""
    from lifetime.errors import HistoryError

    whole = contents()[ending]
    spec = HistoryInput(file="log", time="time_s", current="current_A", clean=clean)
    read = 0
    for cut in range(len(whole) + 1):
        (tmp_path / "log").write_bytes(whole[:cut])
        try:
            history = open_history(spec, tmp_path)
        except HistoryError:
            continue
        read += 1
        blocks = list(history.blocks())
        found = [pair for block in blocks for pair in zip(block.time_s.tolist(), block.current_A.tolist(), strict=True)]
        assert found == CUT_ROWS[: len(found)]
        assert len(found) == (3 if ending == "mat" else whole[: cut + 1].count(b"\n"))
    # Text is whole without its last line end, too; two whole rows are read wherever the third is cut, when asked.
    third = len('{"time_s": 2.0, "current_A": 300.0}')
    assert read == {"mat": 1, "jsonl": third + 3 if clean else 4}[ending]
