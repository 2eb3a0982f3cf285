"""A demand, pass by pass, and the same passes shared between battery and ultracapacitor bank."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.split.vehicle import Vehicle, demand_of
from lifetime.stress.intervals import NO_CROSSINGS, Intervals, intervals


@dataclass(frozen=True, slots=True)
class Demand:
    """One pass of a power demand, as constant interval means.

    Args:
        length_s: Length of each interval [s], shape (n,).
        power_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
        speed_m_s: Mean speed of each interval [m/s], shape (n,), or None where the demand has none.
    """

    length_s: FloatArray
    power_W: FloatArray
    speed_m_s: FloatArray | None = None

    @property
    def energy_J(self) -> float:
        """Net energy of one pass [J]."""
        return float(np.sum(self.power_W * self.length_s))


@dataclass(frozen=True, slots=True)
class SharedPass:
    """One pass of the demand, shared.

    Args:
        length_s: Length of each interval [s], shape (n,).
        battery_W: Mean battery power at its terminals [W], shape (n,).
        bank_W: Mean bank power at its terminals [W], shape (n,); without losses the two sum to the demand.
        bank_A: Bank current [A], shape (n,).
        bank_V: Capacitor voltage at the intervals' ends, the start first [V], shape (n + 1,).
    """

    length_s: FloatArray
    battery_W: FloatArray
    bank_W: FloatArray
    bank_A: FloatArray
    bank_V: FloatArray


def read_demand(history: History, vehicle: Vehicle | None = None) -> Demand:
    """One pass of a power or speed history as interval means, whole in memory.

    Args:
        history: Driven by power, or by speed.
        vehicle: Turns a speed into a power; needed for a history without power.

    Raises:
        AssessmentError: The history has only a speed, and no vehicle is given.
    """
    speed = None
    if history.has_speed:
        blocks = list(history.blocks())
        time = np.concatenate([block.time_s for block in blocks])
        ends = np.concatenate([block.speed_m_s for block in blocks if block.speed_m_s is not None])
        if history.driven_by == "speed":
            if vehicle is None:
                raise AssessmentError(
                    f"{history.label}: a demand by speed needs the section [vehicle] to become a power."
                )
            length = np.diff(time)
            return Demand(length, demand_of(vehicle, length, ends), 0.5 * (ends[:-1] + ends[1:]))
        speed = (time, ends)
    runs = list(intervals(history))
    length = np.concatenate([run.length_s for run in runs])
    power = np.concatenate([run.mean for run in runs])
    if speed is None:
        return Demand(length, power)
    middle = speed[0][0] + np.cumsum(length) - 0.5 * length
    return Demand(length, power, np.interp(middle, *speed))


def battery_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The battery's part as intervals of power [W]."""
    return _runs(shared, [one.battery_W for one in shared])


def bank_runs(shared: list[SharedPass]) -> Iterator[Intervals]:
    """The bank's part as intervals of current [A]."""
    return _runs(shared, [one.bank_A for one in shared])


def _runs(shared: list[SharedPass], values: list[FloatArray]) -> Iterator[Intervals]:
    first = 0
    for one, value in zip(shared, values, strict=True):
        n = value.size
        yield Intervals(
            length_s=one.length_s,
            left=value,
            right=value,
            temperature_K=None,
            voltage_V=None,
            first_sample=first,
            crossings=NO_CROSSINGS,
        )
        first += n
