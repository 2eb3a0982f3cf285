"""Running the clocks for years: Heun steps in which health feeds back on stress, with every month resolved."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.checks import FloatArray
from lifetime.constants import DAYS_PER_MONTH, MONTHS_PER_YEAR

Rates = Callable[[float, float], FloatArray]
"""Clock turns per average day in each month, shape (12, mechanisms), at a capacity fraction and resistance ratio."""


@dataclass(frozen=True, slots=True, eq=False)
class Further:
    """Turns that come on top of a source's own in part, as another source ages beside it.

    Args:
        rates: Further turns per average day in each month, shape (parts, 12, mechanisms), were each part all there is.
        share: Share of each part in each month of the run, shape (months, parts).
    """

    rates: Rates
    share: FloatArray


LOWEST_CAPACITY = 0.2
HIGHEST_RESISTANCE = 10.0
"""Beyond these a pack is scrap and no law means anything; the projection stops there."""
_CAPACITY_STEP = 0.02
_RESISTANCE_STEP = 0.10
"""A step that would change health by more than this is shortened, down to one month."""
_SCHEDULE = ((3, 1), (36, 3), (132, 12), (240, 24), (10**9, 48))
"""Until which month [months] steps have which length [months]."""
_SAME_HEALTH = 1e-5
"""Where a step ends this close to the health it was predicted to, its last rates begin the next: health feeds back on
stress so weakly that this is the rule, and stress is the dear part of a step."""


@dataclass(frozen=True, slots=True)
class Trajectory:
    """Clocks and health at the end of every month, starting new.

    Args:
        years: Service time [years], shape (n,), first 0.
        clocks: Clocks, shape (n, mechanisms).
        capacity_fraction: Capacity over initial [1], shape (n,).
        resistance_ratio: Resistance over initial [1], shape (n,).
    """

    years: FloatArray
    clocks: FloatArray
    capacity_fraction: FloatArray
    resistance_ratio: FloatArray

    def clocks_at(self, years: float) -> FloatArray:
        """Clocks at any time within the trajectory; they run straight within a month.

        Args:
            years: Service time [years]; before the first and after the last month the clocks there.
        """
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
    longest_step_months: int = 48,
    further: Further | None = None,
) -> Trajectory:
    """Run a law's clocks from new.

    Steps are one month at first, where a root law bends most, then a quarter, a year, and two and four years late in
    life; each is shortened where health moves fast. Within a step the rates of each month run straight from the step's
    start to its predicted end (Heun), so the season is resolved whatever the step.

    Args:
        law: The ageing law.
        rates: Clock turns per day and month at a given health.
        years: How far to run [years], > 0.
        enough: Called with (years, capacity_fraction, resistance_ratio) after each step; True stops the run.
        longest_step_months: Upper bound of a step [months]; 1 gives the finest run.
        further: What comes on top by the month of the run; None for nothing. Its shares are kept month by month
            whatever the step, so that a step may hold another source's replacements.

    Returns:
        The trajectory, by month; it ends early where the pack is scrap (capacity under 20 %, resistance over 10 times).
    """
    months = round(years * MONTHS_PER_YEAR)
    table = [np.zeros((1, len(law.mechanisms)))]
    month = 0
    now = _health(law, table[0][-1])
    here = None
    while month < months and now[0] > LOWEST_CAPACITY and now[1] < HIGHEST_RESISTANCE:
        if enough is not None and enough(month / MONTHS_PER_YEAR, *now):
            break
        if here is None:
            here = _Turns.of(rates, further, now)
        step, predicted = _predict(law, table[-1][-1], here, month, min(longest_step_months, months - month))
        there = _Turns.of(rates, further, predicted)
        table.append(_months(table[-1][-1], here, there, month, step))
        month += step
        now = _health(law, table[-1][-1])
        here = there if max(abs(now[0] - predicted[0]), abs(now[1] - predicted[1])) <= _SAME_HEALTH else None
    clocks = np.concatenate(table)
    health = law.fade(clocks)
    count = clocks.shape[0]
    return Trajectory(
        years=np.arange(count) / MONTHS_PER_YEAR,
        clocks=clocks,
        capacity_fraction=np.broadcast_to(health.capacity_fraction, (count,)),
        resistance_ratio=np.broadcast_to(health.resistance_ratio, (count,)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Turns:
    """Turns in each month at one health, shape (12, mechanisms); the further ones, shape (parts, 12, mechanisms)."""

    own: FloatArray
    further: FloatArray | None = None
    share: FloatArray | None = None

    @classmethod
    def of(cls, rates: Rates, further: Further | None, health: tuple[float, float]) -> "_Turns":
        own = rates(*health) * DAYS_PER_MONTH
        if further is None:
            return cls(own)
        return cls(own, further.rates(*health) * DAYS_PER_MONTH, further.share)

    def over(self, month: int, step: int) -> FloatArray:
        """Turns of each month of a step, shape (step, mechanisms)."""
        season = (month + np.arange(step)) % MONTHS_PER_YEAR
        turns: FloatArray = self.own[season]
        if self.further is None or self.share is None:
            return turns
        more: FloatArray = np.einsum("mp,pmk->mk", self.share[month : month + step], self.further[:, season])
        return turns + more


def _months(before: FloatArray, here: _Turns, there: _Turns, month: int, step: int) -> FloatArray:
    """Clocks at the end of each month of a step, shape (step, mechanisms)."""
    share = ((np.arange(step) + 0.5) / step).reshape(-1, 1)
    turns = (1.0 - share) * here.over(month, step) + share * there.over(month, step)
    turns[0] += before
    return np.cumsum(turns, axis=0)


def _predict(
    law: AgeingLaw, clocks: FloatArray, here: _Turns, month: int, longest: int
) -> tuple[int, tuple[float, float]]:
    """Length of the next step [months], and the health an Euler step of that length leads to."""
    before = _health(law, clocks)
    step = min(_scheduled(month), longest)
    while True:
        after = _health(law, clocks + here.over(month, step).sum(axis=0))
        gentle = before[0] - after[0] <= _CAPACITY_STEP and after[1] - before[1] <= _RESISTANCE_STEP
        if gentle or step == 1:
            return step, (max(after[0], LOWEST_CAPACITY), min(after[1], HIGHEST_RESISTANCE))
        step = max(1, step // 2)


def _scheduled(month: int) -> int:
    return next(step for until, step in _SCHEDULE if month < until)


def _health(law: AgeingLaw, clocks: FloatArray) -> tuple[float, float]:
    health = law.fade(clocks)
    return float(health.capacity_fraction), float(health.resistance_ratio)
