"""What every format's reader offers; one module a format implements it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice


@dataclass(frozen=True, slots=True)
class Chunk:
    """Consecutive rows as they are in the file, in the file's units.

    Args:
        rows: Row in the file of each, counted from 1 with the header as row 1.
        values: One float64 array a column asked for; NaN wherever the field contains no number.
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
    def seconds(self) -> frozenset[int]:
        """Positions of columns that the format itself stores as times; they are read in seconds."""
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
        """Positions of the columns that contain numbers."""
        ...

    def together(self, column: int) -> frozenset[int] | None:
        """Positions of the columns that have the same rows as this one; None where all have.

        Args:
            column: Position of the column.
        """
        ...

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column that contains text, surrounding white space removed.

        Args:
            column: Position of the column.
        """
        ...

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the data rows.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers, by position.
            drop_unfinished: Leave out a last row without a line end.

        Raises:
            HistoryError: A row has too few or too many fields, or the file is damaged.
        """
        ...

    def field(self, row: int, column: int) -> str:
        """One field as it is in the file, for a message; slow.

        Args:
            row: Row in the file, counted from 1 with the header as row 1.
            column: Position of the column.
        """
        ...

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files in order where several make one history; else empty."""
        ...

    def place(self, row: int) -> tuple[str, int]:
        """File and row in it, for a message; they differ from label and row where several files make one history.

        Args:
            row: Row as the chunks number it.
        """
        ...


class OneFile:
    """What is the same for most formats: one file, one table, no times of its own, no text."""

    __slots__ = ()
    label: str

    @property
    def seconds(self) -> frozenset[int]:
        """No column is stored as a time."""
        return frozenset()

    @property
    def files(self) -> tuple[str, ...]:
        """One file is all."""
        return ()

    def together(self, column: int) -> frozenset[int] | None:
        """All columns have the same rows.

        Args:
            column: Has no meaning here.
        """
        return None

    def text_sample(self, column: int) -> list[str]:
        """No column contains text.

        Args:
            column: Has no meaning here.
        """
        return []

    def place(self, row: int) -> tuple[str, int]:
        """This file and the row.

        Args:
            row: Row in the file.
        """
        return self.label, row
