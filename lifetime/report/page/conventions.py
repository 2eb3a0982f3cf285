"""Battery lives under the four conventions of counting, and a sentence on what that means for the order."""

from collections.abc import Mapping
from typing import Final

from lifetime.results.conventions import CONVENTIONS, Measure
from lifetime.results.document import ResultDocument
from lifetime.stress.counting import CycleRate, SmallCycles
from lifetime.text import printable, short_life

_SMALL: Final[Mapping[SmallCycles, str]] = {"all": "all cycles", "none": "none below 2 %", "smooth": "smooth"}
_RATES: Final[Mapping[CycleRate, str]] = {"throughput_weighted": "weighted C-rate", "time_mean": "mean C-rate"}
_MOST_NAMED: Final = 4
"""Pairs that a sentence names; more are counted."""

CONVENTION_HEADINGS: Final = tuple(f"{_SMALL[small]}, {_RATES[rate]}" for small, rate in CONVENTIONS)
"""The columns of the table, in the order of the conventions."""
_MEASURES: Final[Mapping[Measure, str]] = {"battery_life": "battery life", "cost": "net present cost"}


def convention_rows(document: ResultDocument) -> list[tuple[str, list[str]]]:
    """Name and battery lives of each strategy; empty for results without them.

    Args:
        document: The result document.
    """
    return [
        (printable(one.name), [short_life(outcome.battery_life_years) for outcome in one.conventions])
        for one in document.strategies
        if one.conventions is not None
    ]


def order_sentence(document: ResultDocument) -> str:
    """Whether the order depends on how small cycles and C-rates are counted; empty where nothing is in order.

    Args:
        document: The result document.
    """
    order = document.convention_order
    if order is None:
        return ""
    if order.same_order:
        return "The order of the strategies does not depend on how small cycles and C-rates are counted."
    parts = []
    for measure, words in _MEASURES.items():
        pairs = [swap.strategies for swap in order.swaps if swap.measure == measure]
        if pairs:
            named = [f"“{printable(one)}” and “{printable(other)}”" for one, other in pairs[:_MOST_NAMED]]
            more = [f"{len(pairs) - _MOST_NAMED} other pairs"] if len(pairs) > _MOST_NAMED else []
            parts.append(f"by {words}, {'; '.join(named + more)} change places")
    return f"The order depends on how small cycles and C-rates are counted: {'; '.join(parts)}."
