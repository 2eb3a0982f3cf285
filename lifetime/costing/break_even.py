"""Break-even prices: what a battery pack or an ultracapacitor bank may cost before two strategies cost the same."""

from typing import Final

from lifetime.costing.life_cycle import SAME, LifeCycleCost
from lifetime.costing.terms import Source

_PROPORTIONAL: Final = ("purchase", "replacement", "second life", "residual")


def break_even_price(source: Source, strategy: LifeCycleCost, reference: LifeCycleCost) -> float | None:
    """Price of a source at which a strategy has the net present cost of the reference.

    Purchase, replacements, second life and residual value are in proportion to the price; labour, downtime and energy
    do not depend on it. So the net present cost is linear in the price, and one division answers. Where both strategies
    have the source its price changes for both.

    Args:
        source: The source whose price is sought.
        strategy: With that source, at a price above 0.
        reference: At the same terms and prices, usually the battery alone.

    Returns:
        Price of the whole pack or bank [currency], >= 0. None where there is none: the costs change alike with the
        price, the strategy costs more even with the source for nothing, or the source has no price to start from.
    """
    price = strategy.present_value_by_item[f"{source} purchase"]  # paid today, so not discounted
    slope = _in_proportion(source, strategy) - _in_proportion(source, reference)  # for the price as it is
    if abs(slope) <= SAME * price:
        return None
    found = price * (slope + reference.net_present_cost - strategy.net_present_cost) / slope
    return found if found >= 0.0 else None


def _in_proportion(source: Source, cost: LifeCycleCost) -> float:
    """Present value of all that is in proportion to the source's price [currency]."""
    return sum(cost.present_value_by_item[f"{source} {what}"] for what in _PROPORTIONAL)
