"""Parquet files, read in batches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_text, text_of
from lifetime.history.formats.arrow_reader import FIRST_DATA_ROW, SAMPLE_ROWS, ArrowReader
from lifetime.history.formats.prefetch import prefetched

MAGIC: Final = b"PAR1"
_BATCH_ROWS: Final = 131_072
_BUFFER_BYTES: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class ParquetReader(ArrowReader):
    """A Parquet file.

    Args:
        label: Its name as the user gave it.
        raw_columns: Column names exactly as the file has them.
        kinds: Type of each column, in words.
        path: The file.
        batch_rows: Rows read at a time; results do not depend on it.
    """

    path: Path
    batch_rows: int = _BATCH_ROWS

    @classmethod
    def open(cls, path: Path, label: str) -> "ParquetReader":
        """Look at the file's schema.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The file is cut or damaged, or the name of a column is not text.
        """
        with _parquet_file(path, label) as file:
            schema = file.schema_arrow
            return cls(label, tuple(schema.names), tuple(str(kind) for kind in schema.types), path)

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "Parquet"

    def batches(self, names: Sequence[str]) -> Iterator[Any]:
        """The record batches that hold rows; no other columns are read.

        Args:
            names: Columns wanted, as ``raw_columns`` has them.

        Raises:
            HistoryError: The file is damaged.
        """
        with _parquet_file(self.path, self.label) as file:
            yield from prefetched(_batches(file, names, self.batch_rows, self.label))

    def first_batches(self, names: Sequence[str]) -> Iterator[Any]:
        """Record batches of which only the first rows are looked at, so no longer than those.

        Args:
            names: Columns wanted, as ``raw_columns`` has them.
        """
        with _parquet_file(self.path, self.label) as file:
            yield from _batches(file, names, SAMPLE_ROWS, self.label)

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as a table with a header in row 1 would number it.
            column: Position of the column.
        """
        if is_text(self.kinds[column]):
            return self._text(row - FIRST_DATA_ROW, column)
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
    except UnicodeDecodeError:
        raise HistoryError(
            "the name of a column is not UTF-8 text.", file=label, remedy="Export the file with other names."
        ) from None
    except (pa.ArrowException, OSError) as error:
        raise _damaged(label, error) from None


def _batches(file: Any, wanted: Sequence[str], batch_rows: int, label: str) -> Iterator[Any]:
    import pyarrow as pa  # noqa: PLC0415 - slow import

    batches = file.iter_batches(batch_size=batch_rows, columns=list(wanted), use_threads=True)
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
