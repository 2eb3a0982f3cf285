"""Arrow columns as rows of a history: what Parquet and Feather files and a frame in memory have in common."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
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
    columns: tuple[str, ...] = field(init=False, repr=False)
    single_precision: frozenset[int] = field(init=False, repr=False)
    seconds: frozenset[int] = field(init=False, repr=False)
    _samples: dict[int, list[str]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look at names and types once: files have thousands of columns, and every one is asked about."""
        kinds = tuple(enumerate(self.kinds))
        object.__setattr__(self, "columns", tuple(name.strip() for name in self.raw_columns))
        object.__setattr__(self, "seconds", frozenset(at for at, kind in kinds if is_time(kind)))
        singles = frozenset(at for at, kind in kinds if kind in ("float", "halffloat"))
        object.__setattr__(self, "single_precision", singles)

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

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns stored as numbers."""
        return tuple(i for i, kind in enumerate(self.kinds) if is_number(kind))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text; those of all such columns are read together, once.

        Args:
            column: Position of the column.
        """
        if not is_text(self.kinds[column]):
            return []
        if not self._samples:
            self._samples.update(self._first_texts())
        return self._samples.get(column, [])

    def _first_texts(self) -> dict[int, list[str]]:
        """The first fields of every column of text, by position."""
        columns = [at for at, kind in enumerate(self.kinds) if is_text(kind)]
        first = next(self.first_batches([self.raw_columns[at] for at in columns]), None)
        if first is None:
            return {}
        places = {name: place for place, name in reversed(list(enumerate(first.schema.names)))}
        return {at: text_of(first.column(places[self.raw_columns[at]]).slice(0, SAMPLE_ROWS)) for at in columns}

    def first_batches(self, names: Sequence[str]) -> Iterator[Any]:
        """Record batches of which only the first rows are looked at.

        Args:
            names: Columns wanted, as ``raw_columns`` has them; a batch may hold others too.
        """
        return self.batches(names)

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
