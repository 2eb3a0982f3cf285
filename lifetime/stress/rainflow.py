"""Rainflow counting (ASTM E1049-85, 5.4.4 and 5.4.5) by vectorised rounds.

A point is one column of an array whose first row is the counted value and whose other rows ride along (sample index,
running integrals), so that a cycle comes out with the facts of its end points. An interior range strictly smaller than
its left neighbour and not larger than its right one is a full ASTM cycle; all such ranges go at once, round after
round. Leading ranges not larger than their right neighbour are half cycles. What remains is the ASTM stack, which a
caller may carry into the next block. Where the rounds stop paying, one pass of the plain stack finishes the work.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray, as_floats

IndexArray = NDArray[np.intp]

_Piece = tuple[FloatArray, FloatArray, FloatArray, FloatArray]
"""First, second and closing points of some cycles, and their counts."""

_ROUND_MUST_REMOVE = 1 / 16
"""A round that removes a smaller share of the points than this hands over to the plain stack."""
_STACK_BELOW = 64
"""Below this many points numpy's call overhead outweighs the plain stack."""


@dataclass(frozen=True, slots=True)
class Extracted:
    """Cycles in the order of their extraction, as columns of points.

    Args:
        first: Points at which the cycles start, shape (rows, cycles).
        second: Points at which they turn, shape (rows, cycles).
        closing: Points that closed them: the reversal whose range was large enough; shape (rows, cycles).
        count: 1 for a full and 0.5 for a half cycle, shape (cycles,).
    """

    first: FloatArray
    second: FloatArray
    closing: FloatArray
    count: FloatArray


def turning_points(values: FloatArray) -> IndexArray:
    """Positions of the first, the last and every turning sample; a plateau turns at its last sample.

    Args:
        values: The series, shape (n,) [any unit], finite.

    Returns:
        Increasing positions, shape (m,), integers; empty where the series never moves.
    """
    step = np.diff(values)
    moving = np.flatnonzero(step)
    if moving.size == 0:
        return np.empty(0, dtype=np.intp)
    rising = step[moving] > 0
    turns = moving[1:][rising[1:] != rising[:-1]]
    return np.concatenate(([0], turns, [values.size - 1]))


def extract(
    points: FloatArray, *, start_counts_half: bool, apart_from: int | None = None
) -> tuple[Extracted, FloatArray]:
    """Take every cycle that the points close.

    Args:
        points: Reversals, shape (rows, n); row 0 is counted and must alternate up and down.
        start_counts_half: True for a history with a beginning (a range holding the first point counts one half);
            False to leave such ranges standing, for a stretch out of a longer or a repeated history.
        apart_from: First row of running integrals from which each cycle's own are taken out for the cycle around it;
            None to leave in what lies between a cycle's ends.

    Returns:
        The cycles, and the points that remain, shape (rows, m).
    """
    found: list[_Piece] = []
    while points.shape[1] >= 3:
        before = points.shape[1]
        if before < _STACK_BELOW:
            points = _plain_stack(points, found, start_counts_half=start_counts_half, apart_from=apart_from)
            break
        if start_counts_half:
            points = _leading_halves(points, found)
        points = _interior_cycles(points, found, ties_close=not start_counts_half, apart_from=apart_from)
        removed = before - points.shape[1]
        if removed == 0:
            break
        if removed < before * _ROUND_MUST_REMOVE:
            points = _plain_stack(points, found, start_counts_half=start_counts_half, apart_from=apart_from)
            break
    return _join(found, points.shape[0]), points


def _leading_halves(points: FloatArray, found: list[_Piece]) -> FloatArray:
    ranges = np.abs(np.diff(points[0]))
    shrinking = np.flatnonzero(ranges[:-1] > ranges[1:])
    halves = int(shrinking[0]) if shrinking.size else ranges.size - 1
    if halves:
        found.append(
            (points[:, :halves], points[:, 1 : halves + 1], points[:, 2 : halves + 2], np.full(halves, 0.5)),
        )
    return points[:, halves:]


