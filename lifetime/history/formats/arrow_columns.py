"""From Arrow columns, which know missing values, to numpy arrays, in which NaN stands for them."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.text_values import Texts


def as_float64(column: Any) -> FloatArray:
    """Convert an Arrow column of numbers to float64, missing values to NaN.

    Integers become floats before any arithmetic, because counting on integers overflows silently. The column's own
    conversion is not used, as it imports pandas for nothing.

    Args:
        column: Arrow array or chunked array of integers, floats or decimals.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow import

    floats = column if column.type == pa.float64() else column.cast(pa.float64(), safe=False)
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


def is_number(kind: str) -> bool:
    """Tell whether an Arrow type contains numbers or times.

    Args:
        kind: Name of the type.
    """
    return kind.startswith(("int", "uint", "float", "double", "halffloat", "decimal")) or is_time(kind)


def is_time(kind: str) -> bool:
    """Tell whether an Arrow type contains times or durations.

    Args:
        kind: Name of the type.
    """
    return kind.startswith(("timestamp", "duration", "date", "time32", "time64"))


def is_text(kind: str) -> bool:
    """Tell whether an Arrow type contains text.

    Args:
        kind: Name of the type.
    """
    return kind in ("string", "large_string", "string_view") or kind.startswith("dictionary<values=string")


def to_numbers(column: Any, kind: str) -> FloatArray:
    """Convert an Arrow column of numbers or times to float64; times to seconds, since 1970 where they have a date.

    Args:
        column: Arrow array.
        kind: Name of its type.
    """
    if not is_time(kind):
        return as_float64(column)
    import pyarrow as pa  # noqa: PLC0415 - slow import

    if kind.startswith("date"):
        column = column.cast(pa.timestamp("ms"))
        kind = "[ms]"
    per_second = next(scale for unit, scale in _PER_SECOND.items() if f"[{unit}" in kind)
    wide = pa.int32() if kind.startswith("time32") else pa.int64()
    seconds: FloatArray = as_float64(column.view(wide).cast(pa.int64())) / per_second
    return seconds


_PER_SECOND = {"ns": 1e9, "us": 1e6, "ms": 1e3, "s": 1.0}


def text_of(column: Any) -> list[str]:
    """Fields of an Arrow column of text, surrounding white space removed, missing ones empty.

    Args:
        column: Arrow array.
    """
    return ["" if value is None else str(value).strip() for value in column.to_pylist()]


def values_of(batch: Any, names: Sequence[str], kinds: Sequence[str], texts: Sequence[Any]) -> tuple[FloatArray, ...]:
    """Columns of a record batch as numbers.

    Args:
        batch: Arrow record batch.
        names: Columns wanted.
        kinds: Their types, in words.
        texts: How each one's text becomes numbers, None for numbers.
    """
    return tuple(
        to_numbers(batch.column(name), kind) if text is None else text.numbers(text_of(batch.column(name)))
        for name, kind, text in zip(names, kinds, texts, strict=True)
    )


def require_numbers(
    columns: Sequence[int], kinds: Sequence[str], names: Sequence[str], texts: Texts, label: str
) -> None:
    """Refuse columns that contain neither numbers nor text that is to become numbers.

    Args:
        columns: Positions wanted.
        kinds: Types of all columns, in words.
        names: Names of all columns.
        texts: How columns of text become numbers, by position.
        label: The file's name, for messages.

    Raises:
        HistoryError: A column contains something else.
    """
    for position in columns:
        kind = kinds[position]
        if not is_number(kind) and not (position in texts and is_text(kind)):
            raise HistoryError(
                f"contains {kind}, where numbers were expected.",
                file=label,
                column=names[position],
                remedy="Store the column as numbers; time as seconds in 64-bit floats.",
            )
