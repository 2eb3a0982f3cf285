"""Long intervals cut finer, so that bins, bounds and heat see what happens inside them.

A history written on change only, or at one row in ten minutes, moves a source through much of its range within one
interval. Charge and cycles are exact there anyway; laws that bend over state of charge, voltage or temperature are not,
and neither is the lowest voltage: the mean of an exponential is not the exponential of the mean.
"""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.intervals import IndexArray, Intervals

_MOST_PIECES: Final = 64
"""Pieces of one interval; beyond that a source is too small, or a rest too long, for finer pieces to matter."""
_LARGEST_WARMING_K: Final = 2.0
"""Most that a measured temperature may change within one interval: two rows at 0 and 60 °C are not 30 °C."""


def refined(run: Intervals, largest_move: float, longest_s: float) -> Intervals:
    """Cut intervals that move or last too long into equal pieces of at most half of what is allowed.

    Args:
        run: Intervals.
        largest_move: Most that the driving channel may move within one interval [As or J], > 0.
        longest_s: Longest interval [s], > 0; infinity where time alone does no harm.

    Returns:
        The same stretch, the same object where nothing is too long; channel and measured temperature run on the same
        straight line, and an interval's measured voltage stands in each of its pieces.
    """
    longest = float(run.length_s.max(initial=0.0))
    warmest = 0.0 if run.warming_K is None else float(np.abs(run.warming_K).max(initial=0.0))
    if longest <= longest_s and longest * run.strongest <= largest_move and warmest <= _LARGEST_WARMING_K:
        return run
    pieces = _pieces(run, largest_move, longest_s)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    within = np.arange(first.size) - first
    step = np.repeat((run.right - run.left) / pieces, pieces)
    left = np.repeat(run.left, pieces) + step * within
    last = within == np.repeat(pieces, pieces) - 1

    def repeated(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else np.repeat(values, pieces)

    temperature, warming = repeated(run.temperature_K), None
    if temperature is not None and run.warming_K is not None:
        warming = np.repeat(run.warming_K / pieces, pieces)
        temperature = temperature + warming * (within + 0.5 - 0.5 * np.repeat(pieces, pieces))

    return Intervals(
        length_s=np.repeat(run.length_s / pieces, pieces),
        left=left,
        # The interval's own end where it ends, not that end rounded.
        right=np.where(last, np.repeat(run.right, pieces), left + step),
        temperature_K=temperature,
        voltage_V=repeated(run.voltage_V),
        first_sample=run.first_sample,
        crossings=_ends_without_sample(run, pieces),
        warming_K=warming,
    )


def _pieces(run: Intervals, largest_move: float, longest_s: float) -> IndexArray:
    """Pieces of each interval; 1 where it is short enough."""
    strongest = np.maximum(np.abs(run.left), np.abs(run.right))
    share = np.maximum(strongest * run.length_s / largest_move, run.length_s / longest_s)
    if run.warming_K is not None:
        share = np.maximum(share, np.abs(run.warming_K) / _LARGEST_WARMING_K)
    return np.minimum(np.where(share > 1.0, np.ceil(2.0 * share), 1.0), _MOST_PIECES).astype(np.intp)


def _ends_without_sample(run: Intervals, pieces: IndexArray) -> IndexArray:
    """Ends that are no sample: those inside an interval cut, and the zero crossings wherever they moved to."""
    ends = np.cumsum(pieces)
    is_sample = np.zeros(int(ends[-1]) + 1, dtype=np.bool_)
    is_sample[0] = True
    is_sample[ends] = True
    is_sample[ends[run.crossings - 1]] = False
    return np.flatnonzero(~is_sample)
