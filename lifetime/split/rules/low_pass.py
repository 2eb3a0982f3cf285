"""The battery behind a first-order low-pass filter."""

from typing import Annotated, ClassVar, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.ranges import Seconds
from lifetime.split.controlled import RegulatedRule
from lifetime.stress.scan import affine_scan


class LowPass(RegulatedRule, title="Low-pass filter"):
    """The battery follows the demand through a first-order low-pass filter; the bank takes the difference.

    Source:
        ``P_batt = P_dem / (1 + tau s)``, exact discretisation ``a = 1 - exp(-dt / tau)``; common form of filter-based
        power split in hybrid storage.
    """

    summary: ClassVar[str] = (
        "The battery follows the demand through a first-order low-pass filter; the ultracapacitor takes the difference."
    )

    rule: Literal["low_pass"] = "low_pass"
    time_constant_s: Annotated[
        Seconds,
        about(
            "Time constant",
            "The battery follows a step of the demand to 63 % within this time.",
            unit="s",
            example=20.0,
        ),
    ]

    def ultracapacitor_setpoint_W(
        self, length_s: FloatArray, demand_W: FloatArray, memory: float
    ) -> tuple[FloatArray, float]:
        """Demand less the filter's mean output over each interval; memory is the filter's output [W].

        The filter's mean output follows from its own balance: it stores ``tau * change`` of what goes in.
        """
        after = low_pass(length_s, demand_W, self.time_constant_s, memory)
        if after.size == 0:
            return after, memory
        change = np.diff(after, prepend=memory)
        setpoint = np.divide(self.time_constant_s * change, length_s, out=np.zeros(after.size), where=length_s > 0.0)
        return setpoint, float(after[-1])


def low_pass(length_s: FloatArray, demand_W: FloatArray, time_constant_s: float, start_W: float) -> FloatArray:
    """Output of a first-order low-pass filter at each interval's end, for a demand that is constant over the interval.

    Args:
        length_s: Length of each interval [s], shape (n,).
        demand_W: Demand [W], shape (n,).
        time_constant_s: Of the filter [s], > 0.
        start_W: Output before the first interval [W].

    Returns:
        Output at each interval's end [W], shape (n,): ``y += (1 - exp(-dt / tau)) (P - y)``.
    """
    kept = np.exp(-length_s / time_constant_s)
    return affine_scan(kept, (1.0 - kept) * demand_W, start_W)
