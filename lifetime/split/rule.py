"""The contract of a split rule: what it would like the bank to deliver, interval by interval.

A rule does not know the bank's limits; ``split.share`` enforces them, and what the bank cannot take, the battery takes.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.scan import affine_scan


class SplitRule(Protocol):
    """One way to share a power demand between battery and bank."""

    @property
    def uses_bank(self) -> bool:
        """False where the battery carries everything and no bank is installed."""

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """Power the bank should deliver, positive when it discharges.

        Args:
            length_s: Length of each interval [s], shape (n,), >= 0.
            demand_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
            memory: What the rule remembers from before the first interval; 0 at the start of a day.

        Returns:
            Wished mean power of each interval [W], shape (n,), and the memory after the last one.
        """


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


@dataclass(frozen=True, slots=True)
class LowPass:
    """The battery follows the demand through a first-order low-pass filter; the bank takes the difference.

    Args:
        time_constant_s: Of the filter [s], > 0.

    Source:
        ``P_batt = P_dem / (1 + tau s)``, exact discretisation ``a = 1 - exp(-dt / tau)``; common form of filter-based
        power split in hybrid storage.
    """

    time_constant_s: float

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """Demand less the filter's mean output over each interval.

        The filter's mean output follows from its own balance: it stores ``tau * change`` of what goes in.
        """
        after = low_pass(length_s, demand_W, self.time_constant_s, memory)
        if after.size == 0:
            return after, memory
        change = np.diff(after, prepend=memory)
        wish = np.divide(self.time_constant_s * change, length_s, out=np.zeros(after.size), where=length_s > 0.0)
        return wish, float(after[-1])


@dataclass(frozen=True, slots=True)
class PowerLimit:
    """The battery delivers and absorbs up to a limit; the bank takes the rest.

    Args:
        discharge_limit_W: Most the battery delivers [W], >= 0.
        charge_limit_W: Most the battery absorbs [W], >= 0.

    Source:
        ``P_batt = clip(P_dem, -charge_limit, discharge_limit)``; common practice, no source.
    """

    discharge_limit_W: float
    charge_limit_W: float

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """What lies beyond the battery's limits."""
        return demand_W - np.clip(demand_W, -self.charge_limit_W, self.discharge_limit_W), memory


def low_pass(length_s: FloatArray, demand_W: FloatArray, time_constant_s: float, start_W: float) -> FloatArray:
    """Output of a first-order low-pass filter at each interval's end, for a demand held over the interval.

    Args:
        length_s: Length of each interval [s], shape (n,).
        demand_W: Held demand [W], shape (n,).
        time_constant_s: Of the filter [s], > 0.
        start_W: Output before the first interval [W].

    Returns:
        Output at each interval's end [W], shape (n,): ``y += (1 - exp(-dt / tau)) (P - y)``.
    """
    kept = np.exp(-length_s / time_constant_s)
    return affine_scan(kept, (1.0 - kept) * demand_W, start_W)
