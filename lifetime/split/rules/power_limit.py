"""The battery within power limits, the ultracapacitor beyond them, with a band in which nothing switches."""

from typing import Annotated, ClassVar, Final, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.notices import Notice
from lifetime.ranges import Watts
from lifetime.split.controlled import RegulatedRule
from lifetime.split.share import SharedPass
from lifetime.split.windings import TwoWindings

_SAME_POWER: Final = 1e-6
"""Relative and absolute [W] residue of rounding by which a limit is not passed."""


class PowerLimit(RegulatedRule, title="Power limit"):
    """The battery delivers and absorbs up to a limit; the bank takes the rest.

    With a band the bank only comes in when the demand passes a limit by that much, and goes out again when the demand
    is back within the limit; until then the battery carries what is between.

    Source:
        ``P_batt = clip(P_dem, -charge_limit, discharge_limit)``; common practice, no source.
    """

    summary: ClassVar[str] = (
        "The battery delivers and absorbs power up to its limits; the ultracapacitor takes what is beyond them. With a "
        "hysteresis it engages late and disengages early."
    )

    rule: Literal["power_limit"] = "power_limit"
    discharge_limit_W: Annotated[
        Watts, about("Battery discharges up to", "Largest power that the battery delivers.", unit="W", example=60000.0)
    ]
    charge_limit_W: Annotated[
        Watts,
        about(
            "Battery charges up to",
            "Largest power that the battery absorbs, as a positive number.",
            unit="W",
            example=20000.0,
        ),
    ]
    hysteresis_W: Annotated[
        Watts,
        about(
            "Hysteresis",
            "The demand must pass a limit by this much before the ultracapacitor comes in.",
            unit="W",
            example=2000.0,
        ),
    ] = 0.0

    def ultracapacitor_setpoint_W(
        self, length_s: FloatArray, demand_W: FloatArray, memory: float
    ) -> tuple[FloatArray, float]:
        """What is beyond the battery's limits, while the bank is in; memory is 1 while it is."""
        beyond = demand_W - np.clip(demand_W, -self.charge_limit_W, self.discharge_limit_W)
        if self.hysteresis_W == 0.0 or demand_W.size == 0:
            return beyond, memory
        comes_in = np.abs(beyond) > self.hysteresis_W
        decided = comes_in | (beyond == 0.0)
        # The last decision before each interval, carried on from it.
        last = np.maximum.accumulate(np.where(decided, np.arange(demand_W.size), -1))
        engaged = np.where(last >= 0, comes_in[np.maximum(last, 0)], memory > 0.5)
        return np.where(engaged, beyond, 0.0), float(engaged[-1])

    def day_notices(self, day: list[SharedPass], windings: TwoWindings | None = None) -> list[Notice]:
        """Where the battery passes a limit all the same, because the bank cannot take the rest."""
        where_met = self.converters.battery_side(windings).where_met
        power = np.concatenate([where_met(one.battery_W) for one in day])
        length = np.concatenate([one.length_s for one in day])
        ways = (
            ("discharge", self.discharge_limit_W, power, "empty"),
            ("charge", self.charge_limit_W, -power, "full"),
        )
        parts = []
        for way, limit_W, towards_W, state in ways:
            above = towards_W > (limit_W + self.hysteresis_W) * (1.0 + _SAME_POWER) + _SAME_POWER
            if above.any():
                largest = float(towards_W[above].max())
                parts.append(
                    f"its {way} limit of {limit_W / 1000:.4g} kW for {float(length[above].sum()):,.0f} s of the day "
                    f"(largest {largest / 1000:.4g} kW), because the ultracapacitor is {state} or at its limits"
                )
        return [Notice("battery_limit_passed", f"The battery passes {'; and '.join(parts)}.")] if parts else []
