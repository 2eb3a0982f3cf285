"""What months with limits of their own serve of a demand."""

from collections.abc import Sequence
from dataclasses import dataclass

from lifetime.constants import MONTHS_PER_YEAR
from lifetime.results.feasibility import Feasibility


@dataclass(frozen=True, slots=True)
class MonthsServed:
    """How much of a day's demand is served in months whose limits are not those of the year's mean temperature.

    Args:
        months: The months, counted from 0.
        feasibility: What a new battery serves there.
    """

    months: tuple[int, ...]
    feasibility: Feasibility


def unserved_share(typical: Feasibility, others: Sequence[MonthsServed]) -> float:
    """Share of the year's traction that nobody serves [0..1].

    Args:
        typical: What a new battery serves in all other months.
        others: What it serves in months with other limits.
    """
    rest = MONTHS_PER_YEAR - sum(len(one.months) for one in others)
    days = [(rest, typical), *((len(one.months), one.feasibility) for one in others)]
    asked = sum(months * served.traction_kWh for months, served in days)
    return sum(months * served.unserved_kWh for months, served in days) / asked if asked > 0.0 else 0.0
