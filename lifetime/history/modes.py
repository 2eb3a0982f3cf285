"""The mode of a cycler, written as text, as a sign: 1 discharging, -1 charging, 0 anything else."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Modes:
    """Which words mean charging and which discharging.

    Args:
        discharging: Words while the source discharges.
        charging: Words while it charges.
    """

    discharging: tuple[str, ...]
    charging: tuple[str, ...]

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        """Sign of each mode; NaN where the field is empty.

        Args:
            texts: Modes, surrounding white space removed.
        """
        signs = dict.fromkeys(self.discharging, 1.0) | dict.fromkeys(self.charging, -1.0) | {"": float("nan")}
        return np.array([signs.get(text, 0.0) for text in texts], dtype=np.float64)
