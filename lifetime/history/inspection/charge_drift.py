"""Charge drift: where counted charge departs from a logged state of charge, the current sensor has an offset."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

_DRIFT_SOC: Final = 0.02
_TIMES_SCATTER: Final = 3.0
_SPREAD: Final = 0.05


@dataclass(frozen=True, slots=True)
class ChargeDrift:
    """What a fit of the logged state of charge by counted charge and time shows.

    Args:
        offset_A: Current that flows according to the sensor and not according to the state of charge [A], with the
            sign in which the sensor counts.
        drift_soc: State of charge by which that would be wrong at the end [0..1].
        capacity_As: Capacity that fits [As].
    """

    offset_A: float
    drift_soc: float
    capacity_As: float


class ChargeDriftFit:
    """Sums over a stream for the fit ``soc = a + b q + c t``; fixed memory."""

    def __init__(self) -> None:
        self._gram = np.zeros((4, 4))
        self._charge_As = 0.0
        self._start: float | None = None
        self._last: tuple[float, float] | None = None
        self._low, self._high, self._span_s = np.inf, -np.inf, 0.0
        self._charges = [0.0, 0.0]

    def add(self, time_s: FloatArray, current_A: FloatArray, soc: FloatArray) -> None:
        """Add a stretch without missing values.

        Args:
            time_s: Time [s], increasing.
            current_A: Current [A], either sign.
            soc: State of charge, 0..1.
        """
        if time_s.size == 0:
            return
        before = (time_s[0], current_A[0]) if self._last is None else self._last
        step, mean = np.diff(time_s, prepend=before[0]), 0.5 * (current_A + np.append(before[1], current_A[:-1]))
        charge = self._charge_As + np.cumsum(step * mean)
        if self._start is None:
            self._start = float(time_s[0])
        rows = np.stack([np.ones(time_s.size), charge, time_s - self._start, soc])
        self._gram += rows @ rows.T
        self._charge_As, self._last = float(charge[-1]), (float(time_s[-1]), float(current_A[-1]))
        self._low, self._high = min(self._low, float(soc.min())), max(self._high, float(soc.max()))
        self._charges = [min(self._charges[0], float(charge.min())), max(self._charges[1], float(charge.max()))]
        self._span_s = self._last[0] - self._start

    def drift(self) -> ChargeDrift | None:
        """The drift, or None where none is clear."""
        if self._span_s <= 0.0 or self._high - self._low < _SPREAD:
            return None
        scale = np.array([1.0, max(abs(self._charges[0]), abs(self._charges[1])), self._span_s])
        if scale[1] == 0.0 or not np.isfinite(self._gram).all():
            return None
        count = self._gram[0, 0]
        normal = self._gram[:3, :3] / np.outer(scale, scale) / count
        right = self._gram[:3, 3] / scale / count
        if np.linalg.cond(normal) > 1e8:
            return None  # charge runs evenly with time: an offset and a capacity cannot be told apart
        fit = np.linalg.solve(normal, right)
        scatter = np.sqrt(max(self._gram[3, 3] / count - fit @ right, 0.0))
        drift_soc, per_As = abs(float(fit[2])), float(fit[1]) / scale[1]
        if drift_soc < max(_DRIFT_SOC, _TIMES_SCATTER * scatter) or per_As == 0.0:
            return None
        return ChargeDrift(-float(fit[2]) / self._span_s / per_As, drift_soc, abs(1.0 / per_As))

    @property
    def capacity_As(self) -> float | None:
        """Capacity by the whole change of charge and of state of charge [As], or None where too little changed."""
        spread = self._high - self._low
        moved = self._charges[1] - self._charges[0]
        return moved / spread if spread >= _SPREAD and 0.0 < moved < np.inf else None
