"""A bounded table of cycles: exact while small, grouped into narrow classes with in-class means when it grows."""

from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.stress.counting import CycleRate
from lifetime.stress.rainflow import Extracted

# Rows of a counting point: the counted charge, the sample, how long the source rested just before it, then running
# integrals up to that point.
CHARGE, SAMPLE, RESTED, THROUGHPUT, CHARGED, CHARGING_TIME, TIME, SQUARED, RISE, DECAY, MEASURED = range(11)
POINT_ROWS = 11

KEEP_EXACT = 32_768
"""A streaming table longer than this is grouped, so that memory stays fixed on any history."""
_CLASSES_PER_E_FOLD = 32
_MEAN_CLASSES = 64
_RATE_CLASSES_PER_E_FOLD = 8
_RISE_CLASS_K = 1.0
_SAME_CHARGE = 1e-9
"""Relative to the span of charge; what rounding leaves of nothing."""
_SUMMED = frozenset({"range_As", "count"})
"""Columns of which a class keeps the sum; of all others it keeps the throughput-weighted mean."""


@dataclass(frozen=True, slots=True)
class CycleTable:
    """Cycles of charge drawn, pack quantities, shape (n,) each.

    Args:
        range_As: Charge between the two ends [As], > 0.
        mean_As: Mean of the charge drawn at the two ends, counted from the day's start [As].
        count: Cycles in the row.
        rate_A: Throughput-weighted mean |current| between the ends [A].
        charge_rate_A: Mean current while charging in the charging half [A].
        discharge_rate_A: Throughput-weighted mean |current| of the discharging half [A].
        time_mean_rate_A: Mean |current| between the ends, rests inside a half cycle included [A].
        time_mean_charge_rate_A: The same of the charging half; of a small cycle as ``charging_together`` says [A].
        time_mean_discharge_rate_A: The same of the discharging half [A].
        rise_K: Throughput-weighted mean temperature rise at initial resistance [K].
        decay: Throughput-weighted share of the day's starting temperature rise still left [0..1].
        measured_K: Throughput-weighted measured temperature [K]; 0 where none was measured.
    """

    range_As: FloatArray
    mean_As: FloatArray
    count: FloatArray
    rate_A: FloatArray
    charge_rate_A: FloatArray
    discharge_rate_A: FloatArray
    time_mean_rate_A: FloatArray
    time_mean_charge_rate_A: FloatArray
    time_mean_discharge_rate_A: FloatArray
    rise_K: FloatArray
    decay: FloatArray
    measured_K: FloatArray

    @property
    def size(self) -> int:
        """Number of rows."""
        return int(self.count.size)

    def columns(self) -> tuple[FloatArray, ...]:
        """All columns in the order of the fields."""
        return tuple(getattr(self, column.name) for column in fields(self))


def empty_table() -> CycleTable:
    """A table without rows."""
    return CycleTable(*(np.empty(0) for _ in fields(CycleTable)))


def join(tables: list[CycleTable]) -> CycleTable:
    """One table from several, rows in order."""
    if not tables:
        return empty_table()
    return CycleTable(*(np.concatenate(parts) for parts in zip(*(table.columns() for table in tables), strict=True)))


@dataclass(frozen=True, slots=True)
class _Half:
    """One half of each cycle: gains of the running integrals, and C-rates where anything moved [A]."""

    gained: FloatArray
    moved: NDArray[np.bool_]
    weighted_A: FloatArray
    time_mean_A: FloatArray

    @classmethod
    def between(cls, start: FloatArray, end: FloatArray) -> "_Half":
        """The half cycle from a point to a point; rest at its very end belongs to neither half.

        Both means are the same at constant current, and the time mean is never the larger one.
        """
        gained = end - start
        moved = gained[THROUGHPUT] > 0.0
        weighted = gained[SQUARED] / np.where(moved, gained[THROUGHPUT], 1.0)
        lasted = gained[TIME] - end[RESTED]
        mean = gained[THROUGHPUT] / np.where(lasted > 0.0, lasted, 1.0)
        return cls(gained, moved, weighted, np.where(lasted > 0.0, np.minimum(mean, weighted), weighted))


def from_points(found: Extracted) -> CycleTable:
    """Read the facts of each full cycle off its end points.

    A cycle's second half is the way from its second end towards the reversal that closed it; that way may go on past
    the first end, but at the same current. Rates and temperatures are the mean of both halves, because both move the
    same charge; a second half that moved nothing (a loop closing on itself) has no say.
    """
    first, second, closing = found.first, found.second, found.closing
    there, back = _Half.between(first, second), _Half.between(second, closing)
    charging_first = second[CHARGE] < first[CHARGE]
    charging = np.where(charging_first, there.gained, back.gained)
    rate = _mean_of_halves(there.gained, back.gained, SQUARED)
    time_mean = _mean(there.moved, there.time_mean_A, back.moved, back.time_mean_A)
    timed = charging[CHARGING_TIME] > 0.0
    charge_time_mean = _one_half(charging_first, there, back, time_mean, "time_mean_A")
    return CycleTable(
        range_As=np.abs(there.gained[CHARGE]),
        mean_As=0.5 * (first[CHARGE] + second[CHARGE]),
        count=found.count,
        rate_A=rate,
        charge_rate_A=np.where(timed, charging[CHARGED] / np.where(timed, charging[CHARGING_TIME], 1.0), rate),
        discharge_rate_A=_one_half(~charging_first, there, back, rate, "weighted_A"),
        time_mean_rate_A=time_mean,
        time_mean_charge_rate_A=charge_time_mean,
        time_mean_discharge_rate_A=_one_half(~charging_first, there, back, time_mean, "time_mean_A"),
        rise_K=_mean_of_halves(there.gained, back.gained, RISE),
        decay=_mean_of_halves(there.gained, back.gained, DECAY),
        measured_K=_mean_of_halves(there.gained, back.gained, MEASURED),
    )


