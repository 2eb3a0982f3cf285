"""Feather files (the Arrow IPC file format), read batch by batch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_reader import ArrowReader

MAGIC: Final = b"ARROW1"


@dataclass(frozen=True, slots=True)
class FeatherReader(ArrowReader):
    """A Feather file.

    Args:
        label: Its name as the user gave it.
        raw_columns: Column names exactly as the file has them.
        kinds: Type of each column, in words.
        path: The file.
    """

    path: Path

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
            return cls(label, tuple(schema.names), tuple(str(kind) for kind in schema.types), path)
        raise AssertionError

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "Feather"

    def batches(self, names: Sequence[str]) -> Iterator[Any]:
        """The record batches that hold rows, with all their columns.

        Args:
            names: Columns wanted.

        Raises:
            HistoryError: The file is cut or damaged.
        """
        del names
        return _opened(self.path, self.label)


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
