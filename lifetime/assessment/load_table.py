"""What a battery pack may be loaded with at each temperature, from its cell's limits and the study's."""

from dataclasses import dataclass

import numpy as np

from lifetime.packs.current_table import CurrentTable
from lifetime.stress.current_limits import Ceiling, LoadLimits


@dataclass(frozen=True, slots=True, eq=False)
class LoadTable:
    """Limits of a pack over temperature.

    Args:
        capacity_Ah: Rated capacity of the pack [Ah], > 0.
        peak_A: Makers' maximum current of the pack [A]; None where not known.
        continuous_A: Makers' continuous current of the pack [A]; None where not known.
        discharge: Table of the cell's discharge; None for none.
        charge: The same of its charge.
        minimum_voltage_V: Lowest terminal voltage [V].
        maximum_voltage_V: Highest terminal voltage [V].
        maximum_soc: Highest state of charge allowed [0..1].
        power_W: Most power of the inverter [W]; None for no limit.
    """

    capacity_Ah: float
    peak_A: float | None
    continuous_A: float | None
    discharge: CurrentTable | None
    charge: CurrentTable | None
    minimum_voltage_V: float
    maximum_voltage_V: float
    maximum_soc: float
    power_W: float | None

    def at(self, temperature_K: float) -> LoadLimits:
        """The limits at a temperature.

        Args:
            temperature_K: Mean temperature of the cells [K].
        """
        return LoadLimits(
            discharge=self._ceiling(self.discharge, temperature_K),
            charge=self._ceiling(self.charge, temperature_K),
            minimum_voltage_V=self.minimum_voltage_V,
            maximum_voltage_V=self.maximum_voltage_V,
            maximum_soc=self.maximum_soc,
            power_W=float("inf") if self.power_W is None else self.power_W,
        )

    def _ceiling(self, table: CurrentTable | None, temperature_K: float) -> Ceiling:
        peak = float("inf") if self.peak_A is None else self.peak_A
        if table is None:
            means = np.full(4, np.inf)
            factors = {}
        else:
            means = table.rates_at(temperature_K) * self.capacity_Ah
            factors = {"soc": np.array(table.soc), "factor": np.array(table.soc_factor)}
        if self.continuous_A is not None:
            means[-1] = min(means[-1], self.continuous_A)
        # Where even the longest duration allows nothing, no moment does.
        if means.min() == 0.0:
            peak = 0.0
        return Ceiling(peak, tuple(means.tolist()), **factors)
