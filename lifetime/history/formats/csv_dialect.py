"""How a delimited text file is written: packing, encoding, separator, numbers, header. Found from its first bytes."""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from lifetime.errors import HistoryError
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.number_format import NumberFormat, find_number_format, looks_numeric
from lifetime.history.formats.text_bytes import TextBytes
from lifetime.history.formats.text_table import TextTable, find_table, split_fields

_WORDS: Final = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blanks"}
_HEAD_BYTES: Final = 1 << 20
_HEAD_LINES: Final = 1500
_SAMPLED_LINES: Final = 200
_CONTROL: Final = bytes(range(9))
_FEW_CONTROL_BYTES: Final = 0.001
_UTF8_BOM: Final = b"\xef\xbb\xbf"
SAVE_AS: Final = "Export it as CSV (UTF-8) or Parquet with one header row and one row a sample."


@dataclass(frozen=True, slots=True)
class Dialect:
    """How one delimited text file is written.

    Args:
        source: Gives the bytes, unpacked and narrow.
        encoding: "utf-8" or "latin-1".
        table: Separator, header rows and columns.
        number_format: How numbers are written.
        data_start: Byte of the unpacked text at which the first row of data begins.
        unfinished: True where the text does not end with a line end.
        has_bom: True where a byte-order mark came first.
        control_bytes: Control bytes in the first megabyte, which text has not.
    """

    source: TextBytes
    encoding: str
    table: TextTable
    number_format: NumberFormat
    data_start: int
    unfinished: bool
    has_bom: bool
    control_bytes: int = 0

    @property
    def separator(self) -> str:
        """One character; " " stands for runs of blanks."""
        return self.table.separator

    @property
    def words(self) -> str:
        """The dialect as a person reads it."""
        narrow = {"utf-8": "UTF-8", "latin-1": "Latin-1"}[self.encoding]
        encoding = "UTF-16" if self.source.wide else narrow
        mark = " with byte-order mark" if self.has_bom else ""
        text = f"separator {_WORDS[self.separator]}{self.number_format.words}, encoding {encoding}{mark}"
        if self.table.header_row > 1:
            text += f", header in row {self.table.header_row}"
        elif self.table.header_row == 0:
            text += ", no header"
        if self.table.unit_row:
            text += f", units in row {self.table.unit_row}"
        return text + self.source.words


def read_dialect(path: Path, label: str, layout: Layout = AS_FOUND) -> Dialect:
    """Find out how a delimited text file is written.

    Args:
        path: The file.
        label: Its name as the user gave it, for messages.
        layout: What the study states about it.

    Raises:
        HistoryError: The file is empty, binary, in an encoding not read here, or has no table.
    """
    source = TextBytes.of(path, label)
    with source.open() as file:
        head = source.read(file, _HEAD_BYTES)
        complete = len(head) < _HEAD_BYTES
        unfinished = _is_unfinished(source, file, head)
    control_bytes = _control_bytes(head, label)
    has_bom = head.startswith(_UTF8_BOM)
    start = len(_UTF8_BOM) if has_bom else 0
    encoding = _encoding(head[start:], complete=complete)
    lines, starts = _lines(head, start, label, complete=complete)
    texts = [line.decode(encoding, "replace").removesuffix("\r") for line in lines]
    separator, skipped = _stated_separator(texts)
    table = _table(texts, skipped, separator, layout, label)
    rows = texts[table.data_row - 1 :][:_SAMPLED_LINES]
    number_format = find_number_format(_sampled(rows, table.separator), layout.decimal, label)
    data_start = starts[table.data_row - 1] if table.data_row <= len(starts) else len(head)
    return Dialect(source, encoding, table, number_format, data_start, unfinished, has_bom, control_bytes)


def _table(texts: list[str], skipped: int, separator: str | None, layout: Layout, label: str) -> TextTable:
    """The table, with rows counted from the top of the file."""
    if layout.header_row is not None and layout.header_row > len(texts):
        raise HistoryError(
            f"header_row = {layout.header_row} is beyond the first {len(texts)} rows.",
            file=label,
            remedy="Give the row of the column names, counted from 1; 0 where there is none.",
        )
    stated = None if not layout.header_row else layout.header_row - skipped
    if stated is not None and stated < 1:
        raise _no_header(layout, "it states the separator", label)
    table = find_table(texts[skipped:], separator, stated)
    if table is None:
        table = _header_only(texts[skipped:], separator, label, skipped + 1)
    if stated is not None:
        _refuse_unfit_header(texts[skipped + stated - 1], table, layout, label)
    if layout.header_row == 0 and table.header_row:
        names = tuple(f"column {place + 1}" for place in range(len(table.columns)))
        table = TextTable(table.separator, 0, 0, table.data_row, names)
    shifted = skipped if table.header_row else 0
    return TextTable(
        table.separator,
        table.header_row + shifted,
        table.unit_row + skipped if table.unit_row else 0,
        table.data_row + skipped,
        table.columns,
    )


