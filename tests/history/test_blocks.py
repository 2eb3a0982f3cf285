"""Blocks lie on one absolute grid, whatever the format, the pieces and the length of the file."""

import pickle

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.errors import HistoryError
from lifetime.history import block_sources
from lifetime.history.block import BLOCK_SAMPLES, Samples, on_grid
from lifetime.history.cleaning.gaps import rest_in_gaps
from lifetime.history.formats.csv_dialect import read_dialect
from lifetime.history.formats.csv_reader import CsvReader
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.inspection import survey
from lifetime.history.model import History

SAMPLES = 2 * BLOCK_SAMPLES + 1234


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """One history of two blocks and a bit, as CSV and as Parquet."""
    folder = tmp_path_factory.mktemp("blocks")
    rng = np.random.default_rng(3)
    columns = {
        "time_s": np.cumsum(rng.uniform(0.05, 0.15, SAMPLES)),
        "current_A": rng.normal(0.0, 80.0, SAMPLES),
        "T_C": 25.0 + rng.normal(0.0, 3.0, SAMPLES),
    }
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    text = ",".join(columns) + "\n" + "".join(f"{t!r},{i!r},{c!r}\n" for t, i, c in rows)
    (folder / "log.csv").write_text(text)
    parquet.write_table(pa.table(columns), folder / "log.parquet", row_group_size=50_000)
    return folder, columns


def same(one, other):
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert a.first_row == b.first_row
        for name in ("time_s", "current_A", "power_W", "voltage_V", "temperature_K"):
            left, right = getattr(a, name), getattr(b, name)
            assert (left is None) == (right is None)
            assert left is None or (left.dtype == np.float64 and np.array_equal(left, right))


def test_blocks_lie_on_the_grid(files, read):
    folder, columns = files
    blocks = list(read(folder / "log.csv", temperature="T_C").blocks())
    assert [block.first_row for block in blocks] == [0, BLOCK_SAMPLES, 2 * BLOCK_SAMPLES]
    assert [block.time_s.size for block in blocks] == [BLOCK_SAMPLES, BLOCK_SAMPLES, 1234]
    assert np.array_equal(np.concatenate([block.current_A for block in blocks]), columns["current_A"])


@pytest.mark.parametrize("discharge_is", ["positive", "negative"])
def test_format_and_pieces_do_not_matter(files, read, monkeypatch, discharge_is):
    folder, _ = files
    keys = {"temperature": "T_C", "discharge_is": discharge_is}
    reference = list(read(folder / "log.csv", **keys).blocks())
    same(reference, list(read(folder / "log.parquet", **keys).blocks()))
    monkeypatch.setattr(survey, "KEPT_SAMPLES", 0)  # as for a long file: stream it again
    for pieces in (10_007, 300_000):
        monkeypatch.setattr(
            CsvReader, "open", lambda p, label, _, n=pieces: CsvReader(p, label, read_dialect(p, label), n)
        )
        streamed = read(folder / "log.csv", **keys)
        assert isinstance(streamed.source, block_sources.StreamedBlocks)
        same(reference, list(streamed.blocks()))
    opened = ParquetReader.open(folder / "log.parquet", "log.parquet")
    monkeypatch.setattr(
        ParquetReader, "open", lambda p, label: ParquetReader(label, opened.raw_columns, opened.kinds, p, 999)
    )
    same(reference, list(read(folder / "log.parquet", **keys).blocks()))


def test_arrays_give_the_same_blocks(files, read):
    folder, columns = files
    history = History.from_arrays(
        time_s=columns["time_s"], current_A=columns["current_A"], temperature_K=columns["T_C"] + 273.15
    )
    same(list(read(folder / "log.csv", temperature="T_C").blocks()), list(history.blocks()))


