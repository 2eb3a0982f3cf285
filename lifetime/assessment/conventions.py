"""What a strategy comes to under every convention of counting: the same traced days, other weights and C-rates."""

from dataclasses import replace

from lifetime.assessment.costing import cost_of_lives
from lifetime.assessment.drivetrain_life import DrivetrainLife
from lifetime.assessment.judged_day import JudgedDay, judged_day
from lifetime.assessment.setups import SourceSetup, StudySetup, YearlyDuty
from lifetime.assessment.source_life import projected_life
from lifetime.assessment.traces import DayTraces
from lifetime.costing.life_cycle import LifeCycleCost
from lifetime.projection.duty import Duty
from lifetime.results.conventions import CONVENTIONS
from lifetime.results.records import ConventionOutcome


def convention_outcomes(
    setup: StudySetup, battery: SourceSetup, traces: DayTraces, life: DrivetrainLife
) -> tuple[ConventionOutcome, ...]:
    """Project the battery's life under each convention, and price it beside the same bank.

    Args:
        setup: The study, which gives the prices.
        battery: The battery.
        traces: Its traced days.
        life: What became of both sources under the study's own convention.

    Returns:
        One outcome a convention; none where the battery does not meet its requirement.
    """
    yearly = setup.operation.yearly(traces.new.length_s)
    judged = judged_day(battery, traces, yearly)
    if not judged.requirement.is_met:
        return ()
    outcomes = []
    for small_cycles, cycle_rate in CONVENTIONS:
        counted = replace(battery, counting=battery.counting.with_convention(small_cycles, cycle_rate))
        years = _life_years(counted, judged, yearly)
        cost = cost_of_lives(setup, replace(life.battery, life_years=years), life.ultracapacitor)
        net = cost.net_present_cost if isinstance(cost, LifeCycleCost) else None
        outcomes.append(ConventionOutcome(small_cycles, cycle_rate, years, net))
    return tuple(outcomes)


def _life_years(battery: SourceSetup, judged: JudgedDay, yearly: YearlyDuty) -> float | None:
    """Life of a battery on days that are already traced [years]; None beyond the search."""
    days = judged.traces.without_small_cycles(battery.smallest_cycle_soc * battery.source.capacity_As).days
    duty = Duty(battery.source, days, yearly.ambient_K, yearly.runs_per_year, battery.counting)
    return projected_life(battery, duty, judged.requirement, yearly, first_limit_only=True).years
