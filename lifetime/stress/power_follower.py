"""A source that follows a power through a day, within its limits, and what it leaves unserved."""

import sys
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import ConvergenceError
from lifetime.stress.branches import BranchState
from lifetime.stress.clipping import Clipping
from lifetime.stress.current import delivery
from lifetime.stress.current_limits import LoadLimits, Moved
from lifetime.stress.delivery import Delivery
from lifetime.stress.intervals import Intervals
from lifetime.stress.missed import NOTHING
from lifetime.stress.source import Source
from lifetime.stress.voltage_drop import Beyond

_SMALLEST_STRETCH: Final = 2
"""Intervals of the shortest stretch that is still halved."""
_IN_A_ROW: Final = 4
"""Stretches that settle in a row until twice as much is tried again: a try in vain costs as much as they do."""


class _Pace:
    """How many intervals are followed at once."""

    def __init__(self) -> None:
        self.intervals = sys.maxsize
        self._settled = 0

    def worked(self) -> None:
        """A stretch settled."""
        self._settled += 1
        if self._settled >= _IN_A_ROW and self.intervals < sys.maxsize:
            self.intervals, self._settled = 2 * self.intervals, 0

    def failed(self, size: int) -> None:
        """A stretch of so many intervals did not settle."""
        self.intervals, self._settled = size // 2, 0


class PowerFollower:
    """Turns a stream of power into currents.

    Args:
        source: The source.
        capacity_fraction: Capacity over initial [1], > 0.
        resistance_ratio: Resistance over the stated one, by health and temperature [1], > 0.
        limits: What it keeps to; None to serve the power whatever it takes.
        fine: See ``current.delivery``.
    """

    def __init__(
        self,
        source: Source,
        capacity_fraction: float,
        resistance_ratio: float,
        limits: LoadLimits | None,
        *,
        fine: bool = True,
    ) -> None:
        self._fine = fine
        self._source = source
        self._health = capacity_fraction, resistance_ratio
        self._capacity_As = source.capacity_As * capacity_fraction
        self._limits = limits
        self._moved = Moved(), Moved()
        self._pace = _Pace()
        self._clipped = False
        self._missed_W: list[FloatArray] = []
        self._last: Delivery | None = None
        self.shortage = 0.0
        self.unserved = self.refused = NOTHING

    @property
    def missed_W(self) -> FloatArray:
        """Mean power of each interval given that was not served [W]: above 0 unserved, below 0 refused."""
        return np.concatenate(self._missed_W) if self._missed_W else np.empty(0)

    def currents(
        self, run: Intervals, given_s: FloatArray, drawn_As: float, branches: BranchState, elapsed_s: float
    ) -> tuple[Intervals, Beyond | None]:
        """Currents of a stretch, and what was asked for beyond them.

        Args:
            run: Intervals of power [W], cut as finely as they are traced.
            given_s: Length of the same intervals as they were given [s].
            drawn_As: Charge drawn before the stretch [As].
            branches: The RC branches before it.
            elapsed_s: Time before it [s].
        """
        served = self._delivery(run, drawn_As, branches)
        self._last = served
        self.shortage = max(self.shortage, served.shortage)
        if self._limits is None:
            return served.run, None
        clipping = Clipping(self._limits, run.length_s, *self._moved)
        self._moved = clipping.after(served.run)
        missed = clipping.missed_W(run, served)
        self._missed_W.append(_as_given(missed, run.length_s, given_s))
        if not missed.any():
            return replace(run, left=served.run.left, right=served.run.right), None
        self.unserved = self.unserved.and_then(np.maximum(missed, 0.0), run.length_s, elapsed_s)
        self.refused = self.refused.and_then(np.maximum(-missed, 0.0), run.length_s, elapsed_s)
        return replace(run, left=served.run.left, right=served.run.right), self._beyond(served)

    def _delivery(self, run: Intervals, drawn_As: float, branches: BranchState) -> Delivery:
        """The stretch at once; where a pack runs empty on the way in shorter ones, each from the end of the last."""
        if self._limits is None:
            return self._at_once(run, drawn_As, branches, None)
        parts: list[Delivery] = []
        moved, first, last = self._moved, 0, run.length_s.size
        while first < last:
            whole = first == 0 and self._pace.intervals >= last
            part = run if whole else part_of(run, slice(first, first + self._pace.intervals))
            size = part.length_s.size
            try:
                served = self._at_once(part, drawn_As, branches, Clipping(self._limits, part.length_s, *moved))
            except ConvergenceError:
                if size < _SMALLEST_STRETCH:
                    raise
                self._pace.failed(size)
                continue
            self._pace.worked()
            parts.append(served)
            first += size
            if first < last:
                factor = self._source.shape.at_soc(0.5 * (served.soc[:-1] + served.soc[1:]))
                branches = branches.after(served.run, factor)
                drawn_As += float(np.sum(served.run.mean * served.run.length_s))
                moved = Clipping(self._limits, part.length_s, *moved).after(served.run)
        return Delivery.joined(parts)

    def _at_once(self, run: Intervals, drawn_As: float, branches: BranchState, clipping: Clipping | None) -> Delivery:
        """The power as it is asked; only where that passes a limit, or has no solution, within the limits."""
        # Passes of a day share their intervals.
        last = self._last if self._last is not None and self._last.run.length_s is run.length_s else None
        solve = partial(delivery, run, self._source, drawn_As, self._health, branches, fine=self._fine)
        if clipping is None:
            return solve(alike=last)
        if not self._clipped:
            try:
                served = solve(alike=last, patient=False)
            except ConvergenceError:
                pass
            else:
                if not clipping.clips(run, served, self._capacity_As):
                    return served
        # Where limits held a stretch they probably hold the next one.
        served = solve(clipping=clipping, alike=last, patient=run.length_s.size < _SMALLEST_STRETCH)
        asked = zip((served.run.left, served.run.right), served.asked_A, strict=True)
        self._clipped = any((kept != one).any() for kept, one in asked)
        return served

    def _beyond(self, served: Delivery) -> Beyond:
        """What a requirement of voltage is judged by: the discharge that was asked for, not what was left of it."""
        stated_ohm = self._source.resistance_ohm * self._health[1]
        scale: FloatArray | float = np.asarray(served.at_once_ohm) / stated_ohm if stated_ohm > 0.0 else 0.0
        (left_asked, right_asked), run = served.asked_A, served.run
        return Beyond(_excess(left_asked, run.left) * scale, _excess(right_asked, run.right) * scale)


def _excess(asked_A: FloatArray, served_A: FloatArray) -> FloatArray:
    """Discharge current that was asked for beyond what is served [A]."""
    return np.asarray(np.where(asked_A > 0.0, np.maximum(asked_A - served_A, 0.0), 0.0))


def _as_given(missed_W: FloatArray, length_s: FloatArray, given_s: FloatArray) -> FloatArray:
    """Means over the intervals as they were given, from those they were cut into."""
    if length_s.size == given_s.size:
        return missed_W
    energy = np.concatenate([[0.0], np.cumsum(missed_W * length_s)])
    at = np.interp(np.cumsum(given_s), np.cumsum(length_s), energy[1:])
    means: FloatArray = np.divide(np.diff(at, prepend=0.0), given_s, out=np.zeros(given_s.size), where=given_s > 0.0)
    return means


def part_of(run: Intervals, part: slice) -> Intervals:
    """Some of the intervals of a stretch of power.

    Args:
        run: The stretch.
        part: Which.
    """
    return replace(
        run, length_s=run.length_s[part], left=run.left[part], right=run.right[part], temperature_K=None, warming_K=None
    )
