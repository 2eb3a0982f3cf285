"""The ultracapacitor's voltage setpoint follows the vehicle's speed: what the wheels hold, the bank leaves room for."""

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from lifetime.checks import FloatArray
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
    mass_kg: Kilograms = Field(
        title="Mass of the vehicle",
        description="Loaded as on the day of the demand.",
        examples=[1500.0],
        json_schema_extra={"unit": "kg"},
    )
    recovered_fraction: Efficiency = Field(
        title="Recovered fraction",
        description="Fraction of the kinetic energy that braking brings back.",
        examples=[0.7],
        json_schema_extra={"unit": "fraction"},
    )
    setpoint_time_constant_s: Seconds = Field(
        title="Time constant of the voltage setpoint",
        description="How slowly the ultracapacitor bank is brought to its setpoint.",
        examples=[20.0],
        json_schema_extra={"unit": "s"},
    )

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
