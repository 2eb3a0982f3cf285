"""From samples to intervals: what a channel does between two rows, stated once, integrated exactly after that."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.history.model import Block, History, Interpolation

IndexArray = NDArray[np.intp]

NO_CROSSINGS: IndexArray = np.empty(0, dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Intervals:
    """A stretch of consecutive intervals; the driving channel runs straight from its left to its right value.

    Args:
        length_s: Length of each interval [s], >= 0; a switching edge has length 0.
        left: Current [A] or power [W] just after the interval's start, positive when the source discharges.
        right: The same just before its end. Equal to ``left`` where values are held.
        temperature_K: Mean measured temperature of each interval [K], or None.
        voltage_V: Measured terminal voltage at the interval's middle [V], or None.
        first_sample: Index of the sample at the stretch's start, counted over all repeats.
        crossings: Which interval ends are zero crossings between two samples, increasing positions; mostly few.
        warming_K: By how much the measured temperature rises over each interval [K], straight; None where it is held.
    """

    length_s: FloatArray
    left: FloatArray
    right: FloatArray
    temperature_K: FloatArray | None
    voltage_V: FloatArray | None
    first_sample: int
    crossings: IndexArray
    warming_K: FloatArray | None = None

    def sample_at(self, ends: IndexArray) -> IndexArray:
        """Index of the sample at or before each end of an interval; end 0 is the stretch's start."""
        return self.first_sample + ends - np.searchsorted(self.crossings, ends, side="right")

    @property
    def strongest(self) -> float:
        """Largest magnitude of the driving channel [A or W]."""
        ends = (self.left.max(), -self.left.min(), self.right.max(), -self.right.min())
        return float(max(ends))

    @property
    def mean(self) -> FloatArray:
        """Mean of the driving channel over each interval [A or W]."""
        return 0.5 * (self.left + self.right)

    @property
    def mean_square(self) -> FloatArray:
        """Mean square of the driving channel over each interval [A² or W²], exact for a straight run."""
        return (self.left * self.left + self.left * self.right + self.right * self.right) / 3.0


def intervals(history: History, repeats: int = 1) -> Iterator[Intervals]:
    """Stream a history as intervals, ``repeats`` times in a row, block by block.

    The last value of one repeat does not run into the first of the next: each repeat ends with its last sample, and
    the next begins at once. Where a current or power runs straight through zero the interval is split at the
    crossing, so that charge in and charge out are exact and a cycle turns where the current does.

    Args:
        history: The cleaned history.
        repeats: How often it is driven in a row, >= 1.
    """
    offset = 0
    for _ in range(repeats):
        last: Block | None = None
        for block in history.blocks():
            joined = _join(last, block)
            if joined.time_s.size > 1:
                yield _split_crossings(_from_samples(joined, history.interpolation, history.driven_by, offset))
            last = _tail(block)
        offset += history.samples


def _from_samples(
    block: Block, how: Interpolation, driven_by: Literal["current", "power", "speed"], offset: int
) -> Intervals:
    value = block.current_A if driven_by == "current" else block.power_W
    assert value is not None  # noqa: S101 - the history promises the channel that drives it
    held = how == "zero_order_hold"
    first = offset + block.first_row
    return Intervals(
        length_s=np.diff(block.time_s),
        left=value[:-1],
        right=value[:-1] if held else value[1:],
        temperature_K=_between(block.temperature_K, held=held),
        voltage_V=_between(block.voltage_V, held=held),
        first_sample=first,
        crossings=NO_CROSSINGS,
        warming_K=None if held or block.temperature_K is None else np.diff(block.temperature_K),
    )


def _between(values: FloatArray | None, *, held: bool) -> FloatArray | None:
    if values is None:
        return None
    return values[:-1] if held else 0.5 * (values[:-1] + values[1:])


def _split_crossings(run: Intervals) -> Intervals:
    """Cut each interval whose driving channel changes sign inside into two."""
    at = np.flatnonzero(run.left * run.right < 0.0)
    if at.size == 0:
        return run
    share = run.left[at] / (run.left[at] - run.right[at])
    times = np.ones(run.length_s.size, dtype=np.intp)
    times[at] = 2
    # Where the two halves of each interval cut stand; the k cuts before it have moved it by k.
    first = at + np.arange(at.size)
    second = first + 1
    length, left, right = (np.repeat(values, times) for values in (run.length_s, run.left, run.right))
    length[first] *= share
    length[second] *= 1.0 - share
    right[first] = 0.0
    left[second] = 0.0
    temperature, warming = (
        None if one is None else np.repeat(one, times) for one in (run.temperature_K, run.warming_K)
    )
    if temperature is not None and warming is not None:
        # The mean of each part stands at its own middle on the same straight line.
        temperature[first] -= 0.5 * (1.0 - share) * warming[first]
        temperature[second] += 0.5 * share * warming[second]
        warming[first] *= share
        warming[second] *= 1.0 - share
    return Intervals(
        length_s=length,
        left=left,
        right=right,
        temperature_K=temperature,
        voltage_V=None if run.voltage_V is None else np.repeat(run.voltage_V, times),
        first_sample=run.first_sample,
        crossings=second,
        warming_K=warming,
    )


def _join(last: Block | None, block: Block) -> Block:
    if last is None:
        return block

    def together(before: FloatArray | None, now: FloatArray | None) -> FloatArray | None:
        return None if before is None or now is None else np.concatenate([before, now])

    return Block(
        first_row=last.first_row,
        time_s=np.concatenate([last.time_s, block.time_s]),
        current_A=together(last.current_A, block.current_A),
        power_W=together(last.power_W, block.power_W),
        voltage_V=together(last.voltage_V, block.voltage_V),
        temperature_K=together(last.temperature_K, block.temperature_K),
    )


def _tail(block: Block) -> Block:
    def tail(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else values[-1:]

    return Block(
        first_row=block.first_row + block.time_s.size - 1,
        time_s=block.time_s[-1:],
        current_A=tail(block.current_A),
        power_W=tail(block.power_W),
        voltage_V=tail(block.voltage_V),
        temperature_K=tail(block.temperature_K),
    )
