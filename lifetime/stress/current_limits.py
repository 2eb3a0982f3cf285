"""What a source may be loaded with: current by duration and state of charge, voltage, state of charge, power."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

WINDOWS_S: Final = (1.0, 10.0, 30.0, 300.0)
"""Durations that have a limit of their own [s]; the last stands for continuous load. Common practice, no source."""
_NONE: Final = (float("inf"),) * len(WINDOWS_S)
_EVERYWHERE: Final = np.zeros(1)
_UNCHANGED: Final = np.ones(1)
_SLACK: Final = 1e-9
"""Relative excess over a limit that is rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Ceiling:
    """Most current in one direction, at one temperature.

    Args:
        peak_A: At any moment [A], >= 0; infinity for no limit.
        mean_A: Of the running mean over each of ``WINDOWS_S`` [A], >= 0; infinity for no limit.
        soc: Lower edges of the steps of state of charge [0..1], rising.
        factor: Factor of all currents in each step [1], >= 0; that of the first below it.
    """

    peak_A: float = float("inf")
    mean_A: tuple[float, ...] = _NONE
    soc: FloatArray = field(default_factory=lambda: _EVERYWHERE)
    factor: FloatArray = field(default_factory=lambda: _UNCHANGED)

    @property
    def is_open(self) -> bool:
        """True where no current is too much."""
        return np.isinf([self.peak_A, *self.mean_A]).all().item()

    def at_soc(self, soc: FloatArray) -> FloatArray:
        """Factor of the currents [1]: that of the step's lower edge.

        Args:
            soc: State of charge [0..1], any shape.
        """
        place = np.searchsorted(self.soc, soc, side="right") - 1
        return np.asarray(self.factor[np.maximum(place, 0)])


@dataclass(frozen=True, slots=True, eq=False)
class LoadLimits:
    """Limits of a source at one temperature.

    Args:
        discharge: Most discharge current.
        charge: Most charge current.
        minimum_voltage_V: Lowest terminal voltage [V].
        maximum_voltage_V: Highest terminal voltage [V].
        maximum_soc: State of charge above which nothing is charged [0..1].
        power_W: Most power of the inverter in either direction [W]; infinity for no limit.
    """

    discharge: Ceiling = Ceiling()
    charge: Ceiling = Ceiling()
    minimum_voltage_V: float = 0.0
    maximum_voltage_V: float = float("inf")
    maximum_soc: float = float("inf")
    power_W: float = float("inf")


@dataclass(slots=True)
class Moved:
    """Charge moved in one direction over the last minutes, which running means look back on.

    Args:
        time_s: Moments before now [s], rising to 0.
        charge_As: Charge moved since the first of them [As].
    """

    time_s: FloatArray = field(default_factory=lambda: np.zeros(1))
    charge_As: FloatArray = field(default_factory=lambda: np.zeros(1))

    def followed_by(self, length_s: FloatArray, moved_As: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Times and charges with a stretch appended.

        Args:
            length_s: Length of each interval [s], shape (n,).
            moved_As: Charge that each moves in this direction [As], shape (n,), >= 0.
        """
        time = np.concatenate([self.time_s, np.cumsum(length_s)])
        return time, np.concatenate([self.charge_As, self.charge_As[-1] + np.cumsum(moved_As)])

    def after(self, length_s: FloatArray, moved_As: FloatArray) -> "Moved":
        """What is left to look back on after a stretch.

        Args:
            length_s: Length of each interval [s], shape (n,).
            moved_As: Charge that each moves in this direction [As], shape (n,), >= 0.
        """
        time, charge = self.followed_by(length_s, moved_As)
        keep = max(int(np.searchsorted(time, time[-1] - WINDOWS_S[-1], side="right")) - 1, 0)
        return Moved(time[keep:] - time[-1], charge[keep:] - charge[keep])


def running_mean(before: Moved, length_s: FloatArray, moved_As: FloatArray, window_s: float) -> FloatArray:
    """Mean current over a window that ends with each interval [A], shape (n,); before the history there was none.

    Args:
        before: What was moved before the stretch.
        length_s: Length of each interval [s], shape (n,).
        moved_As: Charge that each moves in this direction [As], shape (n,), >= 0.
        window_s: Length of the window [s], > 0.
    """
    time, charge = before.followed_by(length_s, moved_As)
    ends = time[before.time_s.size :]
    since = np.interp(ends - window_s, time, charge, left=charge[0])
    return np.asarray((charge[before.time_s.size :] - since) / window_s)


def kept_within(
    before: Moved, length_s: FloatArray, moved_As: FloatArray, limit_A: FloatArray, window_s: float
) -> FloatArray:
    """The most of a current that keeps its running mean within a limit, taken as early as it may be.

    Args:
        before: What was moved before the stretch.
        length_s: Length of each interval [s], shape (n,).
        moved_As: Charge asked of each interval in this direction [As], shape (n,), >= 0.
        limit_A: Limit at each interval's end [A], shape (n,), >= 0.
        window_s: Length of the window [s], > 0.

    Returns:
        Charge moved by each interval [As], shape (n,), at most what was asked.
    """
    if not (running_mean(before, length_s, moved_As, window_s) > limit_A * (1.0 + _SLACK)).any():
        return moved_As
    time, charge = before.followed_by(length_s, moved_As)
    first = last = before.time_s.size
    while first < time.size:
        # All intervals whose window begins in what is settled already go together.
        last = max(int(np.searchsorted(time, time[first - 1] + window_s, side="right")), first + 1)
        ends, part = time[first:last], slice(first - before.time_s.size, last - before.time_s.size)
        begun = charge[first - 1]
        asked = np.cumsum(moved_As[part])
        if last == first + 1 and ends[0] - window_s > time[first - 1]:
            charge[first] = begun + min(asked[0], limit_A[part][0] * length_s[part][0])
        else:
            room = np.interp(ends - window_s, time[:first], charge[:first], left=charge[0]) + limit_A[part] * window_s
            # The charge rises as asked until it meets what the window leaves, and never falls.
            reached = begun + asked + np.minimum.accumulate(np.minimum(room - (begun + asked), 0.0))
            charge[first:last] = np.maximum.accumulate(np.maximum(reached, begun))
        first = last
    return np.minimum(np.diff(charge[before.time_s.size - 1 :]), moved_As)
