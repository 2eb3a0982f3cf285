"""Where the heat of a day is made, and how much of it charging makes."""

from dataclasses import dataclass

import numpy as np

from lifetime.stress.charging import ChargeStage
from lifetime.stress.drive import Drive
from lifetime.stress.source import Source


@dataclass(frozen=True, slots=True)
class HeatedState:
    """Mean temperature of the cells while a drive heats them, weighted by the heat, in the parts of ``day.Bins``.

    Args:
        ambient_share: Share of the season's ambient temperature in it.
        fixed_K: Part that neither season nor health move [K]; without the hot spot, which the resistance is not at.
        rise_K: Rise at stated resistance from a cold start of the day [K].
        decay: Share of the day's starting rise in it [0..1].
    """

    ambient_share: float
    fixed_K: float
    rise_K: float
    decay: float

    @classmethod
    def of(cls, drive: Drive, ambient_share: float, shift_K: float) -> "HeatedState | None":
        """Of a drive; None where it makes no heat.

        Args:
            drive: The drive.
            ambient_share: Share of the season's ambient in its temperatures.
            shift_K: What the season's ambient takes the place of in a measured temperature [K].
        """
        if drive.heat_A2s <= 0.0:
            return None
        return cls(ambient_share, drive.heat_measured_K - shift_K, drive.heat_rise_K, drive.heat_decay)


def charging_heat_A2s(source: Source, stages: list[ChargeStage], drawn_As: float) -> float:
    """Heat of charging over the stated resistance [A²s].

    Args:
        source: The source.
        stages: The stages of charging.
        drawn_As: Charge drawn before them [As].
    """
    heat = 0.0
    for stage in stages:
        heat += stage.current_A * stage.charge_As * steady_factor(source, stage, drawn_As)
        drawn_As -= stage.charge_As
    return heat


def steady_factor(source: Source, stage: ChargeStage, drawn_As: float) -> float:
    """Resistance that a stage of charging meets, over the stated one [1]: a long current meets all of it.

    Args:
        source: The source.
        stage: The stage.
        drawn_As: Charge drawn before it [As].
    """
    charge = drawn_As - stage.charge_As * (np.arange(stage.steps) + 0.5) / stage.steps
    factor = source.shape.at_soc(source.start_soc - charge / source.capacity_As)
    return source.shape.steady_fraction * float(factor.mean())
