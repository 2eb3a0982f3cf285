"""What a strategy costs, or why no cost can be given."""

from typing import Literal

from lifetime.costing.discounting import ONE_DAY_YEARS
from lifetime.costing.life_cycle import LifeCycleCost
from lifetime.results.records import SourceResult, StrategyResult
from lifetime.results.view import View

_NAMES = {"battery": "battery", "ultracapacitor": "ultracapacitor bank"}


class CashFlow(View):
    """One dated amount [currency] at constant prices; a credit is negative."""

    year: float
    item: str
    amount: float
    present_value: float


class Replacements(View):
    """How often each source is replaced within the service life; null for a source that the strategy has not."""

    battery: int
    ultracapacitor: int | None


class Cost(View):
    """Life-cycle cost of a strategy [currency], after ASTM E917."""

    state: Literal["known"] = "known"
    currency: str
    net_present_cost: float
    equivalent_annual_cost: float
    cost_per_km: float | None
    replacements: Replacements
    present_value_by_item: dict[str, float]
    cash_flows: tuple[CashFlow, ...]

    @classmethod
    def of(cls, currency: str, cost: LifeCycleCost) -> "Cost":
        """The cost as it is told.

        Args:
            currency: Of every amount.
            cost: What ``life_cycle_cost`` returned.
        """
        return cls(
            currency=currency,
            net_present_cost=cost.net_present_cost,
            equivalent_annual_cost=cost.equivalent_annual_cost,
            cost_per_km=cost.cost_per_km,
            replacements=Replacements(
                battery=cost.replacements["battery"], ultracapacitor=cost.replacements.get("ultracapacitor")
            ),
            present_value_by_item=dict(cost.present_value_by_item),
            cash_flows=tuple(
                CashFlow(year=flow.year, item=flow.item, amount=flow.amount, present_value=flow.present_value)
                for flow in cost.cash_flows
            ),
        )


class NoCost(View):
    """Why a strategy has no cost: one main clause without a full stop."""

    state: Literal["none"] = "none"
    currency: str
    reason: str


def cost_view(currency: str, strategy: StrategyResult) -> Cost | NoCost:
    """The cost of a strategy, or the reason why there is none.

    Args:
        currency: Of every amount.
        strategy: The strategy, assessed.
    """
    if isinstance(strategy.cost, LifeCycleCost):
        return Cost.of(currency, strategy.cost)
    return NoCost(currency=currency, reason=_reason(strategy))


def _reason(strategy: StrategyResult) -> str:
    sources = [one for one in (strategy.battery, strategy.ultracapacitor) if one is not None]
    unmet = [_NAMES[one.kind] for one in sources if one.life_state == "requirement_not_met"]
    if unmet:
        verb = "does" if len(unmet) == 1 else "do"
        return f"the new {' and the new '.join(unmet)} {verb} not meet the requirement, so there is no life to cost"
    short = [_NAMES[one.kind] for one in sources if _below_a_day(one)]
    return f"the life of the {' and the '.join(short) or 'strategy'} is below one day, too short for a cost"


def _below_a_day(source: SourceResult) -> bool:
    return source.life_years is not None and source.life_years < ONE_DAY_YEARS
