"""Parquet and Feather files on their way into the store, in batches small enough for any number of columns."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number, to_numbers
from lifetime.history.formats.feather_reader import FeatherReader
from lifetime.history.formats.parquet_reader import ParquetReader
from webapi.store.damage import DamageGuard
from webapi.store.header import TEXT, Header, kept_notices, physical_names
from webapi.store.piece import Piece

_VALUES_AT_A_TIME: Final = 1_000_000
_MOST_BATCH_ROWS: Final = 131_072
_MOST_TEXT_BYTES: Final = 64_000_000
"""Text of one column in one batch; repeated text packs without bounds."""
_BUFFER_BYTES: Final = 1 << 20
_AS_TEXT: Final = (
    "string",
    "large_string",
    "bool",
    "dictionary<values=string",
)


@dataclass(frozen=True, slots=True)
class ArrowSource:
    """One file of Arrow columns; formats differ in how it is cut into batches.

    Args:
        reader: The file.
    """

    reader: FeatherReader | ParquetReader
    header: Header = field(init=False)

    def __post_init__(self) -> None:
        """Write down what the stored file will remember."""
        reader = self.reader
        header = Header(
            file_format=reader.file_format,
            details=reader.details,
            columns=reader.raw_columns,
            physical=physical_names(reader.raw_columns),
            kinds=reader.kinds,
            first_row=2,
            cut=None,
            notices=kept_notices(reader.notices, reader.label),
        )
        object.__setattr__(self, "header", header)

    def unpacked_bytes(self) -> int:
        """What the file says about its unpacked size, 0 where it does not [byte]."""
        return 0

    def pieces(self) -> Iterator[Piece]:
        """The rows in pieces."""
        kinds = self.header.kinds
        kept = [at for at, kind in enumerate(kinds) if is_number(kind) or _is_text(kind)]
        if not kept:
            return
        rows = max(1, min(_MOST_BATCH_ROWS, _VALUES_AT_A_TIME // len(kinds)))
        with DamageGuard(self.reader.file_format, self.reader.label):
            for whole in self._batches(kept, rows):
                for start in range(0, whole.num_rows, rows):
                    batch = whole.slice(start, rows)
                    yield Piece(0, {at: self._column(batch.column(i), at) for i, at in enumerate(kept)})

    def _batches(self, kept: list[int], rows: int) -> Iterator[Any]:
        """Batches of the columns at these positions, in that order."""
        raise NotImplementedError

    def _column(self, column: Any, position: int) -> Any:
        import pyarrow as pa  # noqa: PLC0415 - slow import

        kind = self.header.kinds[position]
        if is_number(kind):
            return pa.array(to_numbers(column, kind), pa.float64())
        if isinstance(column, pa.DictionaryArray):
            self._refuse_repeated(column, position)
        return column.cast(pa.string())

    def _refuse_repeated(self, column: Any, position: int) -> None:
        from pyarrow import compute  # noqa: PLC0415 - slow import

        lengths = compute.fill_null(compute.binary_length(column.dictionary), 0)
        size = compute.sum(compute.take(lengths, compute.drop_null(column.indices))).as_py() or 0
        if size > _MOST_TEXT_BYTES:
            raise HistoryError(
                "the text is too long: a few thousand rows take more than 64 MB.",
                file=self.reader.label,
                column=self.reader.columns[position],
                remedy="Leave the column out.",
            )


@dataclass(frozen=True, slots=True)
class ParquetSource(ArrowSource):
    """One Parquet file, which says its size and is cut into batches as we like."""

    reader: ParquetReader

    def unpacked_bytes(self) -> int:
        """What the file says about itself, and what its numbers take as 64-bit floats, whichever is more [byte]."""
        with DamageGuard(self.reader.file_format, self.reader.label):
            meta = self._open([]).metadata
            stated = sum(meta.row_group(number).total_byte_size for number in range(meta.num_row_groups))
            return max(int(stated), int(meta.num_rows) * 8 * sum(map(is_number, self.header.kinds)))

    def _batches(self, kept: list[int], rows: int) -> Iterator[Any]:
        names, kinds = self.header.columns, self.header.kinds
        wanted = [names[at] for at in kept]
        file = self._open([names[at] for at in kept if kinds[at] in ("string", "large_string")])
        for batch in file.iter_batches(batch_size=rows, columns=wanted, use_threads=False):
            if batch.num_rows:
                yield batch.select(wanted)  # names may contain dots, and one may begin like another

    def _open(self, texts: list[str]) -> Any:
        from pyarrow import parquet  # noqa: PLC0415 - slow import

        return parquet.ParquetFile(
            self.reader.path,
            read_dictionary=texts,
            buffer_size=_BUFFER_BYTES,
            pre_buffer=False,
            page_checksum_verification=True,
        )


@dataclass(frozen=True, slots=True)
class FeatherSource(ArrowSource):
    """One Feather file, whose batches hold all columns and are as large as they were written."""

    reader: FeatherReader

    def _batches(self, kept: list[int], rows: int) -> Iterator[Any]:
        del rows
        return (batch.select(kept) for batch in self.reader.batches(self.header.columns))


def _is_text(kind: str) -> bool:
    return kind != TEXT and kind.startswith(_AS_TEXT)
