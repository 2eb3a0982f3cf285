"""Which seconds of a day cost how much life: a source's capacity loss at service end, laid over its day.

Clocks add, so each stretch of a day has its share of every clock, and each clock its share of the loss. Time at state
of charge carries the calendar part; every rainflow cycle is laid over the seconds that make it, in proportion to the
charge they move. What charging and rest cost is kept apart. The parts are scaled so that they sum to the whole loss.
"""

from dataclasses import replace

import numpy as np

from lifetime.ageing.contract import AgeingLaw, Stress
from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR
from lifetime.projection.duty import Duty, WornDay
from lifetime.results.records import AgeingTimeline
from lifetime.stress.day import Day
from lifetime.stress.rainflow import close_loop, turning_points
from lifetime.stress.source import Source

_CHARGE, _PLACE, _MOVED, _SQUARED = range(4)
_GRID = 201


def wear_timeline(
    day: Day,
    source: Source,
    law: AgeingLaw,
    ambient_K: FloatArray,
    runs_per_year: float,
    course: tuple[FloatArray, FloatArray],
    loss_by_mechanism: FloatArray,
) -> AgeingTimeline:
    """Lay a source's loss over its day.

    Args:
        day: The day, traced when new.
        source: The source.
        law: Its ageing law.
        ambient_K: Monthly mean ambient temperature [K], shape (12,).
        runs_per_year: How often a year holds the day [1/year].
        course: Length [s] and current [A] of each interval of the drive, shape (n,) each.
        loss_by_mechanism: Capacity loss at service end by mechanism [fraction], shape (mechanisms,).
    """
    length, current = course
    duty = Duty(source, [WornDay(day, "none")], ambient_K, runs_per_year)
    stress = duty.stress(1.0, 1.0)
    driving, charging, resting = _clocks_by_part(stress, law, day)
    cycles = _cycle_clocks(stress, law)
    total = np.maximum(driving + charging + resting + cycles, 1e-300)
    at_state = _calendar_shape(stress, law, day, source, (length, current))
    by_cycle, charging_share = _cycle_shape(day, source, law, (length, current))
    per_clock = loss_by_mechanism / total
    return AgeingTimeline(
        calendar_fraction=at_state @ (per_clock * driving),
        cyclic_fraction=by_cycle @ (per_clock * cycles),
        charging_fraction=float(per_clock @ (charging + cycles * charging_share)),
        resting_fraction=float(per_clock @ resting),
        total_fraction=float(loss_by_mechanism.sum()),
        current_A=current,
    )


def _clocks_by_part(stress: Stress, law: AgeingLaw, day: Day) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Clocks that time turns: while driving, while charging, and at rest; shape (mechanisms,) each."""
    n_drive = day.drive.time_at_state.time_s.size
    n_bins = day.bins.time_s.size
    n_charge = int(np.count_nonzero(np.cumsum(day.bins.time_s[n_drive:]) <= day.charging_s * (1.0 + 1e-9)))
    place = np.arange(stress.duration_s.shape[-1])
    parts = (place < n_drive, (place >= n_drive) & (place < n_drive + n_charge), place >= n_drive + n_charge)
    assert place.size == n_bins + 1  # noqa: S101 - the duty adds the day without work
    without = replace(stress, count=np.zeros_like(stress.count), throughput_fec=np.zeros_like(stress.throughput_fec))
    found = [law.clocks(replace(without, duration_s=np.where(part, stress.duration_s, 0.0))) for part in parts]
    driving, charging, resting = (one.mean(axis=0) for one in found)
    return driving, charging, resting


def _cycle_clocks(stress: Stress, law: AgeingLaw) -> FloatArray:
    """Clocks that cycles turn, shape (mechanisms,)."""
    return np.asarray(law.clocks(replace(stress, duration_s=np.zeros_like(stress.duration_s))).mean(axis=0))


def _calendar_shape(
    stress: Stress, law: AgeingLaw, day: Day, source: Source, course: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Share of each interval in the clocks that time turns while driving, shape (n, mechanisms); columns sum to 1."""
    length, current = course
    drawn = np.cumsum(current * length)
    soc = source.start_soc - (drawn - 0.5 * current * length) / source.capacity_As
    n_drive = day.drive.time_at_state.time_s.size
    temperature_K = float(np.mean(stress.temperature_K[..., :n_drive]))
    grid = np.linspace(float(soc.min()), float(soc.max()) + 1e-9, _GRID)
    rate = law.clocks(_resting(stress, source, grid, temperature_K))
    weight = np.stack([np.interp(soc, grid, column) for column in rate.T], axis=1) * length[:, None]
    return _normalised(weight, length)


