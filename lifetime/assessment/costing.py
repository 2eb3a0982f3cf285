"""What the predicted lives cost at a study's prices, or why there is no cost."""

from dataclasses import replace

from lifetime.assessment.setups import SourceSetup, StudySetup
from lifetime.constants import DAYS_PER_YEAR, SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.costing.energy import EnergyBought
from lifetime.costing.life_cycle import SOURCE_NAMES, LifeCycleCost, NoLifeCycleCost, life_cycle_cost
from lifetime.costing.terms import CostTerms, SourceCost
from lifetime.results.records import SourceResult, StrategyResult


def cost_of_lives(
    setup: StudySetup, battery: SourceResult, ultracapacitor: SourceResult | None, energy: EnergyBought
) -> LifeCycleCost | NoLifeCycleCost:
    """Life-cycle cost of a strategy, or why it has none.

    Args:
        setup: The study, which gives the prices.
        battery: What became of the battery.
        ultracapacitor: What became of the ultracapacitor bank, or None for a strategy without one.
        energy: What is bought.
    """
    results = [result for result in (battery, ultracapacitor) if result is not None]
    reasons = [
        _no_cost_reason(result, result.life_years)
        for result in results
        if result.life_years is not None and result.life_years < ONE_DAY_YEARS
    ]
    if reasons:
        return NoLifeCycleCost("; ".join(reasons))
    drivetrain = setup.drivetrain
    bank_cost = None
    if ultracapacitor is not None and drivetrain.ultracapacitor is not None:
        bank_cost = _source_cost(drivetrain.ultracapacitor, ultracapacitor)
    return life_cycle_cost(
        _source_cost(drivetrain.battery, battery),
        _terms(setup),
        energy_bought_kWh_per_year=energy.total_kWh_per_year,
        ultracapacitor=bank_cost,
    )


def priced_anew(setup: StudySetup, result: StrategyResult) -> StrategyResult:
    """A strategy's result at the prices of another study; its lives are kept.

    Args:
        setup: The study that gives the prices.
        result: From a study that differs only in prices or in other strategies.
    """
    return replace(result, rank=None, cost=cost_of_lives(setup, result.battery, result.ultracapacitor, result.energy))


def _source_cost(setup: SourceSetup, result: SourceResult) -> SourceCost:
    price = setup.price
    return SourceCost(
        price.purchase,
        result.cost_life_years,
        price.replacement_labour,
        price.decline,
        price.second_life_fraction,
        price.downtime_days,
    )


def _terms(setup: StudySetup) -> CostTerms:
    study = setup.loaded.study
    distance = study.service.distance_km_per_day
    return CostTerms(
        service_years=study.service.years,
        discount_rate=study.cost.discount_rate,
        electricity_per_kWh=study.cost.electricity_per_kWh,
        distance_km_per_year=None if distance is None else distance * study.service.distance_days_per_year,
        residual=study.cost.residual_value,
        downtime_per_day=study.cost.downtime_per_day,
    )


def _no_cost_reason(result: SourceResult, life_years: float) -> str:
    """Why a life under a day has no cost; a requirement that is not met is no life at all."""
    name = SOURCE_NAMES[result.kind]
    if result.life_state == "requirement_not_met":
        return f"the {name} does not meet its requirement at the beginning of life, so there is no life to cost"
    hours = life_years * DAYS_PER_YEAR * SECONDS_PER_DAY / SECONDS_PER_HOUR
    return (
        f"the {name} reaches its end of life ({result.end_of_life_criterion}) after {hours:.3g} h; a life shorter "
        "than a day has no cost"
    )
