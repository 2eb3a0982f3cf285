"""What is said about a strategy's cost: the residual value of a source that outlasts the search."""

from dataclasses import replace

from lifetime.costing.life_cycle import LifeCycleCost, NoLifeCycleCost
from lifetime.notices import Notice, Severity

_WORTH_A_WARNING = 0.01
"""Share of the net present cost above which an assumed residual value is more than a note."""


def cost_notices(cost: LifeCycleCost | NoLifeCycleCost, currency: str) -> list[Notice]:
    """Say what was assumed for the cost, with the amount that hangs on it.

    Args:
        cost: The strategy's cost, or why it has none.
        currency: Of the amounts.
    """
    if isinstance(cost, NoLifeCycleCost):
        return []
    residual = sum(value for item, value in cost.present_value_by_item.items() if item.endswith(" residual"))
    share = abs(residual) / cost.net_present_cost if cost.net_present_cost > 0.0 else 1.0
    amount = f" All residual values of this strategy come to {residual:,.0f} {currency}."
    severity: Severity = "warning" if share > _WORTH_A_WARNING else "note"
    return [replace(notice, message=notice.message + amount, severity=severity) for notice in cost.notices]
