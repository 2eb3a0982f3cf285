"""Numbers enter the library here: float64, finite, in range, or refused with a message."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lifetime.errors import NumberError

FloatArray = NDArray[np.float64]


def as_floats(values: Any, name: str) -> FloatArray:
    """Coerce to a float64 array and refuse what is not finite.

    Integers become floats before any arithmetic, because counting on integer arrays overflows silently.

    Args:
        values: Scalar or array-like of numbers, any shape.
        name: What the values are, with their unit, for the message.

    Returns:
        float64 array of the same shape.

    Raises:
        NumberError: Text, NaN or infinity is found; the message names the first place.
    """
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise NumberError(f"{name}: expected numbers, got something else ({error}).") from None
    bad = np.flatnonzero(~np.isfinite(array))
    if bad.size:
        first = int(bad[0])
        raise NumberError(
            f"{name}: {bad.size} of {array.size} values are not finite, the first at position {first} "
            f"({array.reshape(-1)[first]}). Remove or repair them before counting."
        )
    return array


def in_range(value: float, name: str, low: float, high: float) -> float:
    """Return ``value`` if it lies in [low, high], refuse it otherwise.

    Args:
        value: The number to check.
        name: What it is, with its unit, for the message.
        low: Smallest allowed value, same unit.
        high: Largest allowed value, same unit.

    Raises:
        NumberError: The value is not finite or lies outside.
    """
    number = float(value)
    if not low <= number <= high:  # also catches NaN
        raise NumberError(f"{name} must lie in {low:g} to {high:g}, got {number:g}.")
    return number