def _resting(stress: Stress, source: Source, soc: FloatArray, temperature_K: float) -> Stress:
    """One second at each state of charge, side by side, without cycles."""
    one = np.ones((soc.size, 1))
    none = np.zeros((soc.size, 0))
    voltage = np.asarray(source.open_circuit_V(soc) / source.series)[:, None]
    return replace(
        stress,
        duration_s=one,
        soc=soc[:, None],
        temperature_K=one * temperature_K,
        voltage_V=voltage,
        **dict.fromkeys(_CYCLE_FIELDS, none),
    )


_CYCLE_FIELDS = (
    "count",
    "depth",
    "mean_soc",
    "c_rate",
    "charge_c_rate",
    "cycle_temperature_K",
    "rms_voltage_V",
    "throughput_fec",
)


def _cycle_shape(
    day: Day, source: Source, law: AgeingLaw, course: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Share of each interval in the clocks that cycles turn, shape (n, mechanisms), and that of charging."""
    length, current = course
    n = length.size
    moved = np.abs(current) * length
    charge = np.concatenate([[0.0], np.cumsum(current * length)])
    # What happens after the drive is one more step: charging, or a bank that is brought to where it rests.
    back = charge[-1] - day.open_charge_As if source.is_battery else charge[-1] - charge[0]
    points = np.stack(
        [
            np.append(charge, charge[-1] - back),
            np.arange(n + 2, dtype=np.float64),
            np.concatenate([[0.0], np.cumsum(np.append(moved, abs(back)))]),
            np.concatenate([[0.0], np.cumsum(np.append(current * current * length, 0.0))]),
        ]
    )
    found = close_loop(points[:, turning_points(points[_CHARGE])], running_from=_PLACE)
    mechanisms = len(law.mechanisms)
    if found.count.size == 0:
        return np.zeros((n, mechanisms)), np.zeros(mechanisms)
    clocks = law.clocks(_each_cycle(source, found.first, found.second, points))
    spread = np.zeros((2 * (n + 1) + 1, mechanisms))
    for start, end in ((found.first, found.second), (found.second, found.closing)):
        lasted = end[_MOVED] - start[_MOVED]
        per_charge = 0.5 * clocks / np.where(lasted > 0.0, lasted, np.inf)[:, None]
        np.add.at(spread, np.minimum(start[_PLACE], 2 * (n + 1)).astype(np.intp), per_charge)
        np.add.at(spread, np.minimum(end[_PLACE], 2 * (n + 1)).astype(np.intp), -per_charge)
    rate = np.cumsum(spread[:-1], axis=0)
    folded = rate[: n + 1] + rate[n + 1 :]
    weight = folded * np.append(moved, abs(back))[:, None]
    weight = _normalised(weight, np.append(moved, abs(back)))
    return weight[:n], weight[n]


def _each_cycle(source: Source, first: FloatArray, second: FloatArray, points: FloatArray) -> Stress:
    """Every cycle as a block of its own, side by side."""
    reach = np.abs(second[_CHARGE] - first[_CHARGE])
    moved = np.maximum(second[_MOVED] - first[_MOVED], 1e-12)
    rate = np.maximum((second[_SQUARED] - first[_SQUARED]) / moved, 0.0)
    depth = reach / source.capacity_As
    mean_soc = source.start_soc - 0.5 * (first[_CHARGE] + second[_CHARGE]) / source.capacity_As
    per_hour = SECONDS_PER_HOUR / source.capacity_As
    column = [one[:, None] for one in (np.ones(reach.size), depth, mean_soc, rate * per_hour)]
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
