"""Stuck sensors: stretches of rows in which a channel keeps one value while another moves, and clipped ranges."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray

_LONG_RUN: Final = 30
_TIMES_SECOND: Final = 5.0
_MOVING_SHARE: Final = 0.5
_BUSY: Final = 0.3
_MOST_OF_THE_FILE: Final = 0.7
_CLIPPED_SHARE: Final = 0.01
_CLIPPED_ROWS: Final = 20


@dataclass(slots=True)
class ConstantRun:
    """A stretch of rows with one value.

    Args:
        rows: How many.
        first_row: The first of them in the file.
        value: The value, in SI.
        moved: How much the other channel moved meanwhile, sum of magnitudes.
    """

    rows: int = 0
    first_row: int = 0
    value: float = 0.0
    moved: float = 0.0


@dataclass(frozen=True, slots=True)
class ClippedRange:
    """An extreme value at which a channel seems to be cut off.

    Args:
        extreme: Which end of the range.
        value: The value, in SI.
        rows: Rows with exactly this value.
    """

    extreme: str
    value: float
    rows: int


class StuckSensorCheck:
    """Finds the longest stretch in which one channel does not move while another does; fixed memory.

    A sensor is called stuck where a channel that moves in most rows repeats one value for at least 30 of them, five
    times as long as ever else, while the other channel moves as it does elsewhere. Common practice, no source.
    """

    def __init__(self) -> None:
        self.longest = ConstantRun()
        self.second = 0
        self.rows = 0
        self.moving_rows = 0
        self.other_moved = 0.0
        self._run = ConstantRun()
        self._last: tuple[float, float] | None = None
        self.extremes: dict[str, tuple[float, int]] = {}

    def add(self, values: FloatArray, other: FloatArray, rows: IntArray) -> None:
        """Add a stretch without missing values.

        Args:
            values: The channel.
            other: Another channel, of the same rows.
            rows: Rows in the file.
        """
        if values.size == 0:
            return
        before = (values[0], other[0]) if self._last is None else self._last
        step, moved = np.diff(values, prepend=before[0]), np.abs(np.diff(other, prepend=before[1]))
        starts = np.flatnonzero(step != 0.0)
        self.rows += int(values.size)
        self.moving_rows += int(starts.size)
        self.other_moved += float(moved.sum())
        self._extremes(values)
        sums = np.concatenate([[0.0], np.cumsum(moved)])
        first = int(starts[0]) if starts.size else int(values.size)
        if self._last is None:
            self._run = ConstantRun(0, int(rows[0]), float(values[0]), 0.0)
        self._run.rows += first
        self._run.moved += float(sums[first])
        if starts.size:
            self._close()
            self._whole(values, rows, starts, sums)
            begun = int(starts[-1])
            # The row that begins a run moves into it and does not count as movement within.
            within = float(sums[-1] - sums[begun + 1])
            self._run = ConstantRun(int(values.size) - begun, int(rows[begun]), float(values[begun]), within)
        self._last = (float(values[-1]), float(other[-1]))

    def _whole(self, values: FloatArray, rows: IntArray, starts: IntArray, sums: FloatArray) -> None:
        """Take in the two longest runs that begin and end in this stretch."""
        lengths = np.diff(starts)
        for at in np.argsort(lengths)[-2:]:
            start, end = int(starts[at]), int(starts[at + 1])
            within = float(sums[end] - sums[start + 1])
            self._run = ConstantRun(end - start, int(rows[start]), float(values[start]), within)
            self._close()

    def _close(self) -> None:
        run = self._run
        if run.rows > self.longest.rows:
            self.second, self.longest = self.longest.rows, run
        elif run.rows > self.second:
            self.second = run.rows

    def _extremes(self, values: FloatArray) -> None:
        for name, value in (("highest", float(values.max())), ("lowest", float(values.min()))):
            count = int(np.count_nonzero(values == value))
            extreme, rows = self.extremes.get(name, (value, 0))
            further = value > extreme if name == "highest" else value < extreme
            self.extremes[name] = (value, count) if further else (extreme, rows + count if value == extreme else rows)

    def stuck(self) -> ConstantRun | None:
        """The stretch in which the sensor seems stuck, or None."""
        self._close()
        run = self.longest
        outside = self.rows - run.rows
        if run.rows < _LONG_RUN or run.rows < _TIMES_SECOND * self.second or run.rows > _MOST_OF_THE_FILE * self.rows:
            return None
        if self.moving_rows < _MOVING_SHARE * outside:
            return None
        usual = (self.other_moved - run.moved) / max(outside, 1)
        return run if run.moved > _BUSY * usual * run.rows and usual > 0.0 else None

    def clipped(self) -> ClippedRange | None:
        """The extreme at which the channel seems to be cut off, or None."""
        if self.moving_rows < _MOVING_SHARE * self.rows:
            return None
        for name, (value, count) in self.extremes.items():
            if count >= _CLIPPED_ROWS and count > _CLIPPED_SHARE * self.rows and value != 0.0:
                return ClippedRange(name, value, count)
        return None
