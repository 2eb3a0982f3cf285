"""A history: the one shape in which measured or simulated time series reach the rest of the program."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from lifetime.checks import FloatArray
from lifetime.history.block import BLOCK_SAMPLES, Block, BlockSource, Interpolation
from lifetime.history.record import CleaningRecord
from lifetime.notices import Notice

__all__ = ["BLOCK_SAMPLES", "Block", "History", "Interpolation"]


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """A checked time series of one source, streamed in blocks; frozen, and may be pickled.

    Args:
        label: The file's name as the user gave it.
        driven_by: Which channel drives it: current, power, or the speed of a vehicle that a study describes.
        interpolation: How values run between samples.
        has_voltage: True where blocks carry a voltage.
        has_temperature: True where blocks carry a measured temperature.
        has_speed: True where blocks carry the vehicle's speed.
        ambient_K: Air temperature during the measurement [K], or None.
        samples: Number of samples after cleaning, >= 2.
        duration_s: Time from the first to the last sample [s], > 0.
        sha256: Hash of the file's bytes.
        data_sha256: Hash of the checked values in SI before gaps are settled; the same data in another format, column
            order or unit have the same.
        record: What was read and what was changed.
        notices: What has to be said about it.
        source: Where the blocks come from.
    """

    label: str
    driven_by: Literal["current", "power", "speed"]
    interpolation: Interpolation
    has_voltage: bool
    has_temperature: bool
    has_speed: bool
    ambient_K: float | None
    samples: int
    duration_s: float
    sha256: str
    data_sha256: str
    record: CleaningRecord
    notices: tuple[Notice, ...]
    source: BlockSource = field(repr=False)

    def blocks(self) -> Iterator[Block]:
        """Stream the history anew, in blocks of 65,536 samples on one absolute grid.

        Raises:
            HistoryError: The file was changed since the history was opened.
        """
        return self.source.blocks()

    @classmethod
    def from_arrays(
        cls,
        *,
        time_s: FloatArray,
        current_A: FloatArray | None = None,
        power_W: FloatArray | None = None,
        voltage_V: FloatArray | None = None,
        temperature_K: FloatArray | None = None,
        interpolation: Interpolation = "linear",
        label: str = "arrays",
        ambient_K: float | None = None,
    ) -> "History":
        """Make a history from arrays in memory, with the same checks as for a file.

        Messages name rows as a table with a header in row 1 would number them: the first sample is row 2.

        Args:
            time_s: Time [s], never decreasing.
            current_A: Current [A], positive when the source discharges; exactly one of current and power.
            power_W: Power [W], positive when the source discharges.
            voltage_V: Terminal voltage [V].
            temperature_K: Measured temperature [K], 223.15 to 393.15.
            interpolation: How values run between samples.
            label: What to call it in messages.
            ambient_K: Air temperature during the measurement [K].

        Raises:
            HistoryError: As for a file.
            NumberError: Array lengths differ, or not exactly one of current and power is given.
        """
        from lifetime.history.arrays import history_from_arrays  # noqa: PLC0415 - it builds this class

        channels = {
            "time": time_s,
            "current": current_A,
            "power": power_W,
            "voltage": voltage_V,
            "temperature": temperature_K,
        }
        given = {name: values for name, values in channels.items() if values is not None}
        return history_from_arrays(given, interpolation=interpolation, label=label, ambient_K=ambient_K)
