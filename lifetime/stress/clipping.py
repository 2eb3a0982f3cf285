"""Holding the currents of a power within a source's limits."""

from dataclasses import replace
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.current_limits import WINDOWS_S, LoadLimits, Moved, kept_within
from lifetime.stress.delivery import Delivery
from lifetime.stress.intervals import Intervals

_SAME: Final = 1e-9
"""Relative difference of a power that is rounding."""


class Clipping:
    """Holds a stretch's currents within the limits, round after round of the solution for a power.

    Args:
        limits: The limits.
        length_s: Length of each interval [s], shape (n,).
        discharged: What was discharged before.
        charged: What was charged before.
    """

    def __init__(self, limits: LoadLimits, length_s: FloatArray, discharged: Moved, charged: Moved) -> None:
        self._limits = limits
        self._length = length_s
        self._moved = (discharged, charged)

    def within_power(self, run: Intervals) -> Intervals:
        """The powers that the inverter passes.

        Args:
            run: Intervals of power [W].
        """
        most = self._limits.power_W
        if run.strongest <= most:
            return run
        return replace(run, left=np.clip(run.left, -most, most), right=np.clip(run.right, -most, most))

    def clips(self, run: Intervals, served: Delivery, capacity_As: float) -> bool:
        """Whether a power that is served whatever it takes passes a limit.

        Args:
            run: Intervals of power [W].
            served: What became of it without limits.
            capacity_As: Present capacity [As].
        """
        if served.shortage > 0.0 or self.within_power(run) is not run:
            return True
        kept = self.within(served.asked_A, served.inner_V, served.at_once_ohm, served.soc, capacity_As)
        return any((now != asked).any() for now, asked in zip(kept, served.asked_A, strict=True))

    def within(
        self,
        currents: tuple[FloatArray, FloatArray],
        inner_V: FloatArray,
        at_once_ohm: FloatArray | float,
        soc: FloatArray,
        capacity_As: float,
    ) -> tuple[FloatArray, FloatArray]:
        """Currents at the intervals' starts and ends that keep to the limits.

        Args:
            currents: As the power asks for them [A], shape (n,) each.
            inner_V: Open-circuit voltage less what the RC branches drop, at the intervals' ends [V], shape (n + 1,).
            at_once_ohm: Resistance that acts at once [Ω].
            soc: State of charge at the intervals' ends, shape (n + 1,).
            capacity_As: Present capacity [As].
        """
        limits = self._limits
        # The step that holds is that of the interval's start, so that no current decides on its own limit.
        factors = limits.discharge.at_soc(soc[:-1]), limits.charge.at_soc(soc[:-1])
        both = []
        for current, inner in zip(currents, (inner_V[:-1], inner_V[1:]), strict=True):
            with np.errstate(divide="ignore", invalid="ignore"):
                most = np.maximum(inner - limits.minimum_voltage_V, 0.0) / at_once_ohm
                least = np.minimum(inner - limits.maximum_voltage_V, 0.0) / at_once_ohm
            most = np.fmin(most, limits.discharge.peak_A * factors[0])
            least = np.fmax(least, -limits.charge.peak_A * factors[1])
            both.append(np.maximum(np.minimum(current, most), least))
        return self._within_charge(both[0], both[1], factors, (limits.maximum_soc - float(soc[0])) * capacity_As)

    def _within_charge(
        self, left: FloatArray, right: FloatArray, factors: tuple[FloatArray, FloatArray], room_As: float
    ) -> tuple[FloatArray, FloatArray]:
        """Currents whose running means keep to their limits, and that charge no more than fits in."""
        moved = 0.5 * (left + right) * self._length
        gone = np.maximum(moved, 0.0)
        ways = ((gone, self._limits.discharge, 0), (np.maximum(-moved, 0.0), self._limits.charge, 1))
        for asked, ceiling, way in ways:
            means = [
                (s, most * factors[way]) for s, most in zip(WINDOWS_S, ceiling.mean_A, strict=True) if most < np.inf
            ]
            total = None if way == 0 or room_As == np.inf else room_As + np.cumsum(gone)
            if not means and total is None:
                continue
            kept = kept_within(self._moved[way], self._length, asked, means, total)
            if kept is asked:
                continue
            share = np.divide(kept, asked, out=np.ones(asked.size), where=asked > 0.0)
            left, right = left * share, right * share
            if way == 0:
                gone = kept
        return left, right

    def missed_W(self, asked: Intervals, served: Delivery) -> FloatArray:
        """Mean power of each interval that was asked for and not served [W], with the sign of what was asked.

        Args:
            asked: Intervals of power [W].
            served: What became of it.
        """
        run, inner_V, at_once_ohm = served.run, served.inner_V, served.at_once_ohm
        most = self._limits.power_W
        clipped = (run.left != served.asked_A[0]) | (run.right != served.asked_A[1])
        clipped |= (np.abs(asked.left) > most) | (np.abs(asked.right) > most)
        if not clipped.any():
            return np.zeros(clipped.size)
        # Voltage and current run straight, so Simpson's rule is exact for their product.
        middle_V = 0.5 * (inner_V[:-1] + inner_V[1:])
        powers = [
            current * (volts - at_once_ohm * current)
            for current, volts in ((run.left, inner_V[:-1]), (run.mean, middle_V), (run.right, inner_V[1:]))
        ]
        gap = asked.mean - (powers[0] + 4.0 * powers[1] + powers[2]) / 6.0
        gap = np.where(np.sign(gap) == np.sign(asked.mean), gap, 0.0)
        return np.where(clipped & (np.abs(gap) > _SAME * np.abs(asked.mean)), gap, 0.0)

    def after(self, run: Intervals) -> tuple[Moved, Moved]:
        """What running means look back on after the stretch.

        Args:
            run: Intervals of current.
        """
        mean = run.mean * self._length
        discharged, charged = self._moved
        return (
            discharged.after(self._length, np.maximum(mean, 0.0)),
            charged.after(self._length, np.maximum(-mean, 0.0)),
        )
