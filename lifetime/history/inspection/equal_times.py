"""Rows of one time: a few are switching edges, many show that the times are written coarser than the rows come."""

from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.inspection.time_steps import EDGE_S

_CROWDED: Final = 0.03
"""An edge takes two rows. Where more than this share of all rows are the third or later of one time and another value,
the stamps are coarse. Common practice, no source."""

_FEWEST_STEPS: Final = 20

_PAIRED: Final = 0.4
"""With two rows to every time, stamps are coarse if values also move between times; held values make edges."""


class EqualTimes:
    """Counts of rows with the time of the row before; fixed memory."""

    def __init__(self) -> None:
        self.edges = 0
        self._steps = self._changed = self._crowded = self._moving_changes = 0
        self._last_is_edge = False

    def add(self, steps_s: FloatArray, values: tuple[FloatArray, FloatArray] | None) -> None:
        """Add steps in the file's order.

        Args:
            steps_s: Their lengths [s].
            values: Current, power or speed at the beginning and end of each; None where none is known.
        """
        if steps_s.size == 0:
            return
        edge = np.abs(steps_s) <= EDGE_S
        changes = np.ones(edge.size, dtype=np.bool_) if values is None else values[0] != values[1]
        follows = np.append(self._last_is_edge, edge[:-1])
        self.edges += int(np.count_nonzero(edge))
        self._steps += int(edge.size)
        self._changed += int(np.count_nonzero(edge & changes))
        self._crowded += int(np.count_nonzero(edge & changes & follows))
        self._moving_changes += int(np.count_nonzero(~edge & changes))
        self._last_is_edge = bool(edge[-1])

    @property
    def are_coarse(self) -> bool:
        """True where time would stand still for many rows that are no switching edges."""
        if self._steps < _FEWEST_STEPS:
            return False
        if self._crowded > _CROWDED * self._steps:
            return True
        return self._changed > _PAIRED * self._steps and 2 * self._moving_changes > self._steps - self.edges
