"""Frames that pandas stored in HDF5: blocks of values of one type, whose columns are named in arrays beside them."""

import pickletools
from collections.abc import Iterator
from typing import Any, Final

import numpy as np

from lifetime.history.formats.hdf5_place import Where
from lifetime.history.formats.tables import Column

_FIXED: Final = "frame"
_TABLE: Final = "frame_table"
_PER_SECOND: Final = {"ns": 1e9, "us": 1e6, "ms": 1e3, "s": 1.0}
_NAMES_ONLY: Final = frozenset(
    {"PROTO", "FRAME", "MARK", "LIST", "EMPTY_LIST", "APPEND", "APPENDS", "STOP", "PUT", "BINPUT", "LONG_BINPUT"}
    | {"MEMOIZE", "UNICODE", "BINUNICODE", "SHORT_BINUNICODE", "STRING", "SHORT_BINSTRING", "BINSTRING"}
)


def is_frame(member: Any) -> bool:
    """Tell whether a group of an HDF5 file is a frame.

    Args:
        member: A group or dataset.
    """
    return hasattr(member, "items") and _text(member.attrs, "pandas_type") in (_FIXED, _TABLE)


def frame_columns(group: Any, path: str) -> Iterator[tuple[Column, Where]]:
    """The columns of a frame that contain numbers or times, and its index where that is named or contains times.

    Args:
        group: The frame.
        path: What the frame is called.
    """
    if _text(group.attrs, "pandas_type") == _TABLE:
        yield from _of_table(group["table"], path)
    else:
        yield from _of_blocks(group, path)


def _of_blocks(group: Any, path: str) -> Iterator[tuple[Column, Where]]:
    """The layout "fixed": one array of values and one of names for each type of number."""
    if "axis1" in group:
        index = group["axis1"]
        yield from _index(index, path, _text(index.attrs, "kind"), index.dtype, Where(index.name))
    for number in range(int(group.attrs["nblocks"])):
        items, values = group[f"block{number}_items"], group[f"block{number}_values"]
        if values.dtype.kind not in "biuf" or len(values.shape) != 2:
            continue  # text is kept as objects of Python, which are not for reading
        axis = 0 if bool(values.attrs.get("transposed", False)) else 1
        per_second = _per_second(_text(values.attrs, "value_type"))
        for at, name in enumerate(items[()][: values.shape[1 - axis]]):
            column = _column(f"{path}/{_name(name)}", values.shape[axis], path, values.dtype, per_second)
            yield column, Where(values.name, axis, at, per_second=per_second)


def _of_table(table: Any, path: str) -> Iterator[tuple[Column, Where]]:
    """The layout "table": rows of one compound type, whose members are the index, blocks and columns of their own."""
    for member in table.dtype.names or ():
        kind, shape = table.dtype[member].base, table.dtype[member].shape
        if member == "index":
            yield from _index(table, path, _text(table.attrs, "index_kind"), kind, Where(table.name, member=member))
            continue
        if kind.kind not in "biuf":
            continue
        per_second = _per_second(_text(table.attrs, f"{member}_dtype"))
        names = _listed(table.attrs.get(f"{member}_kind", b"")) if shape else [member]
        for at, name in enumerate(names[: shape[0]] if shape else names):
            column = _column(f"{path}/{name}", table.shape[0], path, kind, per_second)
            yield column, Where(table.name, index=at if shape else None, member=member, per_second=per_second)


def _index(dataset: Any, path: str, kind: str, stored: Any, place: Where) -> Iterator[tuple[Column, Where]]:
    """The index, unless it only counts the rows."""
    name, per_second = _text(dataset.attrs, "name"), _per_second(kind)
    is_named = name.isprintable() and name not in ("", "N.") and place.member is None
    if stored.kind in "iuf" and (is_named or per_second is not None or kind == "float"):
        column = _column(f"{path}/{name if is_named else 'index'}", dataset.shape[0], path, stored, per_second)
        yield column, Where(place.path, member=place.member, per_second=per_second)


def _column(name: str, rows: int, table: str, kind: Any, per_second: float | None) -> Column:
    single = kind.kind == "f" and kind.itemsize < 8
    return Column(name, rows, table, single=single, is_time=per_second is not None)


def _per_second(kind: str) -> float | None:
    """What divides stored whole numbers to give seconds, or None where they are no times."""
    if not kind.startswith(("datetime64", "timedelta64")):
        return None
    unit = kind.partition("[")[2].rstrip("]").partition(",")[0]
    return _PER_SECOND.get(unit, 1e9)


def _listed(pickled: Any) -> list[str]:
    """The texts in a pickled list of texts, read without running anything; none where it contains anything else."""
    names: list[str] = []
    if not isinstance(pickled, bytes | np.bytes_):
        return names
    try:
        for code, value, _ in pickletools.genops(bytes(pickled)):
            if code.name not in _NAMES_ONLY:
                return []
            if isinstance(value, str):
                names.append(value)
    except ValueError:
        return []
    return names


def _name(item: Any) -> str:
    return item.decode("utf-8", "replace") if isinstance(item, bytes | np.bytes_) else str(item)


def _text(attributes: Any, name: str) -> str:
    value = attributes.get(name, "")
    return _name(value) if isinstance(value, str | bytes | np.bytes_) else ""
