"""What converters and inverters lose between a source's terminals and the machine."""

from itertools import pairwise
from typing import Annotated, Final, Self

import numpy as np
from pydantic import Field, model_validator

from lifetime.checks import FloatArray
from lifetime.keys import about
from lifetime.ranges import Efficiency, OhmsOrZero, Volts, VoltsOrZero, Watts
from lifetime.section import Section

_FAR: Final = 1e9
"""Beyond the last point of a map its efficiency holds up to so many times that power."""

MapPowers = Annotated[
    tuple[Annotated[float, Field(ge=1e-3, le=1e12)], ...], Field(min_length=1, max_length=1000, strict=False)
]
MapEfficiencies = Annotated[tuple[Efficiency, ...], Field(min_length=1, max_length=1000, strict=False)]


class Loss(Section):
    """Loss of one converter or inverter, by its power on the machine's side.

    ``loss = fixed_W + linear_V I + quadratic_ohm I**2`` with ``I = |power| / voltage_V``, besides what an efficiency
    takes: with it a discharging source gives ``P / efficiency`` and a charging one takes ``P * efficiency``. An
    efficiency may be a map over the power instead; between its points the loss runs straight.

    Args:
        efficiency: Constant efficiency each way [1], above 0, up to 1; None for no such loss.
        fixed_W: Loss at any power [W], >= 0.
        linear_V: Loss per ampere [V], >= 0.
        quadratic_ohm: Loss per squared ampere [Ω], >= 0.
        voltage_V: Voltage that turns power into current [V], > 0; needed for the two terms above.
        map_power_W: Powers on the machine's side at which the efficiency is known [W], > 0, increasing.
        map_efficiency: Efficiency at each of them [1], above 0, up to 1; in place of all terms but ``fixed_W``.

    Source:
        ``a + b I + c I**2``: conduction and switching of power electronics; common practice, no source.
    """

    efficiency: Annotated[
        Efficiency | None,
        about(
            "Efficiency",
            "The same in both directions and at any power; empty for 100 %.",
            unit="fraction",
            example=0.97,
        ),
    ] = None
    fixed_W: Annotated[Watts, about("Fixed loss", "Power that is lost at any load.", unit="W", example=30.0)] = 0.0
    linear_V: Annotated[
        VoltsOrZero,
        about("Loss per ampere", "Loss that grows with the current; needs the voltage.", unit="V", example=0.7),
    ] = 0.0
    quadratic_ohm: Annotated[
        OhmsOrZero,
        about(
            "Loss per squared ampere",
            "Loss that grows with the square of the current; needs the voltage.",
            unit="ohm",
            example=0.002,
        ),
    ] = 0.0
    voltage_V: Annotated[
        Volts | None,
        about(
            "Voltage of the converter",
            "Turns power into current for the losses that depend on current.",
            unit="V",
            example=400.0,
        ),
    ] = None

    map_power_W: Annotated[
        MapPowers | None,
        about(
            "Powers of the efficiency map",
            "On the machine's side, increasing, for both directions; below the first and above the last one their "
            "efficiency holds.",
            unit="W",
            example=[5000.0, 25000.0, 100000.0],
        ),
    ] = None
    map_efficiency: Annotated[
        MapEfficiencies | None,
        about(
            "Efficiency at these powers",
            "One for each power, the loss straight between; in place of the efficiency and of the losses by current.",
            unit="fraction",
            example=[0.92, 0.97, 0.96],
        ),
    ] = None

    @model_validator(mode="after")
    def _has_the_voltage_it_needs(self) -> Self:
        if (self.linear_V > 0.0 or self.quadratic_ohm > 0.0) and self.voltage_V is None:
            raise ValueError("linear_V and quadratic_ohm need voltage_V, the voltage that turns power into current")
        return self

    @model_validator(mode="after")
    def _map_fits(self) -> Self:
        powers, efficiencies = self.map_power_W, self.map_efficiency
        if powers is None and efficiencies is None:
            return self
        if powers is None or efficiencies is None or len(powers) != len(efficiencies):
            raise ValueError("map_power_W and map_efficiency belong together: give one efficiency for each power")
        if self.efficiency is not None or self.linear_V > 0.0 or self.quadratic_ohm > 0.0:
            raise ValueError(
                "give either an efficiency map, or an efficiency or losses by current; both would count losses twice"
            )
        points = list(zip(powers, efficiencies, strict=True))
        for (low, at_low), (high, at_high) in pairwise(points):
            if high <= low:
                raise ValueError("map_power_W must increase from point to point")
            if high / at_high <= low / at_low or high * at_high <= low * at_low:
                raise ValueError(
                    f"from {low:g} to {high:g} W the efficiency changes so much that more power on one side would be "
                    "less on the other; check map_efficiency"
                )
        return self

    @property
    def is_none(self) -> bool:
        """True where nothing is lost."""
        without_map = self.map_efficiency is None or set(self.map_efficiency) == {1.0}
        return without_map and self._each_way == 1.0 and self.fixed_W == self.linear_V == self.quadratic_ohm == 0.0

    @property
    def _map(self) -> tuple[FloatArray, FloatArray, FloatArray] | None:
        """Powers on the machine's side, and at the source while it discharges and charges [W]; None without a map."""
        if self.map_power_W is None or self.map_efficiency is None:
            return None
        power = np.array([0.0, *self.map_power_W, _FAR * self.map_power_W[-1]])
        efficiency = np.array([1.0, *self.map_efficiency, self.map_efficiency[-1]])
        return power, power / efficiency, power * efficiency

    @property
    def _each_way(self) -> float:
        return 1.0 if self.efficiency is None else self.efficiency

    @property
    def _volts(self) -> float:
        return 1.0 if self.voltage_V is None else self.voltage_V

    def at_source(self, machine_W: FloatArray) -> FloatArray:
        """Power at the source's terminals for a power on the machine's side [W].

        Args:
            machine_W: Positive towards the machine [W], any shape.
        """
        if (points := self._map) is not None:
            machine, discharging, charging = points
            size = np.abs(machine_W)
            by_map = np.where(
                machine_W > 0.0, np.interp(size, machine, discharging), -np.interp(size, machine, charging)
            )
            return by_map + self.fixed_W
        by_efficiency = np.where(machine_W > 0.0, machine_W / self._each_way, machine_W * self._each_way)
        current = np.abs(machine_W) / self._volts
        return by_efficiency + self.fixed_W + (self.linear_V + self.quadratic_ohm * current) * current

    def at_machine(self, source_W: FloatArray) -> FloatArray:
        """Power on the machine's side for a power at the source's terminals [W]; undoes ``at_source``.

        Beyond the most that a charging source can be given, that most is returned.

        Args:
            source_W: Positive when the source discharges [W], any shape.
        """
        left = source_W - self.fixed_W
        if (points := self._map) is not None:
            machine, discharging, charging = points
            size = np.abs(left)
            return np.where(left > 0.0, np.interp(size, discharging, machine), -np.interp(size, charging, machine))
        slope, bend = self.linear_V / self._volts, self.quadratic_ohm / self._volts**2
        gain = np.where(left > 0.0, 1.0 / self._each_way + slope, self._each_way - slope)
        if bend == 0.0:
            return np.asarray(left / gain)
        # bend P**2 + gain P = left for P > 0, and -(bend P**2) + gain |P| = |left| for P < 0.
        inside = gain**2 + np.where(left > 0.0, 4.0, -4.0) * bend * np.abs(left)
        size = 2.0 * np.abs(left) / (gain + np.sqrt(np.maximum(inside, 0.0)))
        return np.asarray(np.where(left > 0.0, size, -size))


NO_LOSS = Loss()
