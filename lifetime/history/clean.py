"""From rows in the file's units to checked samples in SI: units, sign, bad values, order, gaps.

Everything here works on a stream and does only what the study asked for; what was done is counted in a ``Tally``.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError
from lifetime.history.block import IntArray, Samples, join
from lifetime.history.channels import Channel
from lifetime.history.reader import Chunk, Reader
from lifetime.history.record import CleaningName
from lifetime.units import Quantity

LOWEST_TEMPERATURE_C: Final = -50.0
HIGHEST_TEMPERATURE_C: Final = 120.0
"""Range a pack temperature can plausibly have [°C]; outside stand error codes and mistaken units. Common practice, no
source."""

_PLAUSIBLE: Final[dict[Quantity, tuple[float, float, str]]] = {
    # 3000 years: seconds since 1970 are below 2e9, milliseconds taken for seconds are not.
    "time": (-1e11, 1e11, "-1e11 to 1e11 s"),
    "current": (-1e9, 1e9, "-1e9 to 1e9 A"),
    "power": (-1e12, 1e12, "-1e12 to 1e12 W"),
    "voltage": (-1e9, 1e9, "-1e9 to 1e9 V"),
    "temperature": (
        LOWEST_TEMPERATURE_C + ZERO_CELSIUS_K,
        HIGHEST_TEMPERATURE_C + ZERO_CELSIUS_K,
        f"{LOWEST_TEMPERATURE_C:g} to {HIGHEST_TEMPERATURE_C:g} °C",
    ),
}
"""What a value can be in SI, lowest and highest, and the same in words; wide, but for temperature."""


@dataclass(slots=True)
class Tally:
    """Counts what one pass over a file read and changed.

    Args:
        rows_read: Data rows read.
        bad_rows: Rows left out because a value was bad.
        first_bad_row: Row in the file of the first of them.
        moved_rows: Rows that stood before an earlier time.
        first_moved_row: Row in the file of the first of them.
        last_row: Last row of the file that was read.
    """

    rows_read: int = 0
    bad_rows: int = 0
    first_bad_row: int | None = None
    moved_rows: int = 0
    first_moved_row: int | None = None
    last_row: int = 1


@dataclass(frozen=True, slots=True)
class SampleStream:
    """A file's samples, checked and in SI; every call of ``samples`` reads the file anew.

    Args:
        reader: The file.
        channels: Which columns are wanted, as what.
        discharge_is: Sign of current and power in the file while the source discharges.
        clean: Cleaning steps asked for.
    """

    reader: Reader
    channels: tuple[Channel, ...]
    discharge_is: Literal["positive", "negative"]
    clean: frozenset[CleaningName]

    def channel(self, quantity: Quantity) -> Channel:
        """The column that serves as a quantity.

        Args:
            quantity: One that the file has.
        """
        return next(channel for channel in self.channels if channel.quantity == quantity)

    def samples(self, tally: Tally | None = None) -> Iterator[Samples]:
        """Stream the samples.

        Args:
            tally: Where to count what was read and left out.

        Raises:
            HistoryError: A value is bad and no cleaning step deals with it.
        """
        counts = Tally() if tally is None else tally
        checked = self._checked(counts)
        return _sorted(checked, counts) if "sort_by_time" in self.clean else checked

    def _checked(self, tally: Tally) -> Iterator[Samples]:
        drop_unfinished = "drop_unfinished_last_row" in self.clean
        positions = [channel.position for channel in self.channels]
        for chunk in self.reader.chunks(positions, drop_unfinished=drop_unfinished):
            if chunk.rows.size == 0:
                continue
            tally.rows_read += int(chunk.rows.size)
            tally.last_row = int(chunk.rows[-1])
            samples = self._to_si(chunk)
            bad = _bad(samples)
            if bad.any():
                if "drop_bad_rows" not in self.clean:
                    raise self._bad_value(samples, int(np.argmax(bad)))
                tally.bad_rows += int(np.count_nonzero(bad))
                if tally.first_bad_row is None:
                    tally.first_bad_row = int(chunk.rows[np.argmax(bad)])
                samples = samples.take(~bad)
            if samples.size:
                yield samples

    def _to_si(self, chunk: Chunk) -> Samples:
        values: dict[Quantity, FloatArray] = {}
        for channel, column in zip(self.channels, chunk.values, strict=True):
            with np.errstate(over="ignore"):  # what overflows is refused as implausible
                si = channel.unit.to_si(column)
            if self.discharge_is == "negative" and channel.quantity in ("current", "power"):
                si = 0.0 - si  # not -si, which would turn every 0 into -0
            values[channel.quantity] = si
        return Samples(chunk.rows, values)

    def _bad_value(self, samples: Samples, at: int) -> HistoryError:
        row = int(samples.rows[at])
        one = samples.take(slice(at, at + 1))
        channel = next(c for c in self.channels if not _good(c.quantity, one.channels[c.quantity]).all())
        text = self.reader.field(row, channel.position)
        if np.isfinite(one.channels[channel.quantity]).all():
            allowed = _PLAUSIBLE[channel.quantity][2]
            problem = f"{text} {channel.unit.symbol} is outside {allowed}: an error code, or the unit is another."
        else:
            problem = _why_not_a_number(text)
        return HistoryError(
            problem,
            file=self.reader.label,
            row=row,
            column=channel.column,
            remedy='Repair the row, or ask for clean = ["drop_bad_rows"].',
        )


def _bad(samples: Samples) -> NDArray[np.bool_]:
    good = np.ones(samples.size, dtype=np.bool_)
    for quantity, values in samples.channels.items():
        good &= _good(quantity, values)
    return ~good


def _good(quantity: Quantity, values: FloatArray) -> NDArray[np.bool_]:
    low, high, _ = _PLAUSIBLE[quantity]
    return (values >= low) & (values <= high)  # false for NaN


def _why_not_a_number(text: str) -> str:
    if text == "":
        return "is empty, where a number was expected."
    if text.count(",") == 1 and text.replace(",", "").strip("+-").isdigit():
        return f'holds "{text}": decimal commas are not read, a decimal point was expected.'
    return f'holds "{text}", where a finite number was expected.'


def _sorted(stream: Iterator[Samples], tally: Tally) -> Iterator[Samples]:
    """Put the rows in order of time, rows of one instant in the file's order; holds the needed columns whole."""
    parts = list(stream)
    if not parts:
        return
    whole = join(parts)
    backward = np.flatnonzero(np.diff(whole.time_s) < 0.0)
    if backward.size == 0:
        yield whole
        return
    behind = whole.time_s < np.maximum.accumulate(whole.time_s)
    tally.moved_rows = int(np.count_nonzero(behind))
    tally.first_moved_row = int(whole.rows[np.argmax(behind)])
    yield whole.take(np.argsort(whole.time_s, kind="stable"))


