"""From columns in SI to the quantities of a history: whole times, signed currents, power of phases or of a shaft."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.machine import MachineLosses
from lifetime.history.mapping.modes import UNKNOWN
from lifetime.history.mapping.timestamps import LocalClock, to_utc
from lifetime.history.spec import HistoryInput
from lifetime.units import Quantity


@dataclass(frozen=True, slots=True)
class Derivation:
    """What a study says its columns mean.

    Args:
        discharge_is: Sign of current and power in the file while the source discharges.
        time_zone: Zone of local times, or None.
        current_from_power: True to divide power by voltage.
        current_offset_A: Subtracted from the current [A].
        series: Cells in series to which the voltage of one is scaled, >= 1.
        parallel: Cells in parallel to which the current of one is scaled, >= 1.
        torque_fraction: What the source's winding set carries of the torque [0..1].
        machine: Losses between shaft and source; None for none.
    """

    discharge_is: Literal["positive", "negative"] = "positive"
    time_zone: str | None = None
    current_from_power: bool = False
    current_offset_A: float = 0.0
    series: int = 1
    parallel: int = 1
    torque_fraction: float = 1.0
    machine: MachineLosses | None = None

    @classmethod
    def of_spec(cls, spec: HistoryInput, *, series: int, parallel: int) -> "Derivation":
        """What a study's description of a history says.

        Args:
            spec: The description.
            series: Cells in series of the pack.
            parallel: Cells in parallel of the pack.
        """
        of_cell = spec.quantities_of == "cell"
        return cls(
            discharge_is=spec.discharge_is,
            time_zone=spec.time_zone,
            current_from_power=spec.current_from_power,
            current_offset_A=spec.current_offset_A,
            series=series if of_cell else 1,
            parallel=parallel if of_cell else 1,
            torque_fraction=spec.torque_fraction,
            machine=spec.machine,
        )

    def clock(self) -> LocalClock | None:
        """A fresh memory for local times, or None where times need none."""
        return None if self.time_zone is None else LocalClock()

    def apply(self, roles: Mapping[str, FloatArray], clock: LocalClock | None) -> dict[Quantity, FloatArray]:
        """Make quantities from columns; where a row contradicts itself the result is NaN.

        Args:
            roles: Columns in SI by role, all of one length.
            clock: What ``clock`` gave, for stretches in their order.

        Returns:
            Arrays by quantity, of the same length.
        """
        made: dict[Quantity, FloatArray] = {"time": self._time(roles, clock)}
        current, power = self._current(roles), self._power(roles)
        voltage = roles.get("voltage")
        if voltage is not None and self.series > 1:
            voltage = voltage * self.series
        if self.current_from_power and power is not None and voltage is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                current, power = np.where(voltage > 0.0, power / voltage, np.nan), None
        if current is not None:
            made["current"] = current - self.current_offset_A if self.current_offset_A else current
        if power is not None:
            made["power"] = power
        if voltage is not None:
            made["voltage"] = voltage
        if "speed" in roles:
            made["speed"] = roles["speed"]
        if "temperature" in roles:
            made["temperature"] = roles["temperature"]
        return made

    def _time(self, roles: Mapping[str, FloatArray], clock: LocalClock | None) -> FloatArray:
        time = roles["time"]
        if "date" in roles:
            time = roles["date"] + time
        if self.time_zone is None or clock is None:
            return time
        known = np.isfinite(time)
        result = np.full(time.size, np.nan)
        result[known] = to_utc(time[known], ZoneInfo(self.time_zone), clock)
        return result

    def _signed(self, values: FloatArray, roles: Mapping[str, FloatArray]) -> FloatArray:
        if "mode" in roles:
            sign = roles["mode"]
            # A current while the mode is one that the study does not explain has no sign, and none is guessed.
            known = np.where(sign == UNKNOWN, 0.0, sign) * np.abs(values)
            return np.where((sign == UNKNOWN) & (values != 0.0), np.nan, known)
        return 0.0 - values if self.discharge_is == "negative" else values  # not -values, which makes -0 of 0

    def _current(self, roles: Mapping[str, FloatArray]) -> FloatArray | None:
        if "current" in roles:
            current = self._signed(roles["current"], roles)
        elif "charge_current" in roles:
            charge, discharge = roles["charge_current"], roles["discharge_current"]
            current = np.where((charge >= 0.0) & (discharge >= 0.0), discharge - charge, np.nan)
        else:
            return None
        return current * self.parallel if self.parallel > 1 else current

    def _power(self, roles: Mapping[str, FloatArray]) -> FloatArray | None:
        if "power" in roles:
            power = self._signed(roles["power"], roles)
        elif "phase_current_1" in roles:
            # Sum of products of instantaneous values: Blondel's theorem, for n conductors n or n - 1 of them.
            pairs = [n for n in (1, 2, 3) if f"phase_current_{n}" in roles]
            total = sum((roles[f"phase_current_{n}"] * roles[f"phase_voltage_{n}"] for n in pairs), np.zeros(1))
            power = 0.0 - total if self.discharge_is == "negative" else total
        elif "torque" in roles:
            return self._power_of_torque(roles["torque"], roles["shaft_speed"])
        else:
            return None
        cells = self.series * self.parallel
        return power * cells if cells > 1 else power

    def _power_of_torque(self, torque_Nm: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        # The sign is settled first: losses are the source's in either direction.
        torque = self.torque_fraction * (0.0 - torque_Nm if self.discharge_is == "negative" else torque_Nm)
        return torque * speed_rad_s if self.machine is None else self.machine.electrical_W(torque, speed_rad_s)