def _refuse_unfit_header(line: str, table: TextTable, layout: Layout, label: str) -> None:
    """Refuse a stated row of names that is a row of data, or that has names for less than half of the columns."""
    try:
        fields = [field.strip() for field in split_fields(line, table.separator)]
    except csv.Error:
        return
    filled = [field for field in fields if field]
    if not filled:
        raise _no_header(layout, "that row is empty", label)
    if len(table.columns) > 1 and all(looks_numeric(field) for field in filled):
        raise _no_header(layout, "that row contains nothing but numbers", label)
    if 2 * len(filled) < len(table.columns):
        raise _no_header(layout, f"that row has {len(filled)} of {len(table.columns)} names", label)


def _no_header(layout: Layout, why: str, label: str) -> HistoryError:
    return HistoryError(
        f"header_row = {layout.header_row} does not fit: {why}.",
        file=label,
        row=layout.header_row,
        remedy="Give the row of the column names, counted from 1; 0 where there is none.",
    )


def _header_only(texts: list[str], separator: str | None, label: str, row: int) -> TextTable:
    """A first row of names with nothing that looks like numbers below it; reading will say what is wrong there."""
    header = texts[0] if texts else ""
    if not header.strip():
        raise HistoryError(
            "the row is empty, where the header with the column names was expected.",
            file=label,
            row=row,
            remedy="Put the column names into the first row.",
        )
    chosen = separator or max(_WORDS, key=lambda mark: (mark != " ", header.count(mark)))
    try:
        names = split_fields(header, chosen)
    except csv.Error as error:
        raise HistoryError(
            f"quotes in the header do not match ({error}).", file=label, row=row, remedy="Repair the header row."
        ) from None
    return TextTable(chosen, 1, 0, 2, tuple(name.strip() for name in names))


def _stated_separator(texts: list[str]) -> tuple[str | None, int]:
    """The separator of a line such as "sep=;" on top, and how many rows that takes."""
    if texts and texts[0].lower().startswith("sep=") and len(texts[0]) == 5:
        return texts[0][4], 1
    return None, 0


def _sampled(rows: list[str], separator: str) -> list[str]:
    fields: list[str] = []
    for row in rows:
        try:
            fields += [field.strip() for field in split_fields(row, separator)]
        except csv.Error:
            continue
    return fields


def _control_bytes(head: bytes, label: str) -> int:
    """How many control bytes the text contains; one here and there is damage, many are no text."""
    if not head.strip(b"\r\n\t \xef\xbb\xbf"):
        raise HistoryError("the file is empty.", file=label, remedy="Give a file with a header row and data rows.")
    text = head.rstrip(b"\x00")  # space that was set aside for rows never written
    count = len(text) - len(text.translate(None, _CONTROL))
    is_no_text = count > max(_FEW_CONTROL_BYTES * len(text), 1) or b"\n" not in text
    if is_no_text and (count or len(text) < len(head)):
        raise HistoryError("this is a binary file of a kind not read here.", file=label, remedy=SAVE_AS)
    return count + len(head) - len(text)


def _is_unfinished(source: TextBytes, file: object, head: bytes) -> bool:
    """Whether the text ends without a line end; a compressed one has to be unpacked to its end to know."""
    if not source.packing:
        with source.path.open("rb") as raw:
            size = raw.seek(0, 2)
            raw.seek(max(0, size - 2))
            end = raw.read()
        if source.wide:
            return end != "\n".encode(source.wide)
        return not end.endswith(b"\n") and bool(end)
    last = head
    while piece := source.read(file, _HEAD_BYTES):  # type: ignore[arg-type]
        last = piece
    return not last.endswith(b"\n") and bool(last)


def _encoding(text: bytes, *, complete: bool) -> str:
    try:
        text.decode("utf-8")
    except UnicodeDecodeError as error:
        # A character cut by the end of the head is no evidence against UTF-8.
        cut = not complete and error.start >= len(text) - 3
        return "utf-8" if cut else "latin-1"
    return "utf-8"


def _lines(head: bytes, start: int, label: str, *, complete: bool) -> tuple[list[bytes], list[int]]:
    """The first lines without their ends, and the byte at which each begins."""
    lines: list[bytes] = []
    starts: list[int] = []
    while start < len(head) and len(lines) < _HEAD_LINES:
        end = head.find(b"\n", start)
        if end < 0:
            if not complete:
                break
            end = len(head)
        line = head[start:end]
        if b"\r" in line.removesuffix(b"\r") and not lines:
            raise HistoryError(
                "the lines end with a carriage return alone.",
                file=label,
                row=1,
                remedy="Save it with common line ends.",
            )
        lines.append(line)
        starts.append(start)
        start = end + 1
    if not lines:
        raise HistoryError("no line end within the first megabyte, so this is not a table.", file=label, remedy=SAVE_AS)
    return lines, starts
