"""Time steps of a history of any length, in fixed memory: their median, how many are gaps, what flows in those.

Steps are counted in classes of equal relative width (1/256 of an octave's lower end, 0.4 %), read off the exponent and
the first eight bits of the fraction of the float64 itself. A sum per class keeps the median far finer than the class.
"""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray
from lifetime.history.inspection.step_charge import GapCharge, StepCharge

EDGE_S: Final = 1e-9
"""Samples no further apart than this [s] are one instant: a switching edge, as simulators mark it."""

GAP_IN_MEDIAN_STEPS: Final = 10.0
"""Steps longer than this many median steps are gaps. Common practice, no source."""

LONGEST_STEP_S: Final = 3600.0
"""Steps longer than this [s] are gaps whatever the median: nobody can say what a drive did in an hour unseen. Common
practice, no source."""

_FEWEST_STEPS: Final = 100
_RARE: Final = 0.005
"""Steps off the rest are the clock's doing where they are rarer than this; otherwise the logger writes on change."""

_FEWEST_LONG_STEPS: Final = 5
"""A logger that writes seldom while nothing changes does so again and again."""

_DROPPED_BITS: Final = 44  # of 52 fraction bits eight are kept
_CLASSES_PER_OCTAVE: Final = 256
_LOWEST_OCTAVE: Final = -30  # 2**-30 s is just below EDGE_S
_OCTAVES: Final = 64
_BIAS: Final = 1023  # of a float64 exponent
_FIRST_CLASS: Final = (_BIAS + _LOWEST_OCTAVE) * _CLASSES_PER_OCTAVE
_CLASSES: Final = _OCTAVES * _CLASSES_PER_OCTAVE
_LONGEST_CLASS_S: Final = 2.0 ** (_LOWEST_OCTAVE + _OCTAVES - 2)


