"""Most current of a cell in one direction: over temperature and duration, and over state of charge."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import NumberError

DURATIONS: Final = ("pulse_1s", "pulse_10s", "pulse_30s", "continuous")
"""Rows of a table, shortest first."""


@dataclass(frozen=True, slots=True)
class CurrentTable:
    """Makers' limits as steps: the value at a step's lower edge holds up to the next.

    Args:
        temperature_C: Lower edges of the steps of temperature [°C], rising; below the first no current is allowed.
        rates: Most current over rated capacity in each step [1/h], by the names in ``DURATIONS``; a duration that is
            left out has no limit of its own.
        soc: Lower edges of the steps of state of charge [0..1], rising.
        soc_factor: Factor of all currents in each [1], >= 0.

    Raises:
        NumberError: Edges that do not rise, rows of another length, an unknown duration, or a number below 0.
    """

    temperature_C: tuple[float, ...]
    rates: tuple[tuple[str, tuple[float, ...]], ...]
    soc: tuple[float, ...] = (0.0,)
    soc_factor: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for name, edges in (("temperature_C", self.temperature_C), ("soc", self.soc)):
            if not edges or not (np.diff(edges) > 0.0).all():
                raise NumberError(f"Current limits: {name} must be values each above the one before, got {edges}.")
        rows = [*self.rates, ("soc_factor", self.soc_factor)]
        for name, values in rows:
            edges = self.soc if name == "soc_factor" else self.temperature_C
            if name not in (*DURATIONS, "soc_factor") or len(values) != len(edges) or min(values) < 0.0:
                raise NumberError(f"Current limits: {name} must be {len(edges)} values of at least 0, got {values}.")

    def rates_at(self, temperature_K: float) -> FloatArray:
        """Most current over rated capacity by duration, shortest first [1/h]; infinity where there is no limit.

        Args:
            temperature_K: Mean temperature of the cells [K].
        """
        place = int(np.searchsorted(self.temperature_C, temperature_K - ZERO_CELSIUS_K, side="right")) - 1
        known = dict(self.rates)
        if place < 0:
            return np.zeros(len(DURATIONS))
        return np.array([known[name][place] if name in known else np.inf for name in DURATIONS])
