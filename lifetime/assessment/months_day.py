"""A day of months that have limits of their own."""

from dataclasses import dataclass

from lifetime.constants import MONTHS_PER_YEAR
from lifetime.results.feasibility import Feasibility
from lifetime.stress.day import Day


@dataclass(frozen=True, slots=True, eq=False)
class MonthsDay:
    """A new source's day in months whose limits are not those of the year's mean temperature.

    Args:
        months: The months, counted from 0.
        day: Traced at the beginning of life.
        feasible: What a new battery serves of its part of a demand there; None for a bank.
    """

    months: tuple[int, ...]
    day: Day
    feasible: Feasibility | None = None

    @property
    def share(self) -> float:
        """Share of the year [0..1]."""
        return len(self.months) / MONTHS_PER_YEAR
