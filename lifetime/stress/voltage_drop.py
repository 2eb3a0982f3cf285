"""What the resistance does over a stretch of current: heat, voltage drop, and the state its RC branches are left in."""

from typing import NamedTuple

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.branches import BranchState
from lifetime.stress.intervals import Intervals
from lifetime.stress.source import Source


class Beyond(NamedTuple):
    """Current asked for beyond what is served, at the intervals' two ends, in units of the stated drop [A]."""

    left_A: FloatArray
    right_A: FloatArray


class Drops(NamedTuple):
    """Over the stated resistance, shape (n,) each: heat of an interval [A²s], voltage drop at its two ends [A]."""

    heat_A2s: FloatArray
    left_A: FloatArray
    right_A: FloatArray

    def raised(self, beyond: Beyond | None) -> "Drops":
        """The drops that a discharge asked for beyond the limits would have caused.

        Args:
            beyond: What was asked for beyond them; None for nothing.
        """
        if beyond is None:
            return self
        return self._replace(left_A=self.left_A + beyond.left_A, right_A=self.right_A + beyond.right_A)


class VoltageDrop:
    """Follows a stream of current through the resistance of a source.

    Args:
        source: The source.
        capacity_fraction: Capacity over initial [1], > 0, which turns charge into state of charge.
    """

    def __init__(self, source: Source, capacity_fraction: float) -> None:
        self._source = source
        self._capacity_As = source.capacity_As * capacity_fraction
        self.branches = BranchState(source.shape.branches)
        self.stored_A2s = 0.0

    def add(self, run: Intervals, charge_As: FloatArray) -> Drops:
        """Pass one stretch that follows the last one without a gap.

        Args:
            run: Intervals of current.
            charge_As: Charge drawn at the intervals' ends [As], the start first, shape (n + 1,).
        """
        shape, left, right = self._source.shape, run.left, run.right
        heat = run.mean_square * run.length_s
        if shape.is_single:
            return Drops(heat, left, right)
        middle = 0.5 * (charge_As[:-1] + charge_As[1:])
        factor = 1.0 if shape.is_flat else shape.at_soc(self._source.start_soc - middle / self._capacity_As)
        at_once = shape.ohmic_fraction * factor
        heat = heat * at_once
        slow = np.zeros(charge_As.size)
        for place, steps in enumerate(self.branches.steps(run.length_s)):
            voltages = steps.voltages(left, right, factor, self.branches.voltages_A[place])
            lost, stored = steps.energies(left, right, factor, voltages)
            heat += lost
            self.stored_A2s += float(stored.sum())
            self.branches.voltages_A[place] = float(voltages[-1])
            slow += voltages
        return Drops(heat, at_once * left + slow[:-1], at_once * right + slow[1:])
