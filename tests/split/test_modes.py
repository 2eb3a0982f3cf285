"""Drive modes by the signs of both sources' power; the vectors are worked by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.split.modes import MODES, changes, figures, modes_of, transfer_W

# kW: battery, bank, mode, transfer.
VECTOR = [
    (10, 5, "traction", 0),
    (20, -8, "battery_to_ultracapacitor", 8),
    (-5, -10, "regeneration", 0),
    (15, -3, "battery_to_ultracapacitor", 3),
    (-10, 4, "ultracapacitor_to_battery", 4),
    (0, 0, "idle", 0),
    (7, 0, "traction", 0),
    (0, -7, "regeneration", 0),
]


def test_the_vector():
    battery, bank = (np.array([row[at] for row in VECTOR], dtype=float) for at in (0, 1))
    codes = modes_of(battery, bank, 0.01)
    assert [MODES[code] for code in codes] == [row[2] for row in VECTOR]
    assert transfer_W(battery, bank).tolist() == [row[3] for row in VECTOR]
    assert changes(codes) == 7


def test_the_dead_band():
    assert MODES[modes_of(np.array([0.9]), np.array([-0.9]), 1.0)[0]] == "idle"
    assert MODES[modes_of(np.array([5.0]), np.array([-0.9]), 1.0)[0]] == "traction"


@settings(deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_modes_partition_time_and_energy(seed):
    rng = np.random.default_rng(seed)
    battery, bank, length = rng.normal(0, 10, 50), rng.normal(0, 10, 50), rng.uniform(0.1, 2.0, 50)
    codes = modes_of(battery, bank, 0.5)
    rows = [figures(codes == code, length, battery, battery / 400.0, 0.1) for code in range(len(MODES))]
    assert sum(row.energy_out_J - row.energy_in_J for row in rows) == pytest.approx(float(np.sum(battery * length)))
    assert sum(row.throughput_As for row in rows) == pytest.approx(float(np.sum(np.abs(battery / 400.0) * length)))
    assert sum(row.loss_J for row in rows) == pytest.approx(0.1 * float(np.sum((battery / 400.0) ** 2 * length)))


def test_a_mode_that_does_not_occur():
    none = figures(np.zeros(3, dtype=bool), np.ones(3), np.ones(3), np.ones(3), 1.0)
    assert (none.rms_A, none.loss_J) == (0.0, 0.0)
