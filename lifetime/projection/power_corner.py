"""End of life by power: whether an aged battery still gives its strategy's pulse in the worst corner of its use.

``P(T, s, t) = I (OCV(s) - I R(T, s, t) R_age)`` at the largest current that neither passes the lowest voltage nor the
limit of current, nor the matched load ``OCV / (2 R)``. At the lowest voltage this is ``V_min (OCV - V_min) / R``.
"""

from dataclasses import dataclass

import numpy as np

from lifetime.ageing.contract import AgeingLaw
from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.projection.limits import Crossing, first_below
from lifetime.projection.years import Trajectory
from lifetime.stress.source import Source
from lifetime.text import percent, significant


@dataclass(frozen=True, slots=True)
class PowerCorner:
    """Where the battery's power is judged.

    Args:
        soc: State of charge [0..1].
        temperature_K: Temperature of the cells [K].
        duration_s: Length of the pulse [s], > 0.
    """

    soc: float
    temperature_K: float
    duration_s: float

    @property
    def words(self) -> str:
        """The corner in words."""
        return (
            f"{significant(self.duration_s)} s at {percent(self.soc)} state of charge and "
            f"{significant(self.temperature_K - ZERO_CELSIUS_K)} °C"
        )


@dataclass(frozen=True, slots=True)
class CornerPower:
    """What a battery gives in the corner.

    Args:
        open_circuit_V: Open-circuit voltage of the pack there [V], > 0.
        resistance_ohm: Of the new pack there, to a pulse of that length [Ω], > 0.
        minimum_voltage_V: Lowest terminal voltage [V].
        most_A: Most discharge current of the pulse [A]; infinity for no limit.
    """

    open_circuit_V: float
    resistance_ohm: float
    minimum_voltage_V: float
    most_A: float

    @classmethod
    def of(cls, source: Source, corner: PowerCorner, most_A: float) -> "CornerPower":
        """A battery in a corner.

        Args:
            source: The battery.
            corner: The corner.
            most_A: Most discharge current of the pulse [A].
        """
        soc, shape = np.array([corner.soc]), source.shape
        factor = shape.at_temperature(np.array([corner.temperature_K])) * shape.at_soc(soc)
        factor = factor * shape.pulse_fraction(np.array([corner.duration_s]))
        return cls(
            float(source.open_circuit_V(soc)[0]),
            source.resistance_ohm * float(factor[0]),
            source.minimum_voltage_V,
            most_A,
        )

    def available_W(self, resistance_ratio: FloatArray) -> FloatArray:
        """Power that the pulse may have [W], >= 0.

        Args:
            resistance_ratio: Resistance by age over the initial one [1], > 0, any shape.
        """
        resistance = self.resistance_ohm * resistance_ratio
        drop_V = max(self.open_circuit_V - self.minimum_voltage_V, 0.0)
        current = np.minimum(self.most_A, min(drop_V, 0.5 * self.open_circuit_V) / resistance)
        return np.asarray(current * (self.open_circuit_V - current * resistance))


@dataclass(frozen=True, slots=True)
class PowerMargin:
    """A battery's power in its corner against what its strategy asks for.

    Args:
        corner: The corner.
        power: What the battery gives there.
        required_W: Largest mean power over that time that the strategy asks of it [W], >= 0.
    """

    corner: PowerCorner
    power: CornerPower
    required_W: float

    @property
    def available_W(self) -> float:
        """Power of the new battery in the corner [W]."""
        return float(self.power.available_W(np.ones(())))

    @property
    def is_met(self) -> bool:
        """Whether the new battery gives what is asked."""
        return self.available_W >= self.required_W

    def crossing(self, law: AgeingLaw, trajectory: Trajectory) -> Crossing:
        """When the battery no longer gives the power.

        Args:
            law: The ageing model.
            trajectory: Its run.
        """

        def margin(clocks: FloatArray) -> FloatArray:
            return self._margin(law.fade(clocks).resistance_ratio)

        years = first_below(trajectory, margin, self._margin(trajectory.resistance_ratio))
        return Crossing("power", years, self.corner.words)

    def _margin(self, resistance_ratio: FloatArray) -> FloatArray:
        margin = self.power.available_W(resistance_ratio) - self.required_W
        # A battery that gives exactly what is asked, or of which nothing is asked, meets it.
        return np.where(margin >= 0.0, margin + np.finfo(float).tiny, margin)
