"""One strategy, assessed: a demand with a split rule, or histories that are already split."""

from dataclasses import dataclass, replace

import numpy as np

from lifetime.assessment.conventions import with_conventions
from lifetime.assessment.day_split import split_day
from lifetime.assessment.drivetrain_life import DrivetrainLife, bank_life, drivetrain_life
from lifetime.assessment.energy_balance import energy_balance
from lifetime.assessment.feasibility import later_conditions
from lifetime.assessment.notices.balance import balance_note, bank_ends_emptier
from lifetime.assessment.notices.columns import column_notices
from lifetime.assessment.notices.cost import cost_notices
from lifetime.assessment.notices.curtailment import feasibility_notices, friction_notices, months_notices
from lifetime.assessment.notices.histories import history_notices, start_notices, start_voltage_notices
from lifetime.assessment.notices.magnitudes import battery_voltage_notices, distance_notices
from lifetime.assessment.power_split import power_split
from lifetime.assessment.setups import Drivetrain, StudySetup
from lifetime.assessment.split_outcome import SplitOutcome, split_outcome
from lifetime.assessment.traces import DrivetrainTraces, history_traces, measured_start_V
from lifetime.assessment.trip import trip_figures
from lifetime.constants import METRES_PER_KM
from lifetime.costing.ranking import TripFigures
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice
from lifetime.results.feasibility import Feasibility
from lifetime.results.months_served import MonthsServed
from lifetime.results.records import StrategyResult
from lifetime.split.converters import NO_CONVERTERS, Converters
from lifetime.split.share import Demand
from lifetime.study.schema import Strategy


@dataclass(frozen=True, slots=True, eq=False)
class StrategyWithSplit:
    """A strategy's result, and the split it came from.

    Args:
        setup: The study as the strategy sees it.
        result: The result, not yet ranked nor compared.
        demand: The demand it splits, to be compared with the reference splits or to be one; None where it is neither.
        outcome: Its split; None where it is neither.
        converters: What stands between its sources and the machine.
    """

    setup: StudySetup
    result: StrategyResult
    demand: HistoryInput | None = None
    outcome: SplitOutcome | None = None
    converters: Converters = NO_CONVERTERS

    @property
    def is_battery_alone(self) -> bool:
        """Whether it is a reference split itself: the battery alone."""
        return self.outcome is not None and self.outcome.drivetrain.ultracapacitor is None


def assess_strategy(setup: StudySetup, strategy: Strategy, *, in_detail: bool) -> StrategyWithSplit:
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
        if strategy.battery is not None:
            battery = drivetrain.battery.source
            measured = measured_start_V(setup.loaded.histories[strategy.battery], battery.resistance_ohm)
            said += battery_voltage_notices(measured, battery)
        traces = _history_traces(setup, strategy, drivetrain)
        bank = bank_life(setup, drivetrain, traces, first_limit_only=not in_detail)
        life = drivetrain_life(setup, drivetrain, traces, bank, first_limit_only=not in_detail)
        result = _result(setup, strategy, drivetrain, traces, life, in_detail=in_detail)
        notices = (*result.notices, *said, *_balance_notes(drivetrain, traces))
        return StrategyWithSplit(setup, replace(result, notices=notices))
    demand = setup.demands.of(strategy.demand)
    split = power_split(setup, strategy.split, demand)
    outcome = split_outcome(setup, drivetrain, split, demand.temperature, first_limit_only=not in_detail)
    result = _result(setup, strategy, drivetrain, outcome.traces, outcome.life, in_detail=in_detail)
    lent = bank_ends_emptier(result.trip, drivetrain.start_voltage_V, outcome.end_voltage_V)
    distance = distance_notices(driven_km_per_day(setup, demand), setup.loaded.study.service.distance_km_per_day)
    feasible = outcome.traces.battery.feasible
    served: tuple[Feasibility, ...] = () if feasible is None else (feasible,)
    friction = [] if feasible is None else friction_notices(feasible, result.energy.friction_kWh_per_year)
    friction += months_notices(outcome.traces.battery.in_months, result.energy.friction_kWh_per_year)
    said_of_demand = (*strategy.split.demand_notices(demand), *distance, *lent, *friction)
    result = replace(
        result,
        notices=(*result.notices, *said_of_demand),
        feasibility=served,
        months_served=tuple(
            MonthsServed(one.months, one.feasible)
            for one in outcome.traces.battery.in_months
            if one.feasible is not None
        ),
    )
    if not in_detail:
        return StrategyWithSplit(setup, result)
    if feasible is not None:
        if feasible.is_met:  # what fails when new needs no telling how it fails later
            served = (feasible, *later_conditions(drivetrain, split, setup.operation.ambient_K, demand.temperature))
        result = replace(result, notices=(*result.notices, *feasibility_notices(served)), feasibility=served)
    result = replace(
        result,
        notices=(*result.notices, *strategy.split.day_notices(outcome.passes, demand.windings)),
        # Beyond what its sources can deliver a day's energies are those of currents that never flow.
        day=split_day(setup.operation, outcome) if _delivers(result) else None,
    )
    return StrategyWithSplit(setup, result, strategy.demand, outcome, strategy.split.converters.seen_by(demand))


