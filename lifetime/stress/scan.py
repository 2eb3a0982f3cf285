"""First-order recurrences without a Python loop over samples.

``x[k+1] = a[k] x[k] + b[k]``, optionally clipped to a window after each step. Affine maps and clipped affine maps are
closed under composition, so a long recurrence is cut into rows, all rows advance side by side, and the rows are joined
by a short loop. Exact up to rounding; about 10 ns a sample.
"""

import math

import numpy as np

from lifetime.checks import FloatArray


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
    starts = np.empty(rows)
    value = start
    for row, (last_gain, last_offset) in enumerate(zip(a[-1].tolist(), b[-1].tolist(), strict=True)):
        starts[row] = value
        value = last_gain * value + last_offset
    a *= starts
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
    columns, rows = _shape(gain.size)
    a = _columns_first(gain, columns, rows, fill=1.0)
    b = _columns_first(offset, columns, rows, fill=0.0)
    # A row's map so far is x -> min(upper, max(lower, A x + B)); one more step keeps that form.
    upper = np.empty((columns, rows))
    lower = np.empty((columns, rows))
    upper[0], lower[0] = high, low
    bounds = (low, high)
    for step in range(1, columns):
        _advance(a[step], b[step], upper[step - 1], upper[step], bounds)
        _advance(a[step], b[step], lower[step - 1], lower[step], bounds)
        offset_so_far = a[step] * b[step - 1]
        b[step] += offset_so_far
        a[step] *= a[step - 1]
    starts = np.empty(rows)
    value = start
    ends = zip(a[-1].tolist(), b[-1].tolist(), lower[-1].tolist(), upper[-1].tolist(), strict=True)
    for row, (last_gain, last_offset, last_low, last_high) in enumerate(ends):
        starts[row] = value
        value = min(last_high, max(last_low, last_gain * value + last_offset))
    result = np.minimum(upper, np.maximum(lower, a * starts + b))
    return result.T.reshape(-1)[: gain.size]


def _advance(
    gain: FloatArray, offset: FloatArray, before: FloatArray, after: FloatArray, bounds: tuple[float, float]
) -> None:
    """One clipped step of a whole row of values, without temporaries; plain ufuncs are half the cost of np.clip."""
    np.multiply(gain, before, out=after)
    np.add(after, offset, out=after)
    np.maximum(after, bounds[0], out=after)
    np.minimum(after, bounds[1], out=after)


def _shape(size: int) -> tuple[int, int]:
    """Steps a row makes one after the other, and rows that advance side by side."""
    # Steps cost a handful of numpy calls each, rows only a short loop: a third of the square root balances the two.
    columns = max(1, math.isqrt(max(size, 1)) // 3)
    return columns, max(1, -(-size // columns))


def _columns_first(values: FloatArray, columns: int, rows: int, *, fill: float) -> FloatArray:
    padded = np.full(columns * rows, fill)
    padded[: values.size] = values
    return np.ascontiguousarray(padded.reshape(rows, columns).T)
