"""From rows in the file's units to checked samples in SI: units, meaning, bad values, order, spikes.

Everything here works on a stream and does only what the study asked for; what was done is counted in a ``Tally``.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError
from lifetime.history.block import Samples
from lifetime.history.channels import Channel
from lifetime.history.derive import Derivation
from lifetime.history.numerals import Numerals
from lifetime.history.order import Moved, joined_at_restarts, sorted_by_time
from lifetime.history.reader import Chunk, Reader
from lifetime.history.record import CleaningName
from lifetime.history.spikes import SpikeCount, without_spikes
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
    "speed": (-200.0, 200.0, "-200 to 200 m/s"),
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
        restarts: Places where the clock was set back and time was joined.
        moved: Rows that stood after a later time and were moved.
        spikes: Rows left out because a value was a spike.
        last_row: Last row of the file that was read.
    """

    rows_read: int = 0
    bad_rows: int = 0
    first_bad_row: int | None = None
    restarts: Moved = field(default_factory=Moved)
    moved: Moved = field(default_factory=Moved)
    spikes: SpikeCount = field(default_factory=SpikeCount)
    last_row: int = 1


@dataclass(frozen=True, slots=True)
class SampleStream:
    """A file's samples, checked and in SI; every call of ``samples`` reads the file anew.

    Args:
        reader: The file.
        channels: Which columns are wanted, as what.
        derivation: What the study says they mean.
        clean: Cleaning steps asked for.
    """

    reader: Reader
    channels: tuple[Channel, ...]
    derivation: Derivation
    clean: frozenset[CleaningName]

    def channel(self, *roles: str) -> Channel:
        """The column that serves as one of these roles.

        Args:
            roles: Roles, the first one found counts; at least one must be there.
        """
        by_role = {channel.role: channel for channel in self.channels}
        return next(by_role[role] for role in roles if role in by_role)

    @property
    def drive(self) -> Channel:
        """The first column that current or power is made from."""
        return self.channel("current", "charge_current", "power", "phase_current_1", "speed")

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """What the samples carry, in the order in which they carry it."""
        empty = {channel.role: np.empty(0) for channel in self.channels}
        return tuple(self.derivation.apply(empty, self.derivation.clock()))

    def samples(self, tally: Tally | None = None) -> Iterator[Samples]:
        """Stream the samples.

        Args:
            tally: Where to count what was read and left out.

        Raises:
            HistoryError: A value is bad and no cleaning step deals with it.
        """
        counts = Tally() if tally is None else tally
        stream = self._checked(counts)
        if "join_restarts" in self.clean:
            stream = joined_at_restarts(stream, counts.restarts)
        if "sort_by_time" in self.clean:
            stream = sorted_by_time(stream, counts.moved)
        if "drop_spikes" in self.clean:
            stream = without_spikes(stream, counts.spikes)
        return stream

    def _checked(self, tally: Tally) -> Iterator[Samples]:
        drop_unfinished = "drop_unfinished_last_row" in self.clean
        positions = [channel.position for channel in self.channels]
        texts = {channel.position: channel.text for channel in self.channels if channel.text is not None}
        clock = self.derivation.clock()
        for chunk in self.reader.chunks(positions, texts=texts, drop_unfinished=drop_unfinished):
            if chunk.rows.size == 0:
                continue
            tally.rows_read += int(chunk.rows.size)
            tally.last_row = int(chunk.rows[-1])
            roles = self._to_si(chunk)
            samples = Samples(chunk.rows, self.derivation.apply(roles, clock))
            bad = self._bad(roles, samples)
            if bad.any():
                if "drop_bad_rows" not in self.clean:
                    raise self._bad_value(roles, samples, int(np.argmax(bad)))
                tally.bad_rows += int(np.count_nonzero(bad))
                if tally.first_bad_row is None:
                    tally.first_bad_row = int(chunk.rows[np.argmax(bad)])
                samples = samples.take(~bad)
            if samples.size:
                yield samples

    def _to_si(self, chunk: Chunk) -> dict[str, FloatArray]:
        with np.errstate(over="ignore"):  # what overflows is refused as implausible
            return {
                channel.role: values if channel.quantity is None else channel.unit.to_si(values)
                for channel, values in zip(self.channels, chunk.values, strict=True)
            }

    def _bad(self, roles: Mapping[str, FloatArray], samples: Samples) -> NDArray[np.bool_]:
        good = np.ones(samples.size, dtype=np.bool_)
        for channel in self.channels:
            if channel.role not in samples.channels:
                good &= _good(channel.quantity, roles[channel.role])
        for quantity, values in samples.channels.items():
            good &= _good(quantity, values)
        return ~good

    def _bad_value(self, roles: Mapping[str, FloatArray], samples: Samples, at: int) -> HistoryError:
        row = int(samples.rows[at])
        file, place = self.reader.place(row)
        for channel in self.channels:
            value = roles[channel.role][at : at + 1]
            if not _good(channel.quantity, value).all():
                return HistoryError(
                    self._why_bad(channel, float(value[0]), self.reader.field(row, channel.position)),
                    file=file,
                    row=place,
                    column=channel.column,
                    remedy='Repair the row, or ask for clean = ["drop_bad_rows"].',
                )
        return self._contradiction(roles, samples, at)

    def _why_bad(self, channel: Channel, value: float, text: str) -> str:
        if channel.quantity is None:
            return "is empty, where the mode was expected."
        if np.isfinite(value):
            allowed = _PLAUSIBLE[channel.quantity][2]
            return f"{text} {channel.unit.symbol} is outside {allowed}: an error code, or the unit is another."
        if channel.text is not None and text:
            return f'holds "{text}", which does not fit the pattern stated for it.'
        if text.count(",") == 1 and text.replace(",", "").strip("+-").isdigit():
            return f'holds "{text}", a decimal comma, where the rest of the file has decimal points.'
        if text == "" or (Numerals().is_number(text) and np.isfinite(float(text))):
            return "is empty, where a number was expected."
        return f'holds "{text}", where a finite number was expected.'

    def _contradiction(self, roles: Mapping[str, FloatArray], samples: Samples, at: int) -> HistoryError:
        """Each column holds a number, but together they make no sense."""
        row = int(samples.rows[at])
        file, place = self.reader.place(row)
        channel, remedy = self.drive, 'Repair the row, or ask for clean = ["drop_bad_rows"].'
        problem = "the quantities of the row contradict each other."
        if "mode" in roles:
            mode = self.reader.field(row, self.channel("mode").position)
            problem = f'the mode is "{mode}", which the study does not explain, and current flows.'
            remedy = f'Add "{mode}" to charge_modes, discharge_modes or rest_modes.'
        elif "charge_current" in roles:
            problem = "a current of the two columns for charging and discharging is negative."
        elif self.derivation.current_from_power:
            problem = "the voltage is not above zero, so no current follows from the power."
            channel = self.channel("voltage")
        else:
            quantity = next(name for name, values in samples.channels.items() if not _good(name, values[at : at + 1]))
            channel = self.channel(quantity, self.drive.role)
            problem = f"the {quantity} that follows from the row is outside {_PLAUSIBLE[quantity][2]}."
        return HistoryError(problem, file=file, row=place, column=channel.column, remedy=remedy)


def _good(quantity: Quantity | None, values: FloatArray) -> NDArray[np.bool_]:
    if quantity is None:
        return np.isfinite(values)
    low, high, _ = _PLAUSIBLE[quantity]
    return (values >= low) & (values <= high)  # false for NaN