def _interior_cycles(
    points: FloatArray, found: list[_Piece], *, ties_close: bool, apart_from: int | None
) -> FloatArray:
    ranges = np.abs(np.diff(points[0]))
    inner, left, right = ranges[1:-1], ranges[:-2], ranges[2:]
    closed = (left > inner) & (inner <= right)
    if ties_close:
        # Without a start, equal neighbours close each other too; in a run of equal ranges every second one goes.
        closed |= (left == inner) & (inner <= right)
        at = np.flatnonzero(closed)
        if at.size:
            new_run = np.concatenate(([True], np.diff(at) > 1))
            run_start = np.maximum.accumulate(np.where(new_run, np.arange(at.size), 0))
            at = at[(np.arange(at.size) - run_start) % 2 == 0]
    else:
        at = np.flatnonzero(closed)
    if at.size == 0:
        return points
    found.append((points[:, at + 1], points[:, at + 2], points[:, at + 3], np.ones(at.size)))
    if apart_from is not None:
        share = inner[at] / right[at]
        taken = np.zeros_like(points[apart_from:])
        taken[:, at + 3] = _loop(points[apart_from:], at + 1, at + 2, at + 3, share)
        points = points.copy()
        points[apart_from:] -= np.cumsum(taken, axis=1)
    keep = np.ones(points.shape[1], dtype=np.bool_)
    keep[at + 1] = False
    keep[at + 2] = False
    return points[:, keep]


def _loop(
    running: FloatArray,
    first: IndexArray | int,
    second: IndexArray | int,
    closing: IndexArray | int,
    share: FloatArray | float,
) -> FloatArray:
    """What running integrals gain in a cycle: out, and the share of the way to the closing point that leads back."""
    out: FloatArray = running[:, second] - running[:, first]
    return out + (running[:, closing] - running[:, second]) * share


def _plain_stack(
    points: FloatArray, found: list[_Piece], *, start_counts_half: bool, apart_from: int | None
) -> FloatArray:
    """The three-point rule, reversal by reversal, on positions only."""
    if apart_from is not None:
        return _plain_stack_apart(points, found, start_counts_half=start_counts_half, apart_from=apart_from)
    value = points[0].tolist()
    stack: list[int] = []
    cycles: list[tuple[int, int, int, float]] = []
    for at in range(len(value)):
        stack.append(at)
        while len(stack) >= 3:
            latest = abs(value[stack[-1]] - value[stack[-2]])
            previous = abs(value[stack[-2]] - value[stack[-3]])
            if latest < previous:
                break
            if len(stack) == 3:
                if not start_counts_half:
                    break
                cycles.append((stack[0], stack[1], stack[2], 0.5))
                del stack[0]
            elif not start_counts_half and abs(value[stack[-3]] - value[stack[-4]]) < previous:
                break
            else:
                cycles.append((stack[-3], stack[-2], stack[-1], 1.0))
                del stack[-3:-1]
    if cycles:
        table = np.array(cycles)
        first, second, closing = table[:, :3].T.astype(np.intp)
        found.append((points[:, first], points[:, second], points[:, closing], table[:, 3].copy()))
    return points[:, stack]


def _plain_stack_apart(
    points: FloatArray, found: list[_Piece], *, start_counts_half: bool, apart_from: int
) -> FloatArray:
    """The same, with each cycle's own running integrals taken out of the points that follow it."""
    stack: list[FloatArray] = []
    taken = np.zeros(points.shape[0] - apart_from)
    for point in points.T.copy():
        point[apart_from:] -= taken
        stack.append(point)
        while len(stack) >= 3:
            first, second, closing = stack[-3:]
            latest, previous = abs(closing[0] - second[0]), abs(second[0] - first[0])
            if latest < previous:
                break
            if len(stack) == 3:
                if not start_counts_half:
                    break
                found.append((first[:, None], second[:, None], closing[:, None], np.array([0.5])))
                del stack[0]
            elif not start_counts_half and abs(first[0] - stack[-4][0]) < previous:
                break
            else:
                found.append((first[:, None], second[:, None], closing[:, None].copy(), np.ones(1)))
                own = _loop(np.stack([first, second, closing], axis=1)[apart_from:], 0, 1, 2, previous / latest)
                closing[apart_from:] -= own
                taken += own
                del stack[-3:-1]
    return np.stack(stack, axis=1) if stack else points


def _join(found: list[_Piece], rows: int) -> Extracted:
    if not found:
        empty = np.empty((rows, 0))
        return Extracted(empty, empty, empty, np.empty(0))
    first, second, closing, count = (np.concatenate(part, axis=-1) for part in zip(*found, strict=True))
    return Extracted(first, second, closing, count)


@dataclass(frozen=True, slots=True)
class CycleList:
    """Counted cycles of one series, ordered by the position at which each range ends.

    The order is that of time, not of extraction (an inner cycle is extracted before the cycle around it ends).

    Args:
        range: Difference of the two ends [unit of the series], > 0.
        mean: Mean of the two ends [unit of the series].
        count: 1 per full and 0.5 per half cycle.
        start: Position of the first end in the series; integers.
        end: Position of the second end in the series; integers.
    """

    range: FloatArray
    mean: FloatArray
    count: FloatArray
    start: IndexArray
    end: IndexArray


