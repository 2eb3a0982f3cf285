"""What the pictures of a ranking show, taken from the result document."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lifetime.costing.life_cycle import COST_ITEMS
from lifetime.report.words import life_words
from lifetime.text import printable

_ROOM = 1.22
"""The axis reaches this much beyond the longest bar, so that its label has room."""


@dataclass(frozen=True, slots=True)
class LifeBar:
    """One source's bar.

    Args:
        years: Length of the bar [years].
        label: What stands at its end.
        open_ended: True where the life goes on beyond the search, so that the bar only says "longer than drawn".
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
    bars: Mapping[str, tuple[LifeBar | None, ...]]
    service_years: float
    axis_years: float


@dataclass(frozen=True, slots=True)
class CostBars:
    """Net present cost by kind of payment.

    Args:
        names: Strategies with a cost, in the order of rank.
        parts: Per kind of payment that occurs at all, its present value for each strategy [currency].
        totals: Net present cost of each strategy [currency].
        currency: Of every amount.
    """

    names: tuple[str, ...]
    parts: Mapping[str, tuple[float, ...]]
    totals: tuple[float, ...]
    currency: str


def life_bars(document: Mapping[str, Any]) -> LifeBars:
    """Prepare the bars of life.

    Args:
        document: The result document.
    """
    strategies = document["strategies"]
    service = float(document["study"]["service_years"])
    sources = [one[part] for one in strategies for part in ("battery", "ultracapacitor") if one[part] is not None]
    finite = [one["life_years"] for one in sources if one["life_years"] is not None]
    axis = _ROOM * max([service, *finite])
    return LifeBars(
        names=tuple(printable(one["name"]) for one in strategies),
        bars={
            part: tuple(_bar(one[part], axis) for one in strategies)
            for part in ("battery", "ultracapacitor")
            if any(one[part] is not None for one in strategies)
        },
        service_years=service,
        axis_years=axis,
    )


def cost_bars(document: Mapping[str, Any]) -> CostBars:
    """Prepare the stacked bars of cost; strategies without a result have none.

    Args:
        document: The result document.
    """
    costed = [one for one in document["strategies"] if one["cost"]["net_present"] is not None]
    by_kind = [one["cost"]["net_present_by_kind"] for one in costed]
    return CostBars(
        names=tuple(printable(one["name"]) for one in costed),
        parts={kind: values for kind in COST_ITEMS if any(values := _values(by_kind, kind))},
        totals=tuple(one["cost"]["net_present"] for one in costed),
        currency=printable(costed[0]["cost"]["currency"]) if costed else "",
    )


def _bar(source: Mapping[str, Any] | None, axis_years: float) -> LifeBar | None:
    if source is None:
        return None
    open_ended = source["life_state"] == "beyond_search_limit"
    return LifeBar(axis_years if open_ended else float(source["life_years"]), life_words(source), open_ended)


def _values(by_kind: Sequence[Mapping[str, float]], kind: str) -> tuple[float, ...]:
    return tuple(one.get(kind, 0.0) for one in by_kind)
