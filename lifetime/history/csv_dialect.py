"""How a delimited text file is written: encoding, separator, header row. Found from its first bytes, never assumed."""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from lifetime.errors import HistoryError

_SEPARATORS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
_HEAD_BYTES: Final = 1 << 20
_UTF8_BOM: Final = b"\xef\xbb\xbf"
_UTF16_BOMS: Final = (b"\xff\xfe", b"\xfe\xff")
_KNOWN_BINARY: Final = {
    b"PK\x03\x04": "a zip archive or a spreadsheet workbook",
    b"\x1f\x8b": "gzip-compressed",
    b"\x89HDF": "an HDF5 file",
    b"MDF ": "an MDF measurement file",
    b"MATLAB": "a MAT file",
}
_SAVE_AS: Final = "Save it as CSV (UTF-8) or Parquet with one header row and one row a sample."


@dataclass(frozen=True, slots=True)
class Dialect:
    """How one delimited text file is written.

    Args:
        encoding: "utf-8" or "latin-1".
        separator: One character.
        header_row: Row in the file of the header, counted from 1.
        data_start: Byte at which the row after the header begins.
        columns: Column names, surrounding white space removed.
        unfinished: True where the file does not end with a line end.
        has_bom: True where a byte-order mark stood in front.
    """

    encoding: str
    separator: str
    header_row: int
    data_start: int
    columns: tuple[str, ...]
    unfinished: bool
    has_bom: bool

    @property
    def words(self) -> str:
        """The dialect as a person reads it."""
        encoding = {"utf-8": "UTF-8", "latin-1": "Latin-1"}[self.encoding]
        mark = " with byte-order mark" if self.has_bom else ""
        return f"separator {_SEPARATORS.get(self.separator, self.separator)}, encoding {encoding}{mark}"


def split_fields(line: str, separator: str) -> list[str]:
    """Split one line into its fields, quotes understood.

    Args:
        line: Without its line end.
        separator: One character.

    Raises:
        csv.Error: Quotes are not closed on the line, or text follows a closing quote.
    """
    if '"' not in line:
        return line.split(separator)
    return next(csv.reader([line], delimiter=separator, strict=True))


def read_dialect(path: Path, label: str) -> Dialect:
    """Find out how a delimited text file is written.

    Args:
        path: The file.
        label: Its name as the user gave it, for messages.

    Raises:
        HistoryError: The file is empty, binary, in an encoding not read here, or has no header line.
    """
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
        size = file.seek(0, 2)
        file.seek(max(0, size - 1))
        last = file.read(1)
    _refuse_binary(head, label)
    has_bom = head.startswith(_UTF8_BOM)
    start = len(_UTF8_BOM) if has_bom else 0
    encoding = _encoding(head[start:], complete=size <= _HEAD_BYTES)
    separator = None
    row = 1
    line, after = _line(head, start, label)
    if line.lower().startswith(b"sep=") and len(line.rstrip(b"\r")) == 5:
        separator = chr(line[4])
        row += 1
        line, after = _line(head, after, label)
    header = line.decode(encoding).removesuffix("\r")
    if not header.strip():
        raise HistoryError(
            "the row is empty, where the header with the column names was expected.",
            file=label,
            row=row,
            remedy="Put the column names into the first row.",
        )
    if "\r" in header:
        raise HistoryError(
            "the lines end with a carriage return alone.", file=label, row=row, remedy="Save it with common line ends."
        )
    if separator is None:
        following, _ = _line(head, after, label, required=False)
        separator = _sniff_separator(header, following.decode(encoding, "replace"))
    try:
        names = split_fields(header, separator)
    except csv.Error as error:
        raise HistoryError(
            f"quotes in the header do not match ({error}).", file=label, row=row, remedy="Repair the header row."
        ) from None
    columns = tuple(name.strip() for name in names)
    return Dialect(encoding, separator, row, after, columns, last not in (b"\n", b""), has_bom)


def _refuse_binary(head: bytes, label: str) -> None:
    if not head.strip(b"\r\n\t \xef\xbb\xbf"):
        raise HistoryError("the file is empty.", file=label, remedy="Give a file with a header row and data rows.")
    if head.startswith(_UTF16_BOMS):
        raise HistoryError("the text is UTF-16, which is not read.", file=label, remedy="Save it as UTF-8.")
    for magic, what in _KNOWN_BINARY.items():
        if head.startswith(magic):
            raise HistoryError(f"this is {what}, not delimited text or Parquet.", file=label, remedy=_SAVE_AS)
    if b"\x00" in head:
        raise HistoryError("this is a binary file, not delimited text or Parquet.", file=label, remedy=_SAVE_AS)


def _encoding(text: bytes, *, complete: bool) -> str:
    try:
        text.decode("utf-8")
    except UnicodeDecodeError as error:
        # A character cut by the end of the head is no evidence against UTF-8.
        cut = not complete and error.start >= len(text) - 3
        return "utf-8" if cut else "latin-1"
    return "utf-8"


def _line(head: bytes, start: int, label: str, *, required: bool = True) -> tuple[bytes, int]:
    """The line that begins at ``start``, without its line end, and where the next begins."""
    end = head.find(b"\n", start)
    if end >= 0:
        return head[start:end], end + 1
    if required and len(head) >= _HEAD_BYTES:
        raise HistoryError(
            "no line end within the first megabyte, so this is no table.", file=label, remedy=_SAVE_AS
        )
    return head[start:], len(head)


def _sniff_separator(header: str, first_row: str) -> str:
    """The separator that cuts header and first data row into equally many fields; the more, the better."""

    def count(line: str, separator: str) -> int:
        try:
            return len(split_fields(line.rstrip("\r"), separator))
        except csv.Error:
            return 0

    def merit(separator: str) -> tuple[bool, int]:
        fields = count(header, separator)
        return fields > 1 and fields == count(first_row, separator), fields

    return max(_SEPARATORS, key=merit)
