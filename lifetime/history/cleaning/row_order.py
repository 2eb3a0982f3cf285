"""Rows whose times do not run forward: put in order, joined where the clock was set back, or spread within one time."""

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


def spread_within_times(stream: Iterator[Samples], spread: RowCount) -> Iterator[Samples]:
    """Space rows of one time evenly up to the next time; keeps the needed columns in memory whole.

    The step between times is their most common one. Where the log begins or ends within a step, its rows there keep the
    most common spacing, so that the log is as long as it was.

    Args:
        stream: Samples in order of time.
        spread: Counts the rows that got a time of their own.
    """
    parts = list(stream)
    if not parts:
        return
    whole = join(parts)
    time_s = whole.time_s
    starts = np.flatnonzero(np.append(True, np.diff(time_s) != 0.0))
    if starts.size < 2 or (np.diff(time_s) < 0.0).any():
        yield whole  # nothing to spread by, or refused for its order
        return
    counts = np.diff(np.append(starts, time_s.size))
    steps_s = np.minimum(np.diff(time_s[starts]), np.median(np.diff(time_s[starts])))
    step_s, usual = float(np.median(steps_s)), float(np.median(counts))
    inner = steps_s / counts[:-1]
    spacing_s = np.append(inner, min(step_s / usual, step_s / counts[-1]))
    spacing_s[0] = min(step_s / usual, step_s / counts[0])
    place = np.arange(time_s.size) - np.repeat(starts, counts)
    # Rows of a first step that began before the log stand at its end.
    late_s = np.zeros(starts.size)
    late_s[0] = steps_s[0] - counts[0] * spacing_s[0]
    spread.add(whole.rows[place > 0])
    times = time_s + np.repeat(late_s, counts) + place * np.repeat(spacing_s, counts)
    yield Samples(whole.rows, {**whole.channels, "time": times})
