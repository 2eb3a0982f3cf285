"""How findings name places and values."""

from typing import Final

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.text import significant

_SI_UNITS: Final = {
    "current": "A",
    "power": "W",
    "voltage": "V",
    "speed": "m/s",
    "torque": "N·m",
    "shaft_speed": "rad/s",
}


def place_of(column: str, row: int | None = None) -> str:
    """A place in words.

    Args:
        column: Name of the column.
        row: Row in the file, or None for the whole column.
    """
    return f'column "{column}"' if row is None else f'row {row}, column "{column}"'


def with_unit(quantity: str, value_SI: float) -> str:
    """A value as a person reads it, with its unit and three significant digits.

    Args:
        quantity: What it is a value of.
        value_SI: The value in SI.
    """
    if quantity == "temperature":
        return f"{significant(value_SI - ZERO_CELSIUS_K)} °C"
    return f"{significant(value_SI)} {_SI_UNITS[quantity]}"
