"""What a traced day means for a whole drivetrain: the life of each source and the cost of both."""

from dataclasses import dataclass

from lifetime.assessment.costing import cost_of_lives
from lifetime.assessment.energy_bought import energy_bought
from lifetime.assessment.setups import Drivetrain, StudySetup
from lifetime.assessment.source_result import assess_source
from lifetime.assessment.traces import DrivetrainTraces
from lifetime.costing.energy import EnergyBought
from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.results.records import SourceResult


@dataclass(frozen=True, slots=True, eq=False)
class DrivetrainLife:
    """Lives and cost of a drivetrain's sources.

    Args:
        battery: What became of the battery.
        ultracapacitor: What became of the ultracapacitor bank; None without one.
        energy: What is bought.
        cost: Life-cycle cost, or why there is none.
    """

    battery: SourceResult
    ultracapacitor: SourceResult | None
    energy: EnergyBought
    cost: LifeCycleCost | NoLifeCycleCost


def bank_life(
    setup: StudySetup, drivetrain: Drivetrain, traces: DrivetrainTraces, *, first_limit_only: bool = False
) -> SourceResult | None:
    """Assess the bank on its traced day; None for a battery alone. It comes first: the battery ages beside it.

    Args:
        setup: The study.
        drivetrain: Its sources, or the battery alone.
        traces: Their traced days.
        first_limit_only: Stop, after service, as soon as one limit is reached.
    """
    if drivetrain.ultracapacitor is None or traces.ultracapacitor is None:
        return None
    # A log that contains everything gives its own length; both sources are worked as often as the battery.
    yearly = setup.operation.yearly(traces.battery.new.length_s)
    return assess_source(drivetrain.ultracapacitor, traces.ultracapacitor, yearly, first_limit_only=first_limit_only)


def drivetrain_life(
    setup: StudySetup,
    drivetrain: Drivetrain,
    traces: DrivetrainTraces,
    bank: SourceResult | None,
    *,
    first_limit_only: bool = False,
) -> DrivetrainLife:
    """Assess the battery on its traced days, and what both sources cost.

    Args:
        setup: The study.
        drivetrain: Its sources, or the battery alone.
        traces: Their traced days.
        bank: What became of the bank; None for a battery alone.
        first_limit_only: Stop, after service, as soon as one limit of a source is reached.
    """
    yearly = setup.operation.yearly(traces.battery.new.length_s)
    battery = assess_source(drivetrain.battery, traces.battery, yearly, first_limit_only=first_limit_only)
    energy = energy_bought(drivetrain, traces, yearly, setup.operation.charger_efficiency, battery, bank)
    return DrivetrainLife(battery, bank, energy, cost_of_lives(setup, battery, bank, energy))
