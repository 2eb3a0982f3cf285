"""A coolant that is held at a setpoint: what surrounds the cells then, and the energy that heating and cooling take."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Coolant:
    """A coolant circuit with a heater, a cooler or both, which hold its setpoint day and night.

    The pack with its circuit loses heat to the air through one thermal resistance; its own heat covers part of that.
    What is missing is heated, what is too much is cooled, and each takes its heat over its coefficient of performance.

    Args:
        setpoint_K: Temperature that is held [K], > 0.
        resistance_K_per_W: From the pack with its circuit to the air [K/W], > 0.
        heating_cop: Heat per energy of the heater [1], > 0; None without one, and the pack is as cold as the air.
        cooling_cop: The same of the cooler; None without one, and the pack is as warm as the air.
    """

    setpoint_K: float
    resistance_K_per_W: float
    heating_cop: float | None
    cooling_cop: float | None

    def around_K(self, ambient_K: FloatArray) -> FloatArray:
        """Temperature around the pack [K].

        Args:
            ambient_K: Temperature of the air [K], any shape.
        """
        low = -np.inf if self.heating_cop is None else self.setpoint_K
        high = np.inf if self.cooling_cop is None else self.setpoint_K
        return np.clip(ambient_K, low, high)

    def power_W(self, ambient_K: FloatArray, own_heat_W: float) -> FloatArray:
        """Power that heater and cooler take [W], shape of ``ambient_K``.

        Args:
            ambient_K: Temperature of the air [K], any shape.
            own_heat_W: Heat of the pack, mean over the year [W], >= 0.
        """
        missing_W = (self.setpoint_K - ambient_K) / self.resistance_K_per_W - own_heat_W
        power_W = np.zeros(ambient_K.shape)
        if self.heating_cop is not None:
            power_W += np.maximum(missing_W, 0.0) / self.heating_cop
        if self.cooling_cop is not None:
            power_W += np.maximum(-missing_W, 0.0) / self.cooling_cop
        return power_W