def _one_half(
    takes_first: NDArray[np.bool_],
    there: _Half,
    back: _Half,
    otherwise: FloatArray,
    rate: Literal["weighted_A", "time_mean_A"],
) -> FloatArray:
    """A rate of the first half where asked for, else of the second; the cycle's own where that half moved nothing."""
    moved = np.where(takes_first, there.moved, back.moved)
    return np.where(moved, np.where(takes_first, getattr(there, rate), getattr(back, rate)), otherwise)


def charging_together(table: CycleTable, small_As: float, mean_A: float) -> CycleTable:
    """Small cycles charged at the mean charging current of the drive around them, not at that of their own seconds.

    Long charging was found to plate lithium, short pulses of it were not (Keil and Jossen, EVS28 2015, abstract).

    Args:
        table: Cycles of a day.
        small_As: Range below which a cycle is small [As].
        mean_A: Mean charging current over all the time of the drive [A].
    """
    small = table.range_As < small_As
    own = table.time_mean_charge_rate_A
    return replace(table, time_mean_charge_rate_A=np.where(small, np.minimum(own, mean_A), own))


def ends_joined(points: FloatArray) -> FloatArray:
    """Counting points of a stretch that repeats: where it begins as full as it ends, both ends share their rests.

    Args:
        points: Counting points in order of time, shape (rows, n).
    """
    if points.shape[1] < 2 or abs(points[CHARGE, -1] - points[CHARGE, 0]) > _SAME_CHARGE * np.ptp(points[CHARGE]):
        return points
    points = points.copy()
    points[[TIME, RESTED], -1] += points[RESTED, 0]
    points[RESTED, 0] = points[RESTED, -1]
    return points


def _mean_of_halves(there: FloatArray, back: FloatArray, row: int) -> FloatArray:
    """Throughput-weighted mean of a running integral over both halves; 0 where nothing moved."""
    moved_there, moved_back = there[THROUGHPUT] > 0.0, back[THROUGHPUT] > 0.0
    mean_there = there[row] / np.where(moved_there, there[THROUGHPUT], 1.0)
    mean_back = back[row] / np.where(moved_back, back[THROUGHPUT], 1.0)
    return _mean(moved_there, mean_there, moved_back, mean_back)


def _mean(
    moved_there: NDArray[np.bool_], mean_there: FloatArray, moved_back: NDArray[np.bool_], mean_back: FloatArray
) -> FloatArray:
    """Mean of what two halves say, of those that moved; 0 where none did."""
    halves = moved_there.astype(np.float64) + moved_back
    total = np.where(moved_there, mean_there, 0.0) + np.where(moved_back, mean_back, 0.0)
    return np.asarray(total / np.maximum(halves, 1.0))


def group(table: CycleTable, span_As: float, cycle_rate: CycleRate = "throughput_weighted") -> CycleTable:
    """Group similar cycles into one row each, keeping count and throughput and every mean.

    Classes are 3 % wide in range and 1/64 of the span in mean, so a smooth law evaluated at the class means differs
    from the sum over the cycles by a few parts in 10⁵.

    Args:
        table: Any table.
        span_As: Scale of the mean's classes: usually the largest range [As], > 0.
        cycle_rate: Which C-rates the classes are made by; the others are in-class means.
    """
    if table.size == 0:
        return table
    rates = (
        (table.time_mean_rate_A, table.time_mean_charge_rate_A)
        if cycle_rate == "time_mean"
        else (table.rate_A, table.charge_rate_A)
    )
    keys = np.stack(
        [
            np.floor(np.log(table.range_As) * _CLASSES_PER_E_FOLD),
            np.floor(table.mean_As * (_MEAN_CLASSES / span_As)),
            *(np.floor(np.log(np.maximum(rate, 1e-6)) * _RATE_CLASSES_PER_E_FOLD) for rate in rates),
            np.floor((table.rise_K + table.measured_K) / _RISE_CLASS_K),
        ]
    )
    _, where = np.unique(keys, axis=1, return_inverse=True)
    where = where.reshape(-1)
    classes = int(where.max()) + 1
    count: FloatArray = np.bincount(where, table.count, classes).astype(np.float64)
    weight = table.count * table.range_As
    throughput: FloatArray = np.bincount(where, weight, classes).astype(np.float64)

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(where, weight * values, classes) / throughput

    means = {column.name: mean(getattr(table, column.name)) for column in fields(table) if column.name not in _SUMMED}
    return CycleTable(range_As=throughput / count, count=count, **means)
