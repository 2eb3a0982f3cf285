"""The battery changes its power no faster than a limit."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class RampLimit:
    """The battery follows the demand as fast as its ramp allows; the bank takes the difference.

    Args:
        rise_W_per_s: Fastest rise of the battery's power [W/s], > 0.
        fall_W_per_s: Fastest fall [W/s], > 0.

    Source:
        ``|dP_batt/dt|`` limited; common practice, no source.
    """

    rise_W_per_s: float
    fall_W_per_s: float

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """Demand less the battery's mean power over each interval; memory is the battery's power at its end.

        Within an interval the power runs straight at the limit until it meets the demand, and stays there.
        """
        battery = np.empty(demand_W.size)
        now = memory
        for at, (length, demand) in enumerate(zip(length_s.tolist(), demand_W.tolist(), strict=True)):
            rate = self.rise_W_per_s if demand > now else self.fall_W_per_s
            needed = abs(demand - now) / rate
            if needed <= length:
                # A triangle on the way, and the demand for what is left.
                battery[at] = demand - 0.5 * (demand - now) * needed / length if length > 0.0 else demand
                now = demand
            else:
                after = now + rate * length if demand > now else now - rate * length
                battery[at] = 0.5 * (now + after)
                now = after
        return demand_W - battery, now
