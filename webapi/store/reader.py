"""Reads a stored history as the file it was made from: same names, same rows, same remarks."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_time
from lifetime.history.formats.arrow_reader import FIRST_DATA_ROW
from lifetime.history.formats.mdf_reader import held_on
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.tables import in_slabs
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice
from webapi.store.header import NUMBER, TEXT, Header
from webapi.store.table_rows import TableRows


@dataclass(frozen=True, slots=True)
class StoredReader(OneFile):
    """One stored history behind the contract of ``lifetime.history.formats.reader.Reader``.

    Args:
        path: The stored Parquet file on this machine.
        label: The uploaded file's name as the user gave it.
        header: What the store remembers of the uploaded file.
        tables: The rows of each table, in the header's order; one where all columns run side by side.
    """

    path: Path
    label: str
    header: Header
    tables: tuple[TableRows, ...]
    columns: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Name the columns in the uploaded file's order, as its reader names them; a wide file is asked often."""
        object.__setattr__(self, "columns", tuple(name.strip() for name in self.header.columns))

    @property
    def file_format(self) -> str:
        """Format of the file that was uploaded."""
        return self.header.file_format

    @property
    def details(self) -> str:
        """Separator and encoding of the file that was uploaded."""
        return self.header.details

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns that were uploaded with 32 bits or less."""
        return frozenset(at for at, kind in enumerate(self.header.kinds) if kind in ("float", "halffloat"))

    @property
    def unfinished(self) -> bool:
        """True where the uploaded file's last row had no line end."""
        return self.header.cut is not None

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What had to be said about the uploaded file."""
        return tuple(
            Notice(code, f"{self.label}: {message}", "note" if severity == "note" else "warning")
            for code, message, severity in self.header.notices
        )

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns that hold numbers."""
        return tuple(at for at, kind in enumerate(self._kinds) if kind == NUMBER)

    @property
    def seconds(self) -> frozenset[int]:
        """Positions of columns that were uploaded as times and are kept in seconds."""
        kinds = zip(self.header.kinds, self._kinds, strict=True)
        return frozenset(at for at, (given, kept) in enumerate(kinds) if kept == NUMBER and is_time(given))

    def together(self, column: int) -> frozenset[int] | None:
        """As in the uploaded file.

        Args:
            column: Position of the column.
        """
        if not self.header.tables:
            return None
        if self.header.held:
            return frozenset(range(len(self.header.columns)))
        return frozenset(self.header.tables[self._table([column])].columns)

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        return self._rows([column]).text_sample(column)

    def head(self, rows: int) -> list[list[str]]:
        """The first rows as text, columns in order; those of every table side by side.

        Args:
            rows: How many at most.
        """
        columns = [self._rows([column]).first(column, rows) for column in range(len(self.header.columns))]
        return [list(line) for line in itertools.zip_longest(*columns, fillvalue="")]

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows, numbered as in the uploaded file.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Leave out the last row where it had no line end.

        Raises:
            HistoryError: A column holds text, or the columns are of different tables, or the last row was cut and is
                not left out.
        """
        for position in columns:
            if self._kinds[position] != NUMBER and position not in texts:
                kind = self.header.kinds[position]
                raise HistoryError(
                    f"holds {kind if kind != TEXT else 'text'}, where numbers were expected.",
                    file=self.label,
                    column=self.columns[position],
                    remedy="Choose another column, or upload it as numbers.",
                )
        strangers = self._of_other_tables(columns)
        if strangers:
            if self.header.held:
                yield from self._held(columns)
                return
            raise self._not_side_by_side(columns, strangers[0])
        cut = self.header.cut
        shift = self.header.first_row - FIRST_DATA_ROW
        waiting: Chunk | None = None
        for chunk in self._rows(columns).chunks(columns, texts=texts):
            if waiting is not None:
                yield waiting
            waiting = Chunk(chunk.rows + shift, chunk.values)
        if waiting is not None:
            yield _without_last(waiting) if cut is not None and cut.kept and drop_unfinished else waiting
        if cut is not None and not cut.kept and not drop_unfinished:
            raise HistoryError(cut.problem, file=self.label, row=cut.row, remedy=cut.remedy)

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row in the uploaded file.
            column: Position of the column.
        """
        return self._rows([column]).field(row - self.header.first_row + FIRST_DATA_ROW, column)

    @property
    def _kinds(self) -> tuple[str, ...]:
        return self.tables[0].kinds

    def _table(self, columns: Sequence[int]) -> int:
        """The table of the first of these columns that belongs to one alone, as the time may belong to all."""
        tables = self.header.tables
        for column in columns:
            found = [number for number, table in enumerate(tables) if column in table.columns]
            if len(found) == 1:
                return found[0]
        return max(range(len(tables)), key=lambda number: tables[number].rows, default=0)

    def _rows(self, columns: Sequence[int]) -> TableRows:
        return self.tables[self._table(columns)]

    def _of_other_tables(self, columns: Sequence[int]) -> list[int]:
        if not self.header.tables:
            return []
        own = self.header.tables[self._table(columns)].columns
        return [column for column in columns if column not in own]

    def _held(self, columns: Sequence[int]) -> Iterator[Chunk]:
        """Columns of several rasters on that of the first; kept in memory, as where the file itself is read."""
        shared = set.intersection(*(set(table.columns) for table in self.header.tables))
        time = shared.pop()
        base = self._rows(columns)
        raster_s = _whole(base, time)
        found = []
        for column in columns:
            rows = base if column == time else self._rows([column])
            values = raster_s if column == time else _whole(rows, column)
            found.append(values if rows is base else held_on(raster_s, _whole(rows, time), values))
        row = self.header.first_row
        for slab in in_slabs(found):
            yield Chunk(np.arange(row, row + slab[0].size, dtype=np.int64), slab)
            row += slab[0].size

    def _not_side_by_side(self, columns: Sequence[int], stranger: int) -> HistoryError:
        return HistoryError(
            f'does not run side by side with "{self.columns[columns[0]]}": the two have other lengths or other times.',
            file=self.label,
            column=self.columns[stranger],
            remedy="Choose columns of one table.",
        )


def _whole(rows: TableRows, column: int) -> FloatArray:
    return np.concatenate([chunk.values[0] for chunk in rows.chunks([column])])


def _without_last(chunk: Chunk) -> Chunk:
    return Chunk(np.asarray(chunk.rows[:-1]), tuple(values[:-1] for values in chunk.values))
