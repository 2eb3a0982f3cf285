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
from lifetime.history.formats.arrow_columns import as_float64
from lifetime.history.formats.csv_dialect import Dialect, read_dialect
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.line_pieces import PIECE_BYTES, LinePiece, LinePieces
from lifetime.history.formats.prefetch import prefetched_results
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_table import split_fields
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

_SMALLEST_BLOCK_BYTES: Final = 1024  # the parser refuses very small blocks
_SAMPLE_ROWS: Final = 100
_TAIL_BYTES: Final = 1 << 16
_NOTHING: Final = b" \r\x00"  # a block of NULs is what a power loss leaves at a file's end
_BLANKS: Final = re.compile(rb"[ \t]+")
_EDGES: Final = re.compile(rb"(?m)(?<![ \t])[ \t]++(?=\r?$)|^[ \t]++")
# Spellings of "no value" that the fast parser may turn into NaN; any other text goes the slow way, to the same end.
_EMPTY: Final = ["", "nan", "NaN", "NAN", "NA", "N/A", "n/a", "null", "NULL", "none", "None", "-", "#N/A"]


@dataclass(frozen=True, slots=True)
class CsvReader(OneFile):
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
    piece_bytes: int = PIECE_BYTES
    single_precision: frozenset[int] = field(default=frozenset(), init=False)
    _kept: dict[str, list[list[str]]] = field(default_factory=dict, init=False, repr=False, compare=False)
    _numeric: list[tuple[int, ...]] = field(default_factory=list, init=False, repr=False, compare=False)

    @classmethod
    def open(cls, path: Path, label: str, layout: Layout = AS_FOUND) -> "CsvReader":
        """Look at the file's first bytes.

        Args:
            path: The file.
            label: Its name as the user gave it.
            layout: What the study states about it.

        Raises:
            HistoryError: The file is not delimited text.
        """
        return cls(path, label, read_dialect(path, label, layout))

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
        return self.dialect.table.columns

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
                Notice("latin1_encoding", f"{self.label}: the text is not valid UTF-8 and was read as Latin-1.", "note")
            )
        if self.dialect.control_bytes:
            count = self.dialect.control_bytes
            found.append(
                Notice(
                    "control_bytes",
                    f"{self.label}: {count} control byte{'s are' if count > 1 else ' is'} in the text, as after a "
                    "damaged copy or a power loss; a field with one is no number.",
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
        """Positions of the columns with at least one number within the first hundred rows, or nothing at all."""
        if not self._numeric:
            rows = self._first_rows()
            self._numeric.append(tuple(at for at in range(len(self.columns)) if self._has_numbers(rows, at)))
        return self._numeric[0]

    def _has_numbers(self, rows: list[list[str]], position: int) -> bool:
        filled = [fields[position] for fields in rows if position < len(fields) and fields[position]]
        return not filled or any(self.dialect.number_format.is_number(text) for text in filled)

    def text_sample(self, column: int) -> list[str]:
        """The fields of a column in the first rows and the last, surrounding white space removed.

        Args:
            column: Position of the column.
        """
        rows = self._first_rows() + self._last_rows()
        return [fields[column] for fields in rows if column < len(fields)]

    @property
    def _lines(self) -> LinePieces:
        return LinePieces(self.dialect.source, self.dialect.data_start, self.dialect.table.data_row)

    def _first_rows(self) -> list[list[str]]:
        """The first rows, read once: every column is asked about in turn."""
        if "first" not in self._kept:
            piece = next(self._lines.pieces(piece_bytes=_SAMPLE_ROWS * 2000), None)
            lines = [] if piece is None else piece.text.split(b"\n")[:-1]
            self._kept["first"] = self._sampled(lines[:_SAMPLE_ROWS])
        return self._kept["first"]

    def _last_rows(self) -> list[list[str]]:
        """The last whole rows of a long plain text, read once: the days at a log's end tell day and month apart."""
        if "last" not in self._kept:
            self._kept["last"] = self._read_last_rows()
        return self._kept["last"]

    def _read_last_rows(self) -> list[list[str]]:
        source = self.dialect.source
        size = self.path.stat().st_size
        if source.packing or source.wide or size - self.dialect.data_start < _TAIL_BYTES:
            return []
        with self.path.open("rb") as file:
            file.seek(size - _TAIL_BYTES)
            return self._sampled(file.read().split(b"\n")[1:-1][-_SAMPLE_ROWS:])

    def _sampled(self, lines: list[bytes]) -> list[list[str]]:
        rows: list[list[str]] = []
        for raw in lines:
            try:
                fields = [text.strip() for text in self._fields(raw)]
            except csv.Error:
                continue
            if any(fields):
                rows.append(fields)
        return rows

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the data rows.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Leave out a last row without a line end.

        Raises:
            HistoryError: A row has too few or too many fields, or quotes that are not closed.
        """
        pieces = self._lines.pieces(drop_unended=drop_unfinished, piece_bytes=self.piece_bytes)
        for chunk, fault in prefetched_results(lambda piece: self._parse(piece, columns, texts), pieces):
            if chunk.rows.size or fault is None:
                yield chunk
            if fault is not None:
                raise fault

    def raw_rows(self, first: int) -> Iterator[tuple[int, list[str]]]:
        """Stream row numbers and fields as text; slow, for what contains no numbers.

        Args:
            first: First row wanted.

        Raises:
            HistoryError: Quotes are not closed.
        """
        for piece in self._lines.pieces(piece_bytes=self.piece_bytes):
            if piece.row + piece.lines <= first:
                continue
            for number, raw in enumerate(piece.text.split(b"\n")[:-1], start=piece.row):
                if number >= first:
                    yield number, self._fields_or_refuse(raw, number)

    def field(self, row: int, column: int) -> str:
        """One field as it is in the file; slow.

        Args:
            row: Row in the file.
            column: Position of the column.
        """
        try:
            _, fields = next(self.raw_rows(row), (row, []))
        except HistoryError:
            return ""  # the row cannot be cut into fields, so there is no field to show
        return fields[column].strip() if column < len(fields) else ""

    def _fields(self, raw: bytes) -> list[str]:
        text = raw.decode(self.dialect.encoding, "replace").rstrip("\r\n")
        return split_fields(text, self.dialect.separator)

    def _fields_or_refuse(self, raw: bytes, row: int) -> list[str]:
        try:
            return self._fields(raw)
        except csv.Error as error:
            raise HistoryError(
                f"the quotes do not match ({error}).", file=self.label, row=row, remedy="Repair or delete the row."
            ) from None

    def _parse(self, piece: LinePiece, columns: Sequence[int], texts: Texts) -> tuple[Chunk, HistoryError | None]:
        """The rows of a piece, up to the first that spoils reading, and what is wrong with that one."""
        # Carriage returns that do not pair with line ends would be taken for line ends of their own.
        text, lines = piece.text, piece.lines
        paired = b"\r" not in text or text.count(b"\r") == text.count(b"\r\n") == lines
        if paired and not self._has_empty_rows(text):
            values = self._parse_fast(piece, columns, texts)
            if values is not None:
                return Chunk(np.arange(piece.row, piece.row + lines, dtype=np.int64), values), None
        return self._parse_by_line(piece, columns, texts)

    def _has_empty_rows(self, text: bytes) -> bool:
        """True where a row is nothing but separators, as spreadsheets leave them at the end."""
        empty = self.dialect.separator.encode() * (len(self.columns) - 1)
        return bool(empty) and (b"\n" + empty + b"\n" in text or b"\n" + empty + b"\r" in text)

    def _parse_fast(self, piece: LinePiece, columns: Sequence[int], texts: Texts) -> tuple[FloatArray, ...] | None:
        import pyarrow as pa  # noqa: PLC0415 - slow import
        from pyarrow import csv as arrow_csv  # noqa: PLC0415

        separator, text = self.dialect.separator, piece.text
        if separator == " ":
            separator, text = "\t", _BLANKS.sub(b"\t", _EDGES.sub(b"", text))
        names = [str(position) for position in range(len(self.columns))]
        wanted = [names[position] for position in columns]
        as_text = {names[p] for p in columns if p in texts or self.dialect.number_format.grouped}
        try:
            table = arrow_csv.read_csv(
                pa.BufferReader(text),
                read_options=arrow_csv.ReadOptions(
                    column_names=names, use_threads=False, block_size=max(len(text) + 1, _SMALLEST_BLOCK_BYTES)
                ),
                parse_options=arrow_csv.ParseOptions(delimiter=separator),
                convert_options=arrow_csv.ConvertOptions(
                    include_columns=wanted,
                    column_types={name: pa.binary() if name in as_text else pa.float64() for name in wanted},
                    null_values=_EMPTY,
                    check_utf8=False,
                    decimal_point=self.dialect.number_format.decimal,
                ),
            )
        except pa.ArrowInvalid:
            return None
        if table.num_rows != piece.lines:
            return None
        return tuple(
            self._from_bytes(table.column(name).to_pylist(), position, texts)
            if name in as_text
            else as_float64(table.column(name))
            for name, position in zip(wanted, columns, strict=True)
        )

    def _from_bytes(self, fields: list[bytes], position: int, texts: Texts) -> FloatArray:
        decoded = [field.decode(self.dialect.encoding, "replace").strip() for field in fields]
        return self._to_numbers(decoded, position, texts)

    def _to_numbers(self, fields: list[str], position: int, texts: Texts) -> FloatArray:
        if position in texts:
            return texts[position].numbers(fields)
        return np.array([self.dialect.number_format.number(text) for text in fields], dtype=np.float64)

    def _parse_by_line(
        self, piece: LinePiece, columns: Sequence[int], texts: Texts
    ) -> tuple[Chunk, HistoryError | None]:
        rows: list[int] = []
        found: list[list[str]] = [[] for _ in columns]
        fault: HistoryError | None = None
        for number, raw in enumerate(piece.text.split(b"\n")[:-1], start=piece.row):
            if not raw.strip(_NOTHING):
                continue  # a blank line holds no sample
            try:
                fields = self._row(raw, number)
            except HistoryError as error:
                fault = error
                break
            if not any(text.strip() for text in fields):
                continue  # nothing but separators
            rows.append(number)
            for target, position in zip(found, columns, strict=True):
                target.append(fields[position].strip())
        values = (self._to_numbers(fields, p, texts) for fields, p in zip(found, columns, strict=True))
        return Chunk(np.array(rows, dtype=np.int64), tuple(values)), fault

    def _row(self, raw: bytes, number: int) -> list[str]:
        """The fields of a row, as many as there are columns."""
        fields = self._fields_or_refuse(raw, number)
        if len(fields) == len(self.columns) + 1 and not fields[-1].strip():
            fields.pop()  # a separator at the row's end opens no further column
        elif len(fields) == len(self.columns) - 1 and not self.columns[-1]:
            fields.append("")  # the last column is nothing but a separator at the row's end, which is missing here
        if len(fields) != len(self.columns) or b"\r" in raw.rstrip(b"\r"):
            raise self._ragged(number, len(fields))
        return fields

    def _ragged(self, row: int, fields: int) -> HistoryError:
        expected = len(self.columns)
        number = "1 field" if fields == 1 else f"{fields} fields"
        return HistoryError(
            f"the row has {number} where the header has {expected}, so values could be under the wrong name.",
            file=self.label,
            row=row,
            remedy="Repair or delete the row"
            + ("." if fields > expected else ', or ask for clean = ["drop_unfinished_last_row"] if the file was cut.'),
        )
