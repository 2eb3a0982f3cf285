"""The battery changes its power no faster than a limit."""

from typing import Annotated, ClassVar, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.ranges import WattsPerSecond
from lifetime.split.controlled import RegulatedRule


class RampLimit(RegulatedRule, title="Ramp limit"):
    """The battery follows the demand as fast as its ramp allows; the bank takes the difference.

    Source:
        ``|dP_batt/dt|`` limited; common practice, no source.
    """

    summary: ClassVar[str] = (
        "The battery follows the demand no faster than its ramp allows; the ultracapacitor takes the difference."
    )

    rule: Literal["ramp_limit"] = "ramp_limit"
    rise_W_per_s: Annotated[
        WattsPerSecond,
        about("Fastest rise", "The battery's power rises no faster than this.", unit="W/s", example=2000.0),
    ]
    fall_W_per_s: Annotated[
        WattsPerSecond,
        about(
            "Fastest fall",
            "The battery's power falls no faster than this, as a positive number.",
            unit="W/s",
            example=2000.0,
        ),
    ]

    def ultracapacitor_setpoint_W(
        self, length_s: FloatArray, demand_W: FloatArray, memory: float
    ) -> tuple[FloatArray, float]:
        """Demand less the battery's mean power over each interval; memory is the battery's power at its end.

        Within an interval the power changes at the limit until it meets the demand, and stays there.
        """
        battery = np.empty(demand_W.size)
        rise, fall = self.rise_W_per_s, self.fall_W_per_s
        now = memory
        for at, (length, demand) in enumerate(zip(length_s.tolist(), demand_W.tolist(), strict=True)):
            rate = rise if demand > now else fall
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
