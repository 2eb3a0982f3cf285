"""What was offered, written as a study file wants it: nothing is applied until a person puts it there."""

import json
from typing import Literal

from lifetime.history.mapping.column_suggestions import Offer

_ROLES = ("time", "date", "current", "power", "speed", "voltage", "temperature")


def history_keys(
    file: str, offered: tuple[Offer, ...], sign: Literal["positive", "negative"] | None, *, by_mode: bool
) -> dict[str, str | list[str]] | None:
    """Keys of a history for what was offered; None where time, or current and power are not there.

    What nothing shows stands as "?", which a study refuses until it is filled in.

    Args:
        file: The file's name.
        offered: What the columns could be.
        sign: Sign of discharge as far as it shows, or None.
        by_mode: True where a mode column gives the sign.
    """
    by_role = {offer.quantity: offer for offer in offered}
    if "time" not in by_role or not ({"current", "power", "speed"} & by_role.keys()):
        return None
    if "current" in by_role:
        by_role.pop("power", None)
        by_role.pop("speed", None)
    keys: dict[str, str | list[str]] = {"file": file}
    for role in _ROLES:
        if role not in by_role:
            continue
        offer = by_role[role]
        keys[role] = offer.column
        if offer.patterns:
            keys[f"{role}_format"] = offer.patterns[0] if len(offer.patterns) == 1 else "?"
        elif offer.unit is None:
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
        keys: As ``history_keys`` gave them.
    """
    return f"{{ {', '.join(f'{key} = {quoted(value)}' for key, value in keys.items())} }}"


def study_line(keys: dict[str, str | list[str]]) -> str:
    """One line for a study, to be pasted and looked over; a power is a demand, a current a battery's.

    Args:
        keys: As ``history_keys`` gave them.
    """
    return f"{'battery' if 'current' in keys else 'demand'} = {inline_table(keys)}"


def quoted(value: str | list[str]) -> str:
    """A TOML string or list of strings; JSON's escapes are a subset of TOML's.

    Args:
        value: Text or texts.
    """
    if isinstance(value, list):
        return f"[{', '.join(quoted(one) for one in value)}]"
    return json.dumps(value, ensure_ascii=False)
