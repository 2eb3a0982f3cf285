"""Watching a current against its limits: a history is never clipped, but what it breaks is told."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.current_limits import WINDOWS_S, LoadLimits, Moved, running_mean
from lifetime.stress.intervals import Intervals
from lifetime.stress.source import Source

_SLACK: Final = 1e-6
"""Relative excess over a limit that the digits of a log explain."""


@dataclass(frozen=True, slots=True)
class Excess:
    """The largest excess of a current over one of its limits.

    Args:
        way: Which direction.
        window_s: Length of the running mean [s]; 0 for the current at a moment.
        current_A: Largest current relative to its limit [A], >= 0.
        limit_A: Limit that holds at its state of charge [A].
        at_s: When, from the start of the day [s].
    """

    way: Literal["discharge", "charge"]
    window_s: float
    current_A: float
    limit_A: float
    at_s: float


class CurrentWatch:
    """Keeps the largest excess over each limit of a stream of current.

    Args:
        limits: The limits.
        by_power: True where the stretches are of power with a measured voltage.
    """

    def __init__(self, limits: LoadLimits, *, by_power: bool = False) -> None:
        self._limits = limits
        self._by_power = by_power
        self._moved = [Moved(), Moved()]
        self._worst: dict[tuple[str, float], Excess] = {}

    @property
    def excesses(self) -> tuple[Excess, ...]:
        """One for each limit that was passed, discharge first, the shortest duration first."""
        return tuple(self._worst.values())

    def over(self, runs: Iterable[Intervals], source: Source) -> Iterator[Intervals]:
        """The same stretches of a history, watched on their way.

        Args:
            runs: Intervals of current, or of power with a measured voltage.
            source: The source they load.
        """
        elapsed_s, drawn_As = 0.0, 0.0
        for run in runs:
            current = run
            if run.voltage_V is not None and self._by_power:
                current = replace(run, left=run.left / run.voltage_V, right=run.right / run.voltage_V)
            charge = np.concatenate([[drawn_As], drawn_As + np.cumsum(current.mean * run.length_s)])
            self.add(current, source.start_soc - charge[:-1] / source.capacity_As, elapsed_s)
            elapsed_s, drawn_As = elapsed_s + float(run.length_s.sum()), float(charge[-1])
            yield run

    def add(self, run: Intervals, soc: FloatArray, elapsed_s: float) -> None:
        """Watch one stretch that follows the last one.

        Args:
            run: Intervals of current.
            soc: State of charge at the intervals' starts, shape (n,).
            elapsed_s: Time before the stretch [s].
        """
        ways: tuple[tuple[Literal["discharge", "charge"], float], ...] = (("discharge", 1.0), ("charge", -1.0))
        for place, (way, sign) in enumerate(ways):
            ceiling = getattr(self._limits, way)
            if ceiling.is_open:
                continue
            factor = ceiling.at_soc(soc)
            at_s = elapsed_s + np.cumsum(run.length_s)
            strongest = np.maximum(np.maximum(sign * run.left, sign * run.right), 0.0)
            self._note(way, 0.0, strongest, ceiling.peak_A * factor, at_s)
            moved = np.maximum(sign * run.mean, 0.0) * run.length_s
            for window_s, most in zip(WINDOWS_S, ceiling.mean_A, strict=True):
                if most != float("inf"):
                    means = running_mean(self._moved[place], run.length_s, moved, window_s)
                    self._note(way, window_s, means, most * factor, at_s)
            self._moved[place] = self._moved[place].after(run.length_s, moved)

    def _note(
        self,
        way: Literal["discharge", "charge"],
        window_s: float,
        current_A: FloatArray,
        limit_A: FloatArray,
        at_s: FloatArray,
    ) -> None:
        beyond = current_A - limit_A * (1.0 + _SLACK)
        worst = int(np.argmax(beyond))
        before = self._worst.get((way, window_s))
        if beyond[worst] <= 0.0 or (before is not None and beyond[worst] <= before.current_A - before.limit_A):
            return
        self._worst[way, window_s] = Excess(
            way, window_s, float(current_A[worst]), float(limit_A[worst]), float(at_s[worst])
        )
