"""The mode of a cycler, written as text, as a sign: 1 discharging, -1 charging, 0 at rest."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

UNKNOWN: Final = 2.0
"""Stands for a word that the study does not explain; no current may flow meanwhile."""


@dataclass(frozen=True, slots=True)
class Modes:
    """Which words mean charging and which discharging.

    Args:
        discharging: Words while the source discharges.
        charging: Words while it charges.
        resting: Words while it rests, whatever small current the sensor shows.
    """

    discharging: tuple[str, ...]
    charging: tuple[str, ...]
    resting: tuple[str, ...] = ()

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        """Sign of each mode; NaN where the field is empty.

        Args:
            texts: Modes, surrounding white space removed.
        """
        signs = dict.fromkeys(self.discharging, 1.0) | dict.fromkeys(self.charging, -1.0)
        signs |= dict.fromkeys(self.resting, 0.0) | {"": float("nan")}
        return np.array([signs.get(text, UNKNOWN) for text in texts], dtype=np.float64)
