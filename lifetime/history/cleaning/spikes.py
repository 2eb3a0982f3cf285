"""Single samples that leave the usual range and return at once, as a loose plug or a lost bit makes them."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray, Samples, in_blocks, join
from lifetime.history.cleaning.counts import RowCount

_USUAL: Final = (0.005, 0.995)
_STEPS: Final = 10.0
_AGREEMENT: Final = 0.25
FEWEST_SAMPLES: Final = 50
"""Fewer samples say nothing about what is usual."""


def spikes(values: FloatArray) -> IntArray:
    """Positions of single samples that leave the usual range by more than its width and return at once.

    Usual is what is between the 0.5 % and the 99.5 % quantile. A spike is beyond that by more than its width and
    by ten median steps, on both sides alike, while its two neighbours agree. Common practice, no source.

    Args:
        values: Any channel, finite, shape (n,); fewer than 50 samples show no spikes.

    Returns:
        Increasing positions; neither the first nor the last sample is among them.
    """
    if values.size < FEWEST_SAMPLES:
        return np.empty(0, dtype=np.int64)
    low, high = np.quantile(values, _USUAL)
    width = float(high - low)
    steps = np.abs(np.diff(values))
    moving = steps[steps > 0.0]
    least = max(width, _STEPS * float(np.median(moving)) if moving.size else 0.0)
    inner = values[1:-1]
    outside = (inner < low - least) | (inner > high + least)
    if not outside.any():
        return np.empty(0, dtype=np.int64)
    before, after = inner - values[:-2], inner - values[2:]
    alone = (before * after > 0.0) & (np.minimum(np.abs(before), np.abs(after)) > least)
    agree = np.abs(values[2:] - values[:-2]) <= _AGREEMENT * np.minimum(np.abs(before), np.abs(after))
    return np.flatnonzero(outside & alone & agree) + 1


def without_spikes(stream: Iterator[Samples], dropped: RowCount) -> Iterator[Samples]:
    """Leave out rows in which any channel but time has a spike; judged in blocks on a fixed grid of rows.

    Args:
        stream: Samples in order.
        dropped: Counts what is left out.
    """
    before: Samples | None = None
    block: Samples | None = None
    for following in in_blocks(stream):
        if block is not None:
            yield _cleaned(before, block, following, dropped)
            before = block.take(slice(block.size - 1, None))
        block = following
    if block is not None:
        yield _cleaned(before, block, None, dropped)


def _cleaned(before: Samples | None, block: Samples, following: Samples | None, dropped: RowCount) -> Samples:
    """One block without its spikes; a neighbour on each side lets its edges be judged too."""
    parts = [block]
    if before is not None:
        parts.insert(0, before)
    if following is not None:
        parts.append(following.take(slice(0, 1)))
    whole = join(parts)
    bad = np.zeros(whole.size, dtype=np.bool_)
    for quantity, values in whole.channels.items():
        if quantity != "time":
            bad[spikes(values)] = True
    start = 0 if before is None else 1
    bad = bad[start : start + block.size]
    if bad.any():
        dropped.add(block.rows[bad])
        block = block.take(~bad)
    return block
