"""A bounded table of cycles: exact while small, grouped into narrow classes with in-class means when it grows."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.rainflow import Extracted

# Rows of a counting point: the counted charge first, then running integrals up to that point.
CHARGE, SAMPLE, THROUGHPUT, CHARGED, CHARGING_TIME, SQUARED, RISE, DECAY, MEASURED = range(9)
POINT_ROWS = 9

KEEP_EXACT = 32_768
"""A streaming table longer than this is grouped, so that memory stays fixed on any history."""
_CLASSES_PER_E_FOLD = 32
_MEAN_CLASSES = 64
_RATE_CLASSES_PER_E_FOLD = 8
_RISE_CLASS_K = 1.0


@dataclass(frozen=True, slots=True)
class CycleTable:
    """Cycles of charge drawn, pack quantities, shape (n,) each.

    Args:
        range_As: Charge between the two ends [As], > 0.
        mean_As: Mean of the charge drawn at the two ends, counted from the day's start [As].
        count: Cycles in the row.
        rate_A: Throughput-weighted mean |current| between the ends [A].
        charge_rate_A: Mean charging current of the charging half [A].
        rise_K: Throughput-weighted mean temperature rise at initial resistance [K].
        decay: Throughput-weighted share of the day's starting temperature rise still left [0..1].
        measured_K: Throughput-weighted measured temperature [K]; 0 where none was measured.
    """

    range_As: FloatArray
    mean_As: FloatArray
    count: FloatArray
    rate_A: FloatArray
    charge_rate_A: FloatArray
    rise_K: FloatArray
    decay: FloatArray
    measured_K: FloatArray

    @property
    def size(self) -> int:
        """Number of rows."""
        return int(self.count.size)

    def columns(self) -> tuple[FloatArray, ...]:
        """All columns in the order of the fields."""
        return (
            self.range_As,
            self.mean_As,
            self.count,
            self.rate_A,
            self.charge_rate_A,
            self.rise_K,
            self.decay,
            self.measured_K,
        )


def empty_table() -> CycleTable:
    """A table without rows."""
    return CycleTable(*(np.empty(0) for _ in range(8)))


def join(tables: list[CycleTable]) -> CycleTable:
    """One table from several, rows in order."""
    if not tables:
        return empty_table()
    return CycleTable(*(np.concatenate(parts) for parts in zip(*(table.columns() for table in tables), strict=True)))


def from_points(found: Extracted) -> CycleTable:
    """Read the facts of each full cycle off its end points.

    A cycle's second half is the way from its second end towards the reversal that closed it; that way may go on past
    the first end, but at the same current. Rates and temperatures are the mean of both halves, because both move the
    same charge; a second half that moved nothing (a loop closing on itself) has no say.
    """
    first, second, closing = found.first, found.second, found.closing
    there, back = second - first, closing - second
    charging = np.where(second[CHARGE] < first[CHARGE], there, back)
    rate = _mean_of_halves(there, back, SQUARED)
    timed = charging[CHARGING_TIME] > 0.0
    return CycleTable(
        range_As=np.abs(there[CHARGE]),
        mean_As=0.5 * (first[CHARGE] + second[CHARGE]),
        count=found.count,
        rate_A=rate,
        charge_rate_A=np.where(timed, charging[CHARGED] / np.where(timed, charging[CHARGING_TIME], 1.0), rate),
        rise_K=_mean_of_halves(there, back, RISE),
        decay=_mean_of_halves(there, back, DECAY),
        measured_K=_mean_of_halves(there, back, MEASURED),
    )


def _mean_of_halves(there: FloatArray, back: FloatArray, row: int) -> FloatArray:
    """Throughput-weighted mean of a running integral over both halves; 0 where nothing moved."""
    moved_there, moved_back = there[THROUGHPUT] > 0.0, back[THROUGHPUT] > 0.0
    mean_there = there[row] / np.where(moved_there, there[THROUGHPUT], 1.0)
    mean_back = back[row] / np.where(moved_back, back[THROUGHPUT], 1.0)
    halves = moved_there.astype(np.float64) + moved_back
    total = np.where(moved_there, mean_there, 0.0) + np.where(moved_back, mean_back, 0.0)
    return np.asarray(total / np.maximum(halves, 1.0))


def group(table: CycleTable, span_As: float) -> CycleTable:
    """Group similar cycles into one row each, keeping count and throughput and every mean.

    Classes are 3 % wide in range and 1/64 of the span in mean, so a smooth law evaluated at the class means differs
    from the sum over the cycles by a few parts in 10⁵.

    Args:
        table: Any table.
        span_As: Scale of the mean's classes: usually the largest range [As], > 0.
    """
    if table.size == 0:
        return table
    keys = np.stack(
        [
            np.floor(np.log(table.range_As) * _CLASSES_PER_E_FOLD),
            np.floor(table.mean_As * (_MEAN_CLASSES / span_As)),
            np.floor(np.log(np.maximum(table.rate_A, 1e-6)) * _RATE_CLASSES_PER_E_FOLD),
            np.floor(np.log(np.maximum(table.charge_rate_A, 1e-6)) * _RATE_CLASSES_PER_E_FOLD),
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

    return CycleTable(
        range_As=throughput / count,
        mean_As=mean(table.mean_As),
        count=count,
        rate_A=mean(table.rate_A),
        charge_rate_A=mean(table.charge_rate_A),
        rise_K=mean(table.rise_K),
        decay=mean(table.decay),
        measured_K=mean(table.measured_K),
    )
