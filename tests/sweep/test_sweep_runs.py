"""Sweeps through the real program: resumed, in parallel, on a cluster with a worker lost, searched, on record."""

import json
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from lifetime.errors import InputError
from lifetime.packs.locate import profiles_folder
from lifetime.sweep.axes import named_axis, with_values
from lifetime.sweep.cached_folder import CachedFolder
from lifetime.sweep.candidate import rows_of_batch
from lifetime.sweep.plan import check_plan, make_plan
from lifetime.sweep.run import executor, run_plan
from lifetime.sweep.search import search_lowest_cost
from lifetime.sweep.summary import summarise

STRATEGIES = """
[[strategy]]
name = "alone"
demand = {{ file = "yard_shift.csv", time = "t_s", power = "p_dc_W" }}
split = {{ rule = "battery_only" }}
[[strategy]]
name = "low pass"
demand = {{ file = "yard_shift.csv", time = "t_s", power = "p_dc_W" }}
split = {{ rule = "low_pass", time_constant_s = {time_constant} }}
"""


@pytest.fixture
def folder(tmp_path):
    """A study of two strategies, one drive a day, with its demand beside it."""
    demo = profiles_folder() / "demo"
    shutil.copy(demo / "yard_shift.csv", tmp_path)
    text = (demo / "yard_tractor.toml").read_text(encoding="utf-8")
    text = text[: text.index("[[strategy]]")].replace("drive_repeats = 6", "drive_repeats = 1")
    (tmp_path / "study.toml").write_text(text + STRATEGIES.format(time_constant="20.0"), encoding="utf-8")
    return tmp_path


def plan_of(folder, steps=(5, 9)):
    data = tomllib.loads((folder / "study.toml").read_text(encoding="utf-8"))
    axes = [
        named_axis(f"strategy[2].split.time_constant_s=2:80:{steps[0]}:log", data),
        named_axis(f"ultracapacitor.price.purchase_per_farad_cell=0.0005:0.012:{steps[1]}", data),
    ]
    plan = make_plan(data, "study.toml", axes)
    check_plan(plan, CachedFolder(folder))
    return plan


def table(path):
    return pq.read_table(path).to_pylist()


def test_a_stopped_sweep_goes_on_and_is_the_same_in_parallel(folder):
    plan = plan_of(folder)
    seen = []
    whole = table(run_plan(plan, folder, folder / "one", None, seen.append))
    assert sum(seen) == len(plan.points) == 45
    assert [row["candidate"] for row in whole] == [number for number in range(45) for _ in range(2)]
    # Stopped after the first batch: only the second is left.
    shutil.copytree(folder / "one", folder / "two")
    (folder / "two" / "part-000001.parquet").unlink()
    (folder / "two" / "sweep.parquet").unlink()
    before = (folder / "two" / "part-000000.parquet").stat().st_mtime_ns
    with executor(2, None) as pool:
        again = table(run_plan(plan, folder, folder / "two", pool, lambda _: None))
    assert (folder / "two" / "part-000000.parquet").stat().st_mtime_ns == before
    # Bit for bit, on other processes too.
    assert again == whole
    with pytest.raises(InputError, match="another sweep is there"):
        run_plan(plan_of(folder, (2, 2)), folder, folder / "one", None, lambda _: None)
    (folder / "three").mkdir()
    (folder / "three" / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="not empty"):
        run_plan(plan, folder, folder / "three", None, lambda _: None)


