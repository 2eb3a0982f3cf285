"""The states at which a power-driven day is traced again: worn, and at the resistances of cold and warm months."""

from typing import Final, NamedTuple

import numpy as np

from lifetime.assessment.setups import SourceSetup
from lifetime.checks import FloatArray
from lifetime.constants import MONTHS_PER_YEAR
from lifetime.packs.resistance import REFERENCE_K
from lifetime.projection.ambient import Ambient
from lifetime.projection.duty import Wear
from lifetime.projection.season import SeasonalResistance
from lifetime.stress.current_limits import LoadLimits
from lifetime.stress.day import Day

STATED_K: Final = np.full(MONTHS_PER_YEAR, REFERENCE_K)
"""A year at the temperature at which resistances are stated [K]."""
_SAME_CURRENT: Final = 1e-3
"""Relative change of current that a month's resistance may make before the day is traced at it: 0.1 %."""
_STRAIGHT: Final = 0.05
"""Change of current up to which currents run straight over resistance between two traces; the bend is its square."""


def typical_ratio(setup: SourceSetup, ambient_K: FloatArray) -> float:
    """Resistance of a new source over the stated one, mean over the year [1].

    Args:
        setup: The source.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    return float(setup.source.shape.at_temperature(setup.source.around_K(ambient_K)).mean())


def typical_limits(setup: SourceSetup, ambient_K: FloatArray) -> LoadLimits | None:
    """What a source may be loaded with at the year's mean temperature; None where nothing is stated.

    Args:
        setup: The source.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    return None if setup.load is None else setup.load.at(float(setup.source.around_K(ambient_K).mean()))


class TracedState(NamedTuple):
    """A state at which a day is traced again.

    Args:
        wear: Which part differs from the new day.
        capacity_fraction: Capacity over initial [1].
        resistance_ratio: Resistance over the stated one, by health and temperature [1].
    """

    wear: Wear
    capacity_fraction: float
    resistance_ratio: float


def traced_states(setup: SourceSetup, new: Day, ambient_K: FloatArray) -> list[TracedState]:
    """Capacity and resistance of a battery each at its limits; those of an ultracapacitor age together.

    Args:
        setup: The source.
        new: Its day, traced at the beginning of life.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    limits = setup.limits
    if not setup.source.is_battery:
        return [TracedState("both", limits.capacity_fraction, limits.resistance_ratio)]
    typical = new.drive.resistance_ratio
    around_K = Ambient.around(setup.source, ambient_K).driving_K
    seasonal = SeasonalResistance(setup.source.shape, new, around_K).factors(1.0)
    lowest, highest = float(seasonal.min()), float(seasonal.max())
    highest *= setup.grown_resistance
    # A resistance's share of the power is what it changes the current by, to first order.
    per_ratio = _heat_share(setup, new)
    ratios = []
    if (typical - lowest) * per_ratio > _SAME_CURRENT:
        ratios.append(lowest)
    if setup.model.has_resistance or (highest - typical) * per_ratio > _SAME_CURRENT:
        if (highest - typical) * per_ratio > _STRAIGHT:
            ratios.append(0.5 * (typical + highest))
        ratios.append(highest)
    at_capacity = TracedState("capacity", limits.capacity_fraction, typical)
    return [at_capacity, *(TracedState("resistance", 1.0, ratio) for ratio in ratios)]


def _heat_share(setup: SourceSetup, day: Day) -> float:
    """Heat at the stated resistance over the energy that the source moves [1]."""
    source, drive = setup.source, day.drive
    moved_J = drive.throughput_As * float(source.open_circuit_V(np.array([source.start_soc]))[0])
    return source.resistance_ohm * drive.heat_A2s / moved_J if moved_J > 0.0 else 0.0
