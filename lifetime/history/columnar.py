"""From Arrow columns, which know missing values, to numpy arrays, in which NaN stands for them."""

from typing import Any

import numpy as np

from lifetime.checks import FloatArray


def as_float64(column: Any) -> FloatArray:
    """Convert an Arrow column of numbers to float64, missing values to NaN.

    Integers become floats before any arithmetic, because counting on integers overflows silently. The column's own
    conversion is not used, as it imports pandas for nothing.

    Args:
        column: Arrow array or chunked array of integers, floats or decimals.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow import

    floats = column.cast(pa.float64(), safe=False)
    if floats.null_count:
        floats = floats.fill_null(float("nan"))
    parts = floats.chunks if isinstance(floats, pa.ChunkedArray) else [floats]
    arrays = [
        np.frombuffer(part.buffers()[1], dtype=np.float64, count=len(part), offset=8 * part.offset)
        for part in parts
        if len(part)
    ]
    if len(arrays) == 1:
        return arrays[0]
    return np.concatenate(arrays) if arrays else np.empty(0)
