"""The suggested study entry: suggested columns as a study file states them; applied only by a person."""

import json
from typing import Literal

from lifetime.history.mapping.column_suggestions import ColumnSuggestion

_ROLES = ("time", "date", "current", "power", "speed", "voltage", "temperature")


def suggested_keys(
    file: str, suggestions: tuple[ColumnSuggestion, ...], sign: Literal["positive", "negative"] | None, *, by_mode: bool
) -> dict[str, str | list[str]] | None:
    """Keys of a history for the suggested columns; None where time, or current, power and speed are missing.

    What nothing shows is "?", which a study refuses until it is filled in.

    Args:
        file: The file's name.
        suggestions: The suggested columns.
        sign: Sign of discharge as far as it shows, or None.
        by_mode: True where a mode column gives the sign.
    """
    by_role = {suggestion.role: suggestion for suggestion in suggestions}
    if "time" not in by_role or not ({"current", "power", "speed"} & by_role.keys()):
        return None
    if "current" in by_role:
        by_role.pop("power", None)
        by_role.pop("speed", None)
    keys: dict[str, str | list[str]] = {"file": file}
    for role in _ROLES:
        if role not in by_role:
            continue
        column = by_role[role]
        keys[role] = column.column
        if column.patterns:
            keys[f"{role}_format"] = column.patterns[0] if len(column.patterns) == 1 else "?"
        elif column.unit is None:
            keys[f"{role}_unit"] = "?"
    if by_mode:
        mode = by_role["mode"]
        keys["mode"] = mode.column
        keys["charge_modes"] = list(mode.charging) or ["?"]
        keys["discharge_modes"] = list(mode.discharging) or ["?"]
        if mode.resting:
            keys["rest_modes"] = list(mode.resting)
    elif "current" in by_role or "power" in by_role:
        keys["discharge_is"] = sign or "?"
    return keys


def inline_table(keys: dict[str, str | list[str]]) -> str:
    """The keys as an inline table of TOML.

    Args:
        keys: As ``suggested_keys`` gave them.
    """
    return f"{{ {', '.join(f'{key} = {quoted(value)}' for key, value in keys.items())} }}"


def study_entry(keys: dict[str, str | list[str]]) -> str:
    """The entry of a strategy, to be pasted and checked; a power is a demand, a current a battery's.

    Args:
        keys: As ``suggested_keys`` gave them.
    """
    return f"{'battery' if 'current' in keys else 'demand'} = {inline_table(keys)}"


def quoted(value: str | list[str]) -> str:
    """A TOML string or list of strings; JSON's escapes are a subset of TOML's.

    Args:
        value: Text or texts.
    """
    if isinstance(value, list):
        return f"[{', '.join(quoted(text) for text in value)}]"
    return json.dumps(value, ensure_ascii=False)