class StepCounts:
    """Counts of time steps by length; steps within a nanosecond are left out.

    Args:
        longest_s: Steps longer than this [s] are gaps whatever the median; None where the unit of time is not known.
    """

    def __init__(self, longest_s: float | None = LONGEST_STEP_S) -> None:
        self._longest_s = _LONGEST_CLASS_S if longest_s is None else longest_s
        self._counts = np.zeros(_CLASSES, dtype=np.int64)
        self._sums_s = np.zeros(_CLASSES)
        self._first_rows = np.zeros(_CLASSES, dtype=np.int64)
        self._charge: StepCharge | None = None

    def add(self, steps_s: FloatArray, rows: IntArray, currents: tuple[FloatArray, FloatArray] | None = None) -> None:
        """Count some steps.

        Args:
            steps_s: Step lengths [s], all > 1e-9.
            rows: Row in the file at the end of each step.
            currents: Current or power at the beginning and at the end of each step; None where none is known.
        """
        if steps_s.size == 0:
            return
        which = _class_of(steps_s)
        counts = np.bincount(which, minlength=_CLASSES)
        if ((counts > 0) & (self._counts == 0)).any():
            # Written from the back, so that the first row of each class is what stays.
            firsts = np.zeros(_CLASSES, dtype=np.int64)
            firsts[which[::-1]] = rows[::-1]
            self._first_rows = np.where(self._counts == 0, firsts, self._first_rows)
        self._counts += counts
        self._sums_s += np.bincount(which, weights=steps_s, minlength=_CLASSES)
        if currents is not None:
            self._charge = self._charge or StepCharge(_CLASSES)
            self._charge.add(which, steps_s, *currents)

    @property
    def median_s(self) -> float:
        """Median step [s], to better than 0.4 %; 0 where nothing was counted."""
        total = int(self._counts.sum())
        if total == 0:
            return 0.0
        reached = np.cumsum(self._counts)
        middle = np.searchsorted(reached, [(total - 1) // 2, total // 2], side="right")
        return float(np.mean(self._sums_s[middle] / self._counts[middle]))

    def irregular_fraction(self) -> float:
        """Fraction of the steps that differ from the median by more than half of it, 0..1."""
        return self._off_median() / max(int(self._counts.sum()), 1)

    def jumps(self) -> tuple[int, int | None]:
        """Steps longer than the median by over half of it and no gaps, where all others agree; the first one's row.

        A logger's clock that was set forward leaves a few such steps in an otherwise even row. A shorter step is a row
        written when a test went on to its next step.
        """
        total = int(self._counts.sum())
        off = self._off_median()
        gaps, _ = self.gaps()
        if total < _FEWEST_STEPS or off - gaps <= 0 or off > _RARE * total:
            return 0, None
        _, high = self._class_range()
        gap = int(_class_of(np.array([self.gap_limit_s]))[0])
        counts = self._counts.copy()
        counts[: high + 1] = 0
        counts[gap:] = 0
        rows = self._first_rows[counts > 0]
        return int(counts.sum()), int(rows.min()) if rows.size else None

    def _class_range(self) -> tuple[int, int]:
        median_s = self.median_s
        ends = _class_of(np.array([max(0.5 * median_s, EDGE_S), 1.5 * median_s]))
        return int(ends[0]), int(ends[1])

    def _off_median(self) -> int:
        if not int(self._counts.sum()):
            return 0
        low, high = self._class_range()
        return int(self._counts.sum() - self._counts[low : high + 1].sum())

    @property
    def gap_limit_s(self) -> float:
        """Steps of this length [s] or longer are gaps, rounded up to the next class.

        It is ten median steps or an hour; an hour alone where the logger writes seldom while nothing changes.
        """
        return self._limit_s(self._longest_s if self.uneven() is not None else self._relative_s)

    @property
    def _relative_s(self) -> float:
        median_s = self.median_s
        return min(GAP_IN_MEDIAN_STEPS * median_s, self._longest_s) if median_s > 0.0 else self._longest_s

    @staticmethod
    def _limit_s(limit_s: float) -> float:
        # A billionth on top, so that a step of exactly ten uniform steps stays below whatever its last digits are.
        return _lower_edge(int(_class_of(np.array([limit_s * (1.0 + 1e-9)]))[0]) + 1)

    def uneven(self) -> tuple[int, GapCharge] | None:
        """Steps longer than ten median steps and up to an hour that are sampling, and what flows in them; or None.

        They are where they come again and again and the current on their two sides agrees.
        """
        if self._charge is None:
            return None
        first, last = (
            int(_class_of(np.array([self._limit_s(limit)]))[0]) for limit in (self._relative_s, self._longest_s)
        )
        count = int(self._counts[first:last].sum())
        if count < _FEWEST_LONG_STEPS or count <= _RARE * int(self._counts.sum()):
            return None
        charge = self._charge.beyond(first, last)
        return (count, charge) if charge.is_agreed else None

    def long_step_charge(self) -> GapCharge | None:
        """What flows in all steps longer than ten median steps or an hour; None where no current is known."""
        if self._charge is None:
            return None
        return self._charge.beyond(int(_class_of(np.array([self._limit_s(self._relative_s)]))[0]))

    def gap_charge(self) -> GapCharge | None:
        """What flows in the gaps and beside them; None where no current is known."""
        if self._charge is None:
            return None
        return self._charge.beyond(int(_class_of(np.array([self.gap_limit_s]))[0]))

    def gaps(self) -> tuple[int, int | None]:
        """Number of gaps, and the row in the file at the end of the first one."""
        start = int(_class_of(np.array([self.gap_limit_s]))[0])
        count = int(self._counts[start:].sum())
        if count == 0:
            return 0, None
        rows = self._first_rows[start:][self._counts[start:] > 0]
        return count, int(rows.min())


def _class_of(steps_s: FloatArray) -> IntArray:
    bits = np.ascontiguousarray(steps_s, dtype=np.float64).view(np.int64)
    classes: IntArray = np.clip((bits >> _DROPPED_BITS) - _FIRST_CLASS, 0, _CLASSES - 1)
    return classes


def _lower_edge(number: int) -> float:
    return float(np.array([(number + _FIRST_CLASS) << _DROPPED_BITS], dtype=np.int64).view(np.float64)[0])
