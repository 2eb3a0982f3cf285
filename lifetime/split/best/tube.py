"""The tube that a bank's energy window leaves around the cumulative demand, and the few corners of it that matter."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray

_BLOCKS: Final = (8, 64, 512, 4096, 32_768)
"""Samples in a block within which only hull corners are kept, level by level; each is a multiple of the one before."""


@dataclass(frozen=True, slots=True)
class Corners:
    """Corners of one side of the tube, in order of time.

    Args:
        time_s: Times [s], shape (n,), increasing.
        energy_J: Cumulative battery energy there [J], shape (n,).
    """

    time_s: FloatArray
    energy_J: FloatArray


def floor_corners(time_s: FloatArray, demand_J: FloatArray, width_J: float) -> NDArray[np.intp]:
    """Which corners of the tube's lower side a taut string can bend around.

    Within a stretch in which the concave hull of the floor stays below the ceiling, only corners of that hull matter:
    between two of them the string bends downwards at floor corners and upwards at ceiling corners only, and every
    ceiling corner lies above the hull, so it cannot sink below it. Stretches in which the hull leaves the tube stay
    as the level below left them.

    Args:
        time_s: Times [s], shape (n,), strictly increasing.
        demand_J: Cumulative demand [J], shape (n,); the floor is this less a constant.
        width_J: Width of the tube [J], >= 0.

    Returns:
        Indices of the corners kept, increasing; the first and the last are among them.
    """
    n = time_s.size
    kept = np.ones(n, dtype=np.bool_)
    for size in _BLOCKS:
        edges = np.zeros(n, dtype=np.bool_)
        edges[::size] = edges[-1] = True
        # The hull of a stretch is the hull of its parts' hulls, so each level works on what the one below left.
        hull = _hull(time_s, demand_J, edges, kept | edges)
        starts = np.flatnonzero(edges[:-1])
        height = np.interp(time_s, time_s[hull], demand_J[hull]) - demand_J
        fits = np.maximum.reduceat(height[:-1], starts) <= width_J
        if not fits.any():
            break
        open_blocks = np.append(np.repeat(fits, np.diff(np.append(starts, n - 1))), fits[-1])
        on_hull = np.zeros(n, dtype=np.bool_)
        on_hull[hull] = True
        kept &= ~open_blocks | on_hull
        kept |= edges & open_blocks
    kept[[0, -1]] = True
    return np.flatnonzero(kept)


def _hull(
    time_s: FloatArray, value: FloatArray, edges: NDArray[np.bool_], among: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Corners of the concave hull between each edge and the next: what lies below a chord is dropped."""
    at = np.flatnonzero(among)
    pinned = edges[at]
    while True:
        t, v = time_s[at], value[at]
        slope = np.diff(v) / np.diff(t)
        below = np.zeros(at.size, dtype=np.bool_)
        below[1:-1] = (slope[:-1] <= slope[1:]) & ~pinned[1:-1]
        if not below.any():
            return at
        at, pinned = at[~below], pinned[~below]
