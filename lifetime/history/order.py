"""Rows whose times do not run forward: put in order, or joined where the clock was set back."""

from collections.abc import Iterator

import numpy as np

from lifetime.history.block import IntArray, Samples, join


class Moved:
    """How many rows were moved or joints made, and the first row."""

    def __init__(self) -> None:
        self.rows = 0
        self.first_row: int | None = None

    def count(self, rows: IntArray) -> None:
        """Note rows.

        Args:
            rows: Rows in the file, in order.
        """
        if rows.size:
            self.rows += int(rows.size)
            if self.first_row is None:
                self.first_row = int(rows[0])


def sorted_by_time(stream: Iterator[Samples], moved: Moved) -> Iterator[Samples]:
    """Put the rows in order of time, rows of one instant in the file's order; holds the needed columns whole.

    Args:
        stream: Samples in the file's order.
        moved: Counts the rows that stood after a later time.
    """
    parts = list(stream)
    if not parts:
        return
    whole = join(parts)
    behind = whole.time_s < np.maximum.accumulate(whole.time_s)
    moved.count(whole.rows[behind])
    yield whole.take(np.argsort(whole.time_s, kind="stable")) if behind.any() else whole


def joined_at_restarts(stream: Iterator[Samples], moved: Moved) -> Iterator[Samples]:
    """Where time runs back, let it go on from the row before: the clock was set to zero, and no time was lost.

    Args:
        stream: Samples in the file's order.
        moved: Counts the restarts.
    """
    last_raw_s: float | None = None
    shift_s = 0.0
    for stretch in stream:
        raw = stretch.time_s
        steps = np.diff(raw, prepend=raw[0] if last_raw_s is None else last_raw_s)
        back = steps < 0.0
        moved.count(stretch.rows[back])
        shifts = shift_s + np.cumsum(np.where(back, -steps, 0.0))
        last_raw_s, shift_s = float(raw[-1]), float(shifts[-1])
        yield Samples(stretch.rows, {**stretch.channels, "time": raw + shifts})
