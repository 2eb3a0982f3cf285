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
_ONE_WAY: Final = 0.8
"""At rest and on a charger the other channel relaxes one way; on the road it goes up and down."""
_CLIPPED_VISITS: Final = 5
_LONGEST_VISIT_ROWS: Final = 60
_TIMES_NEXT: Final = 5.0
"""A sensor's end is met often and for short, and far more often than the value beside it; a charger's level is one long
plateau, and a coarse sensor's steps are equally likely. Common practice, no source."""


@dataclass(slots=True)
class ConstantRun:
    """A stretch of rows with one value.

    Args:
        rows: How many.
        first_row: The first of them in the file.
        value: The value, in SI.
        moved: How much the other channel moved meanwhile, sum of magnitudes.
        went: How far it came by that, with its sign.
    """

    rows: int = 0
    first_row: int = 0
    value: float = 0.0
    moved: float = 0.0
    went: float = 0.0


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


class ExtremeValue:
    """The highest or lowest value so far, how often and in how many visits, and how often the value beside it.

    Args:
        sign: 1 for the highest, -1 for the lowest.
    """

    def __init__(self, sign: float) -> None:
        self._sign = sign
        self._counts: dict[float, int] = {}  # of the two most extreme values
        self._visits = 0
        self._inside = False

    @property
    def value(self) -> float:
        """The most extreme value."""
        return self._sign * max(self._counts)

    @property
    def rows(self) -> int:
        """Rows with exactly this value."""
        return self._counts[max(self._counts)]

    def add(self, values: FloatArray) -> None:
        """Add a stretch.

        Args:
            values: The channel, without missing values, at least one.
        """
        signed = self._sign * values
        before = max(self._counts, default=-np.inf)
        top = float(signed.max())
        below = signed[signed < top]
        for level in {top, float(below.max())} if below.size else {top}:
            self._counts[level] = self._counts.get(level, 0) + int(np.count_nonzero(signed == level))
        self._counts = {level: self._counts[level] for level in sorted(self._counts)[-2:]}
        if top > before:
            self._visits, self._inside = 0, False
        at_end = signed == max(self._counts)
        self._visits += int(np.count_nonzero(at_end & ~np.append(self._inside, at_end[:-1])))
        self._inside = bool(at_end[-1])

    def is_cut_off(self, rows: int) -> bool:
        """True where the channel seems to end at this value.

        Args:
            rows: All rows seen.
        """
        if not self._counts:
            return False
        counts = sorted(self._counts.items())
        count, beside = counts[-1][1], counts[-2][1] if len(counts) > 1 else 0
        if count < _CLIPPED_ROWS or count <= _CLIPPED_SHARE * rows or count < _TIMES_NEXT * beside:
            return False
        return self._visits >= _CLIPPED_VISITS and count <= _LONGEST_VISIT_ROWS * self._visits


class StuckSensorCheck:
    """Finds the longest stretch in which one channel does not move while another does; fixed memory.

    A sensor is called stuck where a channel that moves in most rows repeats one value for at least 30 of them, five
    times as long as ever else, while the other channel moves up and down as it does elsewhere. Current that stays at
    zero is rest. Common practice, no source.

    Args:
        rests_at_zero: True for current and power, which are zero at rest.
    """

    def __init__(self, *, rests_at_zero: bool = False) -> None:
        self._rests_at_zero = rests_at_zero
        self.longest = ConstantRun()
        self.second = 0
        self.rows = 0
        self.moving_rows = 0
        self.other_moved = 0.0
        self._run = ConstantRun()
        self._last: tuple[float, float] | None = None
        self._high, self._low = ExtremeValue(1.0), ExtremeValue(-1.0)

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
        step, went = np.diff(values, prepend=before[0]), np.diff(other, prepend=before[1])
        moved = np.abs(went)
        starts = np.flatnonzero(step != 0.0)
        self.rows += int(values.size)
        self.moving_rows += int(starts.size)
        self.other_moved += float(moved.sum())
        self._high.add(values)
        self._low.add(values)
        sums = np.concatenate([[0.0], np.cumsum(moved)])
        ways = np.concatenate([[0.0], np.cumsum(went)])
        first = int(starts[0]) if starts.size else int(values.size)
        if self._last is None:
            self._run = ConstantRun(0, int(rows[0]), float(values[0]), 0.0)
        self._run.rows += first
        self._run.moved += float(sums[first])
        self._run.went += float(ways[first])
        if starts.size:
            self._close()
            self._whole(values, rows, starts, sums, ways)
            begun = int(starts[-1])
            # The row that begins a run moves into it and does not count as movement within.
            within = float(sums[-1] - sums[begun + 1])
            came = float(ways[-1] - ways[begun + 1])
            self._run = ConstantRun(int(values.size) - begun, int(rows[begun]), float(values[begun]), within, came)
        self._last = (float(values[-1]), float(other[-1]))

    def _whole(self, values: FloatArray, rows: IntArray, starts: IntArray, sums: FloatArray, ways: FloatArray) -> None:
        """Take in the two longest runs that begin and end in this stretch."""
        lengths = np.diff(starts)
        for at in np.argsort(lengths)[-2:]:
            start, end = int(starts[at]), int(starts[at + 1])
            within = float(sums[end] - sums[start + 1])
            came = float(ways[end] - ways[start + 1])
            self._run = ConstantRun(end - start, int(rows[start]), float(values[start]), within, came)
            self._close()

    def _close(self) -> None:
        run = self._run
        if run.rows > self.longest.rows:
            self.second, self.longest = self.longest.rows, run
        elif run.rows > self.second:
            self.second = run.rows

    def stuck(self) -> ConstantRun | None:
        """The stretch in which the sensor seems stuck, or None."""
        self._close()
        run = self.longest
        outside = self.rows - run.rows
        if run.rows < _LONG_RUN or run.rows < _TIMES_SECOND * self.second or run.rows > _MOST_OF_THE_FILE * self.rows:
            return None
        if self.moving_rows < _MOVING_SHARE * outside or self._is_quiet(run):
            return None
        usual = (self.other_moved - run.moved) / max(outside, 1)
        return run if run.moved > _BUSY * usual * run.rows and usual > 0.0 else None

    def _is_quiet(self, run: ConstantRun) -> bool:
        """True for rest, and for a charger that holds a level while the other channel moves one way."""
        return (self._rests_at_zero and run.value == 0.0) or abs(run.went) > _ONE_WAY * run.moved

    def clipped(self) -> ClippedRange | None:
        """The extreme at which the channel seems to be cut off, or None."""
        if self.moving_rows < _MOVING_SHARE * self.rows:
            return None
        for name, extreme in (("highest", self._high), ("lowest", self._low)):
            if extreme.is_cut_off(self.rows) and extreme.value != 0.0:
                return ClippedRange(name, extreme.value, extreme.rows)
        return None
