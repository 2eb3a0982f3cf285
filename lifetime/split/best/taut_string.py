"""The battery power that no strategy can beat: a taut string through the tube of the bank's energy window.

Whatever a strategy does, the battery's cumulative energy stays within a tube around the cumulative demand, whose width
is the bank's usable energy. Among all curves in a tube with given ends, the taut string minimises the integral of every
convex function of the slope at once: rms power, peak power, throughput and every convex wear measure.

Source: R. E. Barlow, D. J. Bartholomew, J. M. Bremner, H. D. Brunk, "Statistical Inference under Order Restrictions",
Wiley 1972; P. L. Davies, A. Kovac, "Local extremes, runs, strings and multiresolution", Ann. Statist. 29 (2001) 1-65,
DOI 10.1214/aos/996986501. A one-pass way to the same string on even steps: L. Condat, "A direct algorithm for 1-D total
variation denoising", IEEE Signal Process. Lett. 20 (2013) 1054-1057. All from memory.
"""

from collections import deque
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.errors import NumberError
from lifetime.split.best.demand import checked_demand
from lifetime.split.best.tube import Side, corners_that_matter

_FLOOR, _CEILING, _END = 0, 1, 2
_Corner = tuple[float, float, float, int]
"""Slope that leads to it, time, energy (negated on the ceiling), sample."""


@dataclass(frozen=True, slots=True)
class EnergyWindow:
    """What a lossless bank may store.

    Args:
        lowest_J: Least stored energy [J].
        highest_J: Most stored energy [J], >= ``lowest_J``.
        start_J: Energy before the first interval [J], within the window.
        end_J: Energy after the last one [J], within the window.

    Raises:
        NumberError: An energy is not finite, or start or end lies outside.
    """

    lowest_J: float
    highest_J: float
    start_J: float
    end_J: float

    def __post_init__(self) -> None:
        """Refuse a window that contradicts itself."""
        if not (isfinite(self.lowest_J) and isfinite(self.highest_J)):
            raise NumberError(
                f"The bank's window must be finite, got {self.lowest_J:g} to {self.highest_J:g} J. "
                "For a bank without bounds give more than the whole demand's energy."
            )
        if not self.lowest_J <= self.start_J <= self.highest_J or not self.lowest_J <= self.end_J <= self.highest_J:
            raise NumberError(
                f"The bank's energies at start ({self.start_J:g} J) and end ({self.end_J:g} J) must lie within its "
                f"window ({self.lowest_J:g} to {self.highest_J:g} J)."
            )


def taut_string(length_s: FloatArray, demand_W: FloatArray, window: EnergyWindow) -> FloatArray:
    """Battery power that minimises every convex measure at once, for a lossless bank of unlimited power.

    Args:
        length_s: Length of each interval [s], shape (n,), >= 0.
        demand_W: Mean demand of each interval [W], shape (n,), positive towards the machine.
        window: What the bank may store.

    Returns:
        Mean battery power of each interval [W], shape (n,); 0 in intervals that take no time.

    Raises:
        NumberError: A value is not finite, a length is negative, the shapes differ, or no time passes.
    """
    ends, moves = checked_demand(length_s, demand_W)
    time, length = np.concatenate([[0.0], ends[1:][moves]]), length_s[moves]
    taken = demand_W[moves] * length
    # A string keeps its corners when the whole tube is sheared; without its mean the sum keeps more digits.
    mean = float(taken.sum()) / float(time[-1])
    demand = np.concatenate([[0.0], np.cumsum(taken - mean * np.diff(time))])
    offset = np.array([window.lowest_J, window.highest_J, window.end_J]) - window.start_J
    floor, ceiling = corners_that_matter(time, demand + offset[_FLOOR], demand + offset[_CEILING])
    at, side = _bends(floor, ceiling, (float(time[-1]), float(demand[-1] + offset[_END]), time.size - 1))
    # From bend to bend the battery gives the demand and what the bank takes; summed there, no digits of the far past.
    bank = np.diff(offset[side], prepend=0.0)
    starts = np.concatenate([[0], at[:-1]])
    slope = (np.add.reduceat(taken, starts) + bank) / np.add.reduceat(length, starts)
    power = np.zeros(length_s.size)
    power[moves] = np.repeat(slope, np.diff(at, prepend=0))
    return power


def _bends(floor: Side, ceiling: Side, end: tuple[float, float, int]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Samples where the string bends, its end last, and the side that each lies on."""
    inner = slice(1, -1)  # start and end are given, whatever the tube leaves there
    at = np.concatenate([floor.at[inner], ceiling.at[inner]])
    side = np.repeat([_FLOOR, _CEILING], [floor.at.size - 2, ceiling.at.size - 2])
    order = np.argsort(at, kind="stable")
    columns = (
        np.concatenate([floor.time_s[inner], ceiling.time_s[inner]])[order].tolist(),
        np.concatenate([floor.energy_J[inner], ceiling.energy_J[inner]])[order].tolist(),
        at[order].tolist(),
        side[order].tolist(),
    )
    for column, last in zip(columns, (*end, _FLOOR), strict=True):
        column.append(last)
    bends, sides = _funnel(*columns)
    # Where the tube has no width, floor and ceiling are one corner.
    found, first = np.unique(np.array(bends, dtype=np.intp), return_index=True)
    which = np.array(sides, dtype=np.intp)[first]
    which[-1] = _END
    return found, which


def _funnel(
    times: list[float], energies: list[float], samples: list[int], sides: list[int]
) -> tuple[list[int], list[int]]:
    """Walk the corners with a funnel: the string's last sure bend, and a chain of corners along either side from it.

    Each chain is the shortest way to its side's latest corner. Ceilings are seen in a mirror, where they are floors, so
    that one rule serves both. Every corner enters and leaves once: the work grows with their number alone.
    """
    chains: tuple[deque[_Corner], deque[_Corner]] = (deque(), deque())
    tip_time = tip_energy = 0.0  # seen from the floor
    bends: list[int] = []
    bend_sides: list[int] = []
    for time, energy, sample, side in zip(times, energies, samples, sides, strict=True):
        own, other = chains[side], chains[1 - side]
        while own:
            last = own[-1]
            slope = (energy - last[2]) / (time - last[1])
            if slope < last[0]:
                break
            own.pop()
        else:
            seen = -tip_energy if side else tip_energy
            slope = (energy - seen) / (time - tip_time)
            while other and slope + other[0][0] > 0.0:
                # The new corner lies beyond the other chain's first one: the string bends there.
                _, tip_time, mirrored, bend = other.popleft()
                seen = -mirrored
                slope = (energy - seen) / (time - tip_time)
                bends.append(bend)
                bend_sides.append(1 - side)
                tip_energy = -seen if side else seen
        own.append((slope, time, energy, sample))
    bends.extend(corner[3] for corner in chains[_FLOOR])
    bend_sides.extend([_FLOOR] * len(chains[_FLOOR]))
    return bends, bend_sides