def test_what_it_shows(folder):
    plan = plan_of(folder)
    path = run_plan(plan, folder, folder / "out", None, lambda _: None)
    rows = [row for row in table(path) if row["strategy"] == "low pass"]
    found = summarise(path, plan.axes)
    cheapest = min(rows, key=lambda row: row["net_present_cost"])
    assert found.best_with_ultracapacitor["net_present_cost"] == cheapest["net_present_cost"]
    price = "ultracapacitor.price.purchase_per_farad_cell"
    assert found.best_with_ultracapacitor[price] == 0.0005
    # Cost is linear in the bank's price, so the break-even price is the same whatever price the study has.
    breaks = {}
    for row in rows:
        key = row["strategy[2].split.time_constant_s"]
        breaks.setdefault(key, []).append(row["break_even_ultracapacitor_price"])
    for prices in breaks.values():
        np.testing.assert_allclose(prices, prices[0], rtol=1e-9)
    # At that price the two cost the same.
    row = rows[0]
    data = with_values(plan.data, plan.axes, plan.points[row["candidate"]])
    data["ultracapacitor"]["price"] = {"purchase": row["break_even_ultracapacitor_price"]}
    alone, split = rows_of_batch(data, str(folder), [], [(0, ())])
    if alone["strategy"] != "alone":
        alone, split = split, alone
    assert split["net_present_cost"] == pytest.approx(alone["net_present_cost"], rel=1e-9)
    assert found.sensitivity[0].key == price
    names = {one["strategy"] for one in found.front}
    assert names <= {"alone", "low pass"}


def test_candidates_that_share_lives_get_the_same_rows_as_alone(folder):
    # A strategy feels its own split, the sources and the service, but no price and no other strategy; the battery
    # alone does not feel the bank. Each candidate by itself is the reference: nothing is shared there.
    data = tomllib.loads((folder / "study.toml").read_text(encoding="utf-8"))
    axes = [
        named_axis(text, data)
        for text in (
            "cost.discount_rate=0.0,0.08",
            "strategy[2].split.time_constant_s=5,40",
            "ultracapacitor.series=200,216",
            "battery.parallel=38,40",
            "battery.price.purchase_per_kWh=100,200",
        )
    ]
    plan = make_plan(data, "study.toml", axes)
    # Prices vary fastest, so that neighbours share what they can.
    assert [axis.name for axis in plan.axes][-2:] == ["cost.discount_rate", "battery.price.purchase_per_kWh"]
    points = list(enumerate(plan.points))
    together = rows_of_batch(data, str(folder), plan.axes, points)
    alone = [row for point in points for row in rows_of_batch(data, str(folder), plan.axes, [point])]
    assert together == alone
    # And they do differ in everything that is varied.
    costs = {row["net_present_cost"] for row in alone if row["strategy"] == "low pass"}
    assert len(costs) == len(points) == 32
    assert len({row["battery_life_years"] for row in alone if row["strategy"] == "low pass"}) == 8
    assert len({row["battery_life_years"] for row in alone if row["strategy"] == "alone"}) == 2


def test_a_candidate_that_cannot_be_assessed_says_why(folder):
    text = (folder / "study.toml").read_text(encoding="utf-8").replace("drive_repeats = 1", "drive_repeats = 6")
    data = tomllib.loads(text)
    axis = named_axis("service.day.charge_c_rate=0.02,8", data)
    slow, fast = (rows_of_batch(data, str(folder), [axis], [(0, (value,))]) for value in axis.values)
    assert len(slow) == 1
    assert "does not fit into 24 h" in slow[0]["problem"]
    assert slow[0]["net_present_cost"] is None
    assert [row["problem"] for row in fast] == [None, None]


def test_a_search_finds_what_a_fine_grid_finds(folder):
    data = tomllib.loads((folder / "study.toml").read_text(encoding="utf-8"))
    axis = named_axis("strategy[2].split.time_constant_s=1:200:2:log", data)
    found = search_lowest_cost(data, "study.toml", folder, (axis,), "low pass", 24, lambda: None)
    fine = named_axis("strategy[2].split.time_constant_s=1:200:40:log", data)
    rows = rows_of_batch(data, str(folder), [fine], [(at, (value,)) for at, value in enumerate(fine.values)])
    grid = min(row["net_present_cost"] for row in rows if row["strategy"] == "low pass")
    assert found.net_present_cost <= grid * 1.002
    assert len(found.trials) == 24
    assert len({trial.values for trial in found.trials}) == 24


