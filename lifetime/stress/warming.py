"""The temperature rise of a source through its drive: one lumped mass, followed in closed form."""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.scan import affine_scan
from lifetime.stress.source import Thermal

_LONGEST_GROWTH: Final = 300.0
"""Time constants a stretch may last for its decay to be inverted within float64."""


class Warming:
    """Follows the rise above the ambient, from a cold start, and the share of a starting rise that is still left.

    Args:
        resistance_ohm: Stated resistance of the source [Ω], >= 0.
        thermal: Its path of heat.
    """

    def __init__(self, resistance_ohm: float, thermal: Thermal) -> None:
        self.rise_per_A2_K = resistance_ohm * thermal.resistance_K_per_W
        self.time_constant_s = thermal.time_constant_s
        self.rise_K, self.decay = 0.0, 1.0

    def over(self, length_s: FloatArray, heat_A2: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Rise [K] and share left [0..1] at the ends of the intervals of a stretch, its start first, shape (n + 1,).

        Args:
            length_s: Length of the intervals [s], shape (n,).
            heat_A2: Heat of each over the stated resistance and its length [A²], shape (n,).
        """
        tau = self.time_constant_s
        elapsed = np.empty(length_s.size + 1)
        elapsed[0] = 0.0
        np.cumsum(length_s, out=elapsed[1:])
        elapsed *= 1.0 / tau
        rise = np.empty_like(elapsed)
        if elapsed[-1] < _LONGEST_GROWTH:
            # The recurrence divided by its own decay is a plain sum; valid while the decay can be inverted.
            growth = np.exp(elapsed)
            np.cumsum(heat_A2 * np.diff(growth), out=rise[1:])
            rise[0] = 0.0
            rise *= self.rise_per_A2_K
            rise += self.rise_K
            decay = np.divide(1.0, growth, out=growth)
            rise *= decay
        else:
            decay = np.exp(-elapsed)
            kept = np.exp(length_s * (-1.0 / tau))
            rise[0] = self.rise_K
            rise[1:] = affine_scan(kept, self.rise_per_A2_K * heat_A2 * (1.0 - kept), self.rise_K)
        decay = decay * self.decay
        self.rise_K, self.decay = float(rise[-1]), float(decay[-1])
        return rise, decay
