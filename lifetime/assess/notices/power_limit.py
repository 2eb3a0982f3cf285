"""Where a battery with a power limit exceeds it all the same, because the bank cannot take the rest."""

from dataclasses import dataclass

import numpy as np

from lifetime.notices import Notice
from lifetime.split.losses import Loss
from lifetime.split.share import SharedPass

_SAME_POWER = 1e-6


@dataclass(frozen=True, slots=True)
class BatteryLimits:
    """Limits of the battery's power on the machine's side.

    Args:
        discharge_W: Largest discharge power [W], >= 0.
        charge_W: Largest charge power [W], >= 0.
        hysteresis_W: By how much the rule itself may exceed them [W], >= 0.
    """

    discharge_W: float
    charge_W: float
    hysteresis_W: float = 0.0


def limit_notices(limits: BatteryLimits, loss: Loss, passes: list[SharedPass]) -> list[Notice]:
    """Say for how long and by how much the battery exceeds its limits.

    Args:
        limits: The limits.
        loss: Between the battery and the machine.
        passes: The day's passes.
    """
    power = np.concatenate([loss.at_machine(drive.battery_W) for drive in passes])
    length = np.concatenate([drive.length_s for drive in passes])
    directions = (
        ("discharge", limits.discharge_W, power, "empty"),
        ("charge", limits.charge_W, -power, "full"),
    )
    parts = []
    for direction, limit_W, towards_W, state in directions:
        above = towards_W > (limit_W + limits.hysteresis_W) * (1.0 + _SAME_POWER) + _SAME_POWER
        if above.any():
            largest = float(towards_W[above].max())
            parts.append(
                f"its {direction} limit of {limit_W / 1000:.4g} kW for {float(length[above].sum()):,.0f} s of the day "
                f"(largest {largest / 1000:.4g} kW), because the ultracapacitor bank is {state} then or at its own "
                "limits"
            )
    return [Notice("battery_limit_passed", f"The battery exceeds {'; and '.join(parts)}.")] if parts else []
