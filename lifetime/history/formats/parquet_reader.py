"""Parquet files, read in batches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number, is_text, is_time, require_numbers, text_of, values_of
from lifetime.history.formats.prefetch import prefetched
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

MAGIC: Final = b"PAR1"
_BATCH_ROWS: Final = 131_072
_SAMPLE_ROWS: Final = 100
_BUFFER_BYTES: Final = 1 << 20
_FIRST_DATA_ROW: Final = 2
"""Rows are named as a table with a header in row 1 would number them."""


@dataclass(frozen=True, slots=True)
class ParquetReader(OneFile):
    """A Parquet file.

    Args:
        path: The file.
        label: Its name as the user gave it.
        raw_columns: Column names exactly as the file has them.
        kinds: Type of each column, in words.
        batch_rows: Rows read at a time; results do not depend on it.
    """

    path: Path
    label: str
    raw_columns: tuple[str, ...]
    kinds: tuple[str, ...]
    batch_rows: int = _BATCH_ROWS
    unfinished: bool = field(default=False, init=False)
    notices: tuple[Notice, ...] = field(default=(), init=False)

    @classmethod
    def open(cls, path: Path, label: str) -> "ParquetReader":
        """Look at the file's schema.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The file is cut or damaged.
        """
        with _parquet_file(path, label) as file:
            schema = file.schema_arrow
            return cls(path, label, tuple(schema.names), tuple(str(kind) for kind in schema.types))

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "Parquet"

    @property
    def details(self) -> str:
        """Nothing has to be found out about how a Parquet file is written."""
        return ""

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the file's order."""
        return tuple(name.strip() for name in self.raw_columns)

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns stored with 32 bits or less."""
        return frozenset(i for i, kind in enumerate(self.kinds) if kind in ("float", "halffloat"))

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns stored as numbers."""
        return tuple(i for i, kind in enumerate(self.kinds) if is_number(kind))

    @property
    def seconds(self) -> frozenset[int]:
        """Positions of the columns stored as times."""
        return frozenset(i for i, kind in enumerate(self.kinds) if is_time(kind))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        if not is_text(self.kinds[column]):
            return []
        with _parquet_file(self.path, self.label) as file:
            first = next(_batches(file, [self.raw_columns[column]], _SAMPLE_ROWS, self.label), None)
            return [] if first is None else text_of(first.column(0))

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Has no meaning here: a cut Parquet file cannot be opened at all.

        Raises:
            HistoryError: A column wanted is not stored as numbers, or the file is damaged.
        """
        del drop_unfinished
        require_numbers(columns, self.kinds, self.columns, texts, self.label)
        wanted = [self.raw_columns[position] for position in columns]
        kinds = [self.kinds[position] for position in columns]
        how = [texts.get(position) for position in columns]
        row = _FIRST_DATA_ROW
        with _parquet_file(self.path, self.label) as file:
            for batch in prefetched(_batches(file, wanted, self.batch_rows, self.label)):
                size = int(batch.num_rows)
                values = values_of(batch, wanted, kinds, how)
                yield Chunk(np.arange(row, row + size, dtype=np.int64), values)
                row += size

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as a table with a header in row 1 would number it.
            column: Position of the column.
        """
        if is_text(self.kinds[column]):
            return self._text(row - _FIRST_DATA_ROW, column)
        for chunk in self.chunks([column]):
            if row <= int(chunk.rows[-1]):
                value = float(chunk.values[0][row - int(chunk.rows[0])])
                return "" if np.isnan(value) else str(value)
        return ""

    def _text(self, at: int, column: int) -> str:
        with _parquet_file(self.path, self.label) as file:
            for batch in _batches(file, [self.raw_columns[column]], self.batch_rows, self.label):
                if at < batch.num_rows:
                    return text_of(batch.column(0).slice(at, 1))[0]
                at -= batch.num_rows
        return ""


def _parquet_file(path: Path, label: str) -> Any:
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    try:
        # Both are needed to read in parts: a row group may hold the whole file.
        return parquet.ParquetFile(path, buffer_size=_BUFFER_BYTES, pre_buffer=False, page_checksum_verification=True)
    except MemoryError:
        raise  # the library's own error of that name is also one of its others
    except (pa.ArrowException, OSError) as error:
        raise _damaged(label, error) from None


def _batches(file: Any, wanted: list[str], batch_rows: int, label: str) -> Iterator[Any]:
    import pyarrow as pa  # noqa: PLC0415 - slow import

    batches = file.iter_batches(batch_size=batch_rows, columns=wanted, use_threads=True)
    while True:
        try:
            batch = next(batches)
        except StopIteration:
            return
        except MemoryError:
            raise
        except (pa.ArrowException, OSError) as error:
            raise _damaged(label, error) from None
        if batch.num_rows:
            yield batch


def _damaged(label: str, error: Exception) -> HistoryError:
    reason = str(error).splitlines()[0].rstrip(".")
    return HistoryError(
        f"the Parquet file is cut or damaged ({reason}).", file=label, remedy="Copy or export it again."
    )
