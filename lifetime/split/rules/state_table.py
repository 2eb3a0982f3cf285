"""A table of rules: what is asked and how full the bank is decide the battery's share."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Literal

Request = Literal["traction", "braking", "any"]
Level = Literal["low", "middle", "high", "any"]


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row.

    Args:
        request: When it holds: the demand's sign.
        level: When it holds: how full the bank is.
        battery_share: Share of the demand that the battery takes [1]; beyond 0..1 one source charges the other.
    """

    request: Request
    level: Level
    battery_share: float


@dataclass(frozen=True, slots=True)
class StateTable:
    """The first row that fits decides; where none does, the battery takes all.

    The bank is low below one voltage and high above another; it only changes level when it passes the edge by half the
    hysteresis, so that it does not flutter between two rows.

    Args:
        rows: In order.
        low_voltage_V: Upper edge of "low" [V].
        high_voltage_V: Lower edge of "high" [V], >= ``low_voltage_V``.
        hysteresis_V: Width of each edge [V], >= 0.

    Source:
        Rule tables on the sign of the power request and the sources' states; common practice, no source.
    """

    rows: tuple[TableRow, ...]
    low_voltage_V: float
    high_voltage_V: float
    hysteresis_V: float = 0.0

    @property
    def uses_bank(self) -> bool:
        """With bank."""
        return True

    def start(self) -> Hashable:
        """No level yet."""
        return "unknown"

    def step(
        self, length_s: float, demand_W: float, speed_m_s: float, bank_voltage_V: float, state: Hashable
    ) -> tuple[float, Hashable]:
        """The share of the first row that fits."""
        level = self._level(bank_voltage_V, state)
        request = "traction" if demand_W >= 0.0 else "braking"
        for row in self.rows:
            if row.request in (request, "any") and row.level in (level, "any"):
                return demand_W * (1.0 - row.battery_share), level
        return 0.0, level

    def _level(self, voltage_V: float, before: Hashable) -> Level:
        half = 0.5 * self.hysteresis_V
        low = self.low_voltage_V + (half if before == "low" else -half)
        high = self.high_voltage_V + (-half if before == "high" else half)
        if voltage_V < low:
            return "low"
        return "high" if voltage_V > high else "middle"
