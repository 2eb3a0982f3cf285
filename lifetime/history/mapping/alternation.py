"""Whether a quantity alternates as in a machine's winding: mean near zero at a high frequency."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import finite_rows

_ZERO_MEAN: Final = 0.05
"""|mean| over rms below which a current has no direct part worth the name."""
LOWEST_FREQUENCY_HZ: Final = 5.0
"""Above this no load of a vehicle turns from drawing to charging and back on average. Common practice, no source."""
_FEWEST_PERIODS: Final = 5


@dataclass(frozen=True, slots=True)
class Alternation:
    """An alternating quantity.

    Args:
        frequency_Hz: Its mean frequency [Hz], > 0.
        rms: Its quadratic mean, in its own unit, > 0.
    """

    frequency_Hz: float
    rms: float


class AlternationCheck:
    """Mean, quadratic mean and changes of sign of a quantity over a stream, in fixed memory.

    A change of sign counts where the quantity has passed a third of its rms on either side, so that noise around zero
    and ripple on a direct current do not count.
    """

    def __init__(self) -> None:
        self._count = 0
        self._sum = self._squared = 0.0
        self._changes = 0
        self._sign = 0.0
        self._first_change_s: float | None = None
        self._last_change_s = 0.0

    def add(self, time_s: FloatArray, values: FloatArray) -> None:
        """Add a stretch; rows with a missing value are left out.

        Args:
            time_s: Times [s], rising.
            values: In any unit, of the same length.
        """
        time_s, values = finite_rows(time_s, values)
        if values.size == 0:
            return
        self._count += int(values.size)
        with np.errstate(over="ignore", invalid="ignore"):  # absurd magnitudes are named by their own finding
            self._sum += float(values.sum())
            self._squared += float(np.sum(values * values))
        threshold = np.sqrt(self._squared / self._count) / 3.0
        clear = np.flatnonzero(np.abs(values) > threshold)
        if clear.size == 0:
            return
        positive = values[clear] > 0.0
        before = np.append(self._sign > 0.0 if self._sign else positive[0], positive[:-1])
        changes_s = time_s[clear[positive != before]]
        self._sign = 1.0 if positive[-1] else -1.0
        if changes_s.size:
            self._changes += int(changes_s.size)
            self._last_change_s = float(changes_s[-1])
            if self._first_change_s is None:
                self._first_change_s = float(changes_s[0])

    def alternation(self) -> Alternation | None:
        """The alternation, or None where the quantity may be direct."""
        duration_s = 0.0 if self._first_change_s is None else self._last_change_s - self._first_change_s
        if not np.isfinite(self._squared) or self._squared <= 0.0 or duration_s <= 0.0:
            return None
        rms = float(np.sqrt(self._squared / self._count))
        periods = 0.5 * (self._changes - 1)
        frequency_Hz = periods / duration_s
        if abs(self._sum / self._count) > _ZERO_MEAN * rms or periods < _FEWEST_PERIODS:
            return None
        return Alternation(frequency_Hz, rms) if frequency_Hz >= LOWEST_FREQUENCY_HZ else None
