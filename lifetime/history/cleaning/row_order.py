"""Rows whose times do not run forward: put in order, or joined where the clock was set back."""

from collections.abc import Iterator

import numpy as np

from lifetime.history.block import Samples, join
from lifetime.history.cleaning.counts import RowCount


def sorted_by_time(stream: Iterator[Samples], moved: RowCount) -> Iterator[Samples]:
    """Put the rows in order of time, rows of one instant in the file's order; keeps the needed columns in memory whole.

    Args:
        stream: Samples in the file's order.
        moved: Counts the rows that came after a later time.
    """
    parts = list(stream)
    if not parts:
        return
    whole = join(parts)
    behind = whole.time_s < np.maximum.accumulate(whole.time_s)
    moved.add(whole.rows[behind])
    yield whole.take(np.argsort(whole.time_s, kind="stable")) if behind.any() else whole


def joined_at_restarts(stream: Iterator[Samples], restarts: RowCount) -> Iterator[Samples]:
    """Where time runs back, let it continue from the row before: the clock was set to zero, and no time was lost.

    Args:
        stream: Samples in the file's order.
        restarts: Counts the restarts.
    """
    last_raw_s: float | None = None
    shift_s = 0.0
    for stretch in stream:
        raw = stretch.time_s
        steps = np.diff(raw, prepend=raw[0] if last_raw_s is None else last_raw_s)
        back = steps < 0.0
        restarts.add(stretch.rows[back])
        shifts = shift_s + np.cumsum(np.where(back, -steps, 0.0))
        last_raw_s, shift_s = float(raw[-1]), float(shifts[-1])
        yield Samples(stretch.rows, {**stretch.channels, "time": raw + shifts})
