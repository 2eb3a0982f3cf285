"""What converters and inverters lose between a source's terminals and the machine."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Loss:
    """Loss of one converter or inverter, by its power on the machine's side.

    ``loss = (1 - efficiency) share + fixed_W + linear_V I + quadratic_ohm I**2`` with ``I = |power| / voltage_V``. With
    an efficiency, a discharging source gives ``P / efficiency`` and a charging one takes ``P * efficiency``.

    Args:
        efficiency: Constant efficiency each way [1], above 0, up to 1.
        fixed_W: Loss at any power [W], >= 0.
        linear_V: Loss per ampere [V], >= 0.
        quadratic_ohm: Loss per squared ampere [Ω], >= 0.
        voltage_V: Voltage that turns power into current [V], > 0.

    Source:
        ``a + b I + c I**2``: conduction and switching of power electronics; common practice, no source.
    """

    efficiency: float = 1.0
    fixed_W: float = 0.0
    linear_V: float = 0.0
    quadratic_ohm: float = 0.0
    voltage_V: float = 1.0

    @property
    def is_none(self) -> bool:
        """True where nothing is lost."""
        return self == Loss(voltage_V=self.voltage_V)

    def at_source(self, machine_W: FloatArray) -> FloatArray:
        """Power at the source's terminals for a power on the machine's side [W].

        Args:
            machine_W: Positive towards the machine, any shape.
        """
        by_efficiency = np.where(machine_W > 0.0, machine_W / self.efficiency, machine_W * self.efficiency)
        current = np.abs(machine_W) / self.voltage_V
        return by_efficiency + self.fixed_W + (self.linear_V + self.quadratic_ohm * current) * current

    def at_machine(self, source_W: FloatArray) -> FloatArray:
        """Power on the machine's side for a power at the source's terminals [W]; undoes ``at_source``.

        Beyond the most that a charging source can be given, that most is returned.

        Args:
            source_W: Positive when the source discharges, any shape.
        """
        left = source_W - self.fixed_W
        slope, bend = self.linear_V / self.voltage_V, self.quadratic_ohm / self.voltage_V**2
        gain = np.where(left > 0.0, 1.0 / self.efficiency + slope, self.efficiency - slope)
        if bend == 0.0:
            return np.asarray(left / gain)
        # bend P**2 + gain P = left for P > 0, and -(bend P**2) + gain |P| = |left| for P < 0.
        inside = gain**2 + np.where(left > 0.0, 4.0, -4.0) * bend * np.abs(left)
        size = 2.0 * np.abs(left) / (gain + np.sqrt(np.maximum(inside, 0.0)))
        return np.asarray(np.where(left > 0.0, size, -size))


NO_LOSS = Loss()
