"""The rows of one table in a stored file; tables stand one below the other, each in row groups of its own."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lifetime.history.formats.arrow_columns import is_text, text_of
from lifetime.history.formats.arrow_reader import FIRST_DATA_ROW, SAMPLE_ROWS, ArrowReader
from lifetime.history.formats.prefetch import prefetched
from webapi.store.damage import DamageGuard

_BATCH_ROWS: Final = 131_072
_BUFFER_BYTES: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class TableRows(ArrowReader):
    """Some rows of a stored file, behind the contract of a whole one.

    Args:
        label: The uploaded file's name as the user gave it.
        raw_columns: Column names in the stored file.
        kinds: Type of each column, in words.
        path: The stored file.
        groups: Row groups that hold the rows; None for all.
    """

    path: Path
    groups: tuple[int, ...] | None

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
        return prefetched(self._read(names, _BATCH_ROWS))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text; no more than those are read.

        Args:
            column: Position of the column.
        """
        return self.first(column, SAMPLE_ROWS) if is_text(self.kinds[column]) else []

    def first(self, column: int, rows: int) -> list[str]:
        """The first fields of a column as text, empty where nothing is there.

        Args:
            column: Position of the column.
            rows: How many fields at most.
        """
        batch = next(self._read([self.raw_columns[column]], rows), None)
        return [] if batch is None else _fields(batch.column(0))

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as a table with a header in row 1 would number it.
            column: Position of the column.
        """
        at = row - FIRST_DATA_ROW
        for batch in self._read([self.raw_columns[column]], _BATCH_ROWS):
            if at < batch.num_rows:
                return _fields(batch.column(0).slice(at, 1))[0]
            at -= batch.num_rows
        return ""

    def _read(self, names: Sequence[str], rows: int) -> Iterator[Any]:
        from pyarrow import parquet  # noqa: PLC0415 - slow import

        with (
            DamageGuard("Parquet", self.label),
            # Both are needed to read in parts: a row group may hold the whole file.
            parquet.ParquetFile(
                self.path, buffer_size=_BUFFER_BYTES, pre_buffer=False, page_checksum_verification=True
            ) as file,
        ):
            batches = file.iter_batches(batch_size=rows, row_groups=self.groups, columns=list(names))
            yield from (batch.select(list(names)) for batch in batches if batch.num_rows)


def _fields(column: Any) -> list[str]:
    import pyarrow as pa  # noqa: PLC0415 - slow import

    if pa.types.is_string(column.type):
        # packwear 0.1 stored text that is not UTF-8 as it came.
        return [
            "" if one is None else one.decode("utf-8", "replace").strip() for one in column.cast("binary").to_pylist()
        ]
    return ["" if text == "nan" else text for text in text_of(column)]
