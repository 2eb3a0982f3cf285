"""Sources, and histories cut into blocks of any size, for the tests of this folder."""

import itertools
from dataclasses import dataclass, replace

import numpy as np
import pytest

from lifetime.history.model import Block, History
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source, Thermal


@dataclass(frozen=True)
class Chopped:
    """The same samples in blocks that end where the test wants them to."""

    blocks_list: tuple[Block, ...]

    def blocks(self):
        return iter(self.blocks_list)


def chop(history, cuts):
    """The history with its blocks cut anew at the given sample positions."""
    (whole,) = history.blocks()
    edges = [0, *sorted(set(cuts)), whole.time_s.size]

    def part(values, low, high):
        return None if values is None else values[low:high]

    parts = [
        Block(
            low,
            part(whole.time_s, low, high),
            part(whole.current_A, low, high),
            part(whole.power_W, low, high),
            part(whole.voltage_V, low, high),
            part(whole.temperature_K, low, high),
        )
        for low, high in itertools.pairwise(edges)
        if high > low
    ]
    return replace(history, source=Chopped(tuple(parts)))


def make_source(**given):
    """A 50 Ah pack at 350 V with a straight open-circuit curve, unless told otherwise."""
    values = {
        "kind": "battery",
        "capacity_As": 50.0 * 3600.0,
        "resistance_ohm": 0.1,
        "start_soc": 0.6,
        "rest_soc": None,
        "open_circuit_V": lambda soc: 300.0 + 100.0 * soc,
        "minimum_voltage_V": 200.0,
        "maximum_voltage_V": 420.0,
        "minimum_soc": 0.0,
        "maximum_soc": 1.0,
        "thermal": None,
        "hot_spot_K": 0.0,
        "parallel": 1,
        "series": 100,
    }
    return Source(**{**values, **given})


@pytest.fixture(scope="session")
def source():
    """Builder of sources."""
    return make_source


@pytest.fixture(scope="session")
def thermal():
    """Builder of lumped thermal models: resistance [K/W], heat capacity [J/K]."""
    return Thermal


@pytest.fixture(scope="session")
def trace():
    """Trace arrays through a source: ``trace(source, time_s, current_A=..., repeats=..., cuts=...)``."""

    def run(source, time_s, *, repeats=1, cuts=(), tracer=None, **channels):
        interpolation = channels.pop("interpolation", "linear")
        arrays = {name: np.asarray(values, dtype=np.float64) for name, values in channels.items()}
        history = History.from_arrays(
            time_s=np.asarray(time_s, dtype=np.float64), interpolation=interpolation, **arrays
        )
        if len(cuts):
            history = chop(history, cuts)
        made = DriveTracer(source, power_driven="power_W" in channels, **(tracer or {}))
        return trace_drive(made, intervals(history, repeats))

    return run
