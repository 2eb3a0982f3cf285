"""Twenty faults of each kind planted in clean, made-up logs: at least nineteen are found, and nothing in clean ones."""

import numpy as np
import pytest

from lifetime.history.inspection.file_report import describe_file

RUNS = 20
CAPACITY_AS = 60.0 * 3600.0


def clean(seed):
    """An hour and a half of driving, once a second: 96 cells, 60 Ah, 0.1 Ω, with noise on every sensor."""
    rng = np.random.default_rng(seed)
    n = 5400
    time = np.arange(n, dtype=np.float64)
    wish = np.repeat(rng.normal(15.0, 45.0, n // 20), 20)
    current = np.convolve(wish, np.ones(15) / 15, mode="same") + rng.normal(0.0, 0.3, n)
    current[rng.integers(0, n - 200) :][:180] = rng.normal(0.0, 0.02, 180)  # standing at a light
    soc = 0.9 - np.cumsum(current) / CAPACITY_AS
    voltage = 330.0 + 60.0 * soc - 0.1 * current + rng.normal(0.0, 0.05, n)
    temperature = 25.0 + 4.0 * time / n + rng.normal(0.0, 0.02, n)
    return {"time": time, "current": current, "voltage": voltage, "temperature": temperature, "soc": 100.0 * soc}


def found(tmp_path, data):
    path = tmp_path / "log.csv"
    table = np.column_stack([data[name] for name in ("time", "current", "voltage", "temperature", "soc")])
    header = "Time [s],Current [A],Voltage [V],Temperature [°C],SOC [%]"
    np.savetxt(path, table, delimiter=",", header=header, comments="", fmt="%.6f", encoding="utf-8")
    return describe_file(path)


def offset(data, rng):
    data["current"] += rng.choice([-1.0, 1.0]) * rng.uniform(1.0, 5.0)


def spike(data, rng):
    name = rng.choice(["current", "voltage", "temperature"])
    data[name][rng.integers(10, 5390)] += rng.choice([-1.0, 1.0]) * 8.0 * np.ptp(data[name])


def gap(data, rng):
    start = rng.integers(100, 5000)
    keep = np.ones(5400, dtype=bool)
    keep[start : start + rng.integers(30, 300)] = False
    for name in data:
        data[name] = data[name][keep]


def swapped_sign(data, rng):
    data["current"] = -data["current"]


def wrong_unit(data, rng):
    name, factor = [("current", 1e3), ("voltage", 1e3), ("time", 1e3), ("voltage", 1e-3), ("current", 1e-3)][
        rng.integers(5)
    ]
    data[name] = data[name] * factor


def stuck_sensor(data, rng):
    name = rng.choice(["current", "voltage", "temperature"])
    start = rng.integers(100, 4500)
    data[name][start : start + rng.integers(120, 600)] = data[name][start]


def clock_step(data, rng):
    data["time"][rng.integers(100, 5300) :] += rng.choice([-1, 1]) * rng.uniform(2.0, 8.0)


WORDS = {
    offset: "to have an offset",
    spike: "of a single row",
    gap: "gap",
    swapped_sign: "negative while discharging",
    wrong_unit: "",
    stuck_sensor: "seems stuck",
    clock_step: ("clock seems to jump", "time runs backwards"),
}


@pytest.mark.parametrize("seed", range(RUNS))
def test_nothing_is_raised_on_a_clean_log(tmp_path, seed):
    report = found(tmp_path, clean(seed))
    assert [finding for finding in report.findings if finding.severity != "note"] == []


@pytest.mark.parametrize("fault", WORDS, ids=lambda one: one.__name__)
def test_planted_faults_are_found(tmp_path, fault):
    words = WORDS[fault] if isinstance(WORDS[fault], tuple) else (WORDS[fault],)
    missed = []
    for seed in range(RUNS):
        data = clean(seed)
        fault(data, np.random.default_rng(1000 + seed))
        grave = [finding.message for finding in found(tmp_path, data).findings if finding.severity != "note"]
        if not any(word in message for word in words for message in grave):
            missed.append(seed)
    assert len(missed) <= 1, missed
