"""Counts of what one pass over a history read and changed."""

from dataclasses import dataclass, field

from lifetime.history.block import IntArray


@dataclass(slots=True)
class RowCount:
    """How many rows a cleaning step touched, and the first of them.

    Args:
        rows: How many.
        first_row: Row of the first one as the samples number it; None where there is none.
    """

    rows: int = 0
    first_row: int | None = None

    def add(self, rows: IntArray) -> None:
        """Count rows.

        Args:
            rows: Rows in the file, in order.
        """
        if rows.size:
            self.rows += int(rows.size)
            if self.first_row is None:
                self.first_row = int(rows[0])


@dataclass(slots=True)
class CleaningCounts:
    """What one pass over a file read and changed.

    Args:
        rows_read: Data rows read.
        last_row: Last row of the file that was read.
        bad: Rows left out because a value was bad.
        restarts: Rows at which the clock was set back and time was joined.
        moved: Rows that came after a later time and were moved.
        spread: Rows with the time of the row before that were given a time of their own.
        spikes: Rows left out because a value was a spike.
    """

    rows_read: int = 0
    last_row: int = 1
    bad: RowCount = field(default_factory=RowCount)
    restarts: RowCount = field(default_factory=RowCount)
    moved: RowCount = field(default_factory=RowCount)
    spread: RowCount = field(default_factory=RowCount)
    spikes: RowCount = field(default_factory=RowCount)
