"""The battery alone."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class BatteryOnly:
    """The battery carries everything; no bank is installed."""

    @property
    def uses_bank(self) -> bool:
        """No bank."""
        return False

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """Nothing, always."""
        return np.zeros(length_s.size), memory
