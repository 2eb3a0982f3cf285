"""Speed and memory of reading, against pandas' own reading of the same columns. Prints; never fails on time."""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from pyarrow import parquet

from lifetime.history.inspection import survey
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

ROWS = 1_000_000
SPEC = HistoryInput(file="log.csv", time="time_s", current="current_A", temperature="T_C")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("bench")
    rng = np.random.default_rng(0)
    time_s, current, volts, celsius = (
        np.arange(ROWS) * 0.1,
        rng.normal(0, 50, ROWS),
        350 + rng.normal(0, 1, ROWS),
        25 + rng.normal(0, 1, ROWS),
    )
    with (path / "log.csv").open("w") as file:
        file.write("time_s,current_A,voltage_V,T_C\n")
        np.savetxt(file, np.column_stack([time_s, current, volts, celsius]), fmt="%.2f", delimiter=",")
    return path


def least(*works, times=7):
    """Shortest time of each, taken in turns, so that none has the machine to itself while it is quiet."""
    lengths = [[] for _ in works]
    for _ in range(times):
        for kept, work in zip(lengths, works, strict=True):
            start = time.perf_counter()
            work()
            kept.append(time.perf_counter() - start)
    return [min(one) for one in lengths]


def csv_with_pandas(path):
    for _ in pd.read_csv(path, usecols=[0, 1, 3], chunksize=500_000):
        pass


def parquet_with_pandas(path):
    pd.read_parquet(path, columns=["time_s", "current_A", "T_C"])


@pytest.mark.bench
@pytest.mark.parametrize(("name", "with_pandas"), [("log.csv", csv_with_pandas), ("log4.parquet", parquet_with_pandas)])
def test_against_pandas(folder, monkeypatch, capsys, name, with_pandas):
    monkeypatch.setattr(survey, "KEPT_SAMPLES", 0)
    rows = ROWS
    if name == "log4.parquet":
        rows, rng = 4 * ROWS, np.random.default_rng(0)
        columns = {"time_s": np.arange(rows) * 0.1, "current_A": rng.normal(0, 50, rows)}
        columns |= {"voltage_V": 350 + rng.normal(0, 1, rows), "T_C": 25 + rng.normal(0, 1, rows)}
        parquet.write_table(pa.table(columns), folder / name)
    spec = SPEC.model_copy(update={"file": name})
    history = open_history(spec, folder)
    pandas_s, stream_s, open_s = least(
        lambda: with_pandas(folder / name),
        lambda: sum(block.time_s.size for block in history.blocks()),
        lambda: open_history(spec, folder),
    )
    with capsys.disabled():
        print(
            f"\n{name}, {rows:,} rows: pandas {pandas_s:.3f} s; streamed with checks in {stream_s / pandas_s:.2f} of "
            f"it; opened, surveyed and hashed in {open_s / pandas_s:.2f} of it"
        )
    assert history.samples == rows


@pytest.mark.bench
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory of a process is read from /proc")
@pytest.mark.parametrize("name", ["log.csv", "log.parquet"])
def test_memory_does_not_grow_with_the_file(folder, name):
    """Peak memory of a fresh process that streams a file, with a Parquet row group as long as the file."""
    if name == "log.parquet":
        columns = {"time_s": np.arange(4.0 * ROWS), "current_A": np.random.default_rng(0).normal(size=4 * ROWS)}
        parquet.write_table(pa.table(columns), folder / name, row_group_size=4 * ROWS)
    program = (
        "import sys; from pathlib import Path\n"
        "from lifetime.history.inspection import survey; survey.KEPT_SAMPLES = 0\n"
        "from lifetime.history.open import open_history; from lifetime.history.spec import HistoryInput\n"
        "h = open_history(HistoryInput(file=sys.argv[2], time='time_s', current='current_A'), Path(sys.argv[1]))\n"
        "n = sum(b.time_s.size for b in h.blocks())\n"
        "peak = next(x for x in Path('/proc/self/status').read_text().splitlines() if x.startswith('VmHWM'))\n"
        "print(n, peak.split()[1])\n"
    )
    command = [sys.executable, "-c", program, str(folder), name]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    rows, peak = map(int, done.stdout.split())
    peak_MB = peak / 1024
    print(f"peak memory {peak_MB:.0f} MB for {rows:,} rows of {name}")
    assert rows >= ROWS
    assert peak_MB < 250
