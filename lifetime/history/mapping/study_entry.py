"""The suggested study entry: suggested columns as a study file states them; applied only by a person."""

import json
from collections.abc import Collection, Mapping
from typing import Literal

from lifetime.history.mapping.column_suggestions import ColumnSuggestion
from lifetime.history.mapping.role_ranking import DRIVES, has_drive
from lifetime.history.mapping.three_phase import WindingSet
from lifetime.units import header_unit

_ROLES = ("time", "date", "current", "power", "torque", "shaft_speed", "speed", "voltage", "temperature")

Stated = str | int | list[str]
"""What a key of a history is given."""


def suggested_keys(
    file: str,
    suggestions: tuple[ColumnSuggestion, ...],
    sign: Literal["positive", "negative"] | None,
    *,
    by_mode: bool,
    undecided: Mapping[str, Collection[str]] | None = None,
) -> dict[str, str | list[str]] | None:
    """Keys of a history for the suggested columns; None where time, or current, power and speed are missing.

    What nothing shows is "?", which a study refuses until it is filled in.

    Args:
        file: The file's name.
        suggestions: The suggested columns.
        sign: Sign of discharge as far as it shows, or None.
        by_mode: True where a mode column gives the sign.
        undecided: Names of the columns that fit a role equally well, by role.
    """
    by_role = {suggestion.role: suggestion for suggestion in suggestions}
    equals = undecided or {}
    open_drive = None if has_drive(by_role.keys()) else next((role for role in equals if role in DRIVES), None)
    if "time" not in by_role or not (open_drive or has_drive(by_role.keys())):
        return None
    if "current" in by_role:
        by_role.pop("power", None)
        by_role.pop("speed", None)
    keys: dict[str, str | list[str]] = {"file": file}
    for role in _ROLES:
        if role in by_role:
            keys |= _column_keys(by_role[role])
        elif role == open_drive:
            keys[role] = "?"
            if any(_states_no_unit(column) for column in equals[role]):
                keys[f"{role}_unit"] = "?"
    if by_mode:
        mode = by_role["mode"]
        keys["mode"] = mode.column
        keys["charge_modes"] = list(mode.charging) or ["?"]
        keys["discharge_modes"] = list(mode.discharging) or ["?"]
        if mode.resting:
            keys["rest_modes"] = list(mode.resting)
    elif {"current", "power", "torque"} & keys.keys():
        keys["discharge_is"] = sign or "?"
    return keys


def winding_keys(
    file: str, suggestions: tuple[ColumnSuggestion, ...], phases: WindingSet, columns: tuple[str, ...]
) -> dict[str, str | list[str]] | None:
    """Keys of a history of one winding set, whose power is the sum over its phases; None without time or voltages.

    Args:
        file: The file's name.
        suggestions: The suggested columns.
        phases: The winding set.
        columns: All column names.
    """
    time = next((suggestion for suggestion in suggestions if suggestion.role == "time"), None)
    if time is None or phases.voltages is None:
        return None
    keys: dict[str, str | list[str]] = {"file": file, **_column_keys(time)}
    for quantity, triple in (("current", phases.currents), ("voltage", phases.voltages)):
        keys[f"phase_{quantity}s"] = [columns[at] for at in triple]
        if any(header_unit(columns[at]) is None for at in triple):
            keys[f"{quantity}_unit"] = "?"
    keys["discharge_is"] = "?"
    return keys


def _column_keys(column: ColumnSuggestion) -> dict[str, str | list[str]]:
    """The keys of one column: its name, and its pattern or unit where those have to be stated."""
    keys: dict[str, str | list[str]] = {column.role: column.column}
    if column.patterns:
        keys[f"{column.role}_format"] = column.patterns[0] if len(column.patterns) == 1 else "?"
    elif column.unit is None:
        keys[f"{column.role}_unit"] = "?"
    return keys


def _states_no_unit(column: str) -> bool:
    stated = header_unit(column)
    return stated is None or stated.unit is None


def inline_table(keys: Mapping[str, Stated]) -> str:
    """The keys as an inline table of TOML.

    Args:
        keys: As ``suggested_keys`` gave them, and what else is stated.
    """
    return f"{{ {', '.join(f'{key} = {quoted(value)}' for key, value in keys.items())} }}"


def study_entry(keys: dict[str, str | list[str]]) -> str:
    """The entry of a strategy, to be pasted and checked; a power is a demand, a current a battery's.

    Args:
        keys: As ``suggested_keys`` gave them.
    """
    return f"{'battery' if 'current' in keys else 'demand'} = {inline_table(keys)}"


def quoted(value: Stated) -> str:
    """A TOML string, whole number or list of strings; JSON's escapes are a subset of TOML's.

    Args:
        value: Text, number or texts.
    """
    if isinstance(value, list):
        return f"[{', '.join(quoted(text) for text in value)}]"
    return json.dumps(value, ensure_ascii=False)
