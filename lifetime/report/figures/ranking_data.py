"""What the pictures of a ranking show, taken from the result document."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lifetime.costing.life_cycle import COST_ITEMS
from lifetime.report.words import PARTS, life_words
from lifetime.results.document import ResultDocument
from lifetime.results.source import SourceView
from lifetime.results.view import SourceKind
from lifetime.text import printable

_LOSSES: Final = "energy losses"
"""A cost item of results that are older than the energy bought."""
_ROOM: Final = 1.22
"""The axis reaches this much beyond the longest bar, so that its label has room."""


@dataclass(frozen=True, slots=True)
class LifeBar:
    """One source's bar.

    Args:
        years: Length of the bar [years].
        label: What stands at its end.
        open_ended: True where the life is beyond the search limit, so that the bar only says "longer than drawn".
    """

    years: float
    label: str
    open_ended: bool


@dataclass(frozen=True, slots=True)
class LifeBars:
    """Lives of both sources against the service life.

    Args:
        names: Strategies in the order of rank.
        bars: Per source, one bar a strategy, or None where it has no such source.
        service_years: Service life [years].
        axis_years: Where the axis ends [years].
    """

    names: tuple[str, ...]
    bars: Mapping[SourceKind, tuple[LifeBar | None, ...]]
    service_years: float
    axis_years: float


@dataclass(frozen=True, slots=True)
class CostBars:
    """Net present cost by cost item.

    Args:
        names: Strategies with a cost, in the order of rank.
        parts: By cost item that occurs at all, its present value for each strategy [currency].
        totals: Net present cost of each strategy [currency].
        currency: Of every amount.
    """

    names: tuple[str, ...]
    parts: Mapping[str, tuple[float, ...]]
    totals: tuple[float, ...]
    currency: str


def life_bars(document: ResultDocument, most: int | None = None) -> LifeBars:
    """Prepare the bars of life.

    Args:
        document: The result document.
        most: Most strategies shown, the best first; None for all.
    """
    strategies = document.strategies[:most]
    service = document.study.service_years
    lives = [source.life_years for one in strategies for source in one.sources.values()]
    axis = _ROOM * max([service, *(years for years in lives if years is not None)])
    return LifeBars(
        names=tuple(printable(one.name) for one in strategies),
        bars={
            part: tuple(_bar(one.sources.get(part), axis) for one in strategies)
            for part in PARTS
            if any(part in one.sources for one in strategies)
        },
        service_years=service,
        axis_years=axis,
    )


def cost_bars(document: ResultDocument, most: int | None = None) -> CostBars:
    """Prepare the stacked bars of cost; strategies without a cost have none.

    Args:
        document: The result document.
        most: Most strategies shown, the best first; None for all.
    """
    costed = [(one.name, cost) for one in document.strategies[:most] if (cost := one.known_cost) is not None]
    by_item = [cost.present_value_by_item for _, cost in costed]
    return CostBars(
        names=tuple(printable(name) for name, _ in costed),
        parts={item: values for item in (*COST_ITEMS, _LOSSES) if any(values := _values(by_item, item))},
        totals=tuple(cost.net_present_cost for _, cost in costed),
        currency=printable(document.study.currency) if costed else "",
    )


def _bar(source: SourceView | None, axis_years: float) -> LifeBar | None:
    if source is None:
        return None
    if source.life_years is None:
        return LifeBar(axis_years, life_words(source), open_ended=True)
    return LifeBar(source.life_years, life_words(source), open_ended=False)


def _values(by_item: list[dict[str, float]], item: str) -> tuple[float, ...]:
    return tuple(one.get(item, 0.0) for one in by_item)
