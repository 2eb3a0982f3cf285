"""The ultracapacitor's voltage setpoint follows the vehicle's speed: what the wheels hold, the bank leaves room for."""

from typing import Annotated, ClassVar, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.ranges import Efficiency, Kilograms, Seconds
from lifetime.split.bank import Bank, VoltageSetpoint
from lifetime.split.controlled import DemandRule


class VoltageTarget(DemandRule, title="Voltage by speed"):
    """The bank is brought to the voltage at which it has room for the vehicle's kinetic energy.

    Source:
        ``1/2 C (V_max^2 - V_ref^2) = eta 1/2 m v^2``, so ``V_ref = sqrt(V_max^2 - eta m v^2 / C)``; common form of
        speed-dependent voltage regulation of an ultracapacitor bank.
    """

    summary: ClassVar[str] = (
        "The battery brings the ultracapacitor to the voltage that leaves room for the vehicle's kinetic energy; the "
        "demand needs a `speed`."
    )
    needs_speed: ClassVar[bool] = True

    rule: Literal["voltage_target"] = "voltage_target"
    mass_kg: Annotated[
        Kilograms, about("Mass of the vehicle", "Loaded as on the day of the demand.", unit="kg", example=1500.0)
    ]
    recovered_fraction: Annotated[
        Efficiency,
        about(
            "Recovered fraction",
            "Fraction of the kinetic energy that braking brings back.",
            unit="fraction",
            example=0.7,
        ),
    ]
    setpoint_time_constant_s: Annotated[
        Seconds,
        about(
            "Time constant of the voltage setpoint",
            "How slowly the ultracapacitor bank is brought to its setpoint.",
            unit="s",
            example=20.0,
        ),
    ]

    def ultracapacitor_setpoint_W(
        self, length_s: FloatArray, demand_W: FloatArray, memory: float
    ) -> tuple[FloatArray, float]:
        """No power besides what brings the bank to its voltage."""
        return np.zeros(length_s.size), memory

    def voltage_setpoint(self, bank: Bank, speed_m_s: FloatArray | None) -> VoltageSetpoint | None:
        """The setpoint of each interval, kept within the bank's window."""
        if speed_m_s is None:
            return None
        square = bank.maximum_voltage_V**2 - self.recovered_fraction * self.mass_kg * speed_m_s**2 / bank.capacitance_F
        return VoltageSetpoint(np.sqrt(np.maximum(square, bank.minimum_voltage_V**2)), self.setpoint_time_constant_s)
