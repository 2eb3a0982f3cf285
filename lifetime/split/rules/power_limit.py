"""The battery within power limits, the bank beyond them, with a band in which nothing switches."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class PowerLimit:
    """The battery delivers and absorbs up to a limit; the bank takes the rest.

    With a band the bank only comes in when the demand passes a limit by that much, and goes out again when the demand
    is back within the limit; until then the battery carries what lies between.

    Args:
        discharge_limit_W: Most the battery delivers [W], >= 0.
        charge_limit_W: Most the battery absorbs [W], >= 0.
        hysteresis_W: Width of the band [W], >= 0; 0 for none.

    Source:
        ``P_batt = clip(P_dem, -charge_limit, discharge_limit)``; common practice, no source.
    """

    discharge_limit_W: float
    charge_limit_W: float
    hysteresis_W: float = 0.0

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """What lies beyond the battery's limits, while the bank is in; memory is 1 while it is."""
        beyond = demand_W - np.clip(demand_W, -self.charge_limit_W, self.discharge_limit_W)
        if self.hysteresis_W == 0.0 or demand_W.size == 0:
            return beyond, memory
        comes_in = np.abs(beyond) > self.hysteresis_W
        decided = comes_in | (beyond == 0.0)
        # The last decision before each interval, carried on from it.
        last = np.maximum.accumulate(np.where(decided, np.arange(demand_W.size), -1))
        engaged = np.where(last >= 0, comes_in[np.maximum(last, 0)], memory > 0.5)
        return np.where(engaged, beyond, 0.0), float(engaged[-1])
