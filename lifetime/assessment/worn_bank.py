"""How a worn bank changes the battery's day: the days beside it, and how much of each the years hold."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.projection.duty import WornDay
from lifetime.projection.recurring import Recurring
from lifetime.results.feasibility import Feasibility
from lifetime.results.records import HealthTrajectory, SourceResult
from lifetime.stress.day import Day

_POINTS: Final = 241
"""Times at which a bank's wear is read between its months, so that the bends between two traced days are met."""
_NO_WEAR: Final = 1e-12
"""Relative change of capacitance or ESR up to which a bank does not age."""


@dataclass(frozen=True, slots=True)
class BankState:
    """Health of a bank.

    Args:
        capacitance_fraction: Capacitance over initial [1], > 0.
        esr_ratio: ESR over initial [1], > 0.
    """

    capacitance_fraction: float
    esr_ratio: float


@dataclass(frozen=True, slots=True, eq=False)
class BankWear:
    """A bank's way from new to the state in which it is replaced.

    Args:
        end: Its state where it is replaced, or, where it never is, where its projection ends.
        years: Time since it was new [years], shape (n,), first 0.
        wear: Share of the way from new to ``end``, shape (n,), 0 at first and 1 at last.
        period_years: Time from one replacement to the next [years]; infinite where there is none.
    """

    end: BankState
    years: FloatArray
    wear: FloatArray
    period_years: float

    def state(self, wear: float) -> BankState:
        """Health after a share of the way; capacitance and ESR take it together.

        Args:
            wear: Share of the way [0..1].
        """
        return BankState(1.0 - wear * (1.0 - self.end.capacitance_fraction), 1.0 + wear * (self.end.esr_ratio - 1.0))

    def shares(self, traced: tuple[float, ...]) -> tuple[Recurring, ...]:
        """Share of each traced day over the years; what they leave is the day beside a new bank.

        Args:
            traced: Wear at which each day was traced, increasing, the last 1.
        """
        known = [0.0, *traced]
        courses = (np.interp(self.wear, known, column) for column in np.eye(len(known))[1:])
        return tuple(Recurring(self.years, course, self.period_years) for course in courses)


def bank_wear(bank: SourceResult) -> BankWear | None:
    """How a bank wears between its replacements; None where it does not age or never works.

    The wear is that of its capacitance, which sets the energy that the split can use; where only ESR ages, that of ESR.
    It is replaced when its cost goes by: at the end of its life, or after the longest life the study allows it.

    Args:
        bank: What became of the bank.
    """
    used_years = bank.cost_life_years
    if used_years is not None and used_years <= 0.0:
        return None
    health = bank.trajectory
    end_years = float(health.years[-1]) if used_years is None else min(used_years, float(health.years[-1]))
    if end_years <= 0.0:
        return None
    years = np.union1d(health.years[health.years < end_years], np.linspace(0.0, end_years, _POINTS))
    end = _state_at(health, end_years)
    lost, risen = 1.0 - end.capacitance_fraction, end.esr_ratio - 1.0
    if max(lost, risen) <= _NO_WEAR:
        return None
    course, whole = (
        (1.0 - health.capacity_fraction, lost) if lost > _NO_WEAR else (health.resistance_ratio - 1.0, risen)
    )
    wear = np.clip(np.interp(years, health.years, course) / whole, 0.0, 1.0)
    return BankWear(end, years, wear, np.inf if used_years is None else used_years)


def _state_at(health: HealthTrajectory, years: float) -> BankState:
    return BankState(
        float(np.interp(years, health.years, health.capacity_fraction)),
        float(np.interp(years, health.years, health.resistance_ratio)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class DayBesideWornBank:
    """A new battery's day beside a worn bank.

    Args:
        day: The day as it is split for that bank.
        share: How much of it the years hold, in place of the day beside a new bank.
        feasible: What the battery serves of its part; None without limits.
        lost_J: What converters, inverters and windings lose on the day [J].
        months: Months with limits of their own that it is for, counted from 0; empty for the typical day.
    """

    day: Day
    share: Recurring
    feasible: Feasibility | None
    lost_J: float
    months: tuple[int, ...] = ()

    def without_small_cycles(self, range_As: float) -> "DayBesideWornBank":
        """The same without the cycles that move no more than a charge.

        Args:
            range_As: Largest charge between a cycle's ends that is left out [As], >= 0.
        """
        return replace(self, day=WornDay(self.day, "none").without_small_cycles(range_As).day)