def test_a_cluster_that_loses_a_worker_ends_complete_and_equal(folder):
    """Two worker processes of a local cluster; one is killed while batches are out."""
    from distributed import LocalCluster

    plan = plan_of(folder, (12, 12))
    alone = table(run_plan(plan, folder, folder / "one", None, lambda _: None))
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        killed = []

        def kill_one(_):
            if not killed:
                nanny = next(iter(cluster.workers.values()))
                killed.append(nanny.process.pid)
                nanny.process.process.kill()

        with executor(1, cluster.scheduler_address) as pool:
            shared = table(run_plan(plan, folder, folder / "two", pool, kill_one))
    assert killed
    assert shared == alone


def test_a_scheduler_that_is_not_there(folder):
    with pytest.raises(InputError, match="does not answer"), executor(1, "tcp://127.0.0.1:9"):
        pass


class TestProgram:
    @pytest.fixture
    def run(self, folder, monkeypatch):
        monkeypatch.setenv("PACKWEAR_DATABASE_URL", f"sqlite:///{folder / 'record.sqlite'}")
        monkeypatch.setenv("PACKWEAR_STORE_URL", str(folder / "store"))

        def _run(*arguments):
            command = [sys.executable, "-c", "from webapi.cli import main; main()", *arguments]
            return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=300, check=False)

        return _run

    def test_sweep_prints_keeps_and_records(self, run, folder):
        text = (folder / "study.toml").read_text(encoding="utf-8")
        spread = '{ from = 2.0, to = 50.0, steps = 3, scale = "log" }'
        text = text.replace("time_constant_s = 20.0", f"time_constant_s = {spread}")
        (folder / "study.toml").write_text(text, encoding="utf-8")
        done = run("sweep", "study.toml", "--vary", "ultracapacitor.parallel=1,2")
        assert done.returncode == 0, done.stderr
        assert "6 candidates, 12 rows with a cost" in done.stdout
        assert "Lowest net present cost" in done.stdout
        assert "Pareto-optimal" in done.stdout
        # The battery alone costs least; neither key has to do with it.
        lowest = done.stdout.split("Lowest net present cost\n")[1].split("Lowest")[0]
        assert "alone" in lowest
        assert "parallel" not in lowest
        assert "time_constant_s" not in lowest
        assert max(map(len, done.stdout.splitlines())) <= 80
        assert "Recorded as" in done.stderr
        again = run("sweep", "study.toml", "--vary", "ultracapacitor.parallel=1,2", "--json")
        assert json.loads(again.stdout)["candidates"] == 6
        assert "Already on record" in again.stderr
        assert "6" in run("record", "sweeps").stdout
        assert Path(folder / "study.sweep" / "sweep.parquet").is_file()

    def test_refusals_come_before_anything_runs(self, run, folder):
        many = [f"battery.{key}=1:1000:1000" for key in ("series", "parallel")]
        done = run("sweep", "study.toml", "--vary", many[0], "--vary", many[1])
        assert (done.returncode, done.stdout) == (2, "")
        assert "1,000,000 candidates" in done.stderr
        assert run("sweep", "study.toml").returncode == 2
        assert run("sweep", "study.toml", "--vary", "battery.parallel=1:9:3", "--method", "dice").returncode == 2
        assert not (folder / "study.sweep").exists()

    def test_search(self, run):
        vary = ("--vary", "strategy[2].split.time_constant_s=2:50:2:log")
        done = run("search", "study.toml", "--strategy", "low pass", *vary, "--budget", "7")
        assert done.returncode == 0, done.stderr
        assert "strategy[2].split.time_constant_s = " in done.stdout
        wrong = run("search", "study.toml", "--strategy", "high pass", *vary)
        assert wrong.returncode == 2
        assert '"alone", "low pass"' in wrong.stderr
