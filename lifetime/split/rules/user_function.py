"""A split written by the user as a Python function."""

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from lifetime.errors import AssessmentError

BatteryFunction = Callable[[float, float, float, float, Hashable], tuple[float, Hashable]]
"""``(length_s, demand_W, speed_m_s, bank_voltage_V, state) -> (battery_W, state)``; ``state`` is None at the start."""


@dataclass(frozen=True, slots=True)
class UserFunction:
    """The battery's power as the user's own function says.

    Args:
        function: The function.
        name: What messages call it.
    """

    function: BatteryFunction
    name: str

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def start(self) -> Hashable:
        """The function begins with None."""
        return None

    def step(
        self, length_s: float, demand_W: float, speed_m_s: float, bank_voltage_V: float, state: Hashable
    ) -> tuple[float, Hashable]:
        """Demand less what the function gives the battery.

        Raises:
            AssessmentError: The function fails, or gives no finite power.
        """
        try:
            battery_W, after = self.function(length_s, demand_W, speed_m_s, bank_voltage_V, state)
            wish = demand_W - float(battery_W)
        except Exception as error:
            raise AssessmentError(
                f"The split function {self.name} failed at a demand of {demand_W:g} W and a bank voltage of "
                f"{bank_voltage_V:g} V ({type(error).__name__}: {error}). It must take (length_s, demand_W, speed_m_s, "
                "bank_voltage_V, state) and give (battery_W, state)."
            ) from error
        if not math.isfinite(wish):
            raise AssessmentError(
                f"The split function {self.name} gave {battery_W} W at a demand of {demand_W:g} W. It must give a "
                "finite power."
            )
        return wish, after
