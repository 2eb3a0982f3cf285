"""Time at state: a joint histogram over charge drawn and temperature, with the mean of each quantity in each bin.

Bins lie on a fixed absolute grid, so the result depends neither on file format nor on how the stream is cut. In-bin
means make sums of smooth laws accurate to second order in the bin's width.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.rainflow import IndexArray

_STRIDE = 1 << 20
"""Temperature bins per charge bin in a joint key; far above any temperature in half-kelvin steps."""

_ROUNDING = 1e-9
"""Bin widths by which rounding may miss a bin's lower edge: a charge that comes back to 0 comes back to its bin."""


@dataclass(frozen=True, slots=True)
class TimeAtState:
    """Occupied bins, shape (n,) each.

    Args:
        time_s: Time in the bin [s].
        charge_As: Mean charge drawn since the day's start [As].
        rise_K: Mean temperature rise at initial resistance, from a cold start of the day [K].
        decay: Mean share of the day's starting temperature rise still left [0..1].
        measured_K: Mean measured temperature [K]; 0 where none was measured.
    """

    time_s: FloatArray
    charge_As: FloatArray
    rise_K: FloatArray
    decay: FloatArray
    measured_K: FloatArray


@dataclass(frozen=True, slots=True)
class CurrentEnvelope:
    """Largest and smallest current at each level of charge drawn, shape (n,) each.

    Args:
        charge_low_As: Lower edge of the level [As].
        charge_high_As: Upper edge of the level [As].
        highest_A: Largest current there, positive when discharging [A].
        lowest_A: Smallest current there [A].
    """

    charge_low_As: FloatArray
    charge_high_As: FloatArray
    highest_A: FloatArray
    lowest_A: FloatArray


class StateAccumulator:
    """Collects time at state and the current envelope of a stream in bounded memory.

    Args:
        charge_bin_As: Width of a charge bin [As], > 0.
        temperature_bin_K: Width of a temperature bin [K], > 0.
    """

    def __init__(self, charge_bin_As: float, temperature_bin_K: float) -> None:
        self._charge_bin_As = charge_bin_As
        self._temperature_bin_K = temperature_bin_K
        self._bins: dict[int, FloatArray] = {}
        self._envelope: dict[int, list[float]] = {}

    def add(
        self,
        charge_As: FloatArray,
        temperature_K: FloatArray | None,
        weights: Sequence[FloatArray | None],
        highest_A: FloatArray,
        lowest_A: FloatArray,
    ) -> None:
        """Add a stretch.

        Args:
            charge_As: Mean charge drawn in each interval [As], shape (n,).
            temperature_K: What the temperature bins are made of [K], shape (n,), or None for one bin.
            weights: Integrals over each interval that are summed per bin, shape (n,) each: time, charge, rise, decay
                and measured temperature, each times the interval's length; None counts as 0.
            highest_A: Largest current of each interval [A], shape (n,).
            lowest_A: Smallest current of each interval [A], shape (n,).
        """
        level = np.floor(charge_As * (1.0 / self._charge_bin_As) + _ROUNDING)
        key = level
        if temperature_K is not None:
            key = np.floor(temperature_K * (1.0 / self._temperature_bin_K))
            key += level * _STRIDE
        # The state moves slowly: consecutive intervals mostly share a bin, so runs are summed before any sorting.
        starts = np.concatenate(([0], np.flatnonzero(key[1:] != key[:-1]) + 1))
        names = key[starts].astype(np.int64)
        keys, where = np.unique(names if temperature_K is not None else names * _STRIDE, return_inverse=True)
        totals = np.zeros((len(weights), keys.size))
        for row, values in enumerate(weights):
            if values is not None:
                totals[row] = np.bincount(where, np.add.reduceat(values, starts), keys.size)
        for column, name in enumerate(keys.tolist()):
            held = self._bins.get(name)
            self._bins[name] = totals[:, column] if held is None else held + totals[:, column]
        highest = np.maximum.reduceat(highest_A, starts)
        lowest = np.minimum.reduceat(lowest_A, starts)
        self._widen(level[starts].astype(np.int64), highest, lowest)

    def _widen(self, level: IndexArray, highest: FloatArray, lowest: FloatArray) -> None:
        order = np.argsort(level, kind="stable")
        levels, first = np.unique(level[order], return_index=True)
        tops = np.maximum.reduceat(highest[order], first).tolist()
        bottoms = np.minimum.reduceat(lowest[order], first).tolist()
        for name, top, bottom in zip(levels.tolist(), tops, bottoms, strict=True):
            held = self._envelope.setdefault(name, [top, bottom])
            held[0] = max(held[0], top)
            held[1] = min(held[1], bottom)

    def time_at_state(self) -> TimeAtState:
        """The bins collected so far, in the order of their keys; bins that took no time are left out."""
        names = [name for name in sorted(self._bins) if self._bins[name][0] > 0.0]
        if not names:
            return TimeAtState(*(np.empty(0) for _ in range(5)))
        table = np.array([self._bins[name] for name in names]).T
        return TimeAtState(table[0], *(row / table[0] for row in table[1:]))

    def envelope(self) -> CurrentEnvelope:
        """The current envelope collected so far, in the order of charge."""
        levels = sorted(self._envelope)
        low = np.array(levels, dtype=np.float64) * self._charge_bin_As
        pairs = np.array([self._envelope[level] for level in levels]).reshape(-1, 2)
        return CurrentEnvelope(low, low + self._charge_bin_As, pairs[:, 0], pairs[:, 1])
