"""From rows in the file's units to checked samples in SI: units, meaning, bad values, order, spikes.

Everything here works on a stream and does only what the study asked for; what was done is in ``CleaningCounts``.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.block import Samples
from lifetime.history.cleaning.bad_values import BadRow
from lifetime.history.cleaning.counts import CleaningCounts
from lifetime.history.cleaning.row_order import joined_at_restarts, sorted_by_time, spread_within_times
from lifetime.history.cleaning.spikes import without_spikes
from lifetime.history.cleaning.value_ranges import in_range
from lifetime.history.formats.reader import Chunk, Reader
from lifetime.history.mapping.channels import Channel, drive_channel, find_channels
from lifetime.history.mapping.derived_quantities import Derivation
from lifetime.history.record import CleaningName
from lifetime.history.spec import HistoryInput
from lifetime.units import Quantity


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

    @classmethod
    def of_spec(cls, spec: HistoryInput, reader: Reader, *, series: int = 1, parallel: int = 1) -> "SampleStream":
        """The samples of an opened file as a study describes them.

        Args:
            spec: The study's description of the history.
            reader: The file.
            series: Cells in series of the pack, for quantities of one cell.
            parallel: Cells in parallel of the pack, for quantities of one cell.

        Raises:
            HistoryError: A column is missing, its name occurs twice, or its unit is unknown or contradictory.
        """
        derivation = Derivation.of_spec(spec, series=series, parallel=parallel)
        return cls(reader, find_channels(spec, reader), derivation, frozenset(spec.clean))

    def channel(self, role: str) -> Channel:
        """The column with a role.

        Args:
            role: One that a channel has.
        """
        return next(channel for channel in self.channels if channel.role == role)

    @property
    def drive(self) -> Channel:
        """The first column that current or power is made from."""
        return drive_channel(self.channels)

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """What the samples carry, in the order in which they carry it."""
        empty = {channel.role: np.empty(0) for channel in self.channels}
        return tuple(self.derivation.apply(empty, self.derivation.clock()))

    def samples(self, counts: CleaningCounts | None = None) -> Iterator[Samples]:
        """Stream the samples.

        Args:
            counts: Where to count what was read and left out.

        Raises:
            HistoryError: A value is bad and no cleaning step deals with it.
        """
        counts = CleaningCounts() if counts is None else counts
        stream = self._checked(counts)
        if "join_restarts" in self.clean:
            stream = joined_at_restarts(stream, counts.restarts)
        if "sort_by_time" in self.clean:
            stream = sorted_by_time(stream, counts.moved)
        if "spread_times" in self.clean:
            stream = spread_within_times(stream, counts.spread)
        if "drop_spikes" in self.clean:
            stream = without_spikes(stream, counts.spikes)
        return stream

    def _checked(self, counts: CleaningCounts) -> Iterator[Samples]:
        drop_unfinished = "drop_unfinished_last_row" in self.clean
        positions = [channel.position for channel in self.channels]
        texts = {channel.position: channel.text for channel in self.channels if channel.text is not None}
        clock = self.derivation.clock()
        for chunk in self.reader.chunks(positions, texts=texts, drop_unfinished=drop_unfinished):
            if chunk.rows.size == 0:
                continue
            counts.rows_read += int(chunk.rows.size)
            counts.last_row = int(chunk.rows[-1])
            roles = self._to_si(chunk)
            samples = Samples(chunk.rows, self.derivation.apply(roles, clock))
            bad = self._bad(roles, samples)
            if bad.any():
                if "drop_bad_rows" not in self.clean:
                    raise self._bad_value(roles, samples, int(np.argmax(bad)))
                counts.bad.add(chunk.rows[bad])
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
                good &= in_range(channel.quantity, roles[channel.role])
        for quantity, values in samples.channels.items():
            good &= in_range(quantity, values)
        return ~good

    def _bad_value(self, roles: Mapping[str, FloatArray], samples: Samples, at: int) -> HistoryError:
        here = slice(at, at + 1)
        row = BadRow(
            self.reader,
            int(samples.rows[at]),
            self.channels,
            {role: values[here] for role, values in roles.items()},
            {quantity: values[here] for quantity, values in samples.channels.items()},
        )
        return row.error(current_from_power=self.derivation.current_from_power)
