"""No false alarm at rest and at the end of plain cycler data; a sensor that does end is still found."""

import numpy as np
import pytest

from lifetime.history.inspection.file_report import describe_file

ALARMS = ("seems stuck", "seems to end", "seems to jump")


def cycler(seed):
    """Constant current, constant voltage, rest, discharge, rest: some rounds, as a cycler writes them; invented."""
    rng = np.random.default_rng(seed)
    resolution = rng.choice([1e-3, 1e-4, 1e-6])
    noise = rng.choice([0.0, 2e-4, 1e-3])
    step = rng.choice([0.5, 1.0, 10.0])
    current, voltage = [], []
    for _ in range(rng.integers(1, 4)):
        n_cc, n_cv, n_rest, n_out = rng.integers(60, 600, 4)
        level = rng.uniform(1.0, 5.0)
        decay = np.exp(-np.arange(n_cv) / (0.3 * n_cv))
        relax = np.exp(-np.arange(n_rest) / 50.0)
        current += [np.full(n_cc, level), level * decay, np.zeros(n_rest), np.full(n_out, -level), np.zeros(n_rest)]
        voltage += [
            np.linspace(3.4, 4.2, n_cc),
            np.full(n_cv, 4.2),
            4.15 + 0.05 * relax,
            np.linspace(4.1, 3.0, n_out),
            3.3 - 0.2 * relax,
        ]
    flow, tension = np.concatenate(current), np.concatenate(voltage)
    flow = np.where(flow == 0.0, 0.0, flow + noise * rng.standard_normal(flow.size))
    tension = tension + noise * rng.standard_normal(tension.size)
    times = step * np.arange(flow.size)
    times[rng.integers(5, flow.size - 5) :] -= 0.6 * step  # a row as soon as a test goes on to its next step
    return times, np.round(flow, 6), np.round(tension / resolution) * resolution


def alarms(path):
    return [found.message for found in describe_file(path).findings if any(word in found.message for word in ALARMS)]


@pytest.mark.parametrize("seed", range(20))
def test_clean_cycler_logs_raise_no_alarm(tmp_path, seed):
    path = tmp_path / "log.csv"
    np.savetxt(path, np.column_stack(cycler(seed)), delimiter=",", header="t [s],I [A],U [V]", comments="", fmt="%.6f")
    assert alarms(path) == []


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("end", ["highest", "lowest"])
def test_a_sensor_that_ends_at_100_A_is_found(write, seed, end):
    """A drive whose current passes 100 A for a few rows at a time, several per cent of all rows."""
    rng = np.random.default_rng(seed)
    rough = np.convolve(rng.normal(0.0, 1.0, 3020), np.ones(20) / 20.0, "valid")[:3000]
    free = 100.0 * rough / np.quantile(rough, 0.95)
    drive = np.minimum(free, 100.0) * (1.0 if end == "highest" else -1.0)
    rows = "".join(f"{t},{value:.2f},{300 - 0.1 * value:.3f}\n" for t, value in enumerate(drive))
    (alarm,) = [message for message in alarms(write("t [s],I [A],U [V]\n" + rows)) if "exactly" in message][:1]
    assert f"rows have exactly the {end} value" in alarm
    assert "100 A" in alarm


def test_a_current_sensor_stuck_at_a_level_of_the_road_is_found(write):
    rng = np.random.default_rng(7)
    current = rng.normal(0.0, 40.0, 3000)
    voltage = 300.0 - 0.1 * current
    current[1000:1300] = current[1000]
    rows = "".join(f"{t},{i:.2f},{u:.3f}\n" for t, (i, u) in enumerate(zip(current, voltage, strict=True)))
    assert any("seems stuck" in message for message in alarms(write("t [s],I [A],U [V]\n" + rows)))
