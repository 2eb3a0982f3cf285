"""Each strategy against two reference splits of the same demand: the battery alone, and the least-rms split."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lifetime.assessment.least_rms import least_rms_day, with_its_losses
from lifetime.assessment.setups import StudySetup
from lifetime.assessment.split_outcome import SplitOutcome, split_outcome
from lifetime.assessment.strategy import StrategyWithSplit
from lifetime.costing.break_even import break_even_price
from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.history.spec import HistoryInput
from lifetime.results.records import StrategyResult
from lifetime.results.reference_split import ReferenceSplit
from lifetime.split.bank import Bank
from lifetime.split.best.achieved import achieved_share
from lifetime.split.converters import NO_CONVERTERS, Converters
from lifetime.split.share import Demand, SharedPass


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceSplits:
    """What a demand comes to without the ultracapacitor bank, and with the most it can do.

    Args:
        battery_alone: The battery carries the whole demand.
        least_rms: The split that leaves the battery the least rms power where bank and converters lose nothing, with
            what they do lose charged to it.
    """

    battery_alone: SplitOutcome
    least_rms: SplitOutcome


def with_references(strategies: Sequence[StrategyWithSplit]) -> list[StrategyResult]:
    """Compare every strategy that splits a demand between two sources with the reference splits of that demand.

    The least-rms split may leave the bank as empty as any of the strategies does; else one could beat it by borrowing.
    A strategy with a design of its own is compared with reference splits of that design, and each with reference splits
    through the same converters and windings.

    Args:
        strategies: Of one study, assessed.
    """
    alone = {
        (id(one.setup), one.demand, one.converters.without_bank()): one.outcome
        for one in strategies
        if one.outcome is not None and one.is_battery_alone
    }
    groups: dict[tuple[int, HistoryInput, Converters], list[StrategyWithSplit]] = {}
    lowest_end_V: dict[tuple[int, HistoryInput], float] = {}
    for strategy in strategies:
        if strategy.demand is not None and strategy.outcome is not None and not strategy.is_battery_alone:
            design = id(strategy.setup), strategy.demand
            groups.setdefault((*design, strategy.converters), []).append(strategy)
            end_V = strategy.outcome.end_voltage_V
            lowest_end_V[design] = min(end_V, lowest_end_V.get(design, end_V))
    compared: dict[int, StrategyResult] = {}
    for (design_id, spec, converters), alike in groups.items():
        setup = alike[0].setup
        known = alone.get((design_id, spec, converters.without_bank()))
        demand, end_V = setup.demands.of(spec), lowest_end_V[design_id, spec]
        references = reference_splits(setup, demand, end_V, known, converters)
        for one in alike:
            assert one.outcome is not None  # noqa: S101 - the group asks for it
            compared[id(one)] = replace(one.result, reference_split=comparison(one.outcome, references))
    return [compared.get(id(strategy), strategy.result) for strategy in strategies]


def reference_splits(
    setup: StudySetup,
    demand: Demand,
    lowest_end_V: float,
    known_alone: SplitOutcome | None = None,
    converters: Converters = NO_CONVERTERS,
) -> ReferenceSplits:
    """Assess the reference splits of a demand.

    Args:
        setup: A study with an ultracapacitor bank.
        demand: One pass of the demand.
        lowest_end_V: Lowest capacitor voltage at which any strategy ends the day [V].
        known_alone: The battery alone, where a strategy of the study is just that.
        converters: What the reference splits go through.
    """
    start_V, repeats = setup.drivetrain.start_voltage_V, setup.operation.drive_repeats

    def alone(_: Bank | None) -> list[SharedPass]:
        return [converters.alone(demand, start_V)] * repeats

    def least_rms(bank: Bank | None) -> list[SharedPass]:
        assert bank is not None  # noqa: S101 - the drivetrain has one
        met = converters.where_met(demand)
        lossless = least_rms_day(met, bank, (start_V, min(start_V, lowest_end_V)), repeats)
        return [with_its_losses(lossless, demand, bank, converters)]

    return ReferenceSplits(
        battery_alone=known_alone or split_outcome(setup, setup.drivetrain.battery_alone(), alone, demand.temperature),
        least_rms=split_outcome(setup, setup.drivetrain, least_rms, demand.temperature),
    )


def comparison(outcome: SplitOutcome, references: ReferenceSplits) -> ReferenceSplit:
    """Compare a strategy with the reference splits.

    Args:
        outcome: The strategy's split.
        references: Of the same demand, with the same bank.
    """
    alone, best = references.battery_alone, references.least_rms
    ordered = (alone, outcome, best)
    costs = [_net_present(split.life.cost) for split in ordered]
    return ReferenceSplit(
        battery_rms_W=outcome.battery_rms_W,
        battery_peak_W=outcome.battery_peak_W,
        alone_rms_W=alone.battery_rms_W,
        alone_peak_W=alone.battery_peak_W,
        reference_rms_W=best.battery_rms_W,
        reference_peak_W=best.battery_peak_W,
        alone_net_present_cost=costs[0],
        alone_no_cost_reason=_no_cost_reason(alone.life.cost),
        ultracapacitor_break_even_price=_break_even(outcome.life.cost, alone.life.cost),
        reference_life_years=best.life.battery.life_years,
        reference_net_present_cost=costs[2],
        reference_no_cost_reason=_no_cost_reason(best.life.cost),
        reached_capacity_loss_fraction=_achieved([_capacity_loss(split) for split in ordered]),
        reached_cost_saving_fraction=_achieved(costs),
    )


def _capacity_loss(split: SplitOutcome) -> float | None:
    """The battery's capacity loss at service end; None where it is scrap before."""
    left = split.life.battery.capacity_fraction_at_service_end
    return None if left is None else 1.0 - left


def _net_present(cost: LifeCycleCost | NoLifeCycleCost) -> float | None:
    return None if isinstance(cost, NoLifeCycleCost) else cost.net_present_cost


def _break_even(cost: LifeCycleCost | NoLifeCycleCost, alone: LifeCycleCost | NoLifeCycleCost) -> float | None:
    """Price of the bank at which it pays exactly; None where one of the two has no cost, or there is no such price."""
    if isinstance(cost, NoLifeCycleCost) or isinstance(alone, NoLifeCycleCost):
        return None
    return break_even_price("ultracapacitor", cost, alone)


def _no_cost_reason(cost: LifeCycleCost | NoLifeCycleCost) -> str | None:
    return cost.reason if isinstance(cost, NoLifeCycleCost) else None


def _achieved(figures: list[float | None]) -> float | None:
    """Share of the achievable reduction from the battery alone to the least-rms split."""
    alone, strategy, best = figures
    if alone is None or strategy is None or best is None:
        return None
    return achieved_share(alone, strategy, best)
