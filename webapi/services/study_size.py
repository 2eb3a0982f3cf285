"""How much a study may ask for; looked at before any history is opened."""

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from lifetime.errors import Fault
from webapi import models
from webapi.settings import StudyLimits

_INPUTS: Final = ("demand", "battery", "ultracapacitor")


def too_many(document: Mapping[str, Any], limits: StudyLimits) -> list[Fault]:
    """More strategies or history entries than a study may have, each as a fault.

    Args:
        document: The study as plain data, checked or not.
        limits: What it may ask for.
    """
    found = []
    strategies = document.get("strategy")
    count = len(strategies) if isinstance(strategies, list) else 0
    if count > limits.strategies:
        found.append(
            Fault("strategy", f"has {count} entries, allowed are {limits.strategies}. Submit it as several studies.")
        )
    entries = len({_text(spec) for spec in _specs(document)})
    if entries > limits.histories:
        found.append(
            Fault(
                "strategy",
                f"reads histories in {entries} different ways, allowed are {limits.histories}. Use the same entry in "
                "several strategies, or submit several studies.",
            )
        )
    return found


def too_many_rows(
    document: Mapping[str, Any], histories: Mapping[str, models.History], limits: StudyLimits
) -> Fault | None:
    """More rows than a study may have read, as a fault.

    Args:
        document: The study as plain data, checked or not.
        histories: Stored histories by id.
        limits: What it may ask for.
    """
    specs = {_text(spec): spec.get("file") for spec in _specs(document)}
    rows = sum(histories[key].rows for key in specs.values() if isinstance(key, str) and key in histories)
    if rows <= limits.rows:
        return None
    return Fault(
        "strategy",
        f"reads {rows} rows of histories in all, allowed are {limits.rows}. Shorten the histories, or read them in "
        "fewer different ways.",
    )


def _specs(document: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    strategies = document.get("strategy")
    for strategy in strategies if isinstance(strategies, list) else ():
        for name in _INPUTS if isinstance(strategy, Mapping) else ():
            if isinstance(spec := strategy.get(name), Mapping):
                yield spec


def _text(spec: Mapping[str, Any]) -> str:
    return json.dumps(spec, sort_keys=True, default=repr)
