"""One strategy, assessed: a demand with a split rule, or histories that are already split."""

from dataclasses import dataclass, replace

from lifetime.assess.day_split import split_day
from lifetime.assess.drivetrain_life import DrivetrainLife, drivetrain_life
from lifetime.assess.notices.cost import cost_notices
from lifetime.assess.notices.histories import history_notices
from lifetime.assess.power_split import power_split
from lifetime.assess.setups import Drivetrain, StudySetup
from lifetime.assess.split_outcome import SplitOutcome, split_outcome
from lifetime.assess.traces import DrivetrainTraces, history_traces
from lifetime.assess.trip import trip_figures
from lifetime.history.spec import HistoryInput
from lifetime.results.records import StrategyResult
from lifetime.study.schema import Strategy


@dataclass(frozen=True, slots=True, eq=False)
class AssessedStrategy:
    """A strategy's result, and the split it came from.

    Args:
        result: The result, not yet ranked nor compared.
        demand: The demand it splits between two sources, to be compared with the reference splits; None where there
            is nothing to compare.
        outcome: Its split; None where there is nothing to compare.
    """

    result: StrategyResult
    demand: HistoryInput | None = None
    outcome: SplitOutcome | None = None


def assess_strategy(setup: StudySetup, strategy: Strategy, *, in_detail: bool) -> AssessedStrategy:
    """Assess one strategy.

    Args:
        setup: The study.
        strategy: One of its strategies.
        in_detail: Also look for limits after the first, and lay the ageing over the day.

    Raises:
        AssessmentError: A day does not fit into 24 h, or an iteration does not settle.
    """
    drivetrain = setup.drivetrain if strategy.has_ultracapacitor else setup.drivetrain.battery_alone()
    if strategy.demand is None or strategy.split is None:
        traces = _history_traces(setup, strategy, drivetrain)
        life = drivetrain_life(setup, drivetrain, traces, first_limit_only=not in_detail)
        return AssessedStrategy(_result(setup, strategy, drivetrain, traces, life))
    demand = setup.demands.of(strategy.demand)
    split = power_split(setup, strategy.split, demand)
    outcome = split_outcome(setup, drivetrain, split, first_limit_only=not in_detail)
    result = _result(setup, strategy, drivetrain, outcome.traces, outcome.life)
    result = replace(result, notices=(*result.notices, *strategy.split.demand_notices(demand)))
    if not in_detail:
        return AssessedStrategy(result)
    result = replace(
        result,
        notices=(*result.notices, *strategy.split.day_notices(outcome.passes)),
        # Beyond what its sources can deliver a day's energies are those of currents that never flow.
        day=split_day(setup.operation, outcome) if _delivers(result) else None,
    )
    if drivetrain.ultracapacitor is None:
        return AssessedStrategy(result)
    return AssessedStrategy(result, strategy.demand, outcome)


def _delivers(result: StrategyResult) -> bool:
    """Whether every source meets its requirement at the beginning of life."""
    sources = (source for source in (result.battery, result.ultracapacitor) if source is not None)
    return all(source.life_state != "requirement_not_met" for source in sources)


def _history_traces(setup: StudySetup, strategy: Strategy, drivetrain: Drivetrain) -> DrivetrainTraces:
    histories, repeats = setup.loaded.histories, setup.operation.drive_repeats
    assert strategy.battery is not None  # noqa: S101 - the schema asks for it
    battery = history_traces(drivetrain.battery, histories[strategy.battery], repeats)
    if drivetrain.ultracapacitor is None or strategy.ultracapacitor is None:
        return DrivetrainTraces(battery)
    bank = history_traces(drivetrain.ultracapacitor, histories[strategy.ultracapacitor], repeats)
    return DrivetrainTraces(battery, bank)


def _result(
    setup: StudySetup, strategy: Strategy, drivetrain: Drivetrain, traces: DrivetrainTraces, life: DrivetrainLife
) -> StrategyResult:
    return StrategyResult(
        name=strategy.name,
        rank=None,
        battery=life.battery,
        ultracapacitor=life.ultracapacitor,
        cost=life.cost,
        trip=trip_figures(strategy.name, drivetrain, traces),
        day=None,
        reference_split=None,
        notices=(
            *history_notices(strategy.inputs(), setup.loaded.histories),
            *cost_notices(life.cost, setup.loaded.study.cost.currency),
        ),
    )
