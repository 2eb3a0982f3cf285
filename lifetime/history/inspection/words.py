"""How findings name places, counts and values."""

from typing import Final

from lifetime.constants import ZERO_CELSIUS_K

_SI_UNITS: Final = {
    "current": "A",
    "power": "W",
    "voltage": "V",
    "speed": "m/s",
    "torque": "N·m",
    "shaft_speed": "rad/s",
}


def significant(value: float) -> str:
    """A value with three significant digits, without an exponent where a person needs none.

    Args:
        value: Any.
    """
    return f"{float(f'{value:.3g}'):.12g}"


def place_of(column: str, row: int | None = None) -> str:
    """A place in words.

    Args:
        column: Name of the column.
        row: Row in the file, or None for the whole column.
    """
    return f'column "{column}"' if row is None else f'row {row}, column "{column}"'


def counted(count: int, noun: str) -> str:
    """A count with its noun, in the plural where it needs one.

    Args:
        count: How many.
        noun: In the singular.
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def with_unit(quantity: str, value_SI: float) -> str:
    """A value as a person reads it, with its unit and three significant digits.

    Args:
        quantity: What it is a value of.
        value_SI: The value in SI.
    """
    if quantity == "temperature":
        return f"{significant(value_SI - ZERO_CELSIUS_K)} °C"
    return f"{significant(value_SI)} {_SI_UNITS[quantity]}"
