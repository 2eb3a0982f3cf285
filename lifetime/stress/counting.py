"""How battery cycles are counted and weighed: small cycles, the C-rate of a cycle, noise of the current."""

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray

SmallCycles = Literal["all", "smooth", "none"]
CycleRate = Literal["time_mean", "throughput_weighted"]

SMALL_DEPTH: Final = 0.02 * (1.0 - 1e-9)
"""2 %, less what rounding leaves; depth below which cycles inside a larger one were found to do no harm: Soto et al.,
J. Energy Storage 55 (2022) 105343 (abstract)."""
_STEEPNESS: Final = 4
"""Exponent of the smooth weight: steeper than any model's ageing per throughput rises towards depth 0 (own form)."""


@dataclass(frozen=True, slots=True)
class CycleCounting:
    """Conventions of counting; the defaults count every cycle of the current as it is.

    Args:
        small_cycles: ``all`` counts every cycle; ``smooth`` weighs each by its depth; ``none`` leaves out those below
            2 % depth.
        smooth_depth: Depth that the smooth weight counts by half [0..1], > 0.
        cycle_rate: C-rate of a cycle: ``throughput_weighted`` mean of |current|, the pessimistic bound, or its
            ``time_mean``, the optimistic one.
        averaging_s: The current is averaged over this long before cycles are counted [s], >= 0; 0 for not at all.
        dead_band_c_rate: Current up to which a source is taken as resting when cycles are counted [1/h], >= 0.
    """

    small_cycles: SmallCycles = "all"
    smooth_depth: float = 0.01
    cycle_rate: CycleRate = "throughput_weighted"
    averaging_s: float = 0.0
    dead_band_c_rate: float = 0.0

    @property
    def filters(self) -> bool:
        """Whether the current is filtered before it is counted."""
        return self.averaging_s > 0.0 or self.dead_band_c_rate > 0.0

    def weight(self, depth: FloatArray) -> FloatArray:
        """How much of a cycle counts, by its depth: ``d⁴ / (d⁴ + d0⁴)`` for ``smooth``.

        Args:
            depth: Cycle depth [0..1], any shape.

        Returns:
            Weight [0..1], shape of ``depth``; rises with depth.
        """
        if self.small_cycles == "all":
            return np.ones_like(depth)
        if self.small_cycles == "none":
            return np.where(depth < SMALL_DEPTH, 0.0, 1.0)
        power = np.power(depth, _STEEPNESS)
        return np.asarray(power / (power + self.smooth_depth**_STEEPNESS))

    def with_convention(self, small_cycles: SmallCycles, cycle_rate: CycleRate) -> "CycleCounting":
        """The same counting under another convention.

        Args:
            small_cycles: How small cycles are weighed.
            cycle_rate: What the C-rate of a cycle is.
        """
        return replace(self, small_cycles=small_cycles, cycle_rate=cycle_rate)


EVERY_CYCLE: Final = CycleCounting()
"""Every cycle of the unfiltered current at its throughput-weighted C-rate."""
