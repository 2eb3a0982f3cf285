"""Sheets of a workbook (Office Open XML)."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError, MissingPackageError
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.number_format import NumberFormat
from lifetime.history.formats.tables import SLAB_ROWS, Column, TableReader
from lifetime.history.formats.text_table import TextTable, find_in_rows
from lifetime.notices import Notice

MAGIC: Final = b"PK\x03\x04"
_LOOKED_AT: Final = 1500
_SAMPLE: Final = 100


@dataclass(frozen=True, slots=True)
class SheetArrays:
    """Reads columns of one sheet.

    Args:
        path: The workbook.
        label: Its name as the user gave it.
        sheet: Name of the sheet.
        table: Where the table is in it.
    """

    path: Path
    label: str
    sheet: str
    table: TextTable

    def slabs(self, columns: Sequence[str], texts: Sequence[bool]) -> Iterator[tuple[FloatArray | list[str], ...]]:
        """Stream columns side by side.

        Args:
            columns: Names wanted.
            texts: Which of them are wanted as text.

        Raises:
            HistoryError: The workbook is damaged.
        """
        positions = [self.table.columns.index(name) for name in columns]
        rows = islice(_rows(self.path, self.label, self.sheet), self.table.data_row - 1, None)
        filled = (row for row in rows if any(cell is not None for cell in row))
        while slab := list(islice(filled, SLAB_ROWS)):
            yield tuple(
                [_text(_at(row, position)) for row in slab]
                if text
                else np.array([_number(_at(row, position)) for row in slab], dtype=np.float64)
                for position, text in zip(positions, texts, strict=True)
            )


def open_excel(path: Path, label: str, layout: Layout = AS_FOUND) -> TableReader:
    """Look at one sheet of a workbook.

    Args:
        path: The workbook.
        label: Its name as the user gave it.
        layout: Which sheet, and the row of its header.

    Raises:
        HistoryError: The workbook is damaged, has no such sheet, or the sheet has no table.
        MissingPackageError: The package for workbooks is not installed.
    """
    sheets = _sheets(path, label)
    sheet = sheets[0] if layout.sheet is None else layout.sheet
    if sheet not in sheets:
        raise HistoryError(f'there is no sheet "{sheet}".', file=label, remedy=f"It has {', '.join(sheets)}.")
    head = list(islice(_rows(path, label, sheet), _LOOKED_AT))
    table = find_in_rows([[_text(cell) for cell in row] for row in head], layout.header_row)
    if table is None:
        raise HistoryError(
            f'the sheet "{sheet}" has no table of numbers.',
            file=label,
            remedy=f'Name another with sheet = "..." or --sheet; there are {", ".join(sheets)}.',
        )
    below = islice(_rows(path, label, sheet), table.data_row - 1, None)
    rows = sum(any(cell is not None for cell in row) for row in below)
    sample = head[table.data_row - 1 :][:_SAMPLE]
    columns = tuple(_column(name, position, rows, sample) for position, name in enumerate(table.columns))
    details = f'sheet "{sheet}"' + (f", header in row {table.header_row}" if table.header_row > 1 else "")
    notices: tuple[Notice, ...] = ()
    if len(sheets) > 1 and layout.sheet is None:
        others = ", ".join(sheets[1:])
        text = f'{label}: the first sheet, "{sheet}", was read; there are also {others}. State sheet to choose.'
        notices = (Notice("first_sheet", text, "note"),)
    arrays = SheetArrays(path, label, sheet, table)
    return TableReader(label, "Excel", details, columns, arrays, notices, first_row=table.data_row)


def _column(name: str, position: int, rows: int, sample: list[tuple[Any, ...]]) -> Column:
    cells = [cell for row in sample if (cell := _at(row, position)) is not None]
    times = sum(isinstance(cell, dt.datetime | dt.date | dt.time | dt.timedelta) for cell in cells)
    numbers = sum(bool(np.isfinite(_number(cell))) for cell in cells)
    return Column(name, rows, numeric=not cells or numbers > 0, is_time=bool(cells) and 2 * times > len(cells))


def _sheets(path: Path, label: str) -> list[str]:
    with _opened(path, label) as book:
        return list(book.sheetnames)


def _rows(path: Path, label: str, sheet: str) -> Iterator[tuple[Any, ...]]:
    with _opened(path, label) as book:
        try:
            yield from book[sheet].iter_rows(values_only=True)
        except (ValueError, KeyError, TypeError, AttributeError, SyntaxError, OSError, EOFError) as error:
            raise _damaged(label, error) from None


class _opened:  # noqa: N801 - used like a function
    """A workbook open for reading row by row, closed in the end."""

    def __init__(self, path: Path, label: str) -> None:
        self._path, self._label = path, label

    def __enter__(self) -> Any:
        try:
            import openpyxl  # noqa: PLC0415 - an optional package, and slow
        except ImportError:
            what = f"{self._label}: reading workbooks"
            raise MissingPackageError(what, "openpyxl", "formats") from None
        try:
            self._book = openpyxl.load_workbook(self._path, read_only=True, data_only=True)
        except Exception as error:  # noqa: BLE001 - a damaged archive makes the library raise almost anything
            raise _damaged(self._label, error) from None
        return self._book

    def __exit__(self, *exc: object) -> None:
        self._book.close()


def _damaged(label: str, error: Exception) -> HistoryError:
    reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
    return HistoryError(f"the workbook is cut or damaged ({reason}).", file=label, remedy="Copy or export it again.")


def _at(row: tuple[Any, ...], position: int) -> Any:
    return row[position] if position < len(row) else None


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return cell.isoformat(sep=" ") if isinstance(cell, dt.datetime) else str(cell).strip()


def _number(cell: Any) -> float:
    """A cell as a number: times in seconds, since 1970 where they have a date; NaN for anything else."""
    match cell:
        case None | bool():
            seconds = float("nan")
        case int() | float():
            seconds = float(cell)
        case dt.datetime():
            seconds = cell.replace(tzinfo=dt.UTC).timestamp()
        case dt.date():
            seconds = dt.datetime(cell.year, cell.month, cell.day, tzinfo=dt.UTC).timestamp()
        case dt.timedelta():
            seconds = cell.total_seconds()
        case dt.time():
            seconds = cell.hour * 3600.0 + cell.minute * 60.0 + cell.second + cell.microsecond / 1e6
        case _:
            seconds = NumberFormat().number(str(cell))
    return seconds
