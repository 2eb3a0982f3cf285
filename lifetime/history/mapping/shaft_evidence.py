"""Which torque and shaft speed belong to the electrical power in a file: their product follows it."""

import itertools
from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.units import header_unit

OF_A_SHAFT: Final = ("torque", "shaft_speed", "power", "current", "voltage")
"""Quantities that are compared."""
_FOLLOWS: Final = 0.9
"""Correlation of a shaft's power with the electrical one, between which losses and auxiliaries lie; common practice, no
source."""
_MOST_COMPARED: Final = 40
_POINTS: Final = 3
_FEWEST_ROWS: Final = 10


def shaft_evidence(
    numbers: Mapping[str, Mapping[int, FloatArray]], columns: tuple[str, ...]
) -> dict[tuple[int, str], tuple[int, str]]:
    """Points and evidence for torques and shaft speeds whose product follows an electrical power, losses aside.

    Args:
        numbers: The first rows of columns by quantity (``OF_A_SHAFT``) and position.
        columns: Names of all columns.

    Returns:
        By position and quantity.
    """
    found: dict[tuple[int, str], tuple[int, str]] = {}
    pairs = itertools.product(numbers["torque"], numbers["shaft_speed"])
    for torque, speed in itertools.islice(pairs, _MOST_COMPARED):
        of_shaft = _si(columns[torque], numbers["torque"][torque]) * _si(columns[speed], numbers["shaft_speed"][speed])
        for name, power in _electrical(numbers, columns):
            if power.size == of_shaft.size and abs(correlation(of_shaft, power)) >= _FOLLOWS:
                found[torque, "torque"] = (_POINTS, f'with "{columns[speed]}" its power follows {name}')
                found[speed, "shaft_speed"] = (_POINTS, f'with "{columns[torque]}" its power follows {name}')
    return found


def _electrical(
    numbers: Mapping[str, Mapping[int, FloatArray]], columns: tuple[str, ...]
) -> Iterator[tuple[str, FloatArray]]:
    """Electrical powers in the file: columns of power, and currents times voltages."""
    for at, values in numbers["power"].items():
        yield f'"{columns[at]}"', _si(columns[at], values)
    pairs = itertools.product(numbers["current"].items(), numbers["voltage"].items())
    for (current, amps), (voltage, volts) in itertools.islice(pairs, _MOST_COMPARED):
        if current != voltage and amps.size == volts.size:
            product = _si(columns[current], amps) * _si(columns[voltage], volts)
            yield f'"{columns[voltage]}" times "{columns[current]}"', product


def _si(column: str, values: FloatArray) -> FloatArray:
    stated = header_unit(column)
    return values if stated is None or stated.unit is None else stated.unit.to_si(values)


def correlation(left: FloatArray, right: FloatArray) -> float:
    """Correlation of two columns, -1 to 1; 0 where one does not move or too few rows have both.

    Args:
        left: One, NaN where a number is missing.
        right: The other, of the same length.
    """
    fine = np.isfinite(left) & np.isfinite(right)
    if np.count_nonzero(fine) < _FEWEST_ROWS or not np.ptp(left[fine]) or not np.ptp(right[fine]):
        return 0.0
    result = float(np.corrcoef(left[fine], right[fine])[0, 1])
    return result if np.isfinite(result) else 0.0
