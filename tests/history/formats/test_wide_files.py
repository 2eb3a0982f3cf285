"""Files of thousands of columns cost in proportion to their number; judged by counting, not by a clock."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import parquet

from lifetime.history.formats.frame_reader import FrameReader
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.inspection.file_report import describe_file, describe_reader


class Counted:
    """A reader that counts how often what takes time in the number of columns is asked for."""

    def __init__(self, inner):
        self._inner, self.asked = inner, Counter()

    def __getattr__(self, name):
        if name in ("columns", "seconds", "single_precision", "number_columns"):
            self.asked[name] += 1
        return getattr(self._inner, name)


def frame(columns):
    table = {"time [s]": np.arange(20.0), "pack current [A]": np.arange(20.0) % 7 - 3}
    kinds = ("U cell {} [V]", "T module {} [°C]", "I string {} [A]", "count {}")
    return pd.DataFrame(table | {kinds[at % 4].format(at): np.arange(20.0) + at for at in range(columns)})


def test_lists_of_all_columns_are_asked_for_equally_often_however_many_there_are():
    few, many = (Counted(FrameReader.of(frame(columns), "log")) for columns in (12, 240))
    assert len(describe_reader(few, "log").columns) == 14
    assert len(describe_reader(many, "log").columns) == 242
    assert few.asked == many.asked


def test_texts_of_many_columns_are_read_at_once(tmp_path, monkeypatch):
    words = {f"note {at}": ["a", "b", None] for at in range(50)}
    table = pa.table({"time_s": [0.0, 1.0, 2.0], "current_A": [1.0, -1.0, 2.0]} | words)
    parquet.write_table(table, tmp_path / "log.parquet")
    reader = ParquetReader.open(tmp_path / "log.parquet", "log")
    opened = []
    first_batches = ParquetReader.first_batches
    monkeypatch.setattr(ParquetReader, "first_batches", lambda *given: opened.append(1) or first_batches(*given))
    assert [reader.text_sample(at) for at in range(52)] == [[], [], *([["a", "b", ""]] * 50)]
    assert replace(reader).text_sample(51) == ["a", "b", ""]
    assert len(opened) == 2


def test_columns_looked_at_together_keep_their_own_figures(tmp_path):
    """Worked out by hand: column k has k, k + 2 and once nothing, in row 3 or 4."""
    columns = 300
    rows = [["0", *(str(k) for k in range(columns))], ["1", *("" if k % 2 else str(k + 2) for k in range(columns))]]
    rows.append(["2", *(str(k + 2) if k % 2 else "" for k in range(columns))])
    text = "\n".join(",".join(row) for row in [["time_s", *(f"c{k}" for k in range(columns))], *rows]) + "\n"
    (tmp_path / "log.csv").write_text(text)
    found = describe_file(tmp_path / "log.csv").columns[1:]
    assert [(one.low, one.high, one.mean, one.missing) for one in found] == [
        (k, k + 2, k + 1, 1) for k in range(columns)
    ]
    assert [one.first_missing_row for one in found] == [3 if k % 2 else 4 for k in range(columns)]
