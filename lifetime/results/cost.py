"""What a strategy costs, or why no cost can be given."""

from typing import Literal

from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.costing.terms import Residual
from lifetime.results.records import StrategyResult
from lifetime.results.view import View


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
    """Life-cycle cost of a strategy [currency], after ASTM E917.

    Older results lack the sum by each way to value the last packs.
    """

    state: Literal["known"] = "known"
    currency: str
    net_present_cost: float
    net_present_cost_by_residual: dict[Residual, float] | None = None
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
            net_present_cost_by_residual=dict(cost.net_present_cost_by_residual),
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
    if isinstance(strategy.cost, NoLifeCycleCost):
        return NoCost(currency=currency, reason=strategy.cost.reason)
    return Cost.of(currency, strategy.cost)
