"""Feather files (the Arrow IPC file format), read batch by batch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import is_number, is_text, is_time, require_numbers, text_of, values_of
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

MAGIC: Final = b"ARROW1"
_FIRST_DATA_ROW: Final = 2


@dataclass(frozen=True, slots=True)
class FeatherReader(OneFile):
    """A Feather file.

    Args:
        path: The file.
        label: Its name as the user gave it.
        raw_columns: Column names exactly as the file has them.
        kinds: Type of each column, in words.
    """

    path: Path
    label: str
    raw_columns: tuple[str, ...]
    kinds: tuple[str, ...]
    file_format: str = field(default="Feather", init=False)
    details: str = field(default="", init=False)
    unfinished: bool = field(default=False, init=False)
    notices: tuple[Notice, ...] = field(default=(), init=False)

    @classmethod
    def open(cls, path: Path, label: str) -> "FeatherReader":
        """Look at the file's schema.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The file is cut or damaged.
        """
        for schema in _opened(path, label, only_schema=True):
            return cls(path, label, tuple(schema.names), tuple(str(kind) for kind in schema.types))
        raise AssertionError

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names in the file's order."""
        return tuple(name.strip() for name in self.raw_columns)

    @property
    def single_precision(self) -> frozenset[int]:
        """Positions of columns stored with 32 bits or less."""
        return frozenset(i for i, kind in enumerate(self.kinds) if kind in ("float", "halffloat"))

    @property
    def seconds(self) -> frozenset[int]:
        """Positions of the columns stored as times."""
        return frozenset(i for i, kind in enumerate(self.kinds) if is_time(kind))

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns stored as numbers."""
        return tuple(i for i, kind in enumerate(self.kinds) if is_number(kind))

    def text_sample(self, column: int) -> list[str]:
        """The first fields of a column of text.

        Args:
            column: Position of the column.
        """
        if not is_text(self.kinds[column]):
            return []
        return next((text_of(batch.column(column).slice(0, 100)) for batch in _opened(self.path, self.label)), [])

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the rows.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Has no meaning here: a cut file cannot be opened at all.

        Raises:
            HistoryError: A column wanted contains neither numbers nor text, or the file is damaged.
        """
        del drop_unfinished
        require_numbers(columns, self.kinds, self.columns, texts, self.label)
        wanted = [self.raw_columns[position] for position in columns]
        kinds = [self.kinds[position] for position in columns]
        how = [texts.get(position) for position in columns]
        row = _FIRST_DATA_ROW
        for batch in _opened(self.path, self.label):
            size = int(batch.num_rows)
            yield Chunk(np.arange(row, row + size, dtype=np.int64), values_of(batch, wanted, kinds, how))
            row += size

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Row as a table with a header in row 1 would number it.
            column: Position of the column.
        """
        at = row - _FIRST_DATA_ROW
        for batch in _opened(self.path, self.label):
            if at < batch.num_rows:
                return text_of(batch.column(column).slice(at, 1))[0]
            at -= batch.num_rows
        return ""


def _opened(path: Path, label: str, *, only_schema: bool = False) -> Iterator[Any]:
    """The schema, or the batches that hold rows."""
    import pyarrow as pa  # noqa: PLC0415 - slow import

    try:
        with pa.memory_map(str(path), "r") as source, pa.ipc.open_file(source) as file:
            if only_schema:
                yield file.schema
                return
            for number in range(file.num_record_batches):
                batch = file.get_batch(number)
                batch.validate(full=True)
                if batch.num_rows:
                    yield batch
    except (pa.ArrowException, OSError) as error:
        reason = str(error).splitlines()[0].rstrip(".")
        raise HistoryError(
            f"the Feather file is cut or damaged ({reason}).", file=label, remedy="Copy or export it again."
        ) from None
