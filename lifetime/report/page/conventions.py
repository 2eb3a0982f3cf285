"""Battery lives under the four conventions of counting, and a sentence on what that means for the order."""

from collections.abc import Mapping
from typing import Final

from lifetime.report.words import known_life
from lifetime.results.conventions import CONVENTIONS, Measure
from lifetime.results.document import ResultDocument
from lifetime.stress.counting import CycleRate, SmallCycles
from lifetime.text import printable, short_life, significant

_SMALL: Final[Mapping[SmallCycles, str]] = {"all": "all cycles", "none": "none below 2 %", "smooth": "smooth"}
_RATES: Final[Mapping[CycleRate, str]] = {"throughput_weighted": "weighted C-rate", "time_mean": "mean C-rate"}
_MOST_NAMED: Final = 4
"""Pairs that a sentence names; more are counted."""

_DAYS_BELOW: Final = 0.1
"""Years below which a life is given in days."""

CONVENTION_HEADINGS: Final = tuple(f"{_SMALL[small]}, {_RATES[rate]}" for small, rate in CONVENTIONS)
"""The columns of the table, in the order of the conventions."""
_MEASURES: Final[Mapping[Measure, str]] = {"battery_life": "battery life", "cost": "net present cost"}


def convention_rows(document: ResultDocument) -> list[tuple[str, list[str]]]:
    """Name and battery lives of each strategy; empty for results without them.

    Args:
        document: The result document.
    """
    longest = document.study.end_of_life.battery_longest_life_years
    return [
        (printable(one.name), [known_life(outcome.battery_life_years, longest) for outcome in one.conventions])
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
            parts.append(f"by {words}, {_named(pairs)} change places")
    return f"The order depends on how small cycles and C-rates are counted: {'; '.join(parts)}."


def indistinct_sentences(document: ResultDocument) -> list[str]:
    """Which strategies the ageing model cannot tell apart by battery life, and what it gives without its limits.

    Args:
        document: The result document.
    """
    order = document.convention_order
    if order is None:
        return []
    sentences = []
    equal = [one.strategies for one in order.indistinct if one.reason == "equal"]
    if equal:
        words = f"The battery lives of {_named(equal)} differ by 1 % or less"
        sentences.append(f"{words}: no ageing model tells them apart.")
    held = [one for one in order.indistinct if one.reason == "held"]
    for one in held[:_MOST_NAMED]:
        lives = " and ".join(_exact_life(years) for years in one.lives_without_limits_years or ())
        sentences.append(
            f"The ageing model cannot tell {_pair(one.strategies)} apart: their order hangs on where it is held at an "
            f"end of its fitted range. Without that limit their battery lives are {lives}."
        )
    if len(held) > _MOST_NAMED:
        sentences.append(f"The same holds for {len(held) - _MOST_NAMED} other pairs.")
    return sentences


def indistinct_names(document: ResultDocument) -> frozenset[str]:
    """Names of the strategies that are marked in the ranking.

    Args:
        document: The result document.
    """
    order = document.convention_order
    return frozenset() if order is None else frozenset(name for one in order.indistinct for name in one.strategies)


def convention_context(document: ResultDocument) -> dict[str, object]:
    """What the templates of report and page show of the conventions.

    Args:
        document: The result document.
    """
    return {
        "conventions": convention_rows(document),
        "convention_headings": CONVENTION_HEADINGS,
        "order_sentence": order_sentence(document),
        "indistinct": indistinct_sentences(document),
    }


def _exact_life(years: float | None) -> str:
    """A life beside one that may differ in its third digit."""
    return short_life(years) if years is None or years < _DAYS_BELOW else f"{significant(years)} years"


def _named(pairs: list[tuple[str, str]]) -> str:
    named = [_pair(pair) for pair in pairs[:_MOST_NAMED]]
    more = [f"{len(pairs) - _MOST_NAMED} other pairs"] if len(pairs) > _MOST_NAMED else []
    return "; ".join(named + more)


def _pair(pair: tuple[str, str]) -> str:
    return f"“{printable(pair[0])}” and “{printable(pair[1])}”"
