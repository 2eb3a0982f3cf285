"""What a demand must be before a bound is looked for."""

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray, as_floats
from lifetime.errors import NumberError


def checked_demand(length_s: FloatArray, demand_W: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Refuse a demand that cannot be split, and say which of its intervals take time.

    Args:
        length_s: Length of each interval [s], shape (n,), >= 0.
        demand_W: Mean demand of each interval [W], shape (n,).

    Returns:
        Time at the intervals' ends, the start first [s], shape (n + 1,), and whether each interval moves it on. An
        interval too short for the clock's last digit counts as taking no time.

    Raises:
        NumberError: A value is not finite, a length is negative, the shapes differ, or no time passes.
    """
    length, demand = as_floats(length_s, "Interval length [s]"), as_floats(demand_W, "Demand [W]")
    if length.ndim != 1 or length.shape != demand.shape:
        raise NumberError(
            f"A demand needs one power for each interval: got lengths of shape {length.shape} and powers of shape "
            f"{demand.shape}. Give both as arrays of one and the same length."
        )
    if float(np.min(length, initial=0.0)) < 0.0:
        first = int(np.argmax(length < 0.0))
        raise NumberError(f"Interval length [s]: {length[first]:g} at position {first} is negative. Sort by time.")
    time = np.concatenate([[0.0], np.cumsum(length)])
    moves = np.diff(time) > 0.0
    if not moves.any():
        raise NumberError("A demand in which no time passes cannot be split. Give at least one interval of length > 0.")
    return time, moves
