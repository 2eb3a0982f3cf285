"""The tube that a bank's energy window leaves around the cumulative demand, and the few corners of it that matter."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray

_BLOCKS: Final = (8, 64, 512, 4096, 32_768)
"""Samples within which one chord may span, level by level; each is a multiple of the one before."""
_MOST_ROUNDS: Final = 12
_WORTH_A_ROUND: Final = 0.02
"""Share of the corners a round must drop for another to follow. Stopping early keeps corners that do not matter; it
never changes the string."""


@dataclass(frozen=True, slots=True)
class Side:
    """Corners of one side of the tube, in order of time, seen so that the tube lies above them.

    Args:
        at: Which samples, shape (m,), increasing.
        time_s: When [s], shape (m,), strictly increasing.
        energy_J: Cumulative battery energy there [J], shape (m,); negated for the ceiling, a floor in a mirror.
    """

    at: NDArray[np.intp]
    time_s: FloatArray
    energy_J: FloatArray

    def only(self, which: NDArray[np.bool_]) -> "Side":
        """The side with some of its corners."""
        return Side(self.at[which], self.time_s[which], self.energy_J[which])


def corners_that_matter(time_s: FloatArray, floor_J: FloatArray, ceiling_J: FloatArray) -> tuple[Side, Side]:
    """Leave out corners of the tube that its taut string cannot bend around.

    Take two floor corners whose chord stays below every ceiling corner between them. The string passes above both, and
    to sink below their chord it would have to bend upwards there, which it does at ceiling corners only: all above the
    chord. So floor corners below the chord may go, and the string through what is left is still the string through
    all. The same holds in the mirror, and again for the corners left.

    Args:
        time_s: Times [s], shape (n,), strictly increasing.
        floor_J: Lower side of the tube [J], shape (n,).
        ceiling_J: Upper side [J], shape (n,), nowhere below the floor.

    Returns:
        Floor and ceiling, the ceiling negated; the first and the last sample are among the corners of both.
    """
    every = np.arange(time_s.size)
    floor, ceiling = Side(every, time_s, floor_J), Side(every, time_s, -ceiling_J)
    for size in _BLOCKS:
        before = floor.at.size + ceiling.at.size
        floor = _thinned(floor, ceiling, size)
        ceiling = _thinned(ceiling, floor, size)
        if floor.at.size + ceiling.at.size == before:
            break
    return floor, ceiling


def _thinned(own: Side, other: Side, size: int) -> Side:
    """Drop corners below chords that span at most one block and stay inside the tube."""
    block = own.at // size
    pinned = np.ones(own.at.size, dtype=np.bool_)
    pinned[1:-1] = block[1:-1] != block[:-2]
    left = _hull(own, pinned)
    if left.size == own.at.size:
        return own
    chords = Side(own.at[left], own.time_s[left], own.energy_J[left])
    # Which chord each corner across stands over; the last corner of all belongs to no chord and lies over no inside.
    across = np.clip(np.searchsorted(chords.at, other.at, side="right") - 1, 0, left.size - 2)
    run, rise = np.diff(chords.time_s), np.diff(chords.energy_J)
    height = chords.energy_J[across] + (rise / run)[across] * (other.time_s - chords.time_s[across])
    inside = (chords.at[across] < other.at) & (other.at < chords.at[across + 1])
    leaves = np.zeros(left.size, dtype=np.bool_)
    leaves[across[inside & (height > -other.energy_J)]] = True
    kept = np.repeat(leaves, np.diff(np.append(left, own.at.size)))
    kept[left] = True
    return own.only(kept)


def _hull(side: Side, pinned: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Corners of the concave hull between each pinned corner and the next, and perhaps some more."""
    at = np.arange(side.at.size)
    for _ in range(_MOST_ROUNDS):
        slope = np.diff(side.energy_J[at]) / np.diff(side.time_s[at])
        stays = pinned[at]
        stays[1:-1] |= slope[:-1] > slope[1:]
        before, at = at.size, at[stays]
        if before - at.size <= _WORTH_A_ROUND * before:
            break
    return at
