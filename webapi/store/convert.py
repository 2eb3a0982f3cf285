"""From an uploaded file to the stored Parquet: in pieces, in fixed memory, names and numbers untouched."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number as is_arrow_number
from lifetime.history.formats.csv_reader import CsvReader
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.formats.registry import is_text_or_parquet, reader_for
from webapi.errors import LimitError
from webapi.settings import UploadLimits
from webapi.store.csv_source import CsvSource
from webapi.store.header import METADATA_KEY, TEXT, Header
from webapi.store.parquet_source import ParquetSource

FORMAT_VERSION: Final = "2.6"


@dataclass(frozen=True, slots=True)
class Converted:
    """What a conversion made.

    Args:
        header: What the stored file remembers.
        rows: Data rows in it.
    """

    header: Header
    rows: int


class Source(Protocol):
    """An uploaded file on its way into the store."""

    @property
    def header(self) -> Header:
        """What the stored file will remember."""
        ...

    def tables(self) -> Iterator[Any]:
        """The rows as Arrow record batches, columns in order: float64 or text."""
        ...

    def unpacked_bytes(self) -> int:
        """Unpacked size as far as the file itself states it [byte]."""
        ...


def convert(source: Path, target: Path, label: str, limits: UploadLimits) -> Converted:
    """Convert an uploaded history, format found from its content.

    Numbers become 64-bit floats as ``lifetime.history`` reads them, text stays text, every name stays as it is. Of
    columns that hold neither (lists, binary data) only the name and the type are kept; a study cannot use them.

    Args:
        source: The file uploaded.
        target: Where the Parquet file is written; left behind unfinished on an error.
        label: The file's name as the user gave it, for messages.
        limits: What it may measure.

    Raises:
        HistoryError: The file is neither delimited text nor Parquet, has no columns or rows, or is damaged.
        LimitError: It has too many columns, or unpacks to more than is allowed.
    """
    if not is_text_or_parquet(source, label):
        raise HistoryError(
            "files of this kind are read at the command line only.",
            file=label,
            remedy="Upload plain text (CSV) or Parquet.",
        )
    reader = reader_for(source, label)
    _check_columns(len(reader.columns), label, limits)
    _check_names(reader.columns, label, limits)
    most = limits.most_unpacked(source.stat().st_size)
    opened: Source
    if isinstance(reader, ParquetReader):
        opened = ParquetSource(reader)
        _check_unpacked(opened.unpacked_bytes(), label, most)
        return _write(opened, target, label, limits, most)
    assert isinstance(reader, CsvReader)  # noqa: S101 - what is neither was refused above
    csv = CsvSource.open(reader)
    try:
        return _write(csv, target, label, limits, most)
    except HistoryError as error:
        if not reader.unfinished or error.row is None:
            raise
        # The file may have been cut within its last row: keep the others, and remember what is wrong with that one.
        return _write(csv.without_last_row(error), target, label, limits, most)


def _write(source: Source, target: Path, label: str, limits: UploadLimits, most_bytes: int) -> Converted:
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    header = source.header
    types = [pa.float64() if is_number(kind) else pa.string() for kind in header.kinds]
    fields = [pa.field(name, kind) for name, kind in zip(header.physical, types, strict=True)]
    schema = pa.schema(fields, metadata={METADATA_KEY: header.to_bytes()})
    rows, size = 0, 0
    with parquet.ParquetWriter(
        target,
        schema,
        version=FORMAT_VERSION,
        compression="zstd",
        use_dictionary=[field.name for field in fields if field.type == pa.string()],
        write_statistics=False,
        write_page_checksum=True,
    ) as writer:
        for columns in source.tables():
            batch = pa.record_batch(columns, schema=schema)
            _check_texts(batch, label, limits)
            size += batch.nbytes
            _check_unpacked(size, label, most_bytes)
            rows += batch.num_rows
            writer.write_batch(batch)
    if rows == 0:
        raise HistoryError(
            "the file holds a header but no data row.", file=label, remedy="Give a file with at least two rows."
        )
    return Converted(header, rows)


def _check_texts(batch: Any, label: str, limits: UploadLimits) -> None:
    import pyarrow as pa  # noqa: PLC0415 - slow imports
    from pyarrow import compute  # noqa: PLC0415

    for name, column in zip(batch.schema.names, batch.columns, strict=True):
        try:
            column.validate(full=True)
        except pa.ArrowInvalid:
            raise HistoryError(
                "holds text that is not UTF-8.",
                file=label,
                column=name[:40],
                remedy="Export the file with text in UTF-8, or leave the column out.",
            ) from None
        longest = compute.max(compute.binary_length(column)).as_py() if column.type == pa.string() else None
        if longest is not None and longest > limits.text_bytes:
            raise LimitError(
                f'{label}: the column "{name[:40]}" holds a field of {longest} bytes of text, allowed are '
                f"{limits.text_bytes}. Leave the column out."
            )


def is_number(kind: str) -> bool:
    """True for kinds of column whose values are kept as numbers.

    Args:
        kind: As in ``Header.kinds``.
    """
    return kind != TEXT and is_arrow_number(kind)


def _check_columns(count: int, label: str, limits: UploadLimits) -> None:
    if count > limits.columns:
        raise LimitError(
            f"{label}: the file has {count} columns, allowed are {limits.columns}. Leave out the columns that no study "
            "needs."
        )


def _check_names(names: tuple[str, ...], label: str, limits: UploadLimits) -> None:
    longest = max(names, key=len, default="")
    if len(longest) > limits.name_characters:
        raise LimitError(
            f'{label}: the column name "{longest[:40]}..." has {len(longest)} characters, allowed are '
            f"{limits.name_characters}. Shorten it."
        )


def _check_unpacked(size: int, label: str, most: int) -> None:
    if size > most:
        raise LimitError(
            f"{label}: the file unpacks to more than the {most} bytes allowed to a file of its size. Shorten it, or "
            "leave out columns that no study needs."
        )
