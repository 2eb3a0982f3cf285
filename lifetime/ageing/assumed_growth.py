"""Resistance growth for ageing models that predict none: in proportion to the capacity lost.

``R / R0 = 1 + rho_cal q_cal + rho_cyc q_cyc``. The ratios are a convention: 0.5 to 5 are in use, and "80 % of the
capacity or twice the resistance" taken as one and the same state means 5.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lifetime.ageing.contract import AgeingLaw, Health, Mechanism, Sight, Stress
from lifetime.checks import FloatArray
from lifetime.notices import Notice


@dataclass(frozen=True, slots=True)
class AssumedGrowth:
    """An ageing model of capacity alone, with a resistance that grows as capacity is lost.

    Args:
        model: The ageing model.
        per_calendar_loss: Growth of the resistance over its initial value, over the calendar loss [1], >= 0.
        per_cyclic_loss: The same over the cyclic loss [1], >= 0.
    """

    model: AgeingLaw
    per_calendar_loss: float
    per_cyclic_loss: float

    def most_at(self, capacity_fraction: float) -> float:
        """Resistance over the initial one at a capacity, at most [1].

        Args:
            capacity_fraction: Capacity over initial [0..1].
        """
        return 1.0 + max(self.per_calendar_loss, self.per_cyclic_loss) * (1.0 - capacity_fraction)

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """Those of the model."""
        return self.model.mechanisms

    @property
    def sees(self) -> frozenset[Sight]:
        """What the model responds to."""
        return self.model.sees

    @property
    def has_resistance(self) -> bool:
        """Resistance grows by assumption."""
        return True

    def clocks(self, stress: Stress) -> FloatArray:
        """The model's clocks."""
        return self.model.clocks(stress)

    def fade(self, clocks: FloatArray) -> Health:
        """The model's capacity, and the resistance that its losses stand for."""
        ratios = [self.per_calendar_loss if one.part == "calendar" else self.per_cyclic_loss for one in self.mechanisms]
        growth = np.sum(self.model.capacity_loss_by_mechanism(clocks) * ratios, axis=-1)
        return Health(self.model.fade(clocks).capacity_fraction, 1.0 + growth)

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """The model's losses."""
        return self.model.capacity_loss_by_mechanism(clocks)

    def without_limits(self) -> AgeingLaw:
        """The model without its limits, with the same growth; itself where nothing is held."""
        free = self.model.without_limits()
        return self if free is self.model else replace(self, model=free)

    def share_in_range(self, stress: Stress) -> float:
        """The model's."""
        return self.model.share_in_range(stress)

    def range_notices(self, stress: Stress) -> list[Notice]:
        """The model's."""
        return self.model.range_notices(stress)
