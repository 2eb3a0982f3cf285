"""A history: the one shape in which measured or simulated time series reach the rest of the program."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.history.block import BLOCK_SAMPLES, COLUMNS, Block, BlockSource, Interpolation
from lifetime.history.record import CleaningRecord
from lifetime.notices import Notice
from lifetime.text import counted, printable

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BLOCK_SAMPLES", "Block", "History", "Interpolation"]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
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
        interpolation: Interpolation = "linear",
        label: str = "arrays",
        ambient_K: float | None = None,
        **arrays: ArrayLike,
    ) -> "History":
        """Make a history from arrays in memory, with the same checks as for a file.

        Messages name rows as a table with a header in row 1 would number them: the first sample is row 2.

        Args:
            interpolation: How values run between samples.
            label: What to call it in messages.
            ambient_K: Air temperature during the measurement [K].
            arrays: By quantity and unit, shape (n,) each: a time that never decreases (``time_s``, ``time_min``,
                ``time_h``); exactly one of current and power (``current_A``, ``current_mA``, ``power_W``,
                ``power_kW``), positive when the source discharges; and, where known, terminal voltage (``voltage_V``),
                measured temperature (``temperature_C``, ``temperature_K``; -50 to 120 °C) and speed (``speed_km_h``).

        Raises:
            HistoryError: As for a file.
            NumberError: A name has no known quantity or unit, lengths differ, or not exactly one of current and power
                is given.

        Example:
            >>> import lifetime as pw
            >>> pw.History.from_arrays(time_h=[0.0, 0.5, 1.0], current_mA=[0.0, 1000.0, 0.0])
            arrays: 3 samples over 3,600 s, driven by current, linear between samples
        """
        from lifetime.history.arrays import history_from_arrays  # noqa: PLC0415 - it builds this class

        return history_from_arrays(arrays, interpolation=interpolation, label=label, ambient_K=ambient_K)

    def to_frame(self) -> "pd.DataFrame":
        """All samples as a table in SI, temperature in °C, with the unit in each column's name; whole in memory.

        Raises:
            HistoryError: The file was changed since the history was opened.

        Example:
            >>> import lifetime as pw
            >>> pw.History.from_arrays(time_min=[0.0, 1.0], power_kW=[1.0, 2.0]).to_frame()
               time_s  power_W
            0     0.0   1000.0
            1    60.0   2000.0
        """
        import pandas as pd  # noqa: PLC0415 - slow import

        blocks = list(self.blocks())
        columns: dict[str, FloatArray] = {}
        for name in COLUMNS:
            parts = [part for block in blocks if (part := getattr(block, name)) is not None]
            if parts:
                columns[name] = np.concatenate(parts)
        frame = pd.DataFrame(columns)
        if "temperature_K" in frame:
            frame["temperature_K"] -= ZERO_CELSIUS_K
        return frame.rename(columns={"temperature_K": "temperature_C"})

    def __repr__(self) -> str:
        """In one line: what it is called, how long it is, and what drives it."""
        how = "linear" if self.interpolation == "linear" else "zero-order hold"
        size = f"{counted(self.samples, 'sample')} over {self.duration_s:,.6g} s"
        return f"{printable(self.label)}: {size}, driven by {self.driven_by}, {how} between samples"
