"""Speed of a sweep: a 30 min demand at 10 Hz, low-pass with a bank; nothing here fails on time.

Run: ``pytest tests/bench/test_bench_sweep.py -s -m bench``. The demand is invented.
"""

import time
import tomllib

import numpy as np
import pytest

from lifetime.packs.locate import profiles_folder
from lifetime.sweep.axes import named_axis
from lifetime.sweep.candidate import rows_of_batch
from lifetime.sweep.plan import make_plan
from lifetime.sweep.run import executor, run_plan

pytestmark = pytest.mark.bench

STRATEGY = """
[[strategy]]
name = "low pass"
demand = { file = "demand.csv", time = "t_s", power = "p_W" }
split = { rule = "low_pass", time_constant_s = 20.0 }
"""


@pytest.fixture
def folder(tmp_path):
    """The demo's pack with an invented demand of 18,000 samples."""
    rng = np.random.default_rng(0)
    time_s = np.arange(18_000) / 10.0
    power = 12e3 + 25e3 * np.sin(2.0 * np.pi * time_s / 95.0) + np.repeat(rng.normal(0.0, 1.5e4, 900), 20)
    np.savetxt(tmp_path / "demand.csv", np.column_stack([time_s, power]), "%.1f", ",", header="t_s,p_W", comments="")
    text = (profiles_folder() / "demo" / "yard_tractor.toml").read_text(encoding="utf-8")
    text = text[: text.index("[[strategy]]")].replace("drive_repeats = 6", "drive_repeats = 1")
    (tmp_path / "study.toml").write_text(text + STRATEGY, encoding="utf-8")
    return tmp_path


def plan_of(folder, *varied):
    data = tomllib.loads((folder / "study.toml").read_text(encoding="utf-8"))
    return make_plan(data, "study.toml", [named_axis(one, data) for one in varied])


def timed(action):
    begun = time.perf_counter()
    result = action()
    return time.perf_counter() - begun, result


def test_candidates_that_share_lives_beside_each_by_itself(folder, full):
    plan = plan_of(
        folder,
        "strategy[1].split.time_constant_s=1:100:4:log",
        f"ultracapacitor.price.purchase_per_farad_cell=0.001:0.02:{16 if full else 2}",
    )
    points = list(enumerate(plan.points))

    def batch(of):
        return rows_of_batch(plan.data, str(folder), plan.axes, of)

    batch(points[:1])
    alone, rows = timed(lambda: [row for point in points for row in batch([point])])
    together, same = timed(lambda: batch(points))
    assert same == rows
    n = len(points)
    print(f"\n{n / alone:.1f} candidates/s each by itself; {n / together:.0f} where only a price moves in 15 of 16")


def test_two_processes_beside_one(folder, full):
    count = 256 if full else 8
    plan = plan_of(folder, f"strategy[1].split.time_constant_s=1:100:{count}:log")
    one, _ = timed(lambda: run_plan(plan, folder, folder / "one", None, lambda _: None))
    with executor(2, None) as pool:
        two, _ = timed(lambda: run_plan(plan, folder, folder / "two", pool, lambda _: None))
    print(
        f"\n{count / one:.1f} candidates/s on one process, {count / two:.1f} on two: efficiency {one / two / 2.0:.2f}"
    )
