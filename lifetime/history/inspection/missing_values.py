"""Missing values of one column: the longest run of rows without a number."""

import numpy as np

from lifetime.history.block import IntArray


class MissingRun:
    """The longest run of rows without a number in one column; fixed memory."""

    def __init__(self) -> None:
        self.longest = 0
        self._open = 0

    def add(self, absent: IntArray, rows: IntArray) -> None:
        """Add a stretch.

        Args:
            absent: Positions in the stretch of rows without a number, increasing.
            rows: Rows in the file of the whole stretch.
        """
        if absent.size == 0:
            self._open = 0
            return
        edges = np.flatnonzero(np.diff(absent) > 1) + 1
        lengths = np.diff(np.concatenate([[0], edges, [absent.size]]))
        if absent[0] == 0:
            lengths[0] += self._open
        self.longest = max(self.longest, int(lengths.max()))
        self._open = int(lengths[-1]) if absent[-1] == rows.size - 1 else 0
