"""The day that a source is judged by: a bank's history whose balance is open must not end its life by drift."""

from dataclasses import dataclass, replace

from lifetime.assessment.energy_balance import EnergyBalance, energy_balance
from lifetime.assessment.notices.balance import limit_by_drift
from lifetime.assessment.requirement import Requirement, requirement_of
from lifetime.assessment.setups import SourceSetup, YearlyDuty
from lifetime.assessment.traces import DayTraces
from lifetime.notices import Notice
from lifetime.projection.years import Trajectory


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """A history whose balance is open.

    Args:
        balance: Over the day's driving.
        requirement: Its day against the bounds, the open balance included.
    """

    balance: EnergyBalance
    requirement: Requirement


@dataclass(frozen=True, slots=True, eq=False)
class JudgedDay:
    """What a source's life is found from.

    Args:
        traces: Its traced days.
        requirement: Its day against its bounds, with the balance closed.
        drift: What the open balance adds; None where the balance is closed.
    """

    traces: DayTraces
    requirement: Requirement
    drift: Drift | None = None

    def drift_notices(self, setup: SourceSetup, trajectory: Trajectory) -> list[Notice]:
        """Name the bound that only the open balance passes.

        Args:
            setup: The source.
            trajectory: Its health by month.
        """
        if self.drift is None:
            return []
        passed, real = (one.crossing(setup, trajectory) for one in (self.drift.requirement, self.requirement))
        if passed is None or passed.years is None:
            return []
        if real is not None and real.years is not None and real.years <= passed.years:
            return []
        return [limit_by_drift(self.drift.balance, passed)]


def judged_day(setup: SourceSetup, traces: DayTraces, yearly: YearlyDuty) -> JudgedDay:
    """The day to go by: as it is, and with the balance closed for what the bounds are asked.

    Where not even a new bank gets through its history with the balance open, the closed one is its day.

    Args:
        setup: The source.
        traces: Its traced days.
        yearly: How often and how long they are worked.
    """
    requirement = _requirement(setup, traces, yearly)
    if traces.balanced is None:
        return JudgedDay(traces, requirement)
    closed = _requirement(setup, traces.balanced, yearly)
    drift = Drift(energy_balance(traces.new.drive, setup.source), requirement)
    if closed.is_met and not requirement.is_met:
        traces = replace(traces.balanced, notices=traces.notices)
    return JudgedDay(traces, closed, drift)


def _requirement(setup: SourceSetup, traces: DayTraces, yearly: YearlyDuty) -> Requirement:
    return requirement_of(setup, traces, yearly.duty(setup.source, traces.days))
