"""Arrow columns as rows of a history: what Parquet and Feather files and a frame in memory have in common."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from lifetime.history.formats.arrow_columns import is_number, is_text, is_time, require_numbers, text_of, values_of
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

SAMPLE_ROWS: Final = 100
FIRST_DATA_ROW: Final = 2
"""Rows are named as a table with a header in row 1 would number them."""


@dataclass(frozen=True, slots=True)
class ArrowReader(OneFile):
    """Record batches of Arrow columns, in whatever they are kept.

    Args:
        label: Its name as the user gave it.
        raw_columns: Column names exactly as they are given.
        kinds: Type of each column, in words.
    """

    label: str
    raw_columns: tuple[str, ...]
    kinds: tuple[str, ...]

    @property
    def details(self) -> str:
        """Nothing has to be found out about how it is written."""
        return ""

    @property
    def unfinished(self) -> bool:
        """A cut file cannot be opened at all."""
        return False

    @property
    def notices(self) -> tuple[Notice, ...]:
        """Nothing to say."""
        return ()

    def batches(self, names: Sequence[str]) -> Iterator[Any]:
        """The record batches that hold rows.

        Args:
            names: Columns wanted, as ``raw_columns`` has them; a batch may hold others too.
        """
        raise NotImplementedError

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the file's order."""
        return tuple(name.strip() for name in self.raw_columns)

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns stored with 32 bits or less."""
        return frozenset(i for i, kind in enumerate(self.kinds) if kind in ("float", "halffloat"))

    @property
    def seconds(self) -> frozenset[int]:
        """Positions of the columns stored as times."""
        return frozenset(i for i, kind in enumerate(self.kinds) if is_time(kind))

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns stored as numbers."""
        return tuple(i for i, kind in enumerate(self.kinds) if is_number(kind))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        if not is_text(self.kinds[column]):
            return []
        batches = self.batches(self.raw_columns)
        return next((text_of(batch.column(column).slice(0, SAMPLE_ROWS)) for batch in batches), [])

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Has no meaning here: a cut file cannot be opened at all.

        Raises:
            HistoryError: A column wanted contains neither numbers nor text, or the file is damaged.
        """
        del drop_unfinished
        require_numbers(columns, self.kinds, self.columns, texts, self.label)
        wanted = [self.raw_columns[position] for position in columns]
        kinds = [self.kinds[position] for position in columns]
        how = [texts.get(position) for position in columns]
        row = FIRST_DATA_ROW
        for batch in self.batches(wanted):
            size = int(batch.num_rows)
            yield Chunk(np.arange(row, row + size, dtype=np.int64), values_of(batch, wanted, kinds, how))
            row += size

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as a table with a header in row 1 would number it.
            column: Position of the column.
        """
        at = row - FIRST_DATA_ROW
        for batch in self.batches(self.raw_columns):
            if at < batch.num_rows:
                return text_of(batch.column(column).slice(at, 1))[0]
            at -= batch.num_rows
        return ""
