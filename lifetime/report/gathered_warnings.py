"""Warnings of all strategies gathered by kind; one line names every strategy it concerns, with what it says of each."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from lifetime.report.words import PARTS
from lifetime.results.document import ResultDocument
from lifetime.results.strategy import StrategyView
from lifetime.results.view import Message
from lifetime.text import printable

_NUMBER: Final = re.compile(r"-?\d+(?:,\d{3})*(?:\.\d+)?(?:e[+-]?\d+)?")


@dataclass(frozen=True, slots=True)
class Warned:
    """One warning with everybody it concerns.

    Args:
        where: What it is about: the comparison, a strategy, or one source, with the strategies' names.
        message: What it says.
    """

    where: str
    message: str


@dataclass(frozen=True, slots=True)
class _Case:
    name: str
    message: str


def gathered_warnings(document: ResultDocument) -> list[Warned]:
    """Warnings on the comparison, then of all strategies, equal kinds together.

    Args:
        document: The result document.
    """
    lines = [Warned("Comparison", one.message) for one in document.warnings]
    cases: dict[tuple[str, str], list[_Case]] = {}
    for strategy in document.strategies:
        for part, warnings in _holders(strategy):
            for one in warnings:
                cases.setdefault((part, one.code), []).append(_Case(f"“{printable(strategy.name)}”", one.message))
    for (part, _), same in cases.items():
        lines += _lines(part, same)
    return lines


def _holders(strategy: StrategyView) -> Iterable[tuple[str, tuple[Message, ...]]]:
    yield "Strategy", strategy.warnings
    for kind, source in strategy.sources.items():
        yield PARTS[kind], source.warnings


def _lines(part: str, cases: list[_Case]) -> list[Warned]:
    """One line where all say the same, or the same but for one number; one a wording otherwise."""
    by_words: dict[str, list[_Case]] = {}
    for one in cases:
        by_words.setdefault(_NUMBER.sub("#", one.message), []).append(one)
    return [line for same in by_words.values() for line in _merged(part, same)]


def _merged(part: str, cases: list[_Case]) -> list[Warned]:
    numbers = [_NUMBER.findall(one.message) for one in cases]
    varying = [at for at, values in enumerate(zip(*numbers, strict=True)) if len(set(values)) > 1]
    if len(varying) == 1:
        first, *others = cases
        told = ", ".join(f"{found[varying[0]]} for {one.name}" for one, found in zip(others, numbers[1:], strict=True))
        figure = numbers[0][varying[0]]
        return [Warned(f"{part}, {first.name}", f"{first.message} Instead of {figure} it is {told}.")]
    by_message: dict[str, list[str]] = {}
    for one in cases:
        by_message.setdefault(one.message, []).append(one.name)
    return [Warned(f"{part}, {', '.join(dict.fromkeys(names))}", told) for told, names in by_message.items()]
