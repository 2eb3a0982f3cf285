"""Names for what is inside nested structures, in the spelling of the MATLAB language: ``cycle(3).data.Time``."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import numpy as np

from lifetime.history.formats.tables import Column

MOST_COLUMNS: Final = 64
"""A matrix with more columns is taken for something else than channels side by side."""

_TIMES: Final = frozenset({"t", "time"})


def is_time_name(name: str) -> bool:
    """Tell whether a member is called like a time base.

    Args:
        name: Without its path.
    """
    return name.lower() in _TIMES


def time_base(members: Mapping[str, Any]) -> str | None:
    """A mark of the time base among a structure's members, equal where the times are; None where there is none.

    Args:
        members: Members by name.
    """
    for name, value in members.items():
        if is_time_name(name) and isinstance(value, np.ndarray) and value.dtype.kind in "iuf" and value.size > 1:
            times = np.ascontiguousarray(value, dtype=np.float64).ravel()
            return hashlib.sha256(times.tobytes()).hexdigest()[:16]
    return None


def columns_of(path: str, value: Any, table: str) -> Iterator[tuple[Column, Any]]:
    """The columns of one array, with their values; none for scalars, text and matrices too wide.

    Args:
        path: The array's name.
        value: The array.
        table: What it runs side by side with.
    """
    if not isinstance(value, np.ndarray) or value.dtype.kind not in "biuf" or value.size < 2:
        return
    single = value.dtype.kind == "f" and value.dtype.itemsize < 8
    if value.ndim == 1 or min(value.shape) == 1:
        yield Column(path, value.size, table, single=single), value.ravel()
    elif value.ndim == 2 and value.shape[1] <= MOST_COLUMNS and value.shape[0] > value.shape[1]:
        for at in range(value.shape[1]):
            yield Column(f"{path}(:,{at + 1})", value.shape[0], table, single=single), value[:, at]
    elif value.ndim == 2 and value.shape[0] <= MOST_COLUMNS and value.shape[1] > value.shape[0]:
        for at in range(value.shape[0]):
            yield Column(f"{path}({at + 1},:)", value.shape[1], table, single=single), value[at]


def unique(columns: Sequence[Column]) -> tuple[Column, ...]:
    """The columns in order, each name once.

    Args:
        columns: In the file's order.
    """
    by_name: dict[str, Column] = {}
    for column in columns:
        by_name.setdefault(column.name, column)
    return tuple(by_name.values())
