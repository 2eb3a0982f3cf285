"""Time bins of a day, by state of charge and temperature, that any health and season can read."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Bins:
    """Time bins of one day whose temperature and state of charge still depend on health and season, shape (n,).

    State of charge is ``soc - charge / (capacity * capacity_fraction)``. Temperature is ``ambient_share * ambient +
    fixed + resistance_ratio * rise + starting_rise * decay``.

    Args:
        time_s: Time in the bin [s].
        soc: Part of the state of charge that charge is taken from [0..1].
        charge_As: Charge drawn [As]; 0 where ``soc`` is already the state.
        ambient_share: Share of the season's ambient temperature in the bin's temperature.
        fixed_K: Part of the temperature that neither season nor health move [K]: measured temperature, hot spot.
        rise_K: Rise at initial resistance from a cold start of the day [K].
        decay: Share of the day's starting rise still left [0..1].
    """

    time_s: FloatArray
    soc: FloatArray
    charge_As: FloatArray
    ambient_share: FloatArray
    fixed_K: FloatArray
    rise_K: FloatArray
    decay: FloatArray

    @classmethod
    def none(cls) -> "Bins":
        """No bins."""
        return cls(*(np.empty(0) for _ in fields(cls)))

    @classmethod
    def concatenated(cls, parts: Sequence["Bins"]) -> "Bins":
        """All bins of several parts of a day.

        Args:
            parts: The parts in order.
        """
        columns = (tuple(getattr(part, field.name) for part in parts) for field in fields(cls))
        return cls(*(np.concatenate(column) for column in columns))
