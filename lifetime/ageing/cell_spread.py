"""The weakest cell of a bank: how far cells of unequal capacitance drift apart in voltage, and which one ages first."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray

Balancing = Literal["top", "half", "bottom"]

_FARTHEST: Final = 12.0
"""Standard deviations beyond which no cell of any bank is found: 2e-33 of a normal distribution."""


@lru_cache(maxsize=64)
def expected_worst(cells: int) -> float:
    """Mean of the largest of so many standard normal deviates, 1.27 for 6 and 2.77 for 216.

    Args:
        cells: How many, >= 1.

    Source: order statistics, ``E = ∫ (1 - Φ(x)^n) dx over x > 0 - ∫ Φ(x)^n dx over x < 0``.
    """
    from scipy.integrate import quad  # noqa: PLC0415 - slow import
    from scipy.special import log_ndtr  # noqa: PLC0415 - slow import

    above = quad(lambda x: -np.expm1(cells * log_ndtr(x)), 0.0, _FARTHEST, limit=200)[0]
    below = quad(lambda x: np.exp(cells * log_ndtr(x)), -_FARTHEST, 0.0, limit=200)[0]
    return float(above - below)


@dataclass(frozen=True, slots=True)
class CellSpread:
    """Normal spread of capacitance over the cells of a bank, whose cells in series share one charge.

    Args:
        deviation: Standard deviation of capacitance over its mean [fraction], >= 0.
        cells: Cells in the bank, >= 1.
        balancing: Where all cells have the same voltage: at the ``top`` of the window, at ``half`` the rated voltage,
            or at the ``bottom``, counted from 0 V, which is also the case of no balancing at all.
        half_voltage_V: Half the rated voltage of a cell [V], > 0.
    """

    deviation: float
    cells: int
    balancing: Balancing
    half_voltage_V: float

    @property
    def worst_fraction(self) -> float:
        """How much further than the mean the voltage of the weakest cell swings from where balancing acts [1]."""
        return expected_worst(self.cells) * self.deviation

    def worst_V(self, voltage_V: FloatArray) -> FloatArray:
        """Highest voltage of any cell where the mean cell has this one.

        Balanced at the top, the smallest cell swings lowest: it ages no faster. Balanced at half voltage, the smallest
        cell stands highest above it and the largest one below it.

        Args:
            voltage_V: Capacitor voltage of the mean cell [V], any shape.

        Returns:
            Voltage of the cell that is worst there [V], same shape.
        """
        if self.balancing == "top":
            return voltage_V
        swing = voltage_V if self.balancing == "bottom" else np.abs(voltage_V - self.half_voltage_V)
        return voltage_V + self.worst_fraction * swing
