"""Cost against the number of columns and against pandas' own reading in the same run. Prints; never fails on time.

Run: ``pytest tests/bench/test_bench_columns.py -s -m bench``. Ratios are of the least of three turns, so that a machine
busy with something else spoils them less.
"""

import time

import numpy as np
import pandas as pd
import pytest

from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

pytestmark = pytest.mark.bench

SPEC = {"time": "time [s]", "current": "pack current [A]", "voltage": "pack voltage [V]", "discharge_is": "positive"}
KINDS = ("U cell {} [V]", "T module {} [°C]", "I string {} [A]", "counter {}", "speed wheel {} [km/h]")


def frame(columns, rows):
    rng = np.random.default_rng(0)
    time_s = np.arange(rows) * 0.1
    table = {
        "time [s]": time_s,
        "pack current [A]": rng.normal(0, 50, rows).round(3),
        "pack voltage [V]": (350 + rng.normal(0, 1, rows)).round(3),
    }
    for number in range(columns - len(table)):
        table[KINDS[number % len(KINDS)].format(number)] = rng.normal(20, 1, rows).round(3)
    return pd.DataFrame(table)


def least(*works, turns):
    lengths = [[] for _ in works]
    for _ in range(turns):
        for kept, work in zip(lengths, works, strict=True):
            start = time.perf_counter()
            work()
            kept.append(time.perf_counter() - start)
    return [min(one) for one in lengths]


@pytest.mark.parametrize(
    ("columns", "rows"), [(5, 1_000_000), (10, 200_000), (158, 20_000), (2000, 2000), (26_785, 100)]
)
@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_columns(tmp_path, capsys, columns, rows, ending, full):
    if not full:
        columns, rows = min(columns, 300), min(rows, 2000)
    path = tmp_path / f"log.{ending}"
    made = frame(columns, rows)
    made.to_csv(path, index=False) if ending == "csv" else made.to_parquet(path)
    with_pandas = pd.read_csv if ending == "csv" else pd.read_parquet
    spec = HistoryInput(file=path.name, **SPEC)
    pandas_s, open_s, check_s = least(
        lambda: with_pandas(path),
        lambda: open_history(spec, tmp_path),
        lambda: describe_file(path),
        turns=3 if full else 1,
    )
    with capsys.disabled():
        print(
            f"\n{ending}, {columns:,} columns of {rows:,} rows: pandas {pandas_s:.3f} s; opened and surveyed in "
            f"{open_s / pandas_s:.2f} of it, checked in {check_s / pandas_s:.2f} of it ({check_s:.2f} s)"
        )
    assert open_history(spec, tmp_path).samples == rows
