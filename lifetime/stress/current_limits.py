"""What a source may be loaded with: current by duration and state of charge, voltage, state of charge, power."""

from collections.abc import Sequence
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

    def pulse_A(self, length_s: float, soc: float) -> float:
        """Most constant current of a pulse from rest [A]; infinity where there is no limit.

        Args:
            length_s: Length of the pulse [s], > 0.
            soc: State of charge at its beginning [0..1].
        """
        # A pulse shorter than a window has the rest of it without current.
        means = [mean * max(window_s / length_s, 1.0) for window_s, mean in zip(WINDOWS_S, self.mean_A, strict=True)]
        return min(self.peak_A, *means) * float(self.at_soc(np.asarray(soc)))


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
    before: Moved,
    length_s: FloatArray,
    moved_As: FloatArray,
    means: Sequence[tuple[float, FloatArray]],
    total_As: FloatArray | None = None,
) -> FloatArray:
    """The most of a current that keeps its running means within limits, taken as early as it may be.

    Args:
        before: What was moved before the stretch.
        length_s: Length of each interval [s], shape (n,).
        moved_As: Charge asked of each interval in this direction [As], shape (n,), >= 0.
        means: Windows [s], the shortest first, each with the limit at each interval's end [A], shape (n,), >= 0.
        total_As: Most charge of the stretch up to each interval's end [As], shape (n,), or None for no such limit.

    Returns:
        Charge moved by each interval [As], shape (n,), at most what was asked.
    """
    over = np.zeros(length_s.size, dtype=bool) if total_As is None else np.cumsum(moved_As) > total_As
    for window_s, limit_A in means:
        over |= running_mean(before, length_s, moved_As, window_s) > limit_A * (1.0 + _SLACK)
    if not over.any():
        return moved_As
    time, charge = before.followed_by(length_s, moved_As)
    start = before.time_s.size
    # A current within the means at any moment never fills a window that is shorter than the interval.
    longest = np.minimum.reduce([np.inf + length_s, *(np.where(length_s >= w, a, np.inf) for w, a in means)])
    asked_As = np.minimum(moved_As, longest * np.where(length_s > 0.0, length_s, 1.0))
    shortest = min((window_s for window_s, _ in means), default=float("inf"))
    # What holds back one interval leaves more room to the later ones: whoever is within limits as asked stays so.
    places = np.append(np.flatnonzero(over) + start, time.size)
    first = start
    while first < time.size:
        held = int(places[np.searchsorted(places, first)])
        if held > first:
            charge[first:held] = charge[first - 1] + np.cumsum(asked_As[first - start : held - start])
            first = held
            continue
        # All intervals whose shortest window begins in what is settled already go together.
        last = max(int(np.searchsorted(time, time[first - 1] + shortest, side="right")), first + 1)
        part, ends, begun = slice(first - start, last - start), time[first:last], charge[first - 1]
        asked = begun + np.cumsum(asked_As[part])
        room = np.full(asked.size, np.inf) if total_As is None else charge[start - 1] + total_As[part]
        for window_s, limit_A in means:
            since = ends - window_s
            settled = np.interp(since, time[:first], charge[:first], left=charge[0])
            room = np.where(since <= time[first - 1], np.minimum(room, settled + limit_A[part] * window_s), room)
        # The charge rises as asked until it meets what is left, and never falls.
        reached = asked + np.minimum.accumulate(np.minimum(room - asked, 0.0))
        charge[first:last] = np.maximum.accumulate(np.maximum(reached, begun))
        first = last
    return np.minimum(np.diff(charge[start - 1 :]), moved_As)