def test_a_history_can_be_streamed_again_and_again(files, read, monkeypatch):
    folder, _ = files
    monkeypatch.setattr(survey, "KEPT_SAMPLES", 0)
    history = read(folder / "log.csv")
    half = history.blocks()
    next(half)
    same(list(history.blocks()), list(history.blocks()))
    assert next(half).first_row == BLOCK_SAMPLES


@pytest.mark.parametrize("kept", [0, 10**9])
def test_a_history_can_be_pickled(files, read, monkeypatch, kept):
    folder, _ = files
    monkeypatch.setattr(survey, "KEPT_SAMPLES", kept)
    history = read(folder / "log.csv")
    same(list(history.blocks()), list(pickle.loads(pickle.dumps(history)).blocks()))  # noqa: S301 - our own


def test_a_history_is_frozen(files, read):
    history = read(files[0] / "log.csv")
    with pytest.raises(AttributeError):
        history.samples = 3


def test_a_file_changed_in_use_is_noticed(write, read, monkeypatch):
    monkeypatch.setattr(survey, "KEPT_SAMPLES", 0)
    path = write("time_s,current_A\n0,1\n1,2\n")
    history = read(path)
    path.write_text("time_s,current_A\n0,1\n1,2\n2,3\n")
    with pytest.raises(HistoryError, match="changed while"):
        history.blocks()
    path.unlink()
    with pytest.raises(HistoryError, match="no longer"):
        history.blocks()


def test_gaps_at_any_place_of_a_stretch(monkeypatch, write, read):
    """Rest in gaps does not depend on where the pieces end; the number of samples said is the number given."""
    rng = np.random.default_rng(1)
    step = np.where(rng.random(4000) < 0.02, 500.0, 1.0)
    time = np.cumsum(step).astype(int)
    current = np.where(step > 1.0, 0, time % 5)  # the source is at rest when the logger comes back
    rows = zip(time.tolist(), current.tolist(), strict=True)
    path = write("time_s,current_A\n" + "".join(f"{t},{value}\n" for t, value in rows))
    reference = None
    monkeypatch.setattr(survey, "KEPT_SAMPLES", 0)
    for pieces in (9, 100, 1 << 20):
        monkeypatch.setattr(
            CsvReader, "open", lambda p, label, _, n=pieces: CsvReader(p, label, read_dialect(p, label), n)
        )
        history = read(path, clean=["rest_in_gaps"])
        blocks = list(history.blocks())
        reference = reference or blocks
        same(reference, blocks)
        gaps = int(np.count_nonzero(step[1:] > 1.0))
        assert history.record.gaps == gaps
        assert history.samples == 4000 + 2 * gaps == sum(block.time_s.size for block in blocks)


def test_on_grid_with_stretches_of_any_length():
    def stretch(first, size):
        rows = np.arange(first, first + size)
        return Samples(rows, {"time": rows * 1.0, "current": rows * 2.0})

    sizes = [1, BLOCK_SAMPLES, 3, 3 * BLOCK_SAMPLES - 4, 10]
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    blocks = list(on_grid(stretch(int(a), n) for a, n in zip(starts, sizes, strict=True)))
    assert [block.time_s.size for block in blocks] == [BLOCK_SAMPLES] * 4 + [10]
    assert np.array_equal(np.concatenate([block.time_s for block in blocks]), np.arange(sum(sizes)) * 1.0)
    assert list(on_grid(iter([]))) == []


def test_rest_in_gaps_by_hand():
    samples = Samples(np.array([2, 3]), {"time": np.array([0.0, 100.0]), "power": np.array([5.0, 7.0])})
    halves = [samples.take(slice(0, 1)), samples.take(slice(1, 2))]
    for stream in ([samples], halves):
        out = list(rest_in_gaps(iter(stream), 50.0))
        assert np.concatenate([part.time_s for part in out]).tolist() == [0.0, 0.0, 100.0, 100.0]
        assert np.concatenate([part.channels["power"] for part in out]).tolist() == [5.0, 0.0, 0.0, 7.0]
