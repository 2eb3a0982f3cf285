"""Several files as one history, one behind the other."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from lifetime.errors import HistoryError
from lifetime.history.block import FILE_BITS
from lifetime.history.formats.reader import Chunk, Reader
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice


@dataclass(frozen=True, slots=True)
class JoinedReader:
    """Files of one kind behind the contract of one; columns are found by name in each.

    Args:
        label: The pattern as the user gave it.
        readers: The files in order, at least one.
        time_continues: Position of the time column in the first file where every file's time continues from the last;
            None where times are taken as they are.
    """

    label: str
    readers: tuple[Reader, ...]
    time_continues: int | None
    single_precision: frozenset[int] = field(init=False)

    def __post_init__(self) -> None:
        """Take a column as stored with 32 bits where any file does."""
        single: set[str] = set()
        for reader in self.readers:
            columns = reader.columns
            single |= {columns[position] for position in reader.single_precision}
        positions = (position for position, name in enumerate(self.columns) if name in single)
        object.__setattr__(self, "single_precision", frozenset(positions))

    @property
    def file_format(self) -> str:
        """Format of the first file."""
        return self.readers[0].file_format

    @property
    def details(self) -> str:
        """Details of the first file."""
        return self.readers[0].details

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names of the first file."""
        return self.readers[0].columns

    @property
    def seconds(self) -> frozenset[int]:
        """As in the first file."""
        return self.readers[0].seconds

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files in order."""
        return tuple(reader.label for reader in self.readers)

    @property
    def unfinished(self) -> bool:
        """True where the last row of any file has no line end."""
        return any(reader.unfinished for reader in self.readers)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What has to be said about how each file was read."""
        return tuple(notice for reader in self.readers for notice in reader.notices)

    def number_columns(self) -> tuple[int, ...]:
        """Those of the first file that every file has once."""
        partial = self.partial
        return tuple(at for at in self.readers[0].number_columns() if self.columns[at] not in partial)

    @property
    def partial(self) -> dict[str, tuple[str, int]]:
        """Columns of the first file that another has not or not once: the file's name, and how many it has."""
        found: dict[str, tuple[str, int]] = {}
        once = [name for name, count in Counter(self.columns).items() if count == 1]
        for reader in self.readers[1:]:
            counts = Counter(reader.columns)
            for name in once:
                if counts[name] != 1:
                    found.setdefault(name, (reader.label, counts[name]))
        return found

    def together(self, column: int) -> frozenset[int] | None:
        """As in the first file.

        Args:
            column: Position of the column.
        """
        return self.readers[0].together(column)

    def text_sample(self, column: int) -> list[str]:
        """As in the first file.

        Args:
            column: Position of the column.
        """
        return self.readers[0].text_sample(column)

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows of all files; a row's number carries the file's in its upper bits.

        Args:
            columns: Positions of the columns wanted, in the first file.
            texts: How columns of text become numbers.
            drop_unfinished: Leave out a file's last row without a line end.

        Raises:
            HistoryError: A file lacks a column, or cannot be read.
        """
        time_at = None if self.time_continues not in columns else columns.index(self.time_continues)
        last: tuple[float, float] | None = None
        for number, reader in enumerate(self.readers):
            positions = self._positions(reader, columns)
            own = {new: texts[old] for old, new in zip(columns, positions, strict=True) if old in texts}
            shift = 0.0
            first = True
            for chunk in reader.chunks(positions, texts=own, drop_unfinished=drop_unfinished):
                values = list(chunk.values)
                if time_at is not None and chunk.rows.size:
                    time = values[time_at]
                    if first and last is not None:
                        # One more step of the length of the last, as a logger goes on that began a new file.
                        shift = last[1] + (last[1] - last[0]) - float(time[0])
                    values[time_at] = time + shift
                    before = last[1] if last is not None and not first else float(values[time_at][0])
                    last = (float(values[time_at][-2]) if time.size > 1 else before, float(values[time_at][-1]))
                    first = False
                yield Chunk(chunk.rows + (number << FILE_BITS), tuple(values))

    def field(self, row: int, column: int) -> str:
        """One field as it is in its file; slow.

        Args:
            row: Row as the chunks number it.
            column: Position of the column in the first file.
        """
        reader = self.readers[row >> FILE_BITS]
        return reader.field(row & ((1 << FILE_BITS) - 1), self._positions(reader, [column])[0])

    def place(self, row: int) -> tuple[str, int]:
        """File and row in it.

        Args:
            row: Row as the chunks number it.
        """
        return self.readers[row >> FILE_BITS].place(row & ((1 << FILE_BITS) - 1))

    def _positions(self, reader: Reader, columns: Sequence[int]) -> list[int]:
        """Positions in one file of columns of the first."""
        counts, names = Counter(reader.columns), self.columns
        places = {name: at for at, name in enumerate(reader.columns)}
        for column in columns:
            self._require_once(names[column], counts[names[column]], reader)
        return [places[names[column]] for column in columns]

    def _require_once(self, name: str, count: int, reader: Reader) -> None:
        if count > 1:
            raise HistoryError(
                f"{count} columns of this file have this name, so it is not clear which one is meant.",
                file=reader.label,
                column=name,
                remedy="Rename one of them in the file.",
            )
        if count == 0:
            raise HistoryError(
                f"there is no such column, but the first file, {self.readers[0].label}, has it.",
                file=reader.label,
                column=name,
                remedy="Name files of one kind only.",
            )
