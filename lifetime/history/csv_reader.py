"""Delimited text, read in pieces of fixed size cut at line ends.

Each piece goes through pyarrow's parser, which counts the fields of every row, rounds numbers correctly and knows
quotes. Wherever it objects, or the rows it saw do not match the line ends, the piece is gone through again line by
line: that finds the row to name, skips blank lines, and turns fields that are no numbers into NaN.
"""

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.ahead import work_ahead
from lifetime.history.columnar import as_float64
from lifetime.history.csv_dialect import Dialect, read_dialect, split_fields
from lifetime.history.reader import Chunk
from lifetime.notices import Notice

_PIECE_BYTES: Final = 1 << 22
_LONGEST_LINE_BYTES: Final = 1 << 26
_SMALLEST_BLOCK_BYTES: Final = 1024  # the parser refuses very small blocks
_SAMPLE_ROWS: Final = 100
_LINE_END: Final = 10  # code of the line feed
NUMBER: Final = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)
"""What counts as a number: digits, a decimal point, an exponent. No decimal comma, no thousands mark."""

# Spellings of "no value" that the fast parser may turn into NaN; any other text goes the slow way, to the same end.
_EMPTY: Final = ["", "nan", "NaN", "NAN", "NA", "N/A", "n/a", "null", "NULL", "none", "None", "-"]


@dataclass(frozen=True, slots=True)
class _Piece:
    """Whole lines of a file: their bytes, the row of the first, and how many line ends they hold."""

    text: bytes
    row: int
    lines: int


