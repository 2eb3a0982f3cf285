"""From an uploaded file to the stored Parquet: in pieces, in fixed memory, names and numbers untouched."""

import itertools
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Protocol

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number as is_arrow_number
from lifetime.history.formats.feather_reader import FeatherReader
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.parquet_reader import ParquetReader
from lifetime.history.formats.reader import Reader
from lifetime.history.formats.registry import reader_for
from webapi.errors import LimitError
from webapi.settings import UploadLimits
from webapi.store.arrow_source import FeatherSource, ParquetSource
from webapi.store.header import METADATA_KEY, TEXT, Header, Table
from webapi.store.piece import Piece
from webapi.store.table_source import TableSource

FORMAT_VERSION: Final = "2.6"


@dataclass(frozen=True, slots=True)
class Converted:
    """What a conversion made.

    Args:
        header: What the stored file remembers.
        rows: Data rows in it; of several tables those of the longest.
    """

    header: Header
    rows: int


class Source(Protocol):
    """An uploaded file on its way into the store."""

    @property
    def header(self) -> Header:
        """What the stored file will remember."""
        ...

    def pieces(self) -> Iterator[Piece]:
        """The rows, one table behind the other."""
        ...

    def unpacked_bytes(self) -> int:
        """Unpacked size as far as the file itself states it, else 0 [byte]."""
        ...


def convert(source: Path, target: Path, label: str, limits: UploadLimits, layout: Layout = AS_FOUND) -> Converted:
    """Convert an uploaded history, format found from its content.

    Numbers become 64-bit floats as ``lifetime.history`` reads them, text stays text, every name stays as it is. Of
    columns that hold neither (lists, binary data) only the name and the type are kept; a study cannot use them.

    Args:
        source: The file uploaded.
        target: Where the Parquet file is written; left behind unfinished on an error.
        label: The file's name as the user gave it, for messages.
        limits: What it may measure.
        layout: What is stated about its layout; no bus database, as that is another file.

    Raises:
        HistoryError: The file is in a format not read here, has no columns or rows, or is damaged.
        LimitError: It has too many columns, or unpacks to more than is allowed.
        MissingPackageError: The format needs an optional package.
    """
    reader = reader_for(source, label, layout)
    _check_columns(len(reader.columns), label, limits)
    _check_names(reader.columns, label, limits)
    most = limits.most_unpacked(source.stat().st_size)
    opened = _source(reader)
    _check_unpacked(opened.unpacked_bytes(), label, most)
    try:
        return _write(opened, target, label, limits, most)
    except HistoryError as error:
        if not isinstance(opened, TableSource) or opened.cut is None or error.row is None:
            raise
        # The file may have been cut within its last row: keep the others, and remember what is wrong with that one.
        return _write(opened.without_last_row(error), target, label, limits, most)


def _source(reader: Reader) -> Source:
    match reader:
        case ParquetReader():
            return ParquetSource(reader)
        case FeatherReader():
            return FeatherSource(reader)
        case _:
            return TableSource.of(reader)


def _write(source: Source, target: Path, label: str, limits: UploadLimits, most_bytes: int) -> Converted:
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    header = source.header
    types = [pa.float64() if is_number(kind) else pa.string() for kind in header.kinds]
    schema = pa.schema([pa.field(name, kind) for name, kind in zip(header.physical, types, strict=True)])
    rows: Counter[int] = Counter()
    size = 0
    with parquet.ParquetWriter(
        target,
        schema,
        version=FORMAT_VERSION,
        compression="zstd",
        use_dictionary=[field.name for field in schema if field.type == pa.string()],
        write_statistics=False,
        write_page_checksum=True,
    ) as writer:
        for piece in source.pieces():
            _check_texts(piece, header, label, limits)
            size += sum(column.nbytes for column in piece.columns.values())
            _check_unpacked(size, label, most_bytes)
            columns = [
                piece.columns[at] if at in piece.columns else pa.nulls(piece.rows, kind)
                for at, kind in enumerate(types)
            ]
            rows[piece.table] += piece.rows
            writer.write_batch(pa.record_batch(columns, schema=schema))
        header = replace(header, tables=_tables(source, rows))
        writer.add_key_value_metadata({METADATA_KEY: header.to_bytes()})
    if not rows:
        raise HistoryError(
            "the file holds a header but no data row.", file=label, remedy="Give a file with at least two rows."
        )
    return Converted(header, max(rows.values()))


def _tables(source: Source, rows: Counter[int]) -> tuple[Table, ...]:
    if not isinstance(source, TableSource) or not source.has_tables:
        return ()
    counts = [rows[number] for number in range(len(source.groups))]
    starts = [0, *itertools.accumulate(counts)]
    return tuple(Table(*one) for one in zip(source.groups, starts, counts, strict=False))


def _check_texts(piece: Piece, header: Header, label: str, limits: UploadLimits) -> None:
    import pyarrow as pa  # noqa: PLC0415 - slow imports
    from pyarrow import compute  # noqa: PLC0415

    for at, column in piece.columns.items():
        try:
            column.validate(full=True)
        except pa.ArrowInvalid:
            raise HistoryError(
                "holds text that is not UTF-8.",
                file=label,
                column=header.columns[at][:40],
                remedy="Export the file with text in UTF-8, or leave the column out.",
            ) from None
        longest = compute.max(compute.binary_length(column)).as_py() if column.type == pa.string() else None
        if longest is not None and longest > limits.text_bytes:
            raise LimitError(
                f'{label}: the column "{header.columns[at][:40]}" holds a field of {longest} bytes of text, allowed '
                f"are {limits.text_bytes}. Leave the column out."
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
