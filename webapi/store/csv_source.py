"""Delimited text on its way into the store: number columns by the library's own reader, text columns beside them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from lifetime.errors import HistoryError
from lifetime.history.block import IntArray
from lifetime.history.formats.csv_reader import CsvReader
from webapi.store.header import NUMBER, TEXT, Cut, Header, kept_notices, physical_names
from webapi.store.piece import Piece


@dataclass(frozen=True, slots=True)
class CsvSource:
    """One delimited text file.

    Args:
        reader: The file.
        header: What the stored file will remember.
    """

    reader: CsvReader
    header: Header

    @classmethod
    def open(cls, reader: CsvReader) -> "CsvSource":
        """Look at the file's first rows.

        Args:
            reader: The file.
        """
        numbers = set(reader.number_columns())
        header = Header(
            file_format=reader.file_format,
            details=reader.details,
            columns=reader.columns,
            physical=physical_names(reader.columns),
            kinds=tuple(NUMBER if position in numbers else TEXT for position in range(len(reader.columns))),
            first_row=reader.dialect.table.data_row,
            cut=Cut(kept=True) if reader.unfinished else None,
            notices=kept_notices(reader.notices, reader.label),
        )
        return cls(reader, header)

    def without_last_row(self, error: HistoryError) -> "CsvSource":
        """The same file without its cut last row.

        Args:
            error: What is wrong with that row.
        """
        cut = Cut(kept=False, row=error.row or 0, problem=error.problem, remedy=error.remedy)
        return CsvSource(self.reader, replace(self.header, cut=cut))

    def unpacked_bytes(self) -> int:
        """Text does not say."""
        return 0

    def pieces(self) -> Iterator[Piece]:
        """The rows in pieces."""
        import pyarrow as pa  # noqa: PLC0415 - slow import

        kinds = self.header.kinds
        numbers = [position for position, kind in enumerate(kinds) if kind == NUMBER]
        texts = _Texts(self.reader, [position for position, kind in enumerate(kinds) if kind == TEXT])
        drop = self.header.cut is not None and not self.header.cut.kept
        for chunk in self.reader.chunks(numbers, drop_unfinished=drop):
            if not chunk.rows.size:
                continue
            columns = {
                position: pa.array(values, pa.float64()) for position, values in zip(numbers, chunk.values, strict=True)
            }
            columns |= {position: pa.array(values, pa.string()) for position, values in texts.take(chunk.rows).items()}
            yield Piece(0, columns)


class _Texts:
    """Goes through the file line by line, beside the number reader, for the columns that hold text."""

    def __init__(self, reader: CsvReader, positions: list[int]) -> None:
        self._reader = reader
        self._positions = positions
        self._lines = reader.raw_rows(reader.dialect.table.data_row) if positions else iter(())

    def take(self, rows: IntArray) -> dict[int, list[str]]:
        """The fields of these rows, which follow those taken before."""
        found: dict[int, list[str]] = {position: [] for position in self._positions}
        if not self._positions:
            return found
        for row in rows.tolist():
            fields = next(line for number, line in self._lines if number == row)
            for position, values in found.items():
                values.append(fields[position])
        return found
