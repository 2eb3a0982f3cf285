"""Temperature over a day, kept in the parts that season, measurement and health move apart from each other."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.drive import Drive


@dataclass(frozen=True, slots=True)
class DayTemperature:
    """Temperature at a moment of the day, as the four parts that ``Bins`` explains.

    Args:
        ambient_share: Share of the season's ambient temperature in it [1].
        fixed_K: Part that neither season nor health move [K].
        rise_K: Rise at initial resistance from a cold start of the day [K].
        decay: Share of the day's starting rise still left [0..1].
    """

    ambient_share: float
    fixed_K: float
    rise_K: float
    decay: float

    def relaxed(self, kept: FloatArray, steady_rise_K: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """The four parts on the way to a steady state.

        Args:
            kept: Share of the distance to it that is left [0..1], shape (n,).
            steady_rise_K: Rise there, at initial resistance [K].

        Returns:
            The parts in their order, shape (n,) each.
        """
        return (
            1.0 - (1.0 - self.ambient_share) * kept,
            self.fixed_K * kept,
            self.rise_K * kept + steady_rise_K * (1.0 - kept),
            self.decay * kept,
        )

    def at(self, kept: float, steady_rise_K: float) -> "DayTemperature":
        """The temperature from which the next stretch of the day begins.

        Args:
            kept: Share of the distance to the steady state that is left [0..1].
            steady_rise_K: Rise there, at initial resistance [K].
        """
        parts = self.relaxed(np.array([kept]), steady_rise_K)
        return DayTemperature(*(float(part[0]) for part in parts))


@dataclass(frozen=True, slots=True)
class Season:
    """How far the temperatures of a drive go with the season's ambient.

    Args:
        ambient_share: Share of the ambient in them, 0 or 1.
        shift_K: Ambient temperature that a measurement already contains [K].
    """

    ambient_share: float
    shift_K: float

    @classmethod
    def of(cls, drive: Drive, ambient_at_test_K: float | None) -> "Season":
        """Without a measurement all are rises above the ambient; measured ones follow it from a stated test only.

        Args:
            drive: The day's driving.
            ambient_at_test_K: Ambient temperature during the measurement [K]; None where it is not stated.
        """
        if drive.end_measured_K is None:
            return cls(1.0, 0.0)
        return cls(0.0, 0.0) if ambient_at_test_K is None else cls(1.0, ambient_at_test_K)

    def share(self, size: int) -> FloatArray:
        """The ambient's share in each of so many temperatures.

        Args:
            size: How many.
        """
        return np.full(size, self.ambient_share)

    def fixed_K(self, measured_K: FloatArray) -> FloatArray:
        """What of measured temperatures neither season nor health move [K].

        Args:
            measured_K: Measured temperatures [K], any shape; 0 where none was measured.
        """
        return measured_K - self.shift_K
