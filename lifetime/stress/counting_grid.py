"""Noise kept out of the count: which samples of the charge drawn cycles are counted at.

The charge between two samples is exact, so the mean current over a stretch is what its two ends say: averaging is
leaving out what lies between. White noise adds throughput only where the current is small, so at rest the mean is over
longer. Nothing is lost of the charge, and energy and heat are those of the current as it is.
"""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import SECONDS_PER_HOUR
from lifetime.stress.counting import CycleCounting
from lifetime.stress.rainflow import IndexArray

_REST_AVERAGING_S: Final = 60.0
"""Mean of a resting source's current [s]; at the default dead band a minute moves less than 0.1 % of the capacity."""
_SAME_TIME: Final = 1e-6
"""A sample that misses a whole multiple of the averaging by less than this share stands on it."""


class CountingGrid:
    """Chooses the samples that cycles are counted at.

    Args:
        counting: How cycles are counted.
        capacity_As: Rated capacity of the source [As], > 0.
    """

    def __init__(self, counting: CycleCounting, capacity_As: float) -> None:
        self._averaging_s = counting.averaging_s
        self.dead_band_A = counting.dead_band_c_rate * capacity_As / SECONDS_PER_HOUR

    def kept(self, time_s: FloatArray, charge_As: FloatArray) -> IndexArray:
        """Positions of the samples that stay; the first and the last always do.

        Args:
            time_s: Time of each sample [s], shape (n,), rising.
            charge_As: Charge drawn [As], shape (n,).

        Returns:
            Increasing positions, shape (m,).
        """
        kept = np.arange(time_s.size) if self._averaging_s == 0.0 else _steps(time_s, self._averaging_s)
        if self.dead_band_A == 0.0:
            return kept
        length = np.diff(time_s[kept])
        resting = np.abs(np.diff(charge_As[kept])) <= self.dead_band_A * length
        apart = np.zeros(time_s.size, dtype=np.bool_)
        apart[_steps(time_s, _REST_AVERAGING_S)] = True
        inner = ~(resting[:-1] & resting[1:]) | apart[kept[1:-1]]
        return np.asarray(kept[np.concatenate([[True], inner, [True]])])

    def mean_square(self, length_s: FloatArray, moved_As: FloatArray, exact_A2s: FloatArray) -> FloatArray:
        """Squared current over each stretch [A²s]: that of its mean, save where one sample lasts longer than the mean.

        Args:
            length_s: Length of each stretch [s], shape (m,), >= 0.
            moved_As: Charge drawn over it [As], shape (m,).
            exact_A2s: Squared current as it is [A²s], shape (m,).
        """
        averaged = (length_s > 0.0) & (length_s <= max(self._averaging_s, _REST_AVERAGING_S) * (1.0 + _SAME_TIME))
        return np.where(averaged, moved_As * moved_As / np.where(averaged, length_s, 1.0), exact_A2s)


def _steps(time_s: FloatArray, every_s: float) -> IndexArray:
    """The first sample at or after each whole multiple of a time, with the first and the last of all."""
    step = np.floor(time_s / every_s + _SAME_TIME)
    inner = np.flatnonzero(np.diff(step) > 0.0) + 1
    inner = inner[inner < time_s.size - 1]
    return np.concatenate([[0], inner, [time_s.size - 1]])
