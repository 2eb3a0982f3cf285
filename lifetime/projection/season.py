"""The resistance of each of the season's temperatures: that of the cells' mean temperature while they are loaded."""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import GAS_CONSTANT_J_PER_MOL_K
from lifetime.packs.resistance import ResistanceShape
from lifetime.stress.day import Day

_ROUNDS: Final = 30
_SETTLED: Final = 1e-12


class SeasonalResistance:
    """Resistance of a loaded source at each temperature of the season, over the stated one.

    A resistance heats the cells, and warm cells have less of it; the two are solved together for the mean temperature
    at which the day's heat is made. Within the day one resistance holds: a colder morning makes more of the heat, an
    evening less, and the day's sum is kept to second order.

    Args:
        shape: How the resistance depends on temperature.
        day: The day, traced.
        ambient_K: Temperatures around the source over the year [K], shape (n,).
    """

    def __init__(self, shape: ResistanceShape, day: Day, ambient_K: FloatArray) -> None:
        self._shape = shape
        self._base_K = ambient_K
        self._rise_K = 0.0
        if self.varies and day.heated is not None:
            heated = day.heated
            self._base_K = heated.ambient_share * ambient_K + heated.fixed_K
            self._rise_K = heated.rise_K + day.starting_rise_K * heated.decay

    @property
    def varies(self) -> bool:
        """Whether temperature matters at all."""
        return self._shape.varies_with_temperature

    def factors(self, warming: float) -> FloatArray:
        """Factor at each temperature [1], shape (n,); 1 at 25 °C.

        Args:
            warming: Heat at the stated resistance over that of the traced day [1], >= 0: health and load.
        """
        if not self.varies:
            return np.ones(self._base_K.size)
        log = np.log(self._shape.at_temperature(self._base_K))
        for _ in range(_ROUNDS):
            temperature = self._base_K + warming * self._rise_K * np.exp(log)
            # Newton on the logarithm: what is looked for rises with it and never turns.
            miss = log - np.log(self._shape.at_temperature(temperature))
            kelvin = self._shape.activation_at(temperature) / GAS_CONSTANT_J_PER_MOL_K
            slope = 1.0 + kelvin * (temperature - self._base_K) / temperature**2
            log = log - miss / slope
            if float(np.max(np.abs(miss))) <= _SETTLED:
                break
        return np.asarray(np.exp(log))
