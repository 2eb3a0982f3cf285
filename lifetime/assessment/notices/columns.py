"""What became of columns that a study names beside the one that drives a history: how used, or why not."""

from typing import Final

from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice
from lifetime.study.schema import Strategy

_SOURCE_SPEED: Final = "a source's own history already says what it does; a speed belongs to a demand"


def column_notices(strategy: Strategy) -> list[Notice]:
    """Say how a demand's further columns are used, and warn of columns and keys that change nothing.

    Args:
        strategy: With its histories as the study describes them.
    """
    notices = [
        Notice("column_not_used", f"{key}: {name} is named in the study, but not used: {why}.")
        for key, spec in strategy.inputs().items()
        for name, why in _not_used(strategy, key, spec)
    ]
    return notices if strategy.demand is None else [*_demand_notes(strategy.demand), *notices]


def _demand_notes(demand: HistoryInput) -> list[Notice]:
    notes = []
    if demand.driven_by == "current":
        text = f'demand: the power is the current times the voltage "{demand.voltage}".'
        notes.append(Notice("power_from_current_and_voltage", text, "note"))
    if demand.temperature is not None:
        text = (
            f'demand: the measured temperature "{demand.temperature}" is taken as the battery\'s while driving; an '
            "ultracapacitor bank has its thermal model, or ambient temperature."
        )
        notes.append(Notice("demand_temperature", text, "note"))
    return notes


def _not_used(strategy: Strategy, key: str, spec: HistoryInput) -> list[tuple[str, str]]:
    """Column or key, and why nothing comes of it."""
    found = []
    if spec.ambient_C is not None and spec.temperature is None:
        found.append(("ambient_C", "it only shifts a measured temperature, and no temperature column is named"))
    if key != "demand":
        if spec.speed is not None:
            found.append((f'speed = "{spec.speed}"', _SOURCE_SPEED))
        return found
    if spec.voltage is not None and spec.driven_by != "current":
        why = "the voltage follows from the sources; it only checks the sign of the power"
        if spec.driven_by == "speed":
            why = "the voltage follows from the sources"
        found.append((f'voltage = "{spec.voltage}"', why))
    rule_looks = strategy.split is not None and strategy.split.needs_speed
    if spec.speed is not None and spec.driven_by != "speed" and not rule_looks:
        found.append(
            (f'speed = "{spec.speed}"', "the demand has a power, and this split rule does not look at the speed")
        )
    return found