def rest_in_gaps(stream: Iterator[Samples], gap_limit_s: float) -> Iterator[Samples]:
    """Take current or power as zero in gaps, by a zero sample at both sides of each.

    The added samples stand at the times of their neighbours, so the change to zero and back takes no time; voltage
    and temperature keep the neighbours' values.

    Args:
        stream: Samples in order of time.
        gap_limit_s: Steps of this length [s] or longer are gaps.
    """
    last: Samples | None = None
    for stretch in stream:
        together = stretch if last is None else join([last, stretch])
        fresh = 0 if last is None else 1  # the last sample of the stretch before has been given already
        gaps = np.flatnonzero(np.diff(together.time_s) >= gap_limit_s)
        last = together.take(slice(together.size - 1, None))
        if gaps.size:
            together = _with_zeros(together, gaps)
        yield together.take(slice(fresh, None))


def _with_zeros(samples: Samples, gaps: IntArray) -> Samples:
    sides = np.column_stack([gaps, gaps + 1]).reshape(-1)
    order = np.insert(np.arange(samples.size), np.repeat(gaps + 1, 2), sides)
    added = np.repeat(gaps + 1 + 2 * np.arange(gaps.size), 2)
    added[1::2] += 1
    widened = samples.take(order)  # a copy, free to be written
    for quantity in ("current", "power"):
        if quantity in widened.channels:
            widened.channels[quantity][added] = 0.0
    return widened
