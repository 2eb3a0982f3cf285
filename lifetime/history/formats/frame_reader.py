"""A frame in memory, read like a file."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_reader import ArrowReader

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class FrameReader(ArrowReader):
    """The columns of a frame; a copy, so that later changes of the frame do no harm.

    Args:
        label: What the user calls it.
        raw_columns: Column names exactly as the frame has them.
        kinds: Type of each column, in words.
        table: The columns, an Arrow table.
    """

    table: Any

    @classmethod
    def of(cls, frame: "pd.DataFrame", label: str) -> "FrameReader":
        """Look at a frame; its index is not read.

        Args:
            frame: One row a sample, columns named as in a file.
            label: What to call it in messages.

        Raises:
            HistoryError: A column holds values of several types, or the frame has no columns.
        """
        import pyarrow as pa  # noqa: PLC0415 - slow import

        if frame.columns.size == 0:
            raise HistoryError("the frame has no columns.", file=label, remedy="Give one row a sample.")
        named = frame.set_axis([str(name) for name in frame.columns], axis="columns")
        try:
            table = (
                pa.Table.from_pandas(named.copy(), preserve_index=False).replace_schema_metadata(None).combine_chunks()
            )
        except (pa.ArrowException, TypeError, ValueError) as error:
            reason = str(error).splitlines()[0].rstrip(".")
            raise HistoryError(
                f"the frame cannot be read ({reason}).", file=label, remedy="Give each column numbers, or text."
            ) from None
        schema = table.schema
        return cls(label, tuple(schema.names), tuple(str(kind) for kind in schema.types), table)

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "frame"

    def batches(self, names: Sequence[str]) -> Iterator[Any]:
        """The record batches that hold rows.

        Args:
            names: Columns wanted.
        """
        del names
        return (batch for batch in self.table.to_batches() if batch.num_rows)

    def sha256(self) -> str:
        """Hash of names, types and values, in hexadecimal."""
        digest = hashlib.sha256()
        for name, kind in zip(self.raw_columns, self.kinds, strict=True):
            digest.update(f"{name}\n{kind}\n".encode())
        for batch in self.batches(self.raw_columns):
            for column in batch.columns:
                digest.update(str(column.to_pylist()).encode() if column.null_count else b"")
                for buffer in column.buffers():
                    digest.update(b"" if buffer is None else buffer)
        return digest.hexdigest()
