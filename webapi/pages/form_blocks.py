"""The repeated blocks of the study form, histories and strategies: added, copied, removed, renumbered."""

import re
from collections.abc import Mapping
from typing import Final

_INPUT: Final = re.compile(r"input\[(\d{1,3})\]\.file")
_STRATEGY: Final = re.compile(r"strategy\[(\d{1,3})\]\.name")
_BLOCK: Final = re.compile(r"(input|strategy)\[(\d{1,3})\]\.")
_USE: Final = re.compile(r"strategy\[\d{1,3}\]\.(demand|battery|ultracapacitor)")
MOST_BLOCKS: Final = 60
"""Histories, and strategies, that the form takes; a study sent to the API may hold more."""

Values = Mapping[str, str]
"""Every field of the form by its name, which is its path of keys in a study; histories are ``input[1]`` and so on."""


def input_numbers(values: Values) -> list[int]:
    """The numbers of the form's inputs: histories with their columns.

    Args:
        values: The form's fields.
    """
    return _numbers(values, _INPUT)


def strategy_numbers(values: Values) -> list[int]:
    """The numbers of the form's strategies.

    Args:
        values: The form's fields.
    """
    return _numbers(values, _STRATEGY)


def with_history(values: Values, key: str) -> dict[str, str]:
    """The form with one more history.

    Args:
        values: The form's fields.
        key: The history's id.
    """
    number = max(input_numbers(values), default=0) + 1
    return {**values, f"input[{number}].file": key}


def with_copy(values: Values, number: int) -> dict[str, str]:
    """The form with a history once more, for other columns of the same file.

    Args:
        values: The form's fields.
        number: The history to copy.
    """
    key = values.get(f"input[{number}].file")
    return dict(values) if key is None else with_history(values, key)


def with_strategy(values: Values) -> dict[str, str]:
    """The form with one more strategy.

    Args:
        values: The form's fields.
    """
    number = max(strategy_numbers(values), default=0) + 1
    return {**values, f"strategy[{number}].name": ""}


def without(values: Values, block: str, number: int) -> dict[str, str]:
    """The form without one history or strategy; strategies that used the history are left without one.

    Args:
        values: The form's fields.
        block: ``input`` or ``strategy``.
        number: Which.
    """
    kept = {key: value for key, value in values.items() if not key.startswith(f"{block}[{number}].")}
    if block == "input":
        return {key: "" if _USE.fullmatch(key) and value == str(number) else value for key, value in kept.items()}
    return kept


def renumbered(values: Values) -> dict[str, str]:
    """The form with its histories and strategies numbered 1, 2, 3, so that a fault's place is its field's name.

    Args:
        values: The form's fields.
    """
    inputs = {old: new for new, old in enumerate(input_numbers(values), start=1)}
    strategies = {old: new for new, old in enumerate(strategy_numbers(values), start=1)}
    found = {}
    for key, value in values.items():
        match = _BLOCK.match(key)
        new = None if match is None else (inputs if match[1] == "input" else strategies).get(int(match[2]))
        if match is not None and new is None:
            continue
        name = key if match is None else f"{match[1]}[{new}].{key[match.end() :]}"
        points = _USE.fullmatch(key) and value.isdecimal() and int(value) in inputs
        found[name] = str(inputs[int(value)]) if points else value
    return found


def _numbers(values: Values, pattern: re.Pattern[str]) -> list[int]:
    found = {int(match[1]) for key in values if (match := pattern.fullmatch(key))}
    return sorted(found)[:MOST_BLOCKS]
