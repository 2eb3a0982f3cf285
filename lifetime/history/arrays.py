"""Histories from arrays in memory, through the same checks as files."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from lifetime.checks import FloatArray
from lifetime.errors import NumberError
from lifetime.history.assembly import build_history
from lifetime.history.block import Interpolation
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.history.mapping.channels import Channel
from lifetime.history.mapping.derived_quantities import Derivation
from lifetime.history.model import History
from lifetime.notices import Notice
from lifetime.units import QUANTITIES, Unit, named_unit

_EXAMPLES: Final = {"time": "s", "current": "A", "power": "kW", "voltage": "V", "temperature": "C", "speed": "km_h"}
_SYMBOLS: Final = {"C": "°C", "F": "°F", "m_s": "m/s", "km_h": "km/h"}
"""Units whose symbol cannot be part of a name in Python."""
_FIRST_DATA_ROW: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class ArrayReader(OneFile):
    """Arrays in memory, seen as one file of one chunk.

    Args:
        label: What to call them in messages.
        columns: Names with units, for example "current_A".
        arrays: float64, one a column, of equal length.
    """

    label: str
    columns: tuple[str, ...]
    arrays: tuple[FloatArray, ...]
    file_format: str = field(default="arrays", init=False)
    details: str = field(default="", init=False)
    single_precision: frozenset[int] = field(default=frozenset(), init=False)
    unfinished: bool = field(default=False, init=False)
    notices: tuple[Notice, ...] = field(default=(), init=False)

    def number_columns(self) -> tuple[int, ...]:
        """Positions of all columns."""
        return tuple(range(len(self.columns)))

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Give all rows at once.

        Args:
            columns: Positions of the columns wanted.
            texts: Has no meaning here.
            drop_unfinished: Has no meaning here.
        """
        del texts, drop_unfinished
        size = self.arrays[0].size
        rows = np.arange(_FIRST_DATA_ROW, _FIRST_DATA_ROW + size, dtype=np.int64)
        yield Chunk(rows, tuple(self.arrays[position] for position in columns))

    def field(self, row: int, column: int) -> str:
        """One value as text.

        Args:
            row: Row, the first sample being row 2.
            column: Position of the column.
        """
        return str(float(self.arrays[column][row - _FIRST_DATA_ROW]))

    @property
    def sha256(self) -> str:
        """Hash of names and values."""
        digest = hashlib.sha256()
        for name, values in zip(self.columns, self.arrays, strict=True):
            digest.update(name.encode())
            digest.update(values.astype("<f8").tobytes())
        return digest.hexdigest()


def history_from_arrays(
    arrays: Mapping[str, ArrayLike], *, interpolation: Interpolation, label: str, ambient_K: float | None
) -> History:
    """Make a history from arrays that are named by quantity and unit.

    Args:
        arrays: By names such as ``time_s``, ``current_mA`` or ``temperature_C``: a time, exactly one of current and
            power, and what else there is; shape (n,) each.
        interpolation: How values run between samples.
        label: What to call it in messages.
        ambient_K: Air temperature during the measurement [K].

    Raises:
        NumberError: A name has no known quantity or unit, lengths differ, or there is no time, or not exactly one of
            current and power.
        HistoryError: As for a file.
    """
    units = {name: _unit_of(name) for name in arrays}
    by_quantity = {unit.quantity: name for name, unit in units.items()}
    if len(by_quantity) < len(arrays):
        raise NumberError(f"Each quantity of a history is given once, got {', '.join(arrays)}.")
    if "time" not in by_quantity or ("current" in by_quantity) == ("power" in by_quantity):
        raise NumberError(
            "A history needs a time and exactly one of current and power, for example time_s and current_A, "
            f"got {', '.join(arrays)}."
        )
    names = tuple(by_quantity[quantity] for quantity in QUANTITIES if quantity in by_quantity)
    # Copies, so that later writes to the caller's arrays do no harm.
    values = tuple(np.array(arrays[name], dtype=np.float64) for name in names)
    sizes = {array.shape for array in values}
    if len(sizes) != 1 or values[0].ndim != 1:
        raise NumberError(f"The arrays of a history must be one-dimensional and equally long, got {sorted(sizes)}.")
    reader = ArrayReader(label, names, values)
    channels = tuple(
        Channel(units[name].quantity, units[name].quantity, name, position, units[name], "caller")
        for position, name in enumerate(names)
    )
    return build_history(
        SampleStream(reader, channels, Derivation(), frozenset()),
        interpolation=interpolation,
        ambient_K=ambient_K,
        sha256=lambda: reader.sha256,
    )


def _unit_of(name: str) -> Unit:
    """The unit that an array's name ends in."""
    quantity, _, symbol = name.partition("_")
    unit = named_unit(_SYMBOLS.get(symbol, symbol))
    if quantity not in QUANTITIES or unit is None or unit.quantity != quantity:
        known = ", ".join(f"{one}_{unit}" for one, unit in _EXAMPLES.items())
        raise NumberError(f'"{name}" is not an array of a history. Name quantity and unit, as in {known}.')
    return unit
