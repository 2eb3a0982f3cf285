"""Stress records and laws for the tests of this folder."""

from pathlib import Path

import numpy as np
import pytest

from lifetime.ageing.contract import Stress
from lifetime.packs.load import load_cell
from lifetime.packs.locate import shipped_ids


@pytest.fixture(scope="session")
def laws():
    """Every shipped law by profile id."""
    found = {name: load_cell(name, "battery", Path()).law for name in shipped_ids("batteries")}
    found |= {name: load_cell(name, "ultracapacitor", Path()).law for name in shipped_ids("ultracapacitors")}
    return found


@pytest.fixture(scope="session")
def make_stress():
    """A stress record from a few overrides; arrays broadcast as the contract says."""

    def make(**given):
        bins, classes = given.pop("bins", 1), given.pop("classes", 1)
        over_time = {"duration_s": 86400.0, "soc": 0.5, "temperature_K": 298.15, "voltage_V": 3.3}
        over_cycles = {
            "count": 1.0,
            "depth": 0.5,
            "mean_soc": 0.5,
            "c_rate": 0.5,
            "charge_c_rate": 0.5,
            "discharge_c_rate": 0.5,
            "cycle_temperature_K": 298.15,
            "rms_voltage_V": 3.7,
        }
        values = {key: np.full(bins, value) for key, value in over_time.items()}
        values |= {key: np.full(classes, value) for key, value in over_cycles.items()}
        values |= {key: np.asarray(value, dtype=np.float64) for key, value in given.items()}
        values.setdefault("throughput_fec", values["count"] * values["depth"])
        values.setdefault("rms_current_A", np.zeros(()))
        return Stress(**values)

    return make


@pytest.fixture(scope="session")
def wide_stress(make_stress):
    """Two conditions by many bins and classes that reach into every corner a law treats specially."""
    random = np.random.default_rng(7)  # any values will do; fixed so that a failure can be repeated
    bins, classes = 40, 30
    return make_stress(
        duration_s=random.uniform(0, 1e5, (2, bins)),
        soc=np.linspace(0.0, 1.0, bins),
        temperature_K=random.uniform(263, 328, (2, bins)),
        voltage_V=np.linspace(2.5, 4.2, bins),
        count=random.uniform(0, 20, (2, classes)),
        depth=np.linspace(0.01, 1.1, classes),
        mean_soc=random.uniform(0.3, 0.9, classes),
        c_rate=np.linspace(12.0, 0.1, classes),
        charge_c_rate=random.uniform(0.1, 2.0, classes),
        discharge_c_rate=np.linspace(12.0, 0.1, classes),
        cycle_temperature_K=random.uniform(263, 328, (2, classes)),
        rms_voltage_V=random.uniform(3.3, 4.1, classes),
        rms_current_A=np.array([20.0, 60.0]),
    )
