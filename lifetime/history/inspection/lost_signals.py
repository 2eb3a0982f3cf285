"""Signals that are lost for a while: a voltage that drops to nothing, a temperature that jumps to an error code."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.history.block import IntArray
from lifetime.history.cleaning.value_ranges import HIGHEST_TEMPERATURE_C
from lifetime.history.inspection.words import with_unit
from lifetime.text import counted

LARGEST_JUMP_K: Final = 15.0
"""A pack's temperature does not move so far from one row to the next within a minute."""
_LONGEST_STEP_S: Final = 60.0
_FROM_SHARE: Final = 0.2
"""A bank that is emptied passes through low voltages on the way to nothing; a lost signal is at nothing at once."""
HOTTEST_MEAN_K: Final = ZERO_CELSIUS_K + 60.0
"""A battery's management stops it from about 60 °C on. All of these are common practice, no source."""


@dataclass(frozen=True, slots=True)
class LostSignal:
    """What says that a signal was lost for a while.

    Args:
        quantity: Of what.
        times: How often.
        row: Row in the file of the first time, counted as blocks count rows.
        message: The same in words, without the place.
    """

    quantity: str
    times: int
    row: int
    message: str


def without_zeros(voltage: FloatArray) -> FloatArray:
    """The voltage with NaN where it is exactly nothing: a lost signal's drop says nothing about a sign.

    Args:
        voltage: In any unit.
    """
    zero = voltage == 0.0
    return np.where(zero, np.nan, voltage) if zero.any() else voltage


class LostSignalCheck:
    """Looks at voltage and temperature for jumps to what they cannot be; fixed memory."""

    def __init__(self) -> None:
        self._before: dict[str, tuple[float, float]] = {}
        self._first: dict[str, tuple[int, float, float]] = {}
        self._times = {"voltage": 0, "temperature": 0}
        self._highest_V = 0.0
        self._sum_K, self._samples = 0.0, 0

    def add(
        self, time_s: FloatArray, rows: IntArray, voltage: FloatArray | None, temperature: FloatArray | None
    ) -> None:
        """Add a stretch; rows with a missing value are left out.

        Args:
            time_s: Time [s].
            rows: Rows in the file.
            voltage: Voltage [V], or None.
            temperature: Temperature [K], or None.
        """
        for quantity, values in (("voltage", voltage), ("temperature", temperature)):
            if values is None:
                continue
            fine = np.isfinite(values) & np.isfinite(time_s)
            if fine.any():
                self._add(quantity, time_s[fine], rows[fine], values[fine])

    def _add(self, quantity: str, time_s: FloatArray, rows: IntArray, values: FloatArray) -> None:
        last_s, last = self._before.get(quantity, (float(time_s[0]), float(values[0])))
        self._before[quantity] = (float(time_s[-1]), float(values[-1]))
        before = np.append(last, values[:-1])
        with np.errstate(over="ignore", invalid="ignore"):
            if quantity == "voltage":
                highest = np.maximum(np.maximum.accumulate(before), self._highest_V)
                self._highest_V = max(float(highest[-1]), float(values[-1]))
                lost = (values == 0.0) & (before > _FROM_SHARE * highest) & (before > 0.0)
            else:
                self._sum_K, self._samples = self._sum_K + float(values.sum()), self._samples + values.size
                near = np.diff(time_s, prepend=last_s) <= _LONGEST_STEP_S
                lost = near & (np.abs(values - before) > LARGEST_JUMP_K)
        if lost.any():
            at = int(np.argmax(lost))
            self._first.setdefault(quantity, (int(rows[at]), float(before[at]), float(values[at])))
            self._times[quantity] += int(np.count_nonzero(lost))

    def lost(self) -> list[LostSignal]:
        """What was lost, with the first place of each."""
        found = []
        for quantity, (row, before, after) in self._first.items():
            times = self._times[quantity]
            words = f"{with_unit(quantity, before)} to {with_unit(quantity, after)}"
            if quantity == "voltage":
                message = f"the voltage drops from {words} from one row to the next ({counted(times, 'time')})"
                why = "its signal seems lost, or rows are filled up with zeros"
            else:
                message = f"the temperature jumps from {words} from one row to the next ({counted(times, 'time')})"
                why = "as no pack's does, its signal seems lost"
            found.append(LostSignal(quantity, times, row, f"{message}: {why}"))
        return found

    @property
    def hot(self) -> str | None:
        """What says that the mean temperature is above what packs are used at, or None."""
        if not self._samples:
            return None
        mean_K = self._sum_K / self._samples
        if not HOTTEST_MEAN_K < mean_K <= ZERO_CELSIUS_K + HIGHEST_TEMPERATURE_C:  # beyond it is refused
            return None
        mean = with_unit("temperature", mean_K)
        return (
            f"the temperature is {mean} on average, and packs are stopped from about 60 °C on: degrees Fahrenheit may "
            "have been read as Celsius"
        )
