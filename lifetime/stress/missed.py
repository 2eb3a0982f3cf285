"""Power that was asked for and not served."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Missed:
    """Power of one kind that was asked for and not served over a stretch of time.

    Args:
        energy_J: All of it [J], >= 0.
        duration_s: How long any of it was missing [s].
        largest_W: Largest gap, as the mean of an interval [W].
        largest_at_s: When that interval begins, from the start of the day [s].
        first_at_s: When the first such interval begins [s]; infinity where there is none.
    """

    energy_J: float = 0.0
    duration_s: float = 0.0
    largest_W: float = 0.0
    largest_at_s: float = 0.0
    first_at_s: float = float("inf")

    def __bool__(self) -> bool:
        """Whether anything was missed."""
        return self.energy_J > 0.0

    def and_then(self, missed_W: FloatArray, length_s: FloatArray, elapsed_s: float) -> "Missed":
        """With a stretch that follows.

        Args:
            missed_W: Mean gap of each interval [W], shape (n,), >= 0.
            length_s: Length of each interval [s], shape (n,).
            elapsed_s: Time before the stretch [s].
        """
        at = np.flatnonzero((missed_W > 0.0) & (length_s > 0.0))
        if at.size == 0:
            return self
        begins = elapsed_s + np.cumsum(length_s) - length_s
        worst = int(at[np.argmax(missed_W[at])])
        is_worse = float(missed_W[worst]) > self.largest_W
        return Missed(
            self.energy_J + float(np.sum(missed_W[at] * length_s[at])),
            self.duration_s + float(np.sum(length_s[at])),
            float(missed_W[worst]) if is_worse else self.largest_W,
            float(begins[worst]) if is_worse else self.largest_at_s,
            min(self.first_at_s, float(begins[at[0]])),
        )


NOTHING: Final = Missed()
