"""HDF5 files, and MAT files of version 7.3, which are HDF5 inside; read slab by slab."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError, MissingPackageError
from lifetime.history.formats.hdf5_frames import frame_columns, is_frame
from lifetime.history.formats.hdf5_place import Where
from lifetime.history.formats.struct_names import MOST_COLUMNS, is_time_name, time_base
from lifetime.history.formats.tables import SLAB_ROWS, Column, TableReader
from lifetime.notices import Notice

MAGIC: Final = b"\x89HDF\r\n\x1a\n"
MATLAB_MAGIC: Final = b"MATLAB 7.3 MAT-file"
_INTERNAL: Final = ("#refs#", "#subsystem#")
_MOST_LEVELS: Final = 12


@dataclass(frozen=True, slots=True)
class Hdf5Arrays:
    """Reads columns of one HDF5 file.

    Args:
        path: The file.
        label: Its name as the user gave it.
        where: Where each column is.
    """

    path: Path
    label: str
    where: Mapping[str, Where]

    def slabs(self, columns: Sequence[str], texts: Sequence[bool]) -> Iterator[tuple[FloatArray | list[str], ...]]:
        """Stream columns side by side.

        Args:
            columns: Names wanted.
            texts: Which of them are wanted as text.

        Raises:
            HistoryError: The file is damaged.
        """
        places = [self.where[name] for name in columns]
        with _opened(self.path, self.label) as file:
            datasets = [file[place.path] for place in places]
            rows = datasets[0].shape[places[0].axis]
            for start in range(0, rows, SLAB_ROWS):
                ends = slice(start, start + SLAB_ROWS)
                yield tuple(
                    place.part(dataset, ends, as_text=text)
                    for dataset, place, text in zip(datasets, places, texts, strict=True)
                )


def open_hdf5(path: Path, label: str) -> TableReader:
    """Look at what a file contains.

    Args:
        path: The file.
        label: Its name as the user gave it.

    Raises:
        HistoryError: The file is damaged, or has no column of numbers.
        MissingPackageError: The package for HDF5 is not installed.
    """
    with path.open("rb") as raw:
        is_mat = raw.read(len(MATLAB_MAGIC)) == MATLAB_MAGIC
    placed: dict[str, tuple[Column, Where]] = {}
    objects: list[str] = []
    with _opened(path, label) as file:
        _walk(file, "", "", is_mat=is_mat, placed=placed, objects=objects, level=0)
    if not placed:
        raise HistoryError(
            "the file has no column of numbers.", file=label, remedy="Store plain arrays, one a channel."
        )
    notices: tuple[Notice, ...] = ()
    if objects:
        text = (
            f"{label}: {', '.join(sorted(objects))} contain objects of a class and cannot be read; save plain arrays."
        )
        notices = (Notice("opaque_objects", text, "note"),)
    columns = tuple(column for column, _ in placed.values())
    arrays = Hdf5Arrays(path, label, {name: place for name, (_, place) in placed.items()})
    return TableReader(label, "MAT 7.3" if is_mat else "HDF5", "", columns, arrays, notices)


@contextmanager
def _opened(path: Path, label: str) -> Iterator[Any]:
    try:
        import h5py  # noqa: PLC0415 - an optional package, and slow
    except ImportError:
        raise MissingPackageError(f"{label}: reading HDF5 files", "h5py", "formats") from None
    try:
        with h5py.File(path, "r") as file:
            yield file
    except (OSError, RuntimeError, KeyError, ValueError, TypeError, AttributeError) as error:
        reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
        raise HistoryError(
            f"the HDF5 file is cut or damaged ({reason}).", file=label, remedy="Copy or save it again."
        ) from None


def _walk(
    group: Any,
    path: str,
    table: str,
    *,
    is_mat: bool,
    placed: dict[str, tuple[Column, Where]],
    objects: list[str],
    level: int,
) -> None:
    """Collect the columns in a group and in the groups inside it."""
    if level > _MOST_LEVELS:
        return
    base = _time_base(group) or table
    for name, member in group.items():
        if name in _INTERNAL:
            continue
        joint = "." if is_mat else "/"
        inner = f"{path}{joint}{name}" if path else name
        if is_frame(member):
            placed.update((column.name, (column, place)) for column, place in frame_columns(member, inner))
        elif hasattr(member, "items"):
            _walk(member, inner, base, is_mat=is_mat, placed=placed, objects=objects, level=level + 1)
        elif "MATLAB_object_decode" in member.attrs or _matlab_class(member) in {"opaque", "function_handle"}:
            objects.append(inner)
        elif _is_reference(member):
            for at, reference in enumerate(member[()].ravel(), start=1):
                target = group.file[reference]
                inside = {f"{inner}({at})": target}
                _take(inside, base, is_mat=is_mat, placed=placed, objects=objects, level=level)
        else:
            _take({inner: member}, base, is_mat=is_mat, placed=placed, objects=objects, level=level)


def _take(
    members: Mapping[str, Any],
    table: str,
    *,
    is_mat: bool,
    placed: dict[str, tuple[Column, Where]],
    objects: list[str],
    level: int,
) -> None:
    for name, member in members.items():
        if hasattr(member, "items"):
            _walk(member, name, table, is_mat=is_mat, placed=placed, objects=objects, level=level + 1)
        elif _matlab_class(member) != "char":
            for column, place in _columns(name, member, table, is_mat=is_mat):
                placed[column.name] = (column, place)


def _columns(name: str, dataset: Any, table: str, *, is_mat: bool) -> Iterator[tuple[Column, Where]]:
    shape, kind = dataset.shape, dataset.dtype
    if kind.names and len(shape) == 1 and shape[0] > 1:
        for member in kind.names:
            yield from _members(f"{name}.{member}", dataset, member, table)
        return
    is_text = kind.kind in "SO" and not is_mat
    if (kind.kind not in "biuf" and not is_text) or int(np.prod(shape)) < 2:
        return
    single = _is_single(kind)
    if len(shape) == 1:
        yield Column(name, shape[0], table, numeric=not is_text, single=single), Where(dataset.name)
    elif len(shape) == 2 and not is_text and min(shape) <= MOST_COLUMNS:
        rows = 0 if shape[0] >= shape[1] else 1
        for at in range(shape[1 - rows]):
            # HDF5 shows a matrix of the MATLAB language turned over; its own spelling counts rows first.
            inside = f"(:,{at + 1})" if (rows == 0) != is_mat else f"({at + 1},:)"
            suffix = "" if shape[1 - rows] == 1 else inside
            yield Column(name + suffix, shape[rows], table, single=single), Where(dataset.name, rows, at)


def _members(name: str, dataset: Any, member: str, table: str) -> Iterator[tuple[Column, Where]]:
    """A member of a compound type: one column, or several where it is a row of numbers itself."""
    kind, shape = dataset.dtype[member].base, dataset.dtype[member].shape
    if kind.kind not in "iuf" or len(shape) > 1 or (shape and shape[0] > MOST_COLUMNS):
        return
    for at in range(shape[0]) if shape else (None,):
        suffix = "" if at is None else f"(:,{at + 1})"
        column = Column(name + suffix, dataset.shape[0], table, single=_is_single(kind))
        yield column, Where(dataset.name, index=at, member=member)


def _time_base(group: Any) -> str | None:
    times = {
        name: member[()]
        for name, member in group.items()
        if is_time_name(name) and not hasattr(member, "items") and member.dtype.kind in "iuf"
    }
    return time_base(times)


def _matlab_class(member: Any) -> str:
    value = member.attrs.get("MATLAB_class", b"")
    return value.decode() if isinstance(value, bytes) else str(value)


def _is_reference(dataset: Any) -> bool:
    import h5py  # noqa: PLC0415 - loaded already

    return h5py.check_ref_dtype(dataset.dtype) is not None


def _is_single(kind: Any) -> bool:
    return bool(kind.kind == "f" and kind.itemsize < 8)
