"""A quantity that runs its course over the use of a source, and begins again with each replacement."""

from math import floor, inf, isinf

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import MONTHS_PER_YEAR


class Recurring:
    """A course over the years that begins anew with each period.

    Args:
        years: Time since the source was new [years], shape (n,), n >= 2, increasing from 0.
        values: The quantity then, straight between, shape (n,).
        period_years: Time from one replacement to the next [years], > 0; infinite where there is none. Beyond the last
            of ``years`` the last value holds.
    """

    def __init__(self, years: FloatArray, values: FloatArray, period_years: float = inf) -> None:
        self._years, self._values, self.period_years = years, values, period_years
        steps = 0.5 * (values[1:] + values[:-1]) * np.diff(years)
        self._sums = np.concatenate([[0.0], np.cumsum(steps)])

    def mean(self, years: float) -> float:
        """Mean from the first source's beginning up to a time.

        Args:
            years: The time [years], > 0.
        """
        return self._integral(years) / years

    def by_month(self, months: int) -> FloatArray:
        """Mean of each month, shape (months,); a replacement may fall within it.

        Args:
            months: Number of months from the beginning, >= 0.
        """
        edges = [self._integral(month / MONTHS_PER_YEAR) for month in range(months + 1)]
        return np.diff(edges) * MONTHS_PER_YEAR

    def _integral(self, years: float) -> float:
        """Integral over the years from 0, over all sources that follow each other."""
        if isinf(self.period_years):
            return self._in_period(years)
        lives = floor(years / self.period_years)
        rest_years = max(years - lives * self.period_years, 0.0)
        return lives * self._in_period(self.period_years) + self._in_period(rest_years)

    def _in_period(self, years: float) -> float:
        end = float(self._years[-1])
        place = min(int(np.searchsorted(self._years, years, side="right")), self._years.size) - 1
        start = float(self._years[place])
        value = float(np.interp(min(years, end), self._years, self._values))
        return float(self._sums[place]) + 0.5 * (float(self._values[place]) + value) * (years - start)
