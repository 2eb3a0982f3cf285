"""What the predicted lives cost at a study's prices."""

from dataclasses import replace

from lifetime.assess import build
from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.costing.life_cycle import CostTerms, LifeCycleCost, SourceCost, life_cycle_cost
from lifetime.results.records import SourceResult, StrategyResult
from lifetime.study.load import LoadedStudy


def cost_of_lives(loaded: LoadedStudy, battery: SourceResult, bank: SourceResult | None) -> LifeCycleCost | None:
    """Life-cycle cost of a strategy, or None where a source does not last a day.

    Args:
        loaded: The study with everything it names.
        battery: What became of the battery.
        bank: What became of the bank, or None for a strategy without one.
    """
    study = loaded.study
    lives = [one.life_years for one in (battery, bank) if one is not None]
    if any(life is not None and life < ONE_DAY_YEARS for life in lives):
        return None
    section = study.ultracapacitor
    bank_cost = None
    if bank is not None and section is not None and loaded.ultracapacitor is not None:
        bank_cost = SourceCost(
            build.bank_purchase(section, loaded.ultracapacitor), bank.life_years, section.price.replacement_labour
        )
    distance = study.service.distance_km_per_day
    terms = CostTerms(
        service_years=study.service.years,
        discount_rate=study.cost.discount_rate,
        electricity_per_kWh=study.cost.electricity_per_kWh,
        distance_km_per_year=None if distance is None else distance * study.service.distance_days_per_year,
        residual_credit=study.cost.residual_value,
    )
    return life_cycle_cost(
        SourceCost(
            build.battery_purchase(study.battery, loaded.battery),
            battery.life_years,
            study.battery.price.replacement_labour,
        ),
        terms,
        energy_losses_kWh_per_year=battery.energy_losses_kWh_per_year
        + (bank.energy_losses_kWh_per_year if bank else 0.0),
        ultracapacitor=bank_cost,
    )


def priced_anew(loaded: LoadedStudy, result: StrategyResult) -> StrategyResult:
    """A strategy's result at the prices of another study; its lives are kept.

    Args:
        loaded: The study that gives the prices.
        result: From a study that differs only in prices or in other strategies.
    """
    return replace(result, rank=None, cost=cost_of_lives(loaded, result.battery, result.ultracapacitor))