def count_cycles(series: FloatArray, *, repeating: bool = False, smallest_range: float = 0.0) -> CycleList:
    """Count the cycles of a series by ASTM E1049-85.

    Args:
        series: Values [any unit], shape (n,), finite; integers are converted first. 0 and 1 values hold no cycle,
            2 different values hold one half cycle.
        repeating: False counts the history once, with half cycles (5.4.4). True takes it as repeated for ever: it is
            started at its largest value and everything closes (5.4.5). A jump from its last to its first value is
            then part of the history.
        smallest_range: Cycles of this range or less are left out after counting [unit of series]; extremes never
            move, because nothing is filtered before the count.

    Returns:
        The cycles; for ``repeating`` positions refer to the series as given.

    Raises:
        NumberError: A value is NaN or infinite.

    Source:
        ASTM E1049-85 (reapproved 2017), Standard Practices for Cycle Counting in Fatigue Analysis.
    """
    values = as_floats(series, "series").reshape(-1)
    at = turning_points(values)
    points = np.array([values[at], at.astype(np.float64)])
    if repeating:
        cycles = close_loop(points)
    else:
        cycles, rest = extract(points, start_counts_half=True)
        cycles = _with_open_ends(cycles, rest)
    span = np.abs(cycles.second[0] - cycles.first[0])
    order = np.lexsort((cycles.first[1], cycles.second[1]))
    order = order[span[order] > smallest_range]
    return CycleList(
        range=span[order],
        mean=0.5 * (cycles.first[0] + cycles.second[0])[order],
        count=cycles.count[order],
        start=cycles.first[1][order].astype(np.intp),
        end=cycles.second[1][order].astype(np.intp),
    )


def close_loop(points: FloatArray, *, running_from: int | None = None, apart: bool = False) -> Extracted:
    """Count reversals understood as repeated for ever: start at the largest value, everything closes to full cycles.

    Args:
        points: Reversals in order of time, shape (rows, n), row 0 is counted; the way from the last point back to the
            first belongs to the loop. Neighbours need not alternate.
        running_from: First row that holds running integrals; those rows go on past the end of the loop, so that
            differences between any two points in order are what lies between them. None where there are no such rows.
        apart: True to take each cycle's own integrals out of those of the cycle around it.

    Returns:
        Full cycles only (count 1), in extraction order.
    """
    if points.shape[1] < 2:
        return _join([], points.shape[0])
    top = int(np.argmax(points[0]))
    again = points[:, : top + 1].copy()
    if running_from is not None:
        again[running_from:] += points[running_from:, -1:] - points[running_from:, :1]
    loop = np.concatenate([points[:, top:], again], axis=1)
    turns = turning_points(loop[0])
    if turns.size == 0:
        return _join([], points.shape[0])
    found, rest = extract(loop[:, turns], start_counts_half=True, apart_from=running_from if apart else None)
    found = _with_open_ends(found, rest)
    full = found.count == 1.0
    # From the top every half cycle down has its equal partner up: together one full cycle.
    falling = (~full) & (found.first[0] > found.second[0])
    keep = full | falling
    return Extracted(
        found.first[:, keep], found.second[:, keep], found.closing[:, keep], np.ones(int(np.count_nonzero(keep)))
    )


def open_halves(points: FloatArray) -> Extracted:
    """Count the reversals a one-off log leaves open: one half cycle from each to the next (ASTM E1049 5.4.4).

    Args:
        points: Reversals in order of time that close no cycle, shape (rows, n), row 0 is counted.

    Returns:
        Half cycles; each closes where it ends, as it has no second half.
    """
    if points.shape[1] < 2:
        return _join([], points.shape[0])
    half = np.full(points.shape[1] - 1, 0.5)
    return Extracted(points[:, :-1], points[:, 1:], points[:, 1:], half)


def _with_open_ends(cycles: Extracted, rest: FloatArray) -> Extracted:
    """Ranges left standing at the end of a history count one half each."""
    if rest.shape[1] < 2:
        return cycles
    closing = np.concatenate([rest[:, 2:], rest[:, -1:]], axis=1)
    return Extracted(
        np.concatenate([cycles.first, rest[:, :-1]], axis=1),
        np.concatenate([cycles.second, rest[:, 1:]], axis=1),
        np.concatenate([cycles.closing, closing], axis=1),
        np.concatenate([cycles.count, np.full(rest.shape[1] - 1, 0.5)]),
    )
