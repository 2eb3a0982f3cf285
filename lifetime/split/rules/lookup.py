"""Any controller's map: the battery's share over demand and bank voltage."""

from bisect import bisect_right
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.notices import Notice


@dataclass(frozen=True, slots=True)
class Lookup:
    """The battery's share is read from a map, straight between its points and held beyond its edges.

    Args:
        demand_W: Points of demand [W], shape (n,), increasing, n >= 2.
        bank_voltage_V: Points of bank voltage [V], shape (m,), increasing, m >= 2.
        battery_share: Share at each point [1], n rows of m.

    Source:
        Bilinear interpolation; any textbook on numerical methods.
    """

    demand_W: tuple[float, ...]
    bank_voltage_V: tuple[float, ...]
    battery_share: tuple[tuple[float, ...], ...]

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def start(self) -> Hashable:
        """Nothing to remember."""
        return None

    def step(
        self, length_s: float, demand_W: float, speed_m_s: float, bank_voltage_V: float, state: Hashable
    ) -> tuple[float, Hashable]:
        """The map's share of the demand."""
        return demand_W * (1.0 - self.share(demand_W, bank_voltage_V)), None

    def share(self, demand_W: float, bank_voltage_V: float) -> float:
        """The battery's share at one point [1].

        Args:
            demand_W: Demand [W].
            bank_voltage_V: Bank voltage [V].
        """
        row, down = _place(self.demand_W, demand_W)
        column, along = _place(self.bank_voltage_V, bank_voltage_V)
        upper, lower = self.battery_share[row], self.battery_share[row + 1]
        first = upper[column] + along * (upper[column + 1] - upper[column])
        second = lower[column] + along * (lower[column + 1] - lower[column])
        return first + down * (second - first)

    def notices(self, demand_W: FloatArray) -> list[Notice]:
        """Say where a demand leaves the map.

        Args:
            demand_W: The demand [W], shape (n,).
        """
        low, high = self.demand_W[0], self.demand_W[-1]
        beyond = float(np.mean((demand_W < low) | (demand_W > high)))
        if beyond == 0.0:
            return []
        text = (
            f"The demand lies outside the map's {low:g} to {high:g} W in {100 * beyond:.1f} % of its intervals; the "
            "edge's share is held there."
        )
        return [Notice("demand_beyond_map", text)]


def _place(points: tuple[float, ...], value: float) -> tuple[int, float]:
    """Which pair of points a value lies between, and how far along, 0 to 1."""
    at = min(max(bisect_right(points, value) - 1, 0), len(points) - 2)
    share = (value - points[at]) / (points[at + 1] - points[at])
    return at, min(max(share, 0.0), 1.0)