@dataclass(frozen=True, slots=True)
class CsvReader:
    """A delimited text file.

    Args:
        path: The file.
        label: Its name as the user gave it.
        dialect: How it is written.
        piece_bytes: Bytes read at a time; results do not depend on it.
    """

    path: Path
    label: str
    dialect: Dialect
    piece_bytes: int = _PIECE_BYTES
    single_precision: frozenset[int] = field(default=frozenset(), init=False)

    @classmethod
    def open(cls, path: Path, label: str) -> "CsvReader":
        """Look at the file's first bytes.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The file is no delimited text with a header.
        """
        return cls(path, label, read_dialect(path, label))

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "CSV"

    @property
    def details(self) -> str:
        """Separator and encoding in words."""
        return self.dialect.words

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the file's order."""
        return self.dialect.columns

    @property
    def unfinished(self) -> bool:
        """True where the last row has no line end."""
        return self.dialect.unfinished

    @property
    def notices(self) -> tuple[Notice, ...]:
        """Encoding fallback and unfinished last row."""
        found = []
        if self.dialect.encoding == "latin-1":
            found.append(
                Notice(
                    "latin1_encoding", f"{self.label}: the text is not valid UTF-8 and was read as Latin-1.", "note"
                )
            )
        if self.dialect.unfinished:
            found.append(
                Notice(
                    "unfinished_last_row",
                    f"{self.label}: the last row has no line end, so the file may have been cut and its last number "
                    'may be incomplete. Ask for clean = ["drop_unfinished_last_row"] if in doubt.',
                )
            )
        return tuple(found)

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns that hold at least one number within the first hundred rows, or nothing at all."""
        seen: list[list[str]] = []
        with self.path.open("rb") as file:
            file.seek(self.dialect.data_start)
            for raw in file.readlines(_SAMPLE_ROWS * 2000)[:_SAMPLE_ROWS]:
                try:
                    seen.append(self._fields(raw))
                except csv.Error:
                    continue
        found = []
        for position in range(len(self.columns)):
            texts = [fields[position].strip() for fields in seen if position < len(fields)]
            filled = [text for text in texts if text]
            if not filled or any(NUMBER.fullmatch(text) for text in filled):
                found.append(position)
        return tuple(found)

    def chunks(self, columns: Sequence[int], *, drop_unfinished: bool = False) -> Iterator[Chunk]:
        """Stream the data rows.

        Args:
            columns: Positions of the columns wanted.
            drop_unfinished: Leave out a last row without a line end.

        Raises:
            HistoryError: A row has too few or too many fields, or quotes that are not closed.
        """
        pieces = self._pieces(drop_unfinished=drop_unfinished)
        return work_ahead(lambda piece: self._parse(piece, columns), pieces)

    def _pieces(self, *, drop_unfinished: bool) -> Iterator[_Piece]:
        row = self.dialect.header_row + 1
        with self.path.open("rb") as file:
            file.seek(self.dialect.data_start)
            while text := file.read(self.piece_bytes):
                if not text.endswith(b"\n"):
                    text += file.readline(_LONGEST_LINE_BYTES)
                if not text.endswith(b"\n"):
                    self._refuse_endless(text, row)
                    text = text[: text.rfind(b"\n") + 1] if drop_unfinished else text + b"\n"
                if text:
                    lines = int(np.count_nonzero(np.frombuffer(text, dtype=np.uint8) == _LINE_END))
                    yield _Piece(text, row, lines)
                    row += lines

    def field(self, row: int, column: int) -> str:
        """One field as it stands in the file; slow.

        Args:
            row: Row in the file.
            column: Position of the column.
        """
        with self.path.open("rb") as file:
            for number, raw in enumerate(file, start=1):
                if number == row:
                    return self._fields(raw)[column].strip()
        return ""

    def _fields(self, raw: bytes) -> list[str]:
        text = raw.decode(self.dialect.encoding, "replace").rstrip("\r\n")
        return split_fields(text, self.dialect.separator)

    def _parse(self, piece: _Piece, columns: Sequence[int]) -> Chunk:
        # Carriage returns that do not pair with line ends would be taken for line ends of their own.
        text, lines = piece.text, piece.lines
        if b"\r" not in text or text.count(b"\r") == text.count(b"\r\n") == lines:
            values = self._parse_fast(piece, columns)
            if values is not None:
                return Chunk(np.arange(piece.row, piece.row + lines, dtype=np.int64), values)
        return self._parse_by_line(piece, columns)

    def _parse_fast(self, piece: _Piece, columns: Sequence[int]) -> tuple[FloatArray, ...] | None:
        import pyarrow as pa  # noqa: PLC0415 - slow import
        from pyarrow import csv as arrow_csv  # noqa: PLC0415

        names = [str(position) for position in range(len(self.columns))]
        wanted = [names[position] for position in columns]
        block_size = max(len(piece.text) + 1, _SMALLEST_BLOCK_BYTES)
        try:
            table = arrow_csv.read_csv(
                pa.BufferReader(piece.text),
                read_options=arrow_csv.ReadOptions(column_names=names, use_threads=False, block_size=block_size),
                parse_options=arrow_csv.ParseOptions(delimiter=self.dialect.separator),
                convert_options=arrow_csv.ConvertOptions(
                    include_columns=wanted,
                    column_types=dict.fromkeys(wanted, pa.float64()),
                    null_values=_EMPTY,
                    check_utf8=False,
                ),
            )
        except pa.ArrowInvalid:
            return None
        if table.num_rows != piece.lines:
            return None
        return tuple(as_float64(table.column(name)) for name in wanted)

    def _parse_by_line(self, piece: _Piece, columns: Sequence[int]) -> Chunk:
        rows: list[int] = []
        found: list[list[float]] = [[] for _ in columns]
        for number, raw in enumerate(piece.text.split(b"\n")[:-1], start=piece.row):
            if not raw.strip(b" \r"):
                continue  # a blank line holds no sample
            try:
                fields = self._fields(raw)
            except csv.Error as error:
                raise HistoryError(
                    f"the quotes do not match ({error}).",
                    file=self.label,
                    row=number,
                    remedy="Repair or delete the row.",
                ) from None
            if len(fields) != len(self.columns) or b"\r" in raw.rstrip(b"\r"):
                raise self._ragged(number, len(fields))
            rows.append(number)
            for target, position in zip(found, columns, strict=True):
                text = fields[position]
                target.append(float(text) if NUMBER.fullmatch(text) else float("nan"))
        return Chunk(np.array(rows, dtype=np.int64), tuple(np.array(values, dtype=np.float64) for values in found))

    def _ragged(self, row: int, fields: int) -> HistoryError:
        expected = len(self.columns)
        number = "1 field" if fields == 1 else f"{fields} fields"
        return HistoryError(
            f"the row has {number} where the header has {expected}, so values could stand under the wrong name.",
            file=self.label,
            row=row,
            remedy="Repair or delete the row"
            + ("." if fields > expected else ', or ask for clean = ["drop_unfinished_last_row"] if the file was cut.'),
        )

    def _refuse_endless(self, piece: bytes, row: int) -> None:
        if len(piece) - piece.rfind(b"\n") > _LONGEST_LINE_BYTES:
            raise HistoryError(
                "a line is longer than 64 MB, so this is no table.", file=self.label, row=row, remedy="Check the file."
            )
