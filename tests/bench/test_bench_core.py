"""Speed of the core, printed beside a hand-written script of pandas and ``rainflow``; nothing here fails on time.

Run: ``pytest tests/bench -s -m bench``. Each figure is process time, so that a busy machine spoils it less.
"""

import json
import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest
import rainflow

from lifetime.assessment.run import assess
from lifetime.history.block import BLOCK_SAMPLES, Block
from lifetime.history.model import History
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source, Thermal
from lifetime.study.load import Folder, resolve_study

pytestmark = pytest.mark.bench

STEP_S = 0.1
SOURCE = Source(
    kind="battery",
    capacity_As=120 * 3600.0,
    resistance_ohm=0.1,
    start_soc=0.5,
    rest_soc=0.5,
    open_circuit_V=lambda soc: 500.0 + 50.0 * soc,
    minimum_voltage_V=1.0,
    maximum_voltage_V=1e4,
    minimum_soc=-1e3,
    maximum_soc=1e3,
    thermal=Thermal(0.004, 180e3),
    hot_spot_K=3.0,
    parallel=1,
    series=1,
)


def stop_and_go(first, size):
    """A 10 Hz current that ramps between levels every 10 s and rests now and then [A], the same on every call."""
    nodes = np.arange(first // 100, (first + size) // 100 + 2)
    noise = np.sin(nodes * 12.9898) * 43758.5453
    level = (noise - np.floor(noise) - 0.5) * 200.0
    level[np.floor(noise * 7.0) % 3 == 0] = 0.0
    return np.interp(np.arange(first, first + size), nodes * 100, level)


class MadeUp:
    """Blocks of a long log that are made as they are asked for, so that only our own memory counts."""

    def __init__(self, samples):
        self.samples = samples

    def blocks(self):
        for first in range(0, self.samples, BLOCK_SAMPLES):
            size = min(BLOCK_SAMPLES, self.samples - first)
            yield Block(first, np.arange(first, first + size) * STEP_S, stop_and_go(first, size), None, None, None)


def log(samples):
    short = History.from_arrays(time_s=np.arange(10.0), current_A=np.ones(10))
    fields = {name: getattr(short, name) for name in short.__slots__}
    return History(**{**fields, "samples": samples, "source": MadeUp(samples)})


def timed(action):
    begun = time.process_time()
    result = action()
    return time.process_time() - begun, result


def by_hand(time_s, current_A):
    """What a careful engineer writes in an afternoon: charge, heat by a filter, rainflow, histogram."""
    frame = pd.DataFrame({"t": time_s, "i": current_A})
    step = frame["t"].diff().fillna(0.0)
    charge = (frame["i"].rolling(2).mean().fillna(0.0) * step).cumsum()
    soc = 0.5 - charge / SOURCE.capacity_As
    heat = frame["i"] ** 2 * SOURCE.resistance_ohm
    warm = heat.ewm(alpha=STEP_S / SOURCE.thermal.time_constant_s, adjust=False).mean() * 0.004
    cycles = pd.DataFrame(rainflow.extract_cycles(soc.to_numpy()), columns=["range", "mean", "count", "from", "to"])
    bins = pd.DataFrame({"s": (soc * 128).round(), "T": (warm * 2).round(), "dt": step}).groupby(["s", "T"])["dt"].sum()
    return len(cycles), len(bins)


def test_stress_summary_of_a_long_log(full):
    samples = 4_000_000 if full else 400_000
    current = np.concatenate([block.current_A for block in MadeUp(samples).blocks()])
    history = History.from_arrays(time_s=np.arange(samples) * STEP_S, current_A=current)
    ours = min(
        timed(lambda: trace_drive(DriveTracer(SOURCE, power_driven=False), intervals(history)))[0] for _ in range(3)
    )
    theirs, _ = timed(lambda: by_hand(np.arange(samples) * STEP_S, current))
    print(
        f"\nstress summary: {samples / ours / 1e6:.1f} million samples/s; pandas + rainflow by hand "
        f"{samples / theirs / 1e6:.2f}; ratio {theirs / ours:.1f}"
    )


MEMORY_SCRIPT = """
import sys
sys.path.insert(0, {folder!r})
import test_bench_core as bench
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
drive = trace_drive(DriveTracer(bench.SOURCE, power_driven=False), intervals(bench.log({samples})))
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(drive.samples, drive.cycles.size, int(peak.split()[1]) / 1024)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="peak memory is read from /proc")
def test_memory_of_a_very_long_log(request, full):
    samples = 100_000_000 if full else 5_000_000
    script = MEMORY_SCRIPT.format(folder=str(request.path.parent), samples=samples)
    begun = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=600)
    traced, cycles, megabytes = done.stdout.split()
    print(
        f"\n{int(traced):,} intervals in {time.perf_counter() - begun:.0f} s, {cycles} cycle classes, "
        f"peak memory {float(megabytes):.0f} MB"
    )


def study(folder, repeats, strategy):
    samples = 18_001
    rows = np.column_stack([np.arange(samples) * STEP_S, stop_and_go(0, samples), stop_and_go(0, samples) * 500.0])
    np.savetxt(folder / "drive.csv", rows, delimiter=",", header="t_s,i_A,p_W", comments="", fmt="%.4f")
    return {
        "title": "bench",
        "service": {
            "years": 15,
            "working_days_per_year": 250,
            "climate": "temperate",
            "day": {"drive_repeats": repeats, "charge_c_rate": 0.3, "charge_to_soc": 0.8},
        },
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 160,
            "parallel": 60,
            "start_soc": 0.8,
            "thermal": {"resistance_K_per_W": 0.004, "heat_capacity_J_per_K": 180e3},
            "price": {"purchase": 20000},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p2V",
            "series": 200,
            "parallel": 1,
            "start_voltage_V": 480,
            "minimum_voltage_V": 270,
            "rest_voltage_V": 400,
            "thermal": {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 120e3},
            "price": {"purchase": 6000},
        },
        "cost": {"currency": "EUR", "discount_rate": 0.05},
        "strategy": [strategy],
    }


STRATEGIES = {
    "battery current": {"name": "s", "battery": {"file": "drive.csv", "time": "t_s", "current": "i_A"}},
    "demand, battery only": {
        "name": "s",
        "demand": {"file": "drive.csv", "time": "t_s", "power": "p_W"},
        "split": {"rule": "battery_only"},
    },
    "demand, low-pass with bank": {
        "name": "s",
        "demand": {"file": "drive.csv", "time": "t_s", "power": "p_W"},
        "split": {
            "rule": "low_pass",
            "time_constant_s": 20,
            "ultracapacitor_setpoint_V": 480,
            "ultracapacitor_setpoint_time_constant_s": 120,
        },
    },
}


@pytest.mark.parametrize("repeats", [1, 8])
@pytest.mark.parametrize("name", STRATEGIES)
def test_one_strategy_over_fifteen_years(name, repeats, tmp_path, full):
    loaded = resolve_study(study(tmp_path, repeats, STRATEGIES[name]), "bench", Folder(tmp_path))
    taken = min(timed(lambda: assess(loaded))[0] for _ in range(5 if full else 1))
    print(f"\n30 min at 10 Hz, {repeats} times a day, {name}: {1000 * taken:.0f} ms")


def test_start_of_the_program():
    program = [sys.executable, "-c", "from webapi.cli import main; main()", "--help"]
    try:
        import webapi.cli  # noqa: F401
    except ImportError:
        program = [sys.executable, "-c", "from lifetime.cli.app import main; main()", "--help"]
    taken = []
    for _ in range(5):
        begun = time.perf_counter()
        subprocess.run(program, capture_output=True, check=True)
        taken.append(time.perf_counter() - begun)
    bare = min(timed_process([sys.executable, "-c", "pass"]) for _ in range(5))
    print(json.dumps({"help_s": round(min(taken), 3), "bare_python_s": round(bare, 3)}))


def timed_process(command):
    begun = time.perf_counter()
    subprocess.run(command, check=True)
    return time.perf_counter() - begun
