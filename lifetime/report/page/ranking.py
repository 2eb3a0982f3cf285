"""The answer in a sentence, and the rows of the ranking."""

from collections.abc import Mapping
from typing import Any

from lifetime.report.words import PARTS, life_words, long_life, printable


def answer(document: Mapping[str, Any]) -> str:
    """Which strategy is cheapest, by how much, and how long its sources last.

    Args:
        document: The result document.
    """
    ranked = [one for one in document["strategies"] if one["rank"] is not None]
    if not ranked:
        # Results recorded before the reason was kept may not have one.
        reasons = dict.fromkeys(one["cost"].get("reason", "a source has no life") for one in document["strategies"])
        return f"No strategy has a result: {'; '.join(reasons)}."
    first = [one for one in ranked if one["rank"] == 1]
    cost = ranked[0]["cost"]
    years = f"{document['study']['service_years']:g} years"
    names = " and ".join(f"“{printable(one['name'])}”" for one in first)
    verb = "is cheapest" if len(first) == 1 else "are cheapest, at the same cost"
    amount = f"{cost['net_present']:,.0f} {printable(cost['currency'])}"
    words = f"Over {years} of service, {names} {verb}: {amount} net present."
    if len(first) == 1:
        words += " " + _lives(ranked[0])
    if len(ranked) > len(first):
        after = ranked[len(first)]
        words += f" Next is “{printable(after['name'])}” at {_more(after, ranked[0])} more."
    return words


def ranking_rows(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The cells of the ranking table as text.

    Args:
        document: The result document.
    """
    strategies = document["strategies"]
    cheapest = next((one for one in strategies if one["rank"] == 1), None)
    return [
        {"rank": str(one["rank"] or "–"), "name": printable(one["name"]), "cells": _cells(one, cheapest)}
        for one in strategies
    ]


def beware(document: Mapping[str, Any]) -> list[dict[str, str]]:
    """Warnings of all strategies, one of each kind; the best-ranked strategy's words stand for the others as well.

    Args:
        document: The result document.
    """
    lines = [{"where": "Comparison", "message": one["message"]} for one in document["warnings"]]
    found: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for strategy in document["strategies"]:
        holders = {"Strategy": strategy, **{words: strategy[part] for part, words in PARTS.items()}}
        for words, holder in holders.items():
            for one in holder["warnings"] if holder else ():
                found.setdefault((words, one["code"]), (one["message"], []))[1].append(printable(strategy["name"]))
    for (words, _), (message, names) in found.items():
        others = len(set(names)) - 1
        also = f" and {others} other{'s' if others > 1 else ''}" if others else ""
        lines.append({"where": f"{words}, {names[0]}{also}", "message": message})
    return lines


def _cells(one: Mapping[str, Any], cheapest: Mapping[str, Any] | None) -> list[str]:
    lives = [life_words(one["battery"]), life_words(one["ultracapacitor"])]
    cost = one["cost"]
    if cost["net_present"] is None or cheapest is None:
        return [*lives, "–", "–", "no result", "–", "–", "–"]
    bank = cost["replacements"]["ultracapacitor"]
    return [
        *lives,
        str(1 + cost["replacements"]["battery"]),
        "–" if bank is None else str(1 + bank),
        f"{cost['net_present']:,.0f}",
        "–" if one["rank"] == 1 else _more(one, cheapest),
        f"{cost['per_year']:,.0f}",
        "–" if cost["per_km"] is None else f"{cost['per_km']:.3f}",
    ]


def _more(one: Mapping[str, Any], cheapest: Mapping[str, Any]) -> str:
    least = cheapest["cost"]["net_present"]
    more = one["cost"]["net_present"] - least
    share = f" ({100.0 * more / least:.1f} %)" if least > 0.0 else ""
    return f"{more:,.0f}{share}"


def _lives(one: Mapping[str, Any]) -> str:
    words = f"Its battery lasts {_years(one['battery'])}"
    bank = one["ultracapacitor"]
    return f"{words}, its bank {_years(bank)}." if bank is not None else f"{words}; it has no bank."


def _years(source: Mapping[str, Any]) -> str:
    years = source["life_years"]
    return "longer than the 50 years searched" if years is None else long_life(years)
