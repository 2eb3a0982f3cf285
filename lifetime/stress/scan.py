"""First-order recurrences without a Python loop over samples.

``x[k+1] = a[k] x[k] + b[k]``, optionally clipped to a window after each step. Affine maps and clipped affine maps are
closed under composition, so a long recurrence is cut into rows, all rows advance side by side, and the rows are joined
by a short loop. Exact up to rounding; about 10 ns a sample.
"""

import math
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

_WORTH_WALKING: Final = 8
"""Samples between turning points from which on walking them one by one is faster than the general scan."""


def affine_scan(gain: FloatArray, offset: FloatArray, start: float) -> FloatArray:
    """Run ``x[k+1] = gain[k] * x[k] + offset[k]`` from ``x[0] = start``.

    Args:
        gain: Factor of each step [1], shape (n,), expected within [0, 1] for stability.
        offset: Addend of each step [unit of x], shape (n,).
        start: Value before the first step [unit of x].

    Returns:
        Values after each step, shape (n,) [unit of x].
    """
    columns, rows = _shape(gain.size)
    a = _columns_first(gain, columns, rows, fill=1.0)
    b = _columns_first(offset, columns, rows, fill=0.0)
    carried = np.empty(rows)
    for step in range(1, columns):
        # In place: a[step] becomes the product of all gains so far, b[step] the offset reached from zero.
        np.multiply(a[step], b[step - 1], out=carried)
        b[step] += carried
        a[step] *= a[step - 1]
    starts = []
    value = start
    for last_gain, last_offset in zip(a[-1].tolist(), b[-1].tolist(), strict=True):
        starts.append(value)
        value = last_gain * value + last_offset
    a *= np.array(starts)
    a += b
    return a.T.reshape(-1)[: gain.size]


def clipped_affine_scan(gain: FloatArray, offset: FloatArray, start: float, low: float, high: float) -> FloatArray:
    """Run ``x[k+1] = clip(gain[k] * x[k] + offset[k], low, high)`` from ``x[0] = start``.

    Args:
        gain: Factor of each step [1], shape (n,), must be >= 0 so that order is kept.
        offset: Addend of each step [unit of x], shape (n,).
        start: Value before the first step [unit of x].
        low: Lower end of the window [unit of x].
        high: Upper end of the window [unit of x], >= low.

    Returns:
        Values after each step, shape (n,), all within [low, high] [unit of x].
    """
    columns, rows = _shape(offset.size)
    b = _columns_first(offset, columns, rows, fill=0.0)
    a = _columns_first(gain, columns, rows, fill=1.0)
    # A row's map so far is x -> min(upper, max(lower, A x + B)); one more step keeps that form. B, lower and upper lie
    # side by side, because every one of them goes through the step.
    maps = np.empty((columns, 3, rows))
    maps[0, 0], maps[0, 1], maps[0, 2] = b[0], low, high
    for step in range(1, columns):
        now = maps[step]
        np.multiply(maps[step - 1], a[step], out=now)
        np.add(now, b[step], out=now)
        # Plain ufuncs are half the cost of np.clip.
        np.maximum(now[1:], low, out=now[1:])
        np.minimum(now[1:], high, out=now[1:])
    factor: FloatArray = np.multiply.accumulate(a, axis=0)
    starts = []
    value = start
    for last_gain, last_offset, last_low, last_high in zip(factor[-1].tolist(), *maps[-1].tolist(), strict=True):
        starts.append(value)
        value = last_gain * value + last_offset
        # Twice as fast as min and max, in a loop that decides the speed of the whole.
        if value < last_low:
            value = last_low
        elif value > last_high:
            value = last_high
    factor *= np.array(starts)
    factor += maps[:, 0]
    np.maximum(maps[:, 1], factor, out=factor)
    np.minimum(maps[:, 2], factor, out=factor)
    return factor.T.reshape(-1)[: offset.size]


def clipped_sum(offset: FloatArray, start: float, low: float, high: float) -> FloatArray:
    """Run ``x[k+1] = clip(x[k] + offset[k], low, high)`` from ``x[0] = start``.

    While the offsets keep their sign the path runs one way, and clipping it sample by sample is the same as clipping
    the plain sum. So only the turning points are walked; where they are many, the general scan is faster.

    Args:
        offset: Addend of each step [unit of x], shape (n,).
        start: Value before the first step [unit of x], within the window.
        low: Lower end of the window [unit of x].
        high: Upper end of the window [unit of x], >= low.

    Returns:
        Values after each step, shape (n,), all within [low, high] [unit of x].
    """
    rises = offset > 0.0
    last = np.append(np.flatnonzero(rises[1:] != rises[:-1]), offset.size - 1)
    if last.size * _WORTH_WALKING > offset.size:
        return clipped_affine_scan(np.ones(offset.size), offset, start, low, high)
    total = np.cumsum(offset)
    reached = total[last]
    starts = []
    value = start
    for change in np.diff(reached, prepend=0.0).tolist():
        starts.append(value)
        value += change
        if value < low:
            value = low
        elif value > high:
            value = high
    begun = np.array(starts)
    begun[1:] -= reached[:-1]
    total += np.repeat(begun, np.diff(last, prepend=-1))
    np.maximum(total, low, out=total)
    np.minimum(total, high, out=total)
    return total


def _shape(size: int) -> tuple[int, int]:
    """Steps a row makes one after the other, and rows that advance side by side."""
    # Steps cost a handful of numpy calls each, rows only a short loop: a quarter of the square root balances the two.
    columns = max(1, math.isqrt(max(size, 1)) // 4)
    return columns, max(1, -(-size // columns))


def _columns_first(values: FloatArray, columns: int, rows: int, *, fill: float) -> FloatArray:
    padded = np.full(columns * rows, fill)
    padded[: values.size] = values
    return np.ascontiguousarray(padded.reshape(rows, columns).T)
