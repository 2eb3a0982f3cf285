"""What flows through the history room: stretches of samples, and the blocks they leave it in."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.units import Quantity

IntArray = NDArray[np.int64]

BLOCK_SAMPLES: Final = 65_536
"""Samples in a block. Blocks lie on one absolute grid, so that block sums do not depend on format or chunking."""

FILE_BITS: Final = 40
"""Where several files make one history, a row's number carries the file's above this bit."""


def file_of(rows: IntArray) -> IntArray:
    """Which file of several each row comes from, counted from 0.

    Args:
        rows: Rows as a reader numbers them.
    """
    return rows >> FILE_BITS


Interpolation = Literal["linear", "zero_order_hold"]
"""How values run between samples; with a zero-order hold a sample's value lasts until the next sample."""


@dataclass(frozen=True, slots=True)
class Block:
    """Consecutive samples of a history; float64 arrays of equal length, pack quantities as in the file.

    Args:
        first_row: Index of the first sample in the cleaned history, counted from 0.
        time_s: Time [s], never decreasing.
        current_A: Current [A], positive when the source discharges; None for a power-driven history.
        power_W: Power [W], positive when the source discharges; None for a current-driven history.
        voltage_V: Terminal voltage [V], or None where the file has none.
        temperature_K: Measured temperature [K], or None where the file has none.
        speed_m_s: Speed of the vehicle [m/s], or None where the file has none.
    """

    first_row: int
    time_s: FloatArray
    current_A: FloatArray | None
    power_W: FloatArray | None
    voltage_V: FloatArray | None
    temperature_K: FloatArray | None
    speed_m_s: FloatArray | None = None


COLUMNS: Final = ("time_s", "current_A", "power_W", "voltage_V", "temperature_K", "speed_m_s")
"""What a block may have for each sample, and a table of a history as a column."""


class BlockSource(Protocol):
    """Something that can stream a history's blocks again and again."""

    def blocks(self) -> Iterator[Block]:
        """Stream all blocks from the first sample to the last."""
        ...


@dataclass(frozen=True, slots=True)
class Samples:
    """A stretch of consecutive samples of any length, on its way through checking and cleaning.

    Args:
        rows: Row in the file of each sample, counted from 1 with the header as row 1.
        channels: Values by what they are, in SI, each as long as ``rows``.
    """

    rows: IntArray
    channels: Mapping[Quantity, FloatArray]

    @property
    def size(self) -> int:
        """Number of samples."""
        return int(self.rows.size)

    @property
    def time_s(self) -> FloatArray:
        """Time of each sample [s]."""
        return self.channels["time"]

    def take(self, which: IntArray | NDArray[np.bool_] | slice) -> "Samples":
        """Pick samples by index, mask or slice.

        Args:
            which: As numpy understands it.
        """
        return Samples(self.rows[which], {name: values[which] for name, values in self.channels.items()})


def finite_rows(*columns: FloatArray) -> tuple[FloatArray, ...]:
    """Columns without the rows in which any has no finite number; the same arrays where every row has.

    Args:
        columns: Of one length.
    """
    fine = np.isfinite(columns[0])
    for column in columns[1:]:
        fine &= np.isfinite(column)
    return columns if fine.all() else tuple(column[fine] for column in columns)


def join(parts: list[Samples]) -> Samples:
    """Put stretches one behind the other.

    Args:
        parts: At least one, all with the same channels.
    """
    if len(parts) == 1:
        return parts[0]
    return Samples(
        np.concatenate([part.rows for part in parts]),
        {name: np.concatenate([part.channels[name] for part in parts]) for name in parts[0].channels},
    )


def in_blocks(stream: Iterator[Samples]) -> Iterator[Samples]:
    """Cut a stream of stretches into stretches of 65,536 samples and a shorter last one, whatever their lengths.

    Args:
        stream: Stretches in order.
    """
    waiting: list[Samples] = []
    count = 0
    for stretch in stream:
        waiting.append(stretch)
        count += stretch.size
        if count < BLOCK_SAMPLES:
            continue
        whole = join(waiting)
        start = 0
        while count - start >= BLOCK_SAMPLES:
            yield whole.take(slice(start, start + BLOCK_SAMPLES))
            start += BLOCK_SAMPLES
        # A copy, so that the remainder does not keep the long stretch alive.
        waiting = [whole.take(np.arange(start, count))] if start < count else []
        count -= start
    if count:
        yield join(waiting)


def on_grid(stream: Iterator[Samples]) -> Iterator[Block]:
    """Cut a stream of stretches into numbered blocks of 65,536 samples, whatever the stretches' lengths.

    Args:
        stream: Stretches in order.
    """
    first = 0
    for samples in in_blocks(stream):
        yield _block(samples, first)
        first += samples.size


def _block(samples: Samples, first_row: int) -> Block:
    get = samples.channels.get
    return Block(
        first_row, samples.time_s, get("current"), get("power"), get("voltage"), get("temperature"), get("speed")
    )
