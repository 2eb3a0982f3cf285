"""From a history to a demand: power, current times voltage, or the speed of a vehicle, as interval means."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import AssessmentError
from lifetime.history.model import History
from lifetime.split.share import Demand, MeasuredTemperature
from lifetime.split.vehicle import Vehicle, demand_of
from lifetime.stress.intervals import IndexArray, Intervals, intervals

_MISSED: Final = 2e-3
"""Share of a demand's mean square that interval means may miss: 0.1 % of its rms value."""
_MOST_PIECES: Final = 64
"""Pieces of one interval; a straight run through zero is then met to 0.03 % of its own mean square."""


def read_demand(history: History, vehicle: Vehicle | None = None) -> Demand:
    """One pass of a history as interval means, whole in memory.

    Energy is exact. Where a power runs straight between samples far apart, intervals are cut until the means also
    have the rms value of the straight run, as the same file has it as a source's own history.

    Args:
        history: Driven by power, by current with a voltage, or by speed.
        vehicle: Turns a speed into a power; needed for a history with a speed alone.

    Raises:
        AssessmentError: The history has only a speed and no vehicle is given, or its speed is held between samples,
            or it has a current without a voltage.
    """
    if history.driven_by == "speed":
        return _by_speed(history, vehicle)
    if history.driven_by == "current" and not history.has_voltage:
        raise AssessmentError(
            f"{history.label}: a current alone is no power. Name the voltage column too, or a power column."
        )
    runs = list(intervals(history))
    length, left, right = (_joined(getattr(run, name) for run in runs) for name in ("length_s", "left", "right"))
    if history.driven_by == "current":
        voltage = _joined(run.voltage_V for run in runs)
        left, right = left * voltage, right * voltage
    pieces = _pieces(length, left, right)
    return Demand(
        np.repeat(length / pieces, pieces),
        _piece_means(left, right, pieces),
        None if not history.has_speed else _mean_speed(history, np.repeat(length / pieces, pieces)),
        _temperature(history, runs, pieces),
    )


def _by_speed(history: History, vehicle: Vehicle | None) -> Demand:
    if vehicle is None:
        raise AssessmentError(f"{history.label}: a demand by speed needs the section [vehicle] to become a power.")
    if history.interpolation == "zero_order_hold":
        raise AssessmentError(
            f"{history.label}: a speed that is held between samples jumps at each of them, which no finite power "
            'does. Use interpolation = "linear" for a demand by speed.'
        )
    blocks = list(history.blocks())
    time, speed = _joined(block.time_s for block in blocks), _joined(block.speed_m_s for block in blocks)
    measured = _joined(block.temperature_K for block in blocks) if history.has_temperature else None
    stops = np.flatnonzero(speed[:-1] * speed[1:] < 0.0)
    if stops.size:
        # Reversing: the vehicle stands still between the two samples; on each side resistances oppose the motion.
        reached = speed[stops] / (speed[stops] - speed[stops + 1])
        moment = time[stops] + reached * (time[stops + 1] - time[stops])
        if measured is not None:
            between = measured[stops] + reached * (measured[stops + 1] - measured[stops])
            measured = np.insert(measured, stops + 1, between)
        time, speed = np.insert(time, stops + 1, moment), np.insert(speed, stops + 1, 0.0)
    length, speed = np.diff(time), np.abs(speed)
    temperature = None
    if measured is not None:
        temperature = MeasuredTemperature(0.5 * (measured[:-1] + measured[1:]), history.ambient_K)
    return Demand(length, demand_of(vehicle, length, speed), 0.5 * (speed[:-1] + speed[1:]), temperature)


def _joined(parts: Iterable[FloatArray | None]) -> FloatArray:
    return np.concatenate([part for part in parts if part is not None])


def _mean_speed(history: History, length_s: FloatArray) -> FloatArray:
    """Speed at the middle of each interval, as the history's values run between samples [m/s]."""
    blocks = list(history.blocks())
    time, speed = _joined(block.time_s for block in blocks), _joined(block.speed_m_s for block in blocks)
    middle = time[0] + np.cumsum(length_s) - 0.5 * length_s
    if history.interpolation == "zero_order_hold":
        at = np.searchsorted(time, middle, side="right") - 1
        return np.asarray(np.abs(speed[np.clip(at, 0, speed.size - 1)]))
    return np.asarray(np.abs(np.interp(middle, time, speed)))


def _temperature(history: History, runs: list[Intervals], pieces: IndexArray) -> MeasuredTemperature | None:
    if not history.has_temperature:
        return None
    return MeasuredTemperature(np.repeat(_joined(run.temperature_K for run in runs), pieces), history.ambient_K)


def _pieces(length_s: FloatArray, left: FloatArray, right: FloatArray) -> IndexArray:
    """Pieces of each interval, so that the means of the pieces miss little of the mean square; mostly 1."""
    rise = np.abs(right - left)
    squares = float(np.sum((left * left + left * right + right * right) * length_s)) / 3.0
    missed = float(np.sum(rise * rise * length_s)) / 12.0
    allowed = _MISSED * squares
    if missed <= allowed:
        return np.ones(length_s.size, dtype=np.intp)
    # A mean misses a twelfth of the squared rise over its piece; pieces that rise alike share what may be missed.
    largest_rise = np.sqrt(12.0 * allowed / float(np.sum(length_s)))
    pieces: IndexArray = np.clip(np.ceil(rise / largest_rise), 1, _MOST_PIECES).astype(np.intp)
    return pieces


def _piece_means(left: FloatArray, right: FloatArray, pieces: IndexArray) -> FloatArray:
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    middle = (np.arange(first.size) - first + 0.5) / np.repeat(pieces, pieces)
    return np.asarray(np.repeat(left, pieces) + np.repeat(right - left, pieces) * middle)
