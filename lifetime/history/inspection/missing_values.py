"""Missing values of one column: the longest run of rows without a number."""

import numpy as np

from lifetime.history.block import IntArray


class MissingRun:
    """The longest run of rows without a number in one column; fixed memory."""

    def __init__(self) -> None:
        self.longest = 0
        self.first_row = 0
        self._run = 0
        self._run_row = 0

    def add(self, absent: IntArray, rows: IntArray) -> None:
        """Add a stretch.

        Args:
            absent: Positions in the stretch of rows without a number, increasing.
            rows: Rows in the file of the whole stretch.
        """
        if absent.size == 0:
            self._run = 0
            return
        breaks = np.flatnonzero(np.diff(absent) > 1) + 1
        for part in np.split(absent, breaks):
            carried = self._run if part[0] == 0 else 0
            if not carried:
                self._run_row = int(rows[part[0]])
            self._run = carried + int(part.size)
            if self._run > self.longest:
                self.longest, self.first_row = self._run, self._run_row
        if absent[-1] != rows.size - 1:
            self._run = 0
