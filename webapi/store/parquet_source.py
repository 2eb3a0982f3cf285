"""A Parquet file on its way into the store, in batches small enough for any number of columns."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number, to_numbers
from lifetime.history.formats.parquet_reader import ParquetReader
from webapi.store.header import TEXT, Header, physical_names

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
class ParquetSource:
    """One Parquet file.

    Args:
        reader: The file.
    """

    reader: ParquetReader
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
            notices=(),
        )
        object.__setattr__(self, "header", header)

    def unpacked_bytes(self) -> int:
        """What the file says about itself, and what its numbers take as 64-bit floats, whichever is more [byte]."""
        with self._guarded():
            meta = self._open([]).metadata
            stated = sum(meta.row_group(number).total_byte_size for number in range(meta.num_row_groups))
            return max(int(stated), int(meta.num_rows) * 8 * sum(map(is_number, self.header.kinds)))

    def tables(self) -> Iterator[list[Any]]:
        """The rows in pieces, columns in order."""
        import pyarrow as pa  # noqa: PLC0415 - slow import

        kinds, count = self.header.kinds, len(self.header.kinds)
        kept = [position for position in range(count) if is_number(kinds[position]) or _is_text(kinds[position])]
        texts = [self.header.columns[position] for position in kept if kinds[position] in ("string", "large_string")]
        with self._guarded():
            file = self._open(texts)
            rows = max(1, min(_MOST_BATCH_ROWS, _VALUES_AT_A_TIME // max(1, count)))
            for batch in _batches(file, [self.header.columns[position] for position in kept], rows):
                by_position = dict(zip(kept, batch.columns, strict=True))
                yield [
                    self._column(by_position[position], kinds[position], position)
                    if position in by_position
                    else pa.nulls(batch.num_rows, pa.string())
                    for position in range(count)
                ]

    def _column(self, column: Any, kind: str, position: int) -> Any:
        import pyarrow as pa  # noqa: PLC0415 - slow import

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

    def _open(self, texts: list[str]) -> Any:
        from pyarrow import parquet  # noqa: PLC0415 - slow import

        return parquet.ParquetFile(
            self.reader.path,
            read_dictionary=texts,
            buffer_size=_BUFFER_BYTES,
            pre_buffer=False,
            page_checksum_verification=True,
        )

    def _guarded(self) -> "_Guarded":
        return _Guarded(self.reader.label)


class _Guarded:
    """Turns what a damaged file makes the Parquet library raise into the library's own error."""

    def __init__(self, label: str) -> None:
        self._label = label

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        import pyarrow as pa  # noqa: PLC0415 - slow import

        if isinstance(error, pa.ArrowException | OSError) and not isinstance(error, MemoryError):
            reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
            raise HistoryError(
                f"the Parquet file is cut or damaged ({reason}).",
                file=self._label,
                remedy="Copy or export it again.",
            ) from None


def _is_text(kind: str) -> bool:
    return kind != TEXT and kind.startswith(_AS_TEXT)


def _batches(file: Any, columns: list[str], rows: int) -> Iterator[Any]:
    """Batches with exactly these columns; names may contain dots, and may begin alike."""
    if not columns:
        return
    for batch in file.iter_batches(batch_size=rows, columns=columns, use_threads=False):
        if batch.num_rows:
            yield batch.select(columns)
