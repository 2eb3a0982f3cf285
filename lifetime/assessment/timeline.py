"""Which seconds of a day cost how much life: a source's capacity loss at service end, laid over its day.

Clocks add, so each stretch of a day has its share of every clock, and each clock its share of the loss. Time at state
of charge carries the calendar part; every rainflow cycle is laid over the seconds that make it, in proportion to the
charge they move. What charging and rest cost is kept apart. The parts are scaled so that they sum to the whole loss.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lifetime.ageing.contract import AgeingLaw, Stress
from lifetime.assessment.setups import SourceSetup, YearlyDuty
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR
from lifetime.projection.duty import WornDay
from lifetime.results.records import AgeingTimeline
from lifetime.stress.day import Day
from lifetime.stress.rainflow import close_loop, turning_points
from lifetime.stress.source import Source

_CHARGE, _PLACE, _MOVED, _SQUARED = range(4)
_GRID = 201


@dataclass(frozen=True, slots=True, eq=False)
class IntervalCurrents:
    """A source's current over the drive.

    Args:
        length_s: Length of each interval [s], shape (n,), >= 0.
        current_A: Mean current of each interval [A], shape (n,), positive when the source discharges.
    """

    length_s: FloatArray
    current_A: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _TimeClocks:
    """How far time turns each clock on an average day, by part of the day, shape (mechanisms,) each."""

    driving: FloatArray
    charging: FloatArray
    resting: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _CycleShares:
    """Where in the day cycles turn the clocks: shares of each interval, shape (n, mechanisms), and of charging."""

    intervals: FloatArray
    charging: FloatArray


def ageing_timeline(
    setup: SourceSetup, day: Day, yearly: YearlyDuty, currents: IntervalCurrents, loss_by_mechanism: FloatArray
) -> AgeingTimeline:
    """Lay a source's loss over its day.

    Args:
        setup: The source.
        day: Its day, traced at the beginning of life.
        yearly: How often and in what climate the day is worked.
        currents: The source's current over the drive.
        loss_by_mechanism: Capacity loss at service end by mechanism [fraction], shape (mechanisms,).
    """
    source, model = setup.source, setup.model
    stress = yearly.duty(source, [WornDay(day, "none")], setup.counting).stress(1.0, 1.0)
    by_time = _time_clocks(stress, model, day)
    by_cycles = _cycle_clocks(stress, model)
    total = np.maximum(by_time.driving + by_time.charging + by_time.resting + by_cycles, 1e-300)
    at_state = _calendar_shares(stress, setup, day, currents)
    in_cycles = _cycle_shares(setup, day, currents)
    per_clock = loss_by_mechanism / total
    return AgeingTimeline(
        calendar_fraction=at_state @ (per_clock * by_time.driving),
        cyclic_fraction=in_cycles.intervals @ (per_clock * by_cycles),
        charging_fraction=float(per_clock @ (by_time.charging + by_cycles * in_cycles.charging)),
        resting_fraction=float(per_clock @ by_time.resting),
        total_fraction=float(loss_by_mechanism.sum()),
        current_A=currents.current_A,
    )


def _time_clocks(stress: Stress, model: AgeingLaw, day: Day) -> _TimeClocks:
    n_drive = day.drive.time_at_state.time_s.size
    n_bins = day.bins.time_s.size
    n_charge = int(np.count_nonzero(np.cumsum(day.bins.time_s[n_drive:]) <= day.charging_s * (1.0 + 1e-9)))
    place = np.arange(stress.duration_s.shape[-1])
    assert place.size == n_bins + 1  # noqa: S101 - the duty adds the day without work
    without = replace(stress, count=np.zeros_like(stress.count), throughput_fec=np.zeros_like(stress.throughput_fec))

    def turned(among: NDArray[np.bool_]) -> FloatArray:
        clocks = model.clocks(replace(without, duration_s=np.where(among, stress.duration_s, 0.0)))
        return np.asarray(clocks.mean(axis=0))

    return _TimeClocks(
        driving=turned(place < n_drive),
        charging=turned((place >= n_drive) & (place < n_drive + n_charge)),
        resting=turned(place >= n_drive + n_charge),
    )


def _cycle_clocks(stress: Stress, model: AgeingLaw) -> FloatArray:
    """Clocks that cycles turn, shape (mechanisms,)."""
    return np.asarray(model.clocks(replace(stress, duration_s=np.zeros_like(stress.duration_s))).mean(axis=0))


def _calendar_shares(stress: Stress, setup: SourceSetup, day: Day, currents: IntervalCurrents) -> FloatArray:
    """Share of each interval in the clocks that time turns while driving, shape (n, mechanisms); columns sum to 1."""
    length, current, source = currents.length_s, currents.current_A, setup.source
    drawn = np.cumsum(current * length)
    soc = source.start_soc - (drawn - 0.5 * current * length) / source.capacity_As
    n_drive = day.drive.time_at_state.time_s.size
    temperature_K = float(np.mean(stress.temperature_K[..., :n_drive]))
    grid = np.linspace(float(soc.min()), float(soc.max()) + 1e-9, _GRID)
    rate = setup.model.clocks(_resting(stress, source, grid, temperature_K))
    weight = np.stack([np.interp(soc, grid, column) for column in rate.T], axis=1) * length[:, None]
    return _normalised(weight, length)


def _resting(stress: Stress, source: Source, soc: FloatArray, temperature_K: float) -> Stress:
    """One second at each state of charge, side by side, without cycles."""
    second = np.ones((soc.size, 1))
    none = np.zeros((soc.size, 0))
    voltage = np.asarray(source.open_circuit_V(soc) / source.series)[:, None]
    return replace(
        stress,
        duration_s=second,
        soc=soc[:, None],
        temperature_K=second * temperature_K,
        voltage_V=voltage,
        loaded_fraction=second,
        **dict.fromkeys(_CYCLE_FIELDS, none),
    )


_CYCLE_FIELDS = (
    "count",
    "depth",
    "mean_soc",
    "c_rate",
    "charge_c_rate",
    "discharge_c_rate",
    "cycle_temperature_K",
    "rms_voltage_V",
    "throughput_fec",
)


def _cycle_shares(setup: SourceSetup, day: Day, currents: IntervalCurrents) -> _CycleShares:
    """Lay every cycle over the charge that moves within it."""
    source, mechanisms = setup.source, len(setup.model.mechanisms)
    n = currents.length_s.size
    points, moved = _points(source, day, currents)
    cycles = close_loop(points[:, turning_points(points[_CHARGE])], running_from=_PLACE)
    if cycles.count.size == 0:
        return _CycleShares(np.zeros((n, mechanisms)), np.zeros(mechanisms))
    each = _each_cycle(source, cycles.first, cycles.second, points)
    weight = setup.counting.weight(each.depth)
    clocks = setup.model.clocks(replace(each, count=weight * each.count, throughput_fec=weight * each.throughput_fec))
    spread = np.zeros((2 * (n + 1) + 1, mechanisms))
    for start, end in ((cycles.first, cycles.second), (cycles.second, cycles.closing)):
        lasted = end[_MOVED] - start[_MOVED]
        per_charge = 0.5 * clocks / np.where(lasted > 0.0, lasted, np.inf)[:, None]
        np.add.at(spread, np.minimum(start[_PLACE], 2 * (n + 1)).astype(np.intp), per_charge)
        np.add.at(spread, np.minimum(end[_PLACE], 2 * (n + 1)).astype(np.intp), -per_charge)
    # The second half of a cycle may run into the next day, which is the same day again.
    rate = np.cumsum(spread[:-1], axis=0)
    shares = _normalised((rate[: n + 1] + rate[n + 1 :]) * moved[:, None], moved)
    return _CycleShares(shares[:n], shares[n])


def _points(source: Source, day: Day, currents: IntervalCurrents) -> tuple[FloatArray, FloatArray]:
    """Counting points of the day, shape (4, n + 2), and the charge that each step moves [As], shape (n + 1,)."""
    length, current = currents.length_s, currents.current_A
    charge = np.concatenate([[0.0], np.cumsum(current * length)])
    # What happens after the drive is one more step: charging, or a bank that is brought to where it rests.
    back = charge[-1] - day.open_charge_As if source.is_battery else charge[-1] - charge[0]
    moved = np.append(np.abs(current) * length, abs(back))
    points = np.stack(
        [
            np.append(charge, charge[-1] - back),
            np.arange(length.size + 2, dtype=np.float64),
            np.concatenate([[0.0], np.cumsum(moved)]),
            np.concatenate([[0.0], np.cumsum(np.append(current * current * length, 0.0))]),
        ]
    )
    return points, moved


def _each_cycle(source: Source, first: FloatArray, second: FloatArray, points: FloatArray) -> Stress:
    """Every cycle as a block of its own, side by side."""
    reach = np.abs(second[_CHARGE] - first[_CHARGE])
    moved = np.maximum(second[_MOVED] - first[_MOVED], 1e-12)
    rate = np.maximum((second[_SQUARED] - first[_SQUARED]) / moved, 0.0)
    depth = reach / source.capacity_As
    mean_soc = source.start_soc - 0.5 * (first[_CHARGE] + second[_CHARGE]) / source.capacity_As
    per_hour = SECONDS_PER_HOUR / source.capacity_As
    column = [values[:, None] for values in (np.ones(reach.size), depth, mean_soc, rate * per_hour)]
    none = np.zeros((reach.size, 0))
    voltage = np.asarray(source.open_circuit_V(mean_soc) / source.series)[:, None]
    return Stress(
        duration_s=none,
        soc=none,
        temperature_K=none,
        voltage_V=none,
        count=column[0],
        depth=column[1],
        mean_soc=column[2],
        c_rate=column[3],
        charge_c_rate=column[3],
        discharge_c_rate=column[3],
        cycle_temperature_K=np.full((reach.size, 1), 298.15),
        rms_voltage_V=voltage,
        throughput_fec=column[1],
        rms_current_A=np.asarray(np.sqrt(float(points[_SQUARED, -1]) / max(float(points[_PLACE, -1]), 1.0))),
    )


def _normalised(weight: FloatArray, otherwise: FloatArray) -> FloatArray:
    """Columns that sum to 1; where a clock does not turn, in proportion to ``otherwise``."""
    total = weight.sum(axis=0)
    plain = otherwise / max(float(otherwise.sum()), 1e-300)
    return np.where(total > 0.0, weight / np.where(total > 0.0, total, 1.0), plain[:, None])
