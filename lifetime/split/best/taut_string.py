"""The battery power that no strategy can beat: a taut string through the tube of the bank's energy window.

Whatever a strategy does, the battery's cumulative energy stays within a tube around the cumulative demand, whose width
is the bank's usable energy. Among all curves in a tube with given ends, the taut string minimises the integral of every
convex function of the slope at once: rms power, peak power, throughput and every convex wear measure.

Source: R. E. Barlow, D. J. Bartholomew, J. M. Bremner, H. D. Brunk, "Statistical Inference under Order Restrictions",
Wiley 1972; P. L. Davies, A. Kovac, "Local extremes, runs, strings and multiresolution", Ann. Statist. 29 (2001) 1-65,
DOI 10.1214/aos/996986501. Both from memory.
"""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import NumberError
from lifetime.split.best.tube import floor_corners

_Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class EnergyWindow:
    """What a lossless bank may store.

    Args:
        lowest_J: Least stored energy [J].
        highest_J: Most stored energy [J], >= ``lowest_J``.
        start_J: Energy before the first interval [J], within the window.
        end_J: Energy after the last one [J], within the window.
    """

    lowest_J: float
    highest_J: float
    start_J: float
    end_J: float

    def __post_init__(self) -> None:
        """Refuse a window that contradicts itself."""
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
        NumberError: No time passes.
    """
    moves = length_s > 0.0
    if not moves.any():
        raise NumberError("A demand in which no time passes cannot be split.")
    time = np.concatenate([[0.0], np.cumsum(length_s[moves])])
    demand = np.concatenate([[0.0], np.cumsum(demand_W[moves] * length_s[moves])])
    floor, ceiling = demand + (window.lowest_J - window.start_J), demand + (window.highest_J - window.start_J)
    end = (float(time[-1]), float(demand[-1] + (window.end_J - window.start_J)))
    width = window.highest_J - window.lowest_J
    lower = floor_corners(time, demand, width)[1:-1]
    upper = floor_corners(time, -demand, width)[1:-1]
    corners = _pull(
        list(zip(time[lower].tolist(), floor[lower].tolist(), strict=True)),
        list(zip(time[upper].tolist(), ceiling[upper].tolist(), strict=True)),
        end,
    )
    string = np.interp(time, [t for t, _ in corners], [e for _, e in corners])
    power = np.zeros(length_s.size)
    power[moves] = np.diff(string) / np.diff(time)
    return power


def _pull(floor: list[_Point], ceiling: list[_Point], end: _Point) -> list[_Point]:
    """Corners of the shortest way from (0, 0) to the end above all floor and below all ceiling corners: a funnel."""
    path = [(0.0, 0.0)]
    lower, upper = [path[0]], [path[0]]
    heads = [0, 0]  # first corner of each chain still ahead of the funnel's tip
    events = sorted([(t, e, True) for t, e in floor] + [(t, e, False) for t, e in ceiling])
    events.append((*end, True))
    for time, energy, is_floor in events:
        own, other = (lower, upper) if is_floor else (upper, lower)
        mine, theirs = (0, 1) if is_floor else (1, 0)
        turn = 1.0 if is_floor else -1.0
        head = heads[mine]
        while len(own) - head > 1:
            (t1, e1), (t2, e2) = own[-2], own[-1]
            # The chain bends one way only: a corner that would bend it the other way lies behind the new point.
            if turn * ((e2 - e1) * (time - t2) - (energy - e2) * (t2 - t1)) > 0.0:
                break
            own.pop()
        if len(own) - head == 1:
            tip_t, tip_e = own[-1]
            far = heads[theirs]
            while len(other) - far > 1:
                next_t, next_e = other[far + 1]
                if turn * ((energy - tip_e) * (next_t - tip_t) - (next_e - tip_e) * (time - tip_t)) <= 0.0:
                    break
                # The new point lies beyond the other chain's first corner: the string bends around that corner.
                far += 1
                tip_t, tip_e = next_t, next_e
                path.append((tip_t, tip_e))
            if far != heads[theirs]:
                heads[theirs] = far
                own.clear()
                own.append((tip_t, tip_e))
                heads[mine] = 0
        own.append((time, energy))
    path.extend(lower[heads[0] + 1 :])
    return path
