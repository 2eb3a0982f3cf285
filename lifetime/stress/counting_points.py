"""Counting points out of a stretch of current: each reversal with what the source has gone through up to it."""

from typing import NamedTuple

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.counting_grid import CountingGrid
from lifetime.stress.cycles import (
    CHARGE,
    CHARGED,
    CHARGING_TIME,
    DECAY,
    MEASURED,
    POINT_ROWS,
    RESTED,
    RISE,
    SQUARED,
    THROUGHPUT,
    TIME,
)
from lifetime.stress.rainflow import IndexArray


class Steps(NamedTuple):
    """The steps that cycles are counted of: integrals over each, shape (n,), and the charge at their ends, (n + 1,)."""

    length: FloatArray
    current: FloatArray
    charge: FloatArray
    squared: FloatArray
    rise: FloatArray | None
    decay: FloatArray | None
    measured: FloatArray | None
    kept: IndexArray | None = None
    """Positions of the ends among the intervals'; None where every interval is a step."""


def averaged(steps: Steps, grid: CountingGrid, elapsed_s: float) -> Steps:
    """Steps of the mean current; the same where nothing is averaged.

    Args:
        steps: One step an interval.
        grid: Chooses the ends that stay.
        elapsed_s: Time at the first step's start [s].
    """
    time = np.concatenate([[0.0], np.cumsum(steps.length)]) + elapsed_s
    kept = grid.kept(time, steps.charge)
    if kept.size == steps.charge.size:
        return steps
    charge, length = steps.charge[kept], np.diff(time[kept])
    moved = np.diff(charge)
    first = kept[:-1]
    return Steps(
        length=length,
        current=moved / np.where(length > 0.0, length, 1.0),
        charge=charge,
        squared=grid.mean_square(length, moved, np.add.reduceat(steps.squared, first)),
        rise=None if steps.rise is None else np.add.reduceat(steps.rise, first),
        decay=None if steps.decay is None else np.add.reduceat(steps.decay, first),
        measured=None if steps.measured is None else np.add.reduceat(steps.measured, first),
        kept=kept,
    )


def counting_points(steps: Steps, ends: IndexArray, before: FloatArray, dead_band_A: float) -> FloatArray:
    """Counting points at the given ends of steps; the row of samples is left open.

    Args:
        steps: The stretch.
        ends: Which ends, increasing; 0 is the stretch's start.
        before: The last point of the stretch before, shape (rows, 1).
        dead_band_A: Current up to which the source rests [A], >= 0.

    Returns:
        Points, shape (rows, ends).
    """
    points = np.zeros((POINT_ROWS, ends.size))
    points[CHARGE] = steps.charge[ends]
    # Between reversals charge moves one way, so what moved is the difference of the ends.
    step = np.diff(points[CHARGE], prepend=steps.charge[0])
    points[THROUGHPUT] = np.abs(step)
    points[CHARGED] = np.maximum(-step, 0.0)
    moved = np.abs(steps.current)
    points[CHARGING_TIME] = _between(np.where(steps.current < 0.0, steps.length, 0.0), ends)
    points[TIME] = _between(steps.length, ends)
    points[SQUARED] = _between(steps.squared, ends)
    for row, values in ((RISE, steps.rise), (DECAY, steps.decay), (MEASURED, steps.measured)):
        if values is not None:
            points[row] = _between(values * moved, ends)
    np.cumsum(points[THROUGHPUT:], axis=1, out=points[THROUGHPUT:])
    points[THROUGHPUT:] += before[THROUGHPUT:]
    points[RESTED] = _rested(steps, ends, float(before[RESTED, 0]), dead_band_A)
    return points


def rest_at_start(steps: Steps, dead_band_A: float) -> float:
    """How long a stretch rests before its first load [s].

    Args:
        steps: The stretch.
        dead_band_A: Current up to which the source rests [A], >= 0.
    """
    moves = np.flatnonzero(np.abs(steps.current) > dead_band_A)
    return float(np.sum(steps.length[: moves[0]] if moves.size else steps.length))


def _rested(steps: Steps, ends: IndexArray, before_s: float, dead_band_A: float) -> FloatArray:
    """How long the source rested just before each end [s]; a rest may have begun in the stretch before."""
    elapsed = np.concatenate([[0.0], np.cumsum(steps.length)])
    moves = np.flatnonzero(np.abs(steps.current) > dead_band_A)
    last = np.searchsorted(moves, ends, side="left") - 1
    since = elapsed[ends] - elapsed[moves[np.maximum(last, 0)] + 1] if moves.size else elapsed[ends]
    return np.asarray(np.where(last >= 0, since, elapsed[ends] + before_s))


def _between(values: FloatArray, ends: IndexArray) -> FloatArray:
    """Sums of the intervals between consecutive ends, the first from the start."""
    starts = np.concatenate([[0], ends[:-1]])
    sums: FloatArray = np.add.reduceat(values, starts)
    # reduceat answers an empty stretch (a reversal at the very start) with one value.
    sums[starts == ends] = 0.0
    return sums