def driven_km_per_day(setup: StudySetup, demand: Demand) -> float | None:
    """Distance of a working day by the demand's own speed [km], or None without a speed.

    Args:
        setup: The study.
        demand: One pass of the demand.
    """
    if demand.speed_m_s is None:
        return None
    operation, service = setup.operation, setup.loaded.study.service
    distance_m = float(np.sum(np.abs(demand.speed_m_s) * demand.length_s)) * operation.drive_repeats
    # A working day holds one run of a drive; a log of weeks holds many days on which the distance is driven.
    whole_day_s = float(demand.length_s.sum()) * operation.drive_repeats
    given = service.working_days_per_year is not None
    runs_per_day = 1.0 if given else operation.runs_per_year(whole_day_s) / service.distance_days_per_year
    return distance_m * runs_per_day / METRES_PER_KM


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
    battery = history_traces(drivetrain.battery, histories[strategy.battery], repeats, setup.operation.ambient_K)
    if drivetrain.ultracapacitor is None or strategy.ultracapacitor is None:
        return DrivetrainTraces(battery)
    bank = history_traces(drivetrain.ultracapacitor, histories[strategy.ultracapacitor], repeats)
    return DrivetrainTraces(battery, bank)


def _result(
    setup: StudySetup,
    strategy: Strategy,
    drivetrain: Drivetrain,
    traces: DrivetrainTraces,
    life: DrivetrainLife,
    *,
    in_detail: bool,
) -> StrategyResult:
    result = StrategyResult(
        name=strategy.name,
        rank=None,
        battery=life.battery,
        ultracapacitor=life.ultracapacitor,
        energy=life.energy,
        cost=life.cost,
        trip=_trip(setup, strategy, drivetrain, traces, life),
        day=None,
        reference_split=None,
        notices=(
            *history_notices(strategy.inputs(), setup.loaded.histories),
            *column_notices(strategy),
            *cost_notices(life.cost, setup.loaded.study.cost.currency),
        ),
    )
    return with_conventions(result, setup, drivetrain.battery, traces.battery, life) if in_detail else result


def _trip(
    setup: StudySetup, strategy: Strategy, drivetrain: Drivetrain, traces: DrivetrainTraces, life: DrivetrainLife
) -> TripFigures:
    """The day's figures, with what only the study knows of it."""
    runs, distance_km, metered_kWh = life.battery.runs_per_year, None, None
    if strategy.demand is not None:
        distance_km = driven_km_per_day(setup, setup.demands.of(strategy.demand))
    if drivetrain.battery.charging.current_A is not None and runs > 0.0:
        metered_kWh = life.energy.metered_kWh_per_year / runs
    figures = trip_figures(strategy.name, drivetrain, traces)
    return replace(figures, distance_km=distance_km, demand=strategy.demand, metered_kWh=metered_kWh)


def _delivers(result: StrategyResult) -> bool:
    """Whether every source meets its requirement at the beginning of life."""
    sources = (source for source in (result.battery, result.ultracapacitor) if source is not None)
    return all(source.life_state != "requirement_not_met" for source in sources)
