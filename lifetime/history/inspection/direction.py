"""Whether a current without any change of sign hides its direction: the voltage then rises and falls under load."""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import finite_rows

_STEADY: Final = 0.05
"""Change of the current from row to row, relative to its largest value, below which it is steady."""
_FLOWING: Final = 0.02
_FEWEST_ROWS: Final = 5
_EITHER_WAY: Final = 0.25
"""Smaller over larger of rise and fall, from which the voltage does both. Recovery after a load step stays below."""


class DirectionCheck:
    """Adds up how far the voltage rises and falls over stretches of steady current; fixed memory.

    Under a steady current the voltage of a battery or a capacitor falls while it discharges and rises while it charges.
    Stretches end where a block of rows ends.
    """

    def __init__(self) -> None:
        self._rise = self._fall = 0.0
        self._low_V, self._high_V = np.inf, -np.inf
        self._least, self._largest = np.inf, -np.inf

    def add(self, current: FloatArray, voltage: FloatArray) -> None:
        """Add a stretch; rows with a missing value are left out.

        Args:
            current: In any unit.
            voltage: In any unit, of the same length.
        """
        current, voltage = finite_rows(current, voltage)
        if current.size == 0:
            return
        self._least, self._largest = min(self._least, float(current.min())), max(self._largest, float(current.max()))
        self._low_V, self._high_V = min(self._low_V, float(voltage.min())), max(self._high_V, float(voltage.max()))
        with np.errstate(over="ignore", invalid="ignore"):  # absurd magnitudes are named by their own finding
            self._add_changes(current, voltage)

    def _add_changes(self, current: FloatArray, voltage: FloatArray) -> None:
        scale = max(abs(self._least), abs(self._largest))
        if scale == 0.0 or not np.isfinite(self._high_V - self._low_V):
            return
        flows = np.abs(current) > _FLOWING * scale
        steady = np.abs(np.diff(current)) < _STEADY * scale
        steady &= flows[1:] & flows[:-1]
        edges = np.diff(steady.astype(np.int8), prepend=0, append=0)
        starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        long = ends - starts >= _FEWEST_ROWS
        change = voltage[ends[long]] - voltage[starts[long]]
        self._rise += float(np.sum(change[change > 0.0]))
        self._fall -= float(np.sum(change[change < 0.0]))

    @property
    def is_unsigned(self) -> bool:
        """True where the current has one sign only while the voltage rises as well as falls under it."""
        if self._least < 0.0 < self._largest:
            return False
        smaller, larger = sorted((self._rise, self._fall))
        span = self._high_V - self._low_V
        return np.isfinite(span) and smaller > _EITHER_WAY * max(larger, span) and smaller > 0.0
