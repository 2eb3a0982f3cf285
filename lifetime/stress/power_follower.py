"""A source that follows a power through a day, within its limits, and what it leaves unserved."""

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.branches import BranchState
from lifetime.stress.clipping import Clipping
from lifetime.stress.current import delivery
from lifetime.stress.current_limits import LoadLimits, Moved
from lifetime.stress.delivery import Delivery
from lifetime.stress.intervals import Intervals
from lifetime.stress.missed import NOTHING
from lifetime.stress.source import Source
from lifetime.stress.voltage_drop import Beyond


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
        self._limits = limits
        self._moved = Moved(), Moved()
        self._missed_W: list[FloatArray] = []
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
        served = delivery(run, self._source, drawn_As, self._health, branches, fine=self._fine)
        clipping = None if self._limits is None else Clipping(self._limits, run.length_s, *self._moved)
        if clipping is not None and clipping.clips(run, served, self._source.capacity_As * self._health[0]):
            served = delivery(run, self._source, drawn_As, self._health, branches, clipping, fine=self._fine)
        self.shortage = max(self.shortage, served.shortage)
        if clipping is None:
            return served.run, None
        self._moved = clipping.after(served.run)
        missed = clipping.missed_W(run, served)
        self._missed_W.append(_as_given(missed, run.length_s, given_s))
        if not missed.any():
            return served.run, None
        self.unserved = self.unserved.and_then(np.maximum(missed, 0.0), run.length_s, elapsed_s)
        self.refused = self.refused.and_then(np.maximum(-missed, 0.0), run.length_s, elapsed_s)
        return served.run, self._beyond(served)

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
