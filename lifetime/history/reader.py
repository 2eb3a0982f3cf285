"""What every format's reader offers; one module a format implements it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray
from lifetime.notices import Notice


@dataclass(frozen=True, slots=True)
class Chunk:
    """Consecutive rows as they stand in the file, in the file's units.

    Args:
        rows: Row in the file of each, counted from 1 with the header as row 1.
        values: One float64 array a column asked for; NaN wherever the field holds no number.
    """

    rows: IntArray
    values: tuple[FloatArray, ...]


class Reader(Protocol):
    """One file of one format, looked at but not yet read; opens the file anew for every stream."""

    @property
    def file_format(self) -> str:
        """Name of the format."""
        ...

    @property
    def details(self) -> str:
        """Separator, encoding and the like, in words."""
        ...

    @property
    def label(self) -> str:
        """The file's name as the user gave it."""
        ...

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the file's order, surrounding white space removed."""
        ...

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns stored as 32-bit floats."""
        ...

    @property
    def unfinished(self) -> bool:
        """True where the last row has no line end and may have been cut."""
        ...

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What has to be said about how the file was read."""
        ...

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns that hold numbers."""
        ...

    def chunks(self, columns: Sequence[int], *, drop_unfinished: bool = False) -> Iterator[Chunk]:
        """Stream the data rows.

        Args:
            columns: Positions of the columns wanted.
            drop_unfinished: Leave out a last row without a line end.

        Raises:
            HistoryError: A row has too few or too many fields, or the file is damaged.
        """
        ...

    def field(self, row: int, column: int) -> str:
        """One field as it stands in the file, for a message; slow.

        Args:
            row: Row in the file, counted from 1 with the header as row 1.
            column: Position of the column.
        """
        ...
