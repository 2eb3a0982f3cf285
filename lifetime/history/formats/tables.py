"""Columns that a file keeps as arrays under names of their own: MAT, HDF5, workbooks, measurement files."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

SLAB_ROWS: Final = 131_072
FIRST_DATA_ROW: Final = 2
"""Rows are named as a table with a header in row 1 would number them."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a file that has several.

    Args:
        name: Under which a study names it.
        rows: Its length.
        table: What else runs side by side with it: columns of equal table and length do.
        numeric: True where it contains numbers.
        single: True where it is stored with 32 bits or less.
        is_time: True where the format itself stores it as a time; it is read in seconds.
    """

    name: str
    rows: int
    table: str = ""
    numeric: bool = True
    single: bool = False
    is_time: bool = False


class Arrays(Protocol):
    """Reads columns of one file."""

    def slabs(self, columns: Sequence[str], texts: Sequence[bool]) -> Iterator[tuple[FloatArray | list[str], ...]]:
        """Stream columns side by side; text as lists of fields, white space removed.

        Args:
            columns: Names wanted.
            texts: Which of them are wanted as text.

        Raises:
            HistoryError: The file is damaged.
        """
        ...


@dataclass(frozen=True, slots=True)
class TableReader(OneFile):
    """A file with named columns.

    Args:
        label: Its name as the user gave it.
        file_format: Name of the format.
        details: What there is to say about how it is written, in words.
        listed: Its columns.
        arrays: Reads them.
        notices: What has to be said about how the file was read.
        first_row: Row of the first sample, for messages.
    """

    label: str
    file_format: str
    details: str
    listed: tuple[Column, ...]
    arrays: Arrays
    notices: tuple[Notice, ...] = ()
    first_row: int = FIRST_DATA_ROW
    unfinished: bool = field(default=False, init=False)
    columns: tuple[str, ...] = field(init=False, repr=False)
    single_precision: frozenset[int] = field(init=False, repr=False)
    seconds: frozenset[int] = field(init=False, repr=False)
    _tables: dict[tuple[int, str], frozenset[int]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look at the columns once: files have thousands of them, and every one is asked about."""
        listed = tuple(enumerate(self.listed))
        tables: dict[tuple[int, str], list[int]] = defaultdict(list)
        for at, column in listed:
            tables[column.rows, column.table].append(at)
        object.__setattr__(self, "columns", tuple(column.name for column in self.listed))
        object.__setattr__(self, "single_precision", frozenset(at for at, column in listed if column.single))
        object.__setattr__(self, "seconds", frozenset(at for at, column in listed if column.is_time))
        object.__setattr__(self, "_tables", {key: frozenset(positions) for key, positions in tables.items()})

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns that contain numbers."""
        return tuple(at for at, column in enumerate(self.listed) if column.numeric)

    def together(self, column: int) -> frozenset[int] | None:
        """Positions of the columns as long as this one and on the same times.

        Args:
            column: Position of the column.
        """
        own = self.listed[column]
        return self._tables[own.rows, own.table]

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        if self.listed[column].numeric:
            return []
        for slab in self.arrays.slabs([self.columns[column]], [True]):
            return [str(value) for value in slab[0][:100]]
        return []

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows.

        Args:
            columns: Positions of the columns wanted, all side by side.
            texts: How columns of text become numbers.
            drop_unfinished: Has no meaning here.

        Raises:
            HistoryError: The file is damaged.
        """
        del drop_unfinished
        names = [self.columns[position] for position in columns]
        row = self.first_row
        for slab in self.arrays.slabs(names, [position in texts for position in columns]):
            values = tuple(
                texts[position].numbers(part) if isinstance(part, list) else part
                for position, part in zip(columns, slab, strict=True)
            )
            size = len(slab[0])
            yield Chunk(np.arange(row, row + size, dtype=np.int64), values)
            row += size

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as the chunks number it.
            column: Position of the column.
        """
        at = row - self.first_row
        for slab in self.arrays.slabs([self.columns[column]], [not self.listed[column].numeric]):
            if at < len(slab[0]):
                value = slab[0][at]
                return "" if value != value else str(value)  # noqa: PLR0124 - NaN
            at -= len(slab[0])
        return ""


def in_slabs(arrays: Sequence[FloatArray]) -> Iterator[tuple[FloatArray, ...]]:
    """Cut arrays of one length into slabs.

    Args:
        arrays: At least one.
    """
    for start in range(0, arrays[0].size, SLAB_ROWS):
        yield tuple(array[start : start + SLAB_ROWS] for array in arrays)
