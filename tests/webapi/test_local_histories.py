"""Assessments of files the service does not read by itself are recorded all the same, and run again alike."""

import re
import subprocess
import sys

import numpy as np
import pytest
from scipy.io import savemat

STUDY = """title = "Kept"
[service]
years = 5
working_days_per_year = 200
ambient_C = 20
[battery]
cell = "lfp_naumann_2020"
series = 110
parallel = 20
start_soc = 0.8
[battery.price]
purchase = 1000
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "a"
battery = {history}
"""
TIME = np.arange(600.0)
CURRENT = 20.0 * np.sin(TIME / 40.0) + 5.0
HISTORIES = {
    "mat": '{ file = "log.mat", time = "run.t", time_unit = "s", current = "run.i", current_unit = "A" }',
    "glob": '{ file = "log_*.csv", time = "time_s", current = "current_A" }',
    "cell": '{ file = "log_1.csv", time = "time_s", current = "current_A", quantities_of = "cell", '
    'interpolation = "zero_order_hold" }',
    "sign by mode": '{ file = "mode.csv", time = "time_s", current = "current_A", mode = "m", charge_modes = ["C"], '
    'discharge_modes = ["D"] }',
}


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("PACKWEAR_DATABASE_URL", f"sqlite:///{tmp_path / 'record.sqlite'}")
    monkeypatch.setenv("PACKWEAR_STORE_URL", str(tmp_path / "store"))
    savemat(tmp_path / "log.mat", {"run": {"t": TIME, "i": CURRENT}})
    for number, part in enumerate((slice(0, 250), slice(250, None)), start=1):
        rows = "".join(f"{t},{i}\n" for t, i in zip(TIME[part], CURRENT[part], strict=True))
        (tmp_path / f"log_{number}.csv").write_text("time_s,current_A\n" + rows, encoding="utf-8")
    rows = "".join(f"{t},{abs(i)},{'D' if i > 0 else 'C'}\n" for t, i in zip(TIME, CURRENT, strict=True))
    (tmp_path / "mode.csv").write_text("time_s,current_A,m\n" + rows, encoding="utf-8")

    def _run(*arguments):
        command = [sys.executable, "-c", "from webapi.cli import main; main()", *arguments]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False)

    return _run


@pytest.mark.parametrize("kind", HISTORIES)
def test_recorded_and_run_again(run, tmp_path, kind):
    (tmp_path / "study.toml").write_text(STUDY.format(history=HISTORIES[kind]), encoding="utf-8")
    done = run("assess", "study.toml")
    assert done.returncode == 0, done.stderr
    key = re.search(r"Recorded as (\w+)", done.stderr)[1]
    for name in ("log.mat", "log_1.csv", "log_2.csv", "mode.csv"):
        (tmp_path / name).unlink()
    again = run("record", "rerun", key)
    assert again.returncode == 0, again.stderr
    assert "agree within 1e-9" in again.stdout.replace("\n", " ")
