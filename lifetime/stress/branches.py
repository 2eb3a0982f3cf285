"""RC branches of a source under a stretch of current: voltage at the ends, heat in between, exact for straight runs."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.packs.resistance import Branch
from lifetime.stress.intervals import Intervals
from lifetime.stress.scan import affine_scan

_SMALL = 1e-3
"""Interval over time constant below which a series replaces a difference of nearly equal numbers."""
_LONGEST_GROWTH = 300.0
"""Time constants over which a decay can be inverted within float64."""
_MOST_PARTS = 32
"""Parts of a stretch up to which inverting the decay is faster than the general scan."""


@dataclass(frozen=True, slots=True, eq=False)
class BranchSteps:
    """One branch over the intervals of a stretch, whatever the current; all quantities are over the stated resistance.

    With it a branch's voltage is a current: what the stated resistance would have to carry to drop as much.

    Args:
        branch: The branch.
        length_s: Length of each interval [s], shape (n,), >= 0.
        gained: Share of the steady voltage reached within each interval [0..1], shape (n,).
        ramped: The same for the current's rise over the interval, which arrives later [0..1], shape (n,).
        early: What of ``gained`` the current at the start gives, the rest being that at the end's, shape (n,).
        growth: Inverse of the decay since each part's start, one array a part; empty where there are too many parts.
    """

    branch: Branch
    length_s: FloatArray
    gained: FloatArray
    ramped: FloatArray
    early: FloatArray
    growth: tuple[FloatArray, ...]

    @classmethod
    def of(cls, branch: Branch, length_s: FloatArray) -> "BranchSteps":
        """Prepare a stretch.

        Args:
            branch: The branch.
            length_s: Length of each interval [s], shape (n,), >= 0.
        """
        x = length_s * (1.0 / branch.time_constant_s)
        gained = -np.expm1(-x)
        small = x < _SMALL
        # 1 - (1 - exp(-x)) / x, of which a small x leaves x/2 - x²/6 + x³/24.
        ramped = 1.0 - gained / np.where(small, 1.0, x)
        if small.any():
            ramped = np.where(small, x * (0.5 - x * (1.0 / 6.0 - x * (1.0 / 24.0))), ramped)
        return cls(branch, length_s, gained, ramped, gained - ramped, _growth(x))

    def voltages(
        self, left_A: FloatArray, right_A: FloatArray, factor: FloatArray | float, start_A: float
    ) -> FloatArray:
        """Voltage at the intervals' ends over the stated resistance [A], the start first, shape (n + 1,).

        Args:
            left_A: Current at each interval's start [A], shape (n,).
            right_A: The same at its end [A]; straight between.
            factor: Factor of the state of charge in each interval [1], shape (n,) or one for all.
            start_A: Voltage before the first interval over the stated resistance [A].
        """
        steady = self._steady(left_A, right_A, self.branch.fraction * factor)
        path = np.empty(left_A.size + 1)
        path[0] = start_A
        if not self.growth:
            path[1:] = affine_scan(1.0 - self.gained, steady, start_A)
            return path
        first = 0
        for growth in self.growth:
            # The recurrence divided by its own decay is a plain sum.
            part = path[first + 1 : first + 1 + growth.size]
            np.cumsum(steady[first : first + growth.size] * growth, out=part)
            part += path[first]
            part /= growth
            first += growth.size
        return path

    def _steady(self, left_A: FloatArray, right_A: FloatArray, resistance: FloatArray | float) -> FloatArray:
        """What the current adds over each interval [A]."""
        added = left_A * self.early
        added += right_A * self.ramped
        added *= resistance
        return added

    def energies(
        self, left_A: FloatArray, right_A: FloatArray, factor: FloatArray | float, voltages_A: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Heat of each interval and what its capacitance stores, over the stated resistance [A²s], shape (n,) each.

        Both together are what the current puts in; the stored part comes back as heat later.

        Args:
            left_A: Current at each interval's start [A], shape (n,).
            right_A: The same at its end [A]; straight between.
            factor: Factor of the state of charge in each interval [1], shape (n,) or one for all.
            voltages_A: As ``voltages`` returned them [A].
        """
        tau, length, resistance = self.branch.time_constant_s, self.length_s, self.branch.fraction * factor
        rise = right_A - left_A
        before, after = voltages_A[:-1], voltages_A[1:]
        change = self._steady(left_A, right_A, resistance) - before * self.gained
        # Integrals of U and of U t / length from tau dU/dt = R I - U, with I straight.
        whole = resistance * length * (left_A + 0.5 * rise) - tau * change
        put_in = left_A * whole
        if rise.any():
            safe = np.where(length > 0.0, length, 1.0)
            late = resistance * length * (0.5 * left_A + rise * (1.0 / 3.0)) - tau * after + tau * whole / safe
            put_in = put_in + rise * np.where(length > 0.0, late, 0.0)
        stored = (0.5 * tau) * change * (before + after) / resistance
        return put_in - stored, stored


class BranchState:
    """The RC branches of a source on their way through a stream.

    Args:
        branches: The branches.
    """

    def __init__(self, branches: tuple[Branch, ...]) -> None:
        self._branches = branches
        self.voltages_A = [0.0] * len(branches)
        self._prepared: tuple[FloatArray, list[BranchSteps]] | None = None

    def after(self, run: Intervals, factor: FloatArray) -> "BranchState":
        """The branches after a stretch; this state stays as it is.

        Args:
            run: Intervals of current.
            factor: Factor of the state of charge in each interval [1], shape (n,).
        """
        later = BranchState(self._branches)
        later.voltages_A = [
            float(step.voltages(run.left, run.right, factor, start)[-1])
            for step, start in zip(self.steps(run.length_s), self.voltages_A, strict=True)
        ]
        return later

    def steps(self, length_s: FloatArray) -> list[BranchSteps]:
        """The branches over a stretch; prepared once for passes that share their intervals.

        Args:
            length_s: Length of each interval [s], shape (n,).
        """
        if self._prepared is None or self._prepared[0] is not length_s:
            self._prepared = length_s, [BranchSteps.of(branch, length_s) for branch in self._branches]
        return self._prepared[1]


def _growth(x: FloatArray) -> tuple[FloatArray, ...]:
    """Inverse decay at the intervals' ends since the start of their part; none where a part holds too little."""
    elapsed = np.cumsum(x)
    if elapsed.size == 0 or elapsed[-1] > _LONGEST_GROWTH * _MOST_PARTS or float(x.max()) > _LONGEST_GROWTH:
        return ()
    parts, first, gone = [], 0, 0.0
    while first < elapsed.size:
        last = int(np.searchsorted(elapsed, gone + _LONGEST_GROWTH, side="right"))
        parts.append(np.exp(elapsed[first:last] - gone))
        first, gone = last, float(elapsed[last - 1])
    return tuple(parts)
