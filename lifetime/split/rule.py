"""The contracts of a split rule: what it would like the bank to deliver, interval by interval.

A rule does not know the bank's limits; ``split.share`` enforces them, and what the bank cannot take, the battery takes.
"""

from collections.abc import Hashable
from typing import Protocol, runtime_checkable

from lifetime.checks import FloatArray
from lifetime.split.bank import Bank


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


@runtime_checkable
class PullingRule(Protocol):
    """A rule that moves the voltage to which the bank is pulled, with the vehicle's speed."""

    def pulled(self, bank: Bank, speed_m_s: FloatArray) -> Bank:
        """The bank with its pull for each interval.

        Args:
            bank: The bank.
            speed_m_s: Mean speed of each interval [m/s], shape (n,).
        """


@runtime_checkable
class SteppedRule(Protocol):
    """A rule that looks at the bank's voltage, so that rule and bank have to go on together, step by step."""

    def start(self) -> Hashable:
        """What the rule remembers at the start of a day."""

    def step(
        self, length_s: float, demand_W: float, speed_m_s: float, bank_voltage_V: float, state: Hashable
    ) -> tuple[float, Hashable]:
        """Power the bank should deliver over the next interval.

        Args:
            length_s: Length of the interval [s], >= 0.
            demand_W: Mean demand [W].
            speed_m_s: Mean speed [m/s]; 0 where the demand has none.
            bank_voltage_V: Capacitor voltage before the interval [V].
            state: What the rule remembers.

        Returns:
            Wished mean power [W], positive when the bank discharges, and what it remembers after.
        """
