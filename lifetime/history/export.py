"""A history as Parquet: what was understood and cleaned, in SI, with the unit in each column's name."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from lifetime.checks import FloatArray
from lifetime.history.block import COLUMNS, Block
from lifetime.history.model import History


def write_parquet(history: History, path: Path) -> int:
    """Write a history as one Parquet file, which appears whole or not at all.

    Args:
        history: An opened history, cleaned as its study asked.
        path: The file; one that is there is replaced.

    Returns:
        Number of rows written.

    Raises:
        HistoryError: The history's own file changed meanwhile.
        OSError: The file cannot be written.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow import
    from pyarrow import parquet  # noqa: PLC0415

    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    os.close(handle)
    rows, writer = 0, None
    try:
        for block in history.blocks():
            columns = dict(_columns(block))
            batch = pa.record_batch(list(columns.values()), names=list(columns))
            writer = writer or parquet.ParquetWriter(name, batch.schema)
            writer.write_batch(batch)
            rows += batch.num_rows
        if writer is not None:
            writer.close()
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)
    return rows


def _columns(block: Block) -> Iterator[tuple[str, FloatArray]]:
    for name in COLUMNS:
        values = getattr(block, name)
        if values is not None:
            yield name, values
