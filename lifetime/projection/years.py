"""Running the clocks for years: Heun steps in which health feeds back on stress, with every month resolved."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.checks import FloatArray
from lifetime.constants import DAYS_PER_MONTH, MONTHS_PER_YEAR

Rates = Callable[[float, float], FloatArray]
"""Clock turns per average day in each month, shape (12, mechanisms), at a capacity fraction and resistance ratio."""

LOWEST_CAPACITY = 0.2
HIGHEST_RESISTANCE = 10.0
"""Beyond these a pack is scrap and no law means anything; the projection stops there."""
_CAPACITY_STEP = 0.02
_RESISTANCE_STEP = 0.10
"""A step that would change health by more than this is shortened, down to one month."""


@dataclass(frozen=True, slots=True)
class Trajectory:
    """Clocks and health at the end of every month, starting new.

    Args:
        years: Service time [years], shape (n,), first 0.
        clocks: Clocks, shape (n, mechanisms).
        capacity_fraction: Capacity over initial, shape (n,).
        resistance_ratio: Resistance over initial, shape (n,).
    """

    years: FloatArray
    clocks: FloatArray
    capacity_fraction: FloatArray
    resistance_ratio: FloatArray

    def clocks_at(self, years: float) -> FloatArray:
        """Clocks at any time within the trajectory [years]; they run straight within a month."""
        place = min(max(years * MONTHS_PER_YEAR, 0.0), self.years.size - 1.0)
        month = min(int(place), max(self.years.size - 2, 0))
        before: FloatArray = self.clocks[month]
        if self.years.size == 1:
            return before
        after: FloatArray = self.clocks[month + 1]
        return before + (place - month) * (after - before)


def project(
    law: AgeingLaw,
    rates: Rates,
    *,
    years: float,
    enough: Callable[[float, float, float], bool] | None = None,
    longest_step_months: int = 24,
) -> Trajectory:
    """Run a law's clocks from new.

    Steps are one month in the first year, where a root law bends most, then a quarter, a year, and two years late in
    life; each is shortened where health moves fast. Within a step the rates of each month run straight from the step's
    start to its predicted end (Heun), so the season is resolved whatever the step.

    Args:
        law: The ageing law.
        rates: Clock turns per day and month at a given health.
        years: How far to run [years], > 0.
        enough: Called with (years, capacity_fraction, resistance_ratio) after each step; True stops the run.
        longest_step_months: Upper bound of a step [months]; 1 gives the finest run.

    Returns:
        The trajectory, by month; it ends early where the pack is scrap (capacity under 20 %, resistance over 10 times).
    """
    months = round(years * MONTHS_PER_YEAR)
    table = [np.zeros(len(law.mechanisms))]
    capacity, resistance = _health(law, table[0])
    while len(table) - 1 < months and capacity > LOWEST_CAPACITY and resistance < HIGHEST_RESISTANCE:
        if enough is not None and enough((len(table) - 1) / MONTHS_PER_YEAR, capacity, resistance):
            break
        month = len(table) - 1
        here = rates(capacity, resistance) * DAYS_PER_MONTH
        step, predicted = _predict(law, table[-1], here, month, min(longest_step_months, months - month))
        there = rates(*predicted) * DAYS_PER_MONTH
        for offset in range(step):
            season = (month + offset) % MONTHS_PER_YEAR
            share = (offset + 0.5) / step
            table.append(table[-1] + (1.0 - share) * here[season] + share * there[season])
        capacity, resistance = _health(law, table[-1])
    clocks = np.array(table)
    health = law.fade(clocks)
    count = clocks.shape[0]
    return Trajectory(
        years=np.arange(count) / MONTHS_PER_YEAR,
        clocks=clocks,
        capacity_fraction=np.broadcast_to(health.capacity_fraction, (count,)),
        resistance_ratio=np.broadcast_to(health.resistance_ratio, (count,)),
    )


def _predict(
    law: AgeingLaw, clocks: FloatArray, here: FloatArray, month: int, longest: int
) -> tuple[int, tuple[float, float]]:
    """Length of the next step [months], and the health an Euler step of that length leads to."""
    before = _health(law, clocks)
    step = min(_scheduled(month), longest)
    while True:
        season = [(month + offset) % MONTHS_PER_YEAR for offset in range(step)]
        after = _health(law, clocks + here[season].sum(axis=0))
        gentle = before[0] - after[0] <= _CAPACITY_STEP and after[1] - before[1] <= _RESISTANCE_STEP
        if gentle or step == 1:
            return step, (max(after[0], LOWEST_CAPACITY), min(after[1], HIGHEST_RESISTANCE))
        step = max(1, step // 2)


def _scheduled(month: int) -> int:
    if month < MONTHS_PER_YEAR:
        return 1
    if month < 3 * MONTHS_PER_YEAR:
        return 3
    return MONTHS_PER_YEAR if month < 11 * MONTHS_PER_YEAR else 2 * MONTHS_PER_YEAR


def _health(law: AgeingLaw, clocks: FloatArray) -> tuple[float, float]:
    health = law.fade(clocks)
    return float(health.capacity_fraction), float(health.resistance_ratio)
