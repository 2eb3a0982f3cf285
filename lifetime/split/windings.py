"""Copper loss of a machine with two winding sets, one for each source."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray, in_range


@dataclass(frozen=True, slots=True)
class TwoWindings:
    """Two winding sets on one shaft, at one flux: the copper loss of each grows with the square of its torque.

    Torque is taken from power, as at the speed of rated power; below that speed the current is higher, so that the
    loss is a lower bound.

    Args:
        rated_power_W: Power at which the fraction is given [W], > 0.
        copper_fraction: Copper loss at rated power shared evenly, over that power [1], 0 to 0.3.
        resistance_ratio: Resistance of the bank's set over that of the battery's [1], 0.01 to 100.

    Raises:
        NumberError: A value is not finite or out of range.

    Source:
        ``R1 x**2 + R2 (1 - x)**2`` at shares x and 1 - x of the torque; at equal sets
        ``even (1 + (2 x - 1)**2)``, least at ``x = R2 / (R1 + R2)``. Ohm's law.
    """

    rated_power_W: float
    copper_fraction: float
    resistance_ratio: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what no machine can be."""
        in_range(self.rated_power_W, "rated power of the machine [W]", 1e-3, 1e12)
        in_range(self.copper_fraction, "copper loss [fraction of the rated power]", 0.0, 0.3)
        in_range(self.resistance_ratio, "resistance ratio of the winding sets", 0.01, 100.0)

    @property
    def battery_per_W(self) -> float:
        """Loss of the battery's set over the square of its power [1/W]."""
        return 4.0 * self.copper_fraction / (self.rated_power_W * (1.0 + self.resistance_ratio))

    @property
    def ultracapacitor_per_W(self) -> float:
        """Loss of the bank's set over the square of its power [1/W]."""
        return self.resistance_ratio * self.battery_per_W

    def even_W(self, power_W: FloatArray) -> FloatArray:
        """Loss where both sets give half of the power [W].

        Args:
            power_W: Of the machine [W], any shape.
        """
        return np.asarray(0.25 * (self.battery_per_W + self.ultracapacitor_per_W) * power_W**2)


def with_copper(power_W: FloatArray, per_W: float) -> FloatArray:
    """Power that a winding set takes in for the power it gives [W].

    Args:
        power_W: Positive where it drives [W], any shape.
        per_W: Its loss over the square of its power [1/W], >= 0.
    """
    return power_W + per_W * power_W**2


def without_copper(taken_W: FloatArray, per_W: float) -> FloatArray:
    """Undoes ``with_copper``; beyond the most that a braking set can give back, that most is returned.

    Args:
        taken_W: Positive where the set drives [W], any shape.
        per_W: Its loss over the square of its power [1/W], >= 0.
    """
    inside = np.maximum(1.0 + 4.0 * per_W * taken_W, 0.0)
    returned = taken_W if per_W == 0.0 else np.maximum(taken_W, -0.25 / per_W)
    return np.asarray(2.0 * returned / (1.0 + np.sqrt(inside)))
