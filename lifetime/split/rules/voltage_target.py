"""The bank's voltage follows the vehicle's speed: what the wheels hold, the bank leaves room for."""

from dataclasses import dataclass, replace

import numpy as np

from lifetime.checks import FloatArray
from lifetime.split.bank import Bank, Pull


@dataclass(frozen=True, slots=True)
class VoltageTarget:
    """The bank is pulled to the voltage at which it has room for the vehicle's kinetic energy.

    Args:
        mass_kg: Mass of the vehicle [kg], > 0.
        efficiency: Share of the kinetic energy that comes back [1], 0 to 1.
        time_constant_s: How slowly the bank is pulled [s], > 0.

    Source:
        ``1/2 C (V_max^2 - V_ref^2) = eta 1/2 m v^2``, so ``V_ref = sqrt(V_max^2 - eta m v^2 / C)``; common form of
        speed-dependent voltage regulation of an ultracapacitor bank.
    """

    mass_kg: float
    efficiency: float
    time_constant_s: float

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def bank_wish(self, length_s: FloatArray, demand_W: FloatArray, memory: float) -> tuple[FloatArray, float]:
        """Nothing besides the pull."""
        return np.zeros(length_s.size), memory

    def pulled(self, bank: Bank, speed_m_s: FloatArray) -> Bank:
        """The bank with its target for each interval, kept within its window.

        Args:
            bank: The bank.
            speed_m_s: Mean speed of each interval [m/s], shape (n,).
        """
        return replace(bank, pull=Pull(self.target_V(bank, speed_m_s), self.time_constant_s))

    def target_V(self, bank: Bank, speed_m_s: FloatArray) -> FloatArray:
        """Voltage aimed at [V], shape of the speed.

        Args:
            bank: The bank.
            speed_m_s: Speed [m/s].
        """
        square = bank.maximum_voltage_V**2 - self.efficiency * self.mass_kg * speed_m_s**2 / bank.capacitance_F
        return np.sqrt(np.maximum(square, bank.minimum_voltage_V**2))
