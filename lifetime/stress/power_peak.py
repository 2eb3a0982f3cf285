"""The largest mean power that a source delivers over a given time: what a pulse of that length must be able to give."""

from collections.abc import Iterable, Iterator

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.intervals import Intervals
from lifetime.stress.source import Source


class PowerPeak:
    """Keeps the largest running mean of the discharge power of a stream.

    Args:
        window_s: Length of the running mean [s], > 0; before the stream there was no power.
    """

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        # What the window still looks back on: moments [s], energy up to them [J], power of the intervals between [W].
        self._time_s, self._energy_J = np.zeros(1), np.zeros(1)
        self._left_W, self._right_W = np.zeros(0), np.zeros(0)
        self.largest_W = 0.0

    def add(self, length_s: FloatArray, left_W: FloatArray, right_W: FloatArray) -> None:
        """Take in one stretch that follows the last one.

        Args:
            length_s: Length of each interval [s], shape (n,), >= 0.
            left_W: Power just after each interval's start [W], shape (n,); charging counts as none.
            right_W: Power just before its end [W], shape (n,).
        """
        if length_s.size == 0:
            return
        left, right = np.maximum(left_W, 0.0), np.maximum(right_W, 0.0)
        start_s = self._time_s[-1]
        self._time_s = np.concatenate([self._time_s, start_s + np.cumsum(length_s)])
        moved = 0.5 * (left + right) * length_s
        self._energy_J = np.concatenate([self._energy_J, self._energy_J[-1] + np.cumsum(moved)])
        self._left_W, self._right_W = np.concatenate([self._left_W, left]), np.concatenate([self._right_W, right])
        now_s = self._time_s[-1]
        # The mean turns where the power does at either end of the window.
        ends = np.concatenate([self._time_s, self._time_s + self._window_s])
        ends = np.unique(ends[(ends >= start_s) & (ends <= now_s)])
        self._note(ends)
        keep = max(int(np.searchsorted(self._time_s, now_s - self._window_s, side="right")) - 1, 0)
        self._time_s = self._time_s[keep:] - now_s
        self._energy_J = self._energy_J[keep:] - self._energy_J[keep]
        self._left_W, self._right_W = self._left_W[keep:], self._right_W[keep:]

    def over(self, runs: Iterable[Intervals], source: Source, *, by_power: bool) -> Iterator[Intervals]:
        """The same stretches of a history, taken in on their way.

        Args:
            runs: Intervals of current or of power.
            source: The source they load, at its stated resistance where no voltage was measured.
            by_power: True where they are of power.
        """
        drawn_As = 0.0
        for run in runs:
            if by_power:
                self.add(run.length_s, run.left, run.right)
            elif run.voltage_V is not None:
                self.add(run.length_s, run.left * run.voltage_V, run.right * run.voltage_V)
            else:
                charge = np.concatenate([[drawn_As], drawn_As + np.cumsum(run.mean * run.length_s)])
                inner_V = source.open_circuit_V(source.start_soc - charge / source.capacity_As)
                left_V = inner_V[:-1] - source.resistance_ohm * run.left
                right_V = inner_V[1:] - source.resistance_ohm * run.right
                self.add(run.length_s, run.left * left_V, run.right * right_V)
                drawn_As = float(charge[-1])
            yield run

    def _note(self, ends_s: FloatArray) -> None:
        """Look at windows that end at these moments, and at the highest mean between two of them."""
        begins_s = ends_s - self._window_s
        gained = self._energy_at(ends_s) - self._energy_at(begins_s)
        most = float(gained.max(initial=0.0))
        # Between two moments both powers run straight, so the mean is a parabola: highest where they are equal. Looked
        # at inside, because rounding may put an end on the other side of a step.
        length = np.diff(ends_s)
        early, late = (self._rise_at(ends_s[:-1] + share * length) for share in (0.25, 0.75))
        rising, falling = 1.5 * early - 0.5 * late, 0.5 * early - 1.5 * late
        inside = (rising > 0.0) & (falling > 0.0)
        tops = gained[:-1][inside] + 0.5 * length[inside] * rising[inside] ** 2 / (rising + falling)[inside]
        most = max(most, float(tops.max(initial=0.0)))
        self.largest_W = max(self.largest_W, most / self._window_s)

    def _rise_at(self, ends_s: FloatArray) -> FloatArray:
        """How fast the energy in a window rises where it ends at these moments [W]."""
        return self._power_at(ends_s) - self._power_at(ends_s - self._window_s)

    def _energy_at(self, moments_s: FloatArray) -> FloatArray:
        """Energy up to moments [J]; 0 before what is kept."""
        place = np.clip(np.searchsorted(self._time_s, moments_s, side="right") - 1, 0, self._left_W.size - 1)
        begun = np.maximum(moments_s - self._time_s[place], 0.0)
        length = self._time_s[place + 1] - self._time_s[place]
        slope = np.divide(
            self._right_W[place] - self._left_W[place], length, out=np.zeros(place.size), where=length > 0.0
        )
        return np.asarray(self._energy_J[place] + begun * (self._left_W[place] + 0.5 * slope * begun))

    def _power_at(self, moments_s: FloatArray) -> FloatArray:
        """Power at moments within intervals [W]; 0 before what is kept."""
        place = np.clip(np.searchsorted(self._time_s, moments_s, side="right") - 1, 0, self._left_W.size - 1)
        length = self._time_s[place + 1] - self._time_s[place]
        share = np.divide(moments_s - self._time_s[place], length, out=np.zeros(place.size), where=length > 0.0)
        power = self._left_W[place] + share * (self._right_W[place] - self._left_W[place])
        return np.where(moments_s < self._time_s[0], 0.0, power)
