"""One strategy, assessed: a demand with a split rule, or histories that are already split."""

from dataclasses import dataclass, replace

from lifetime.assess.day_split import split_day
from lifetime.assess.drivetrain_life import DrivetrainLife, drivetrain_life
from lifetime.assess.energy_balance import energy_balance
from lifetime.assess.notices.balance import balance_note, bank_ends_emptier
from lifetime.assess.notices.columns import column_notices
from lifetime.assess.notices.histories import history_notices, start_notices, start_voltage_notices
from lifetime.assess.power_split import power_split
from lifetime.assess.setups import Drivetrain, StudySetup
from lifetime.assess.split_outcome import SplitOutcome, split_outcome
from lifetime.assess.traces import DrivetrainTraces, history_traces, measured_start_V
from lifetime.assess.trip import trip_figures
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice
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
        drivetrain, said = _started_as_measured(setup, strategy, drivetrain)
        traces = _history_traces(setup, strategy, drivetrain)
        life = drivetrain_life(setup, drivetrain, traces, first_limit_only=not in_detail)
        result = _result(setup, strategy, drivetrain, traces, life)
        notices = (*result.notices, *said, *_balance_notes(drivetrain, traces))
        return AssessedStrategy(replace(result, notices=notices))
    demand = setup.demands.of(strategy.demand)
    split = power_split(setup, strategy.split, demand)
    outcome = split_outcome(setup, drivetrain, split, demand.temperature, first_limit_only=not in_detail)
    result = _result(setup, strategy, drivetrain, outcome.traces, outcome.life)
    lent = bank_ends_emptier(result.trip, drivetrain.start_voltage_V, outcome.end_voltage_V)
    result = replace(result, notices=(*result.notices, *strategy.split.demand_notices(demand), *lent))
    if not in_detail:
        return AssessedStrategy(result)
    result = replace(
        result,
        notices=(*result.notices, *strategy.split.day_notices(outcome.passes)),
        day=split_day(setup.operation, outcome),
    )
    if drivetrain.ultracapacitor is None:
        return AssessedStrategy(result)
    return AssessedStrategy(result, strategy.demand, outcome)


def _started_as_measured(
    setup: StudySetup, strategy: Strategy, drivetrain: Drivetrain
) -> tuple[Drivetrain, list[Notice]]:
    """The drivetrain with its bank started at the voltage that its history measured, and what that changes."""
    bank = drivetrain.ultracapacitor
    if bank is None or strategy.ultracapacitor is None:
        return drivetrain, []
    history = setup.loaded.histories[strategy.ultracapacitor]
    assert strategy.battery is not None  # noqa: S101 - the schema asks for it
    said = start_notices(setup.loaded.histories[strategy.battery], history)
    measured = measured_start_V(history, bank.source.resistance_ohm)
    if measured is None:
        return drivetrain, said
    said += start_voltage_notices(bank.start_voltage_V, measured)
    return replace(drivetrain, ultracapacitor=bank.started_at(measured)), said


def _balance_notes(drivetrain: Drivetrain, traces: DrivetrainTraces) -> list[Notice]:
    pairs = ((drivetrain.battery, traces.battery), (drivetrain.ultracapacitor, traces.ultracapacitor))
    return [
        balance_note(source.kind, energy_balance(traced.new.drive, source.source))
        for source, traced in pairs
        if source is not None and traced is not None
    ]


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
        notices=(*history_notices(strategy.inputs(), setup.loaded.histories), *column_notices(strategy)),
    )
