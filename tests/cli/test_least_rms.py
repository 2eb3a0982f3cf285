"""The command ``least-rms`` through the real program."""

import json
import subprocess
import sys

import numpy as np
import pytest

STUDY = """title = "Bound"
[service]
years = 8
working_days_per_year = 300
ambient_C = 25
[battery]
cell = "lfp_naumann_2020"
series = 110
parallel = 30
start_soc = 0.9
[battery.price]
purchase_per_kWh = 200
{bank}
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "alone"
demand = {{ file = "d.csv", time = "t_s", power = "p_kW" }}
split = {{ rule = "battery_only" }}
"""
BANK = """[ultracapacitor]
cell = "edlc_3000F_10K_0p2V"
series = 144
parallel = 1
start_voltage_V = 330
minimum_voltage_V = 190
maximum_voltage_V = 380
rest_voltage_V = 200
[ultracapacitor.price]
purchase_per_farad_cell = 0.001
"""


@pytest.fixture
def run(tmp_path):
    def _run(bank, *options, samples=1201):
        # 30 kW for 2 s once a minute, for ten minutes, in half-second steps: 1 kW on the mean.
        power = np.zeros(samples)
        power[np.arange(samples) % 120 < 4] = 30.0
        rows = "".join(f"{t / 2},{p}\n" for t, p in enumerate(power))
        (tmp_path / "d.csv").write_text("t_s,p_kW\n" + rows, encoding="utf-8")
        (tmp_path / "study.toml").write_text(STUDY.format(bank=bank), encoding="utf-8")
        command = [sys.executable, "-c", "from webapi.cli import main; main()", "least-rms", "study.toml", *options]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False)

    return _run


def test_a_bank_that_is_large_enough_leaves_the_mean(run):
    found = json.loads(run(BANK, "--json").stdout)[0]
    assert found["alone_peak_W"] == 30e3
    # The window of 1/2 * 20.83 F * (380**2 - 190**2) V**2 = 1.1 MJ holds far more than a pulse of 60 kJ.
    mean_W = 30e3 * 4 / 120
    assert found["best_rms_W"] == pytest.approx(mean_W, rel=0.06)
    assert found["best_peak_W"] == pytest.approx(mean_W, rel=0.06)
    # With resistance a little more.
    assert found["best_rms_W"] * 0.999 <= found["with_losses_rms_W"] <= 1.2 * found["best_rms_W"]
    # The battery alone has to carry every wasted joule, so none is.
    assert 0.0 <= found["with_losses_wasted_J"] < 1e-3 * mean_W * 600


def test_it_says_why_there_is_no_bound_with_losses(run):
    done = run(BANK, samples=21_001)
    assert done.returncode == 0
    assert "with losses and limits" not in done.stdout
    # Cut at the edges between 0 and 30 kW too, so more than the 21,000 between its samples.
    assert "and it is found for 20,000 at most" in " ".join(done.stdout.split())
    found = json.loads(run(BANK, "--json", samples=21_001).stdout)[0]
    assert found["with_losses_rms_W"] is None
    assert "Average the demand over longer steps" in found["with_losses_left_out"]


def test_it_prints_and_refuses(run):
    done = run(BANK)
    assert "battery power [kW]" in done.stdout
    assert "least-rms split" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    without = run("")
    assert without.returncode == 1
    assert "needs the section [ultracapacitor]" in without.stderr
