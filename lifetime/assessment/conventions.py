"""What a strategy comes to under every convention of counting: the same traced days, other weights and C-rates."""

from dataclasses import dataclass, replace

import numpy as np

from lifetime.assessment.costing import cost_of_lives
from lifetime.assessment.drivetrain_life import DrivetrainLife
from lifetime.assessment.judged_day import JudgedDay, judged_day
from lifetime.assessment.setups import SourceSetup, StudySetup, YearlyDuty
from lifetime.assessment.source_life import projected_life
from lifetime.assessment.traces import DayTraces
from lifetime.costing.life_cycle import LifeCycleCost
from lifetime.projection.duty import Duty
from lifetime.results.convention_outcome import ConventionOutcome
from lifetime.results.conventions import CONVENTIONS
from lifetime.results.records import StrategyResult

_HELD: float = 1e-6
"""Relative difference of a clock from which on a model's limit has an effect."""


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """A battery's traced days with what they are judged by."""

    setup: StudySetup
    life: DrivetrainLife
    day: JudgedDay
    yearly: YearlyDuty

    def duty(self, battery: SourceSetup) -> Duty:
        """The duty of a year under the battery's counting."""
        traces = self.day.traces.without_small_cycles(battery.smallest_cycle_soc * battery.source.capacity_As)
        return self.yearly.duty(battery.source, traces.days, battery.counting, traces.beside)

    def outcome(self, battery: SourceSetup) -> ConventionOutcome:
        """Life and cost under the battery's counting and ageing model, beside the same bank."""
        life = projected_life(battery, self.duty(battery), self.day.requirement, self.yearly, first_limit_only=True)
        battery_life = replace(self.life.battery, life_years=life.years)
        cost = cost_of_lives(self.setup, battery_life, self.life.ultracapacitor, self.life.energy)
        net = cost.net_present_cost if isinstance(cost, LifeCycleCost) else None
        return ConventionOutcome(battery.counting.small_cycles, battery.counting.cycle_rate, life.years, net)


def with_conventions(
    result: StrategyResult, setup: StudySetup, battery: SourceSetup, traces: DayTraces, life: DrivetrainLife
) -> StrategyResult:
    """A strategy's result with what it comes to under each convention, and without the ageing model's limits.

    Args:
        result: The result.
        setup: The study, which gives the prices.
        battery: The battery.
        traces: Its traced days.
        life: What became of both sources under the study's own convention.
    """
    yearly = setup.operation.yearly(traces.new.length_s)
    judged = _Judged(setup, life, judged_day(battery, traces, yearly), yearly)
    if not judged.day.requirement.is_met:
        return result
    counted = (replace(battery, counting=battery.counting.with_convention(*one)) for one in CONVENTIONS)
    return replace(
        result,
        conventions=tuple(judged.outcome(one) for one in counted),
        without_limits=_without_limits(judged, battery),
    )


def _without_limits(judged: _Judged, battery: SourceSetup) -> ConventionOutcome | None:
    """The outcome with the ageing model extrapolated; None where it is held nowhere, new or aged."""
    model = battery.model.without_limits()
    if model is battery.model:
        return None
    duty = judged.duty(battery)
    for health in ((1.0, 1.0), (battery.limits.capacity_fraction, battery.limits.resistance_ratio)):
        stress = duty.stress(*health)
        held, free = battery.model.clocks(stress), model.clocks(stress)
        if not np.allclose(held, free, rtol=_HELD, atol=0.0):
            return judged.outcome(replace(battery, model=model))
    return None
