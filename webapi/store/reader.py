"""Reads a stored history as the file it was made from: same names, same rows, same remarks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_time
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice
from webapi.store.header import NUMBER, TEXT, Header


@dataclass(frozen=True, slots=True)
class StoredReader(OneFile):
    """One stored history behind the contract of ``lifetime.history.formats.reader.Reader``.

    Args:
        path: The stored Parquet file on this machine.
        label: The uploaded file's name as the user gave it.
        header: What the store remembers of the uploaded file.
        inner: Reads the stored numbers.
    """

    path: Path
    label: str
    header: Header
    inner: ParquetReader

    @property
    def file_format(self) -> str:
        """Format of the file that was uploaded."""
        return self.header.file_format

    @property
    def details(self) -> str:
        """Separator and encoding of the file that was uploaded."""
        return self.header.details

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the uploaded file's order."""
        return tuple(name.strip() for name in self.header.columns)

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns that were uploaded with 32 bits or less."""
        return frozenset(at for at, kind in enumerate(self.header.kinds) if kind in ("float", "halffloat"))

    @property
    def unfinished(self) -> bool:
        """True where the uploaded file's last row had no line end."""
        return self.header.cut is not None

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What had to be said about the uploaded file."""
        return tuple(
            Notice(code, f"{self.label}: {message}", "note" if severity == "note" else "warning")
            for code, message, severity in self.header.notices
        )

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns that hold numbers."""
        return tuple(at for at, kind in enumerate(self.inner.kinds) if kind == NUMBER)

    @property
    def seconds(self) -> frozenset[int]:
        """Positions of columns that were uploaded as times and are kept in seconds."""
        kinds = zip(self.header.kinds, self.inner.kinds, strict=True)
        return frozenset(at for at, (given, kept) in enumerate(kinds) if kept == NUMBER and is_time(given))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        return self.inner.text_sample(column)

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows, numbered as in the uploaded file.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Leave out the last row where it had no line end.

        Raises:
            HistoryError: A column holds text, or the last row was cut and is not left out.
        """
        for position in columns:
            if self.inner.kinds[position] != NUMBER and position not in texts:
                kind = self.header.kinds[position]
                raise HistoryError(
                    f"holds {kind if kind != TEXT else 'text'}, where numbers were expected.",
                    file=self.label,
                    column=self.columns[position],
                    remedy="Choose another column, or upload it as numbers.",
                )
        cut = self.header.cut
        shift = self.header.first_row - 2
        waiting: Chunk | None = None
        for chunk in self.inner.chunks(columns, texts=texts):
            if waiting is not None:
                yield waiting
            waiting = Chunk(chunk.rows + shift, chunk.values)
        if waiting is not None:
            yield _without_last(waiting) if cut is not None and cut.kept and drop_unfinished else waiting
        if cut is not None and not cut.kept and not drop_unfinished:
            raise HistoryError(cut.problem, file=self.label, row=cut.row, remedy=cut.remedy)

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row in the uploaded file.
            column: Position of the column.
        """
        return self.inner.field(row - self.header.first_row + 2, column)

    def head(self, rows: int) -> list[list[str]]:
        """The first rows as text, columns in order.

        Args:
            rows: How many at most.
        """
        few = replace(self.inner, batch_rows=rows)  # a wide file's usual batch takes much memory
        batch = next(iter(few.batches(self.inner.raw_columns)), None)
        columns = [] if batch is None else [_texts(column) for column in batch.columns]
        return [list(line) for line in zip(*columns, strict=True)]


def _texts(column: Any) -> list[str]:
    import pyarrow as pa  # noqa: PLC0415 - slow import

    if not pa.types.is_string(column.type):
        return ["" if value is None else str(value) for value in column.to_pylist()]
    # packwear 0.1 stored text that is not UTF-8 as it came.
    return ["" if value is None else value.decode("utf-8", "replace") for value in column.cast(pa.binary()).to_pylist()]


def _without_last(chunk: Chunk) -> Chunk:
    return Chunk(np.asarray(chunk.rows[:-1]), tuple(values[:-1] for values in chunk.values))
