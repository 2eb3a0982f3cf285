"""A long series as few points as a screen can show, without losing one peak."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray

MOST_POINTS: Final = 4000


class Downsampler:
    """Keeps the lowest and the highest value of each of equally wide stretches of time, in the order they came.

    Values that are no numbers are left out. What is kept are samples of the series itself, at their own times; where
    all of them fit, all are kept.

    Args:
        start: First time shown.
        end: Last time shown, after ``start``.
        points: Most points kept, at least 2.
    """

    def __init__(self, start: float, end: float, points: int = MOST_POINTS) -> None:
        self._start, self._end = start, end
        self._most = points
        self._stretches = points // 2
        self._low_time = np.zeros(self._stretches)
        self._high_time = np.zeros(self._stretches)
        self._low = np.full(self._stretches, np.inf)
        self._high = np.full(self._stretches, -np.inf)
        self._plain: list[tuple[FloatArray, FloatArray]] | None = []
        self.seen = 0

    def add(self, time: FloatArray, value: FloatArray) -> None:
        """Add the next piece of the series.

        Args:
            time: Times, shape (n,).
            value: Values, shape (n,).
        """
        keep = (time >= self._start) & (time <= self._end) & np.isfinite(value)
        time, value = time[keep], value[keep]
        self.seen += time.size
        if not time.size:
            return
        if self._plain is not None:
            self._plain.append((time, value))
            if self.seen > self._most:
                pieces, self._plain = self._plain, None
                for piece in pieces:
                    self._take(*piece)
            return
        self._take(time, value)

    def series(self) -> tuple[FloatArray, FloatArray]:
        """Times and values kept, in the order of time."""
        if self._plain is not None:
            time = np.concatenate([piece[0] for piece in self._plain]) if self._plain else np.empty(0)
            value = np.concatenate([piece[1] for piece in self._plain]) if self._plain else np.empty(0)
        else:
            filled = np.isfinite(self._low)
            # One sample alone in its stretch, or a stretch without ups and downs, is kept once.
            twice = filled & (self._high_time != self._low_time)
            time = np.concatenate([self._low_time[filled], self._high_time[twice]])
            value = np.concatenate([self._low[filled], self._high[twice]])
        order = np.argsort(time, kind="stable")
        return time[order], value[order]

    def _take(self, time: FloatArray, value: FloatArray) -> None:
        place = ((time - self._start) * (self._stretches / (self._end - self._start))).astype(np.int64)
        place = np.minimum(place, self._stretches - 1)
        # Sorted by value within each stretch the first is the lowest, and of equal ones the earliest.
        low, high = _firsts(place, value), _firsts(place, -value)
        names = place[low]
        lower, higher = value[low] < self._low[names], value[high] > self._high[names]
        self._low[names[lower]], self._low_time[names[lower]] = value[low][lower], time[low][lower]
        self._high[names[higher]], self._high_time[names[higher]] = value[high][higher], time[high][higher]


def _firsts(place: IntArray, value: FloatArray) -> IntArray:
    """Position of the smallest value in each stretch that holds any, in the order of the stretches."""
    order = np.lexsort((value, place))
    sorted_place = place[order]
    starts = np.concatenate([[True], sorted_place[1:] != sorted_place[:-1]])
    return np.asarray(order[starts])


def downsampled(
    pieces: Iterable[tuple[FloatArray, FloatArray]], start: float, end: float, points: int = MOST_POINTS
) -> tuple[FloatArray, FloatArray, int]:
    """Downsample a series that comes in pieces.

    Args:
        pieces: Times and values, piece by piece.
        start: First time shown.
        end: Last time shown, after ``start``.
        points: Most points kept.

    Returns:
        Times, values, and how many samples lie between start and end.
    """
    sampler = Downsampler(start, end, points)
    for time, value in pieces:
        sampler.add(time, value)
    time, value = sampler.series()
    return time, value, sampler.seen
