"""RC branches of a source under a stretch of current: voltage at the ends, heat in between, exact for straight runs."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.packs.resistance import Branch
from lifetime.stress.scan import affine_scan

_SMALL = 1e-3
"""Interval over time constant below which a series replaces a difference of nearly equal numbers."""


@dataclass(frozen=True, slots=True, eq=False)
class BranchSteps:
    """One branch over the intervals of a stretch, whatever the current; all quantities are over the stated resistance.

    With it a branch's voltage is a current: what the stated resistance would have to carry to drop as much.

    Args:
        branch: The branch.
        length_s: Length of each interval [s], shape (n,), >= 0.
        kept: Share of the voltage that each interval keeps [0..1], shape (n,).
        gained: Share of the steady voltage reached within each interval [0..1], shape (n,).
        ramped: The same for the current's rise over the interval, which arrives later [0..1], shape (n,).
    """

    branch: Branch
    length_s: FloatArray
    kept: FloatArray
    gained: FloatArray
    ramped: FloatArray

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
        return cls(branch, length_s, 1.0 - gained, gained, ramped)

    def voltages(
        self, left_A: FloatArray, right_A: FloatArray, factor: FloatArray | float, start_A: float
    ) -> FloatArray:
        """Voltage at the intervals' ends over the stated resistance [A], the start first, shape (n + 1,).

        Args:
            left_A: Current at each interval's start [A], shape (n,).
            right_A: The same at its end; straight between.
            factor: Factor of the state of charge in each interval [1], shape (n,) or one for all.
            start_A: Voltage before the first interval over the stated resistance [A].
        """
        steady = self.branch.fraction * factor * (left_A * self.gained + (right_A - left_A) * self.ramped)
        path = np.empty(left_A.size + 1)
        path[0] = start_A
        path[1:] = affine_scan(self.kept, steady, start_A)
        return path

    def heat(
        self, left_A: FloatArray, right_A: FloatArray, factor: FloatArray | float, voltages_A: FloatArray
    ) -> FloatArray:
        """Heat of each interval over the stated resistance [A²s], shape (n,).

        What the current puts in less what the capacitance stores: a stored part comes back as heat later.

        Args:
            left_A: Current at each interval's start [A], shape (n,).
            right_A: The same at its end; straight between.
            factor: Factor of the state of charge in each interval [1], shape (n,) or one for all.
            voltages_A: As ``voltages`` returned them.
        """
        tau, length, resistance = self.branch.time_constant_s, self.length_s, self.branch.fraction * factor
        rise = right_A - left_A
        before, after = voltages_A[:-1], voltages_A[1:]
        change = resistance * (left_A * self.gained + rise * self.ramped) - before * self.gained
        # Integrals of U and of U t / length from tau dU/dt = R I - U, with I straight.
        whole = resistance * length * (left_A + 0.5 * rise) - tau * change
        put_in = left_A * whole
        if rise.any():
            safe = np.where(length > 0.0, length, 1.0)
            late = resistance * length * (0.5 * left_A + rise * (1.0 / 3.0)) - tau * after + tau * whole / safe
            put_in = put_in + rise * np.where(length > 0.0, late, 0.0)
        return np.asarray(put_in - (0.5 * tau) * change * (before + after) / resistance)
