"""What a value can be in SI; outside are error codes and mistaken units."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.units import Quantity

LOWEST_TEMPERATURE_C: Final = -50.0
HIGHEST_TEMPERATURE_C: Final = 120.0
"""Range a pack temperature can plausibly have [°C]; outside are error codes and mistaken units. Common practice, no
source."""

_RANGES: Final[dict[Quantity, tuple[float, float, str]]] = {
    # 3000 years: seconds since 1970 are below 2e9, milliseconds taken for seconds are not.
    "time": (-1e11, 1e11, "-1e11 to 1e11 s"),
    "current": (-1e9, 1e9, "-1e9 to 1e9 A"),
    "power": (-1e12, 1e12, "-1e12 to 1e12 W"),
    "voltage": (-1e9, 1e9, "-1e9 to 1e9 V"),
    "speed": (-200.0, 200.0, "-200 to 200 m/s"),
    "torque": (-1e8, 1e8, "-1e8 to 1e8 N·m"),
    "shaft_speed": (-2e5, 2e5, "-2e5 to 2e5 rad/s"),
    "temperature": (
        LOWEST_TEMPERATURE_C + ZERO_CELSIUS_K,
        HIGHEST_TEMPERATURE_C + ZERO_CELSIUS_K,
        f"{LOWEST_TEMPERATURE_C:g} to {HIGHEST_TEMPERATURE_C:g} °C",
    ),
}
"""Lowest and highest value in SI, and the same in words; wide, but for temperature."""


def in_range(quantity: Quantity | None, values: FloatArray) -> NDArray[np.bool_]:
    """True where a value can be one of its quantity; false for NaN.

    Args:
        quantity: Which; None for numbers that stand for words, which need only be finite.
        values: In SI.
    """
    if quantity is None:
        return np.isfinite(values)
    low, high, _ = _RANGES[quantity]
    return (values >= low) & (values <= high)


def range_in_words(quantity: Quantity) -> str:
    """Lowest and highest value of a quantity with the unit, for a message.

    Args:
        quantity: Which.
    """
    return _RANGES[quantity][2]
