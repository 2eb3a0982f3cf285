"""How Parquet files are read. C07: rainflow issue 55 (integers); C46: pandas issue 15817 (32-bit epoch times)."""

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.errors import HistoryError


@pytest.fixture
def save(tmp_path):
    def _save(columns, name="log.parquet", **keys):
        path = tmp_path / name
        parquet.write_table(pa.table(columns), path, **keys)
        return path

    return _save


def test_plain_file_whatever_its_name(save, read, gather):
    path = save({"time_s": [0.0, 1.0], "current_A": [1.0, 2.0], "note": ["a", "b"]}, name="log.csv")
    history = read(path)
    assert gather(history)["current_A"].tolist() == [1.0, 2.0]
    assert history.record.file_format == "Parquet"


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("int32", [200_000, 800_000, 300_000]),
        ("uint8", [20, 80, 30]),
        ("int64", [2**29, 0, 1]),
        ("float32", [0.5, 1, 2]),
    ],
)
def test_C07_numbers_of_any_type_become_float64(save, read, gather, kind, values):
    path = save({"time_s": np.arange(3, dtype="int16"), "current_A": np.array(values, dtype=kind)})
    found = gather(read(path))
    assert found["current_A"].dtype == np.float64
    assert found["current_A"].tolist() == [float(value) for value in values]


def test_missing_values_are_refused_with_row_and_column(save, read):
    with pytest.raises(HistoryError, match="is empty") as caught:
        read(save({"time_s": [0.0, 1.0, 2.0], "current_A": [1.0, None, 2.0]}))
    assert (caught.value.row, caught.value.column) == (3, "current_A")


@pytest.mark.parametrize("values", [["a", "b"], [True, False], pa.array([0, 1], pa.timestamp("ms"))])
def test_columns_that_hold_no_numbers_are_refused(save, read, values):
    with pytest.raises(HistoryError, match="where numbers were expected") as caught:
        read(save({"time_s": [0.0, 1.0], "current_A": values}))
    assert caught.value.column == "current_A"


def test_C46_float64_epoch_times_keep_their_step(save, read, gather):
    path = save({"time_s": [1718000000.001, 1718000000.002, 1718000000.003], "current_A": [1.0, 2.0, 3.0]})
    # Neighbouring float64 near 1.7e9 lie 2.4e-7 apart (IEEE 754), so a step of 1 ms is right within 0.3 µs.
    assert np.diff(gather(read(path))["time_s"]) == pytest.approx([1e-3, 1e-3], abs=3e-7)


@pytest.mark.parametrize("times", [[1718000000.001, 1718000000.002], [1718000000.0, 1718000100.0, 1718000200.0]])
def test_C46_float32_epoch_times_are_refused(save, read, times):
    path = save({"time_s": np.array(times, dtype="float32"), "current_A": np.arange(len(times)) * 1.0})
    # Neighbouring float32 near 1.7e9 lie 128 apart (IEEE 754).
    with pytest.raises(HistoryError, match="128 s") as caught:
        read(path)
    assert caught.value.column == "time_s"


def test_float32_times_since_the_start_are_fine(save, read):
    history = read(save({"time_s": np.arange(100, dtype="float32"), "current_A": np.arange(100.0)}))
    assert "coarse_time" not in {notice.code for notice in history.notices}


def test_float32_times_that_cost_a_little_are_noticed(save, read):
    # 36,000 s in steps of 0.1 s: neighbouring float32 lie 2**-8 s apart there, 4 % of a step.
    times = (36_000 + np.arange(1000) * 0.1).astype("float32")
    history = read(save({"time_s": times, "current_A": np.arange(1000.0)}))
    assert "coarse_time" in {notice.code for notice in history.notices}


@pytest.mark.parametrize("size", [4, 8, 100, 400])
def test_a_cut_file_is_refused(save, read, size):
    path = save({"time_s": np.arange(1000.0), "current_A": np.arange(1000.0)})
    path.write_bytes(path.read_bytes()[:size])
    with pytest.raises(HistoryError, match="cut or damaged"):
        read(path)


def test_a_damaged_page_is_refused(save, read):
    rng = np.random.default_rng(0)
    columns = {"time_s": np.arange(5000.0), "current_A": rng.normal(size=5000)}
    path = save(columns, use_dictionary=False, compression="none", write_page_checksum=True)
    content = bytearray(path.read_bytes())
    content[60_000] ^= 0xFF
    path.write_bytes(content)
    with pytest.raises(HistoryError, match="cut or damaged"):
        read(path)


def test_a_dot_in_a_column_name(save, read, gather):
    path = save({"time_s": [0.0, 1.0], "pack.current_A": [1.0, 2.0]})
    assert gather(read(path, current="pack.current_A"))["current_A"].tolist() == [1.0, 2.0]


def test_no_rows(save, read):
    with pytest.raises(HistoryError, match="no data row"):
        read(save({"time_s": pa.array([], pa.float64()), "current_A": pa.array([], pa.float64())}))


def test_rows_are_numbered_across_row_groups(save, read):
    current = np.ones(5000)
    current[4321] = np.inf
    with pytest.raises(HistoryError) as caught:
        read(save({"time_s": np.arange(5000.0), "current_A": current}, row_group_size=1000))
    assert caught.value.row == 4323
