"""MAT files of the kinds before HDF5 (version 4 to 7), nested structures included."""

import struct
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.struct_names import columns_of, time_base, unique
from lifetime.history.formats.tables import Column, TableReader, in_slabs
from lifetime.notices import Notice

MAGIC: Final = b"MATLAB 5.0 MAT-file"
_MOST_LEVELS: Final = 12
_LONGEST_NAME: Final = 64


@dataclass(frozen=True, slots=True)
class MatArrays:
    """Reads arrays of one MAT file; the variables needed are kept in memory, as the format allows nothing else.

    Args:
        path: The file.
        label: Its name as the user gave it.
    """

    path: Path
    label: str

    def slabs(self, columns: Sequence[str], texts: Sequence[bool]) -> Iterator[tuple[FloatArray | list[str], ...]]:
        """Stream columns side by side.

        Args:
            columns: Names wanted.
            texts: Has no meaning here.

        Raises:
            HistoryError: The file is damaged.
        """
        del texts
        variables = {name.split(".")[0].split("(")[0] for name in columns}
        values_by_name = {column.name: values for column, values in _walk(_load(self.path, self.label, variables))}
        yield from in_slabs([np.asarray(values_by_name[name], dtype=np.float64) for name in columns])


def is_version_4(head: bytes) -> bool:
    """Tell whether a file begins with the header of a variable of MAT version 4, which has no magic number.

    Its five whole numbers are kind of numbers, rows, columns, whether there is an imaginary part, and the length of
    the name behind them, which ends with a zero (MAT-File Format, appendix on version 4).

    Args:
        head: The first bytes.
    """
    for order, base in (("<", 0), (">", 1000)):
        if len(head) < 20:
            return False
        kind, rows, columns, imaginary, length = struct.unpack(f"{order}5i", head[:20])
        name = head[20 : 20 + max(length, 0)]
        kinds_fit = 0 <= kind - base <= 52 and (kind - base) % 10 <= 2
        if kinds_fit and rows > 0 and columns > 0 and imaginary in (0, 1) and 1 < length <= _LONGEST_NAME:
            return name[-1:] == b"\x00" and name[:-1].decode("latin-1").isidentifier()
    return False


def open_mat(path: Path, label: str) -> TableReader:
    """Look at what a file contains.

    Args:
        path: The file.
        label: Its name as the user gave it.

    Raises:
        HistoryError: The file is damaged, or has no array of numbers.
    """
    variables = _load(path, label, None)
    columns = unique([column for column, _ in _walk(variables)])
    opaque = sorted(name for name, value in variables.items() if _is_opaque(value))
    if not columns:
        raise HistoryError(
            "the file has no array of numbers.",
            file=label,
            remedy="Save plain arrays or structures of arrays, for example save('log.mat', 't', 'i', '-v7').",
        )
    with path.open("rb") as file:
        kind = "MAT 4" if is_version_4(file.read(20 + _LONGEST_NAME)) else "MAT"
    return TableReader(label, kind, "", columns, MatArrays(path, label), _notices(label, opaque))


def _notices(label: str, opaque: list[str]) -> tuple[Notice, ...]:
    if not opaque:
        return ()
    names = ", ".join(name for name in opaque if name != "None") or "a variable without a name"
    text = f"{label}: objects of a class cannot be read ({names}); save the numbers in them as plain arrays."
    return (Notice("opaque_objects", text, "note"),)


def _load(path: Path, label: str, variables: set[str] | None) -> dict[str, Any]:
    from scipy.io import loadmat  # noqa: PLC0415 - slow import

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # on variables that occur twice
            names = None if variables is None else sorted(variables)
            contents = loadmat(str(path), variable_names=names, struct_as_record=False, squeeze_me=True)
    except Exception as error:  # noqa: BLE001 - a damaged file makes the library raise almost anything
        reason = str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__
        raise HistoryError(
            f"the MAT file is cut or damaged ({reason}).", file=label, remedy="Copy or save it again."
        ) from None
    return {name: value for name, value in contents.items() if not str(name).startswith("__")}


def _walk(variables: dict[str, Any]) -> Iterator[tuple[Column, Any]]:
    for name, value in variables.items():
        yield from _inside(str(name), value, "", 0)


def _inside(path: str, value: Any, table: str, level: int) -> Iterator[tuple[Column, Any]]:
    members = getattr(value, "_fieldnames", None)
    if level > _MOST_LEVELS or _is_opaque(value):
        return
    if members is not None:
        own = {name: getattr(value, name) for name in members}
        base = time_base(own) or table
        for name, member in own.items():
            yield from _inside(f"{path}.{name}", member, base, level + 1)
    elif isinstance(value, np.ndarray) and value.dtype.kind == "O":
        for at, member in enumerate(value.ravel(), start=1):
            yield from _inside(f"{path}({at})", member, table, level + 1)
    else:
        yield from columns_of(path, value, table)


def _is_opaque(value: Any) -> bool:
    from scipy.io.matlab import MatlabFunction, MatlabOpaque  # noqa: PLC0415 - slow import

    return isinstance(value, MatlabOpaque | MatlabFunction)
