"""Files of any format but Arrow's own on their way into the store, by what every reader offers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.mdf_reader import MdfArrays
from lifetime.history.formats.reader import Chunk, Reader
from lifetime.history.formats.tables import FIRST_DATA_ROW, TableReader
from webapi.store.header import NUMBER, TEXT, Cut, Header, kept_notices, physical_names
from webapi.store.piece import Piece

_SINGLE = "float"
_SECONDS = "timestamp[s]"


@dataclass(frozen=True, slots=True)
class TableSource:
    """One file with one table or several.

    Args:
        reader: The file.
        cut: The last row where it has no line end.
    """

    reader: Reader
    cut: Cut | None
    groups: tuple[tuple[int, ...], ...] = field(init=False)
    header: Header = field(init=False)

    @classmethod
    def of(cls, reader: Reader) -> "TableSource":
        """Look at an opened file; its last row is whole until reading it shows otherwise.

        Args:
            reader: The file.
        """
        return cls(reader, Cut(kept=True) if reader.unfinished else None)

    def without_last_row(self, error: HistoryError) -> "TableSource":
        """The same file without its cut last row.

        Args:
            error: What is wrong with that row.
        """
        cut = Cut(kept=False, row=error.row or 0, problem=error.problem, remedy=error.remedy)
        return TableSource(self.reader, cut)

    def __post_init__(self) -> None:
        """Write down what the stored file will remember."""
        reader = self.reader
        rasters = _rasters(reader)
        object.__setattr__(self, "groups", rasters if len(rasters) > 1 else _side_by_side(reader))
        header = Header(
            file_format=reader.file_format,
            details=reader.details,
            columns=reader.columns,
            physical=physical_names(reader.columns),
            kinds=_kinds(reader),
            first_row=_first_row(reader),
            cut=self.cut,
            notices=kept_notices(reader.notices, reader.label),
            held=len(rasters) > 1,
        )
        object.__setattr__(self, "header", header)

    @property
    def has_tables(self) -> bool:
        """False where the format knows one table only."""
        return self.reader.together(0) is not None

    def unpacked_bytes(self) -> int:
        """What the numbers take as 64-bit floats, as far as the file says how many there are [byte]."""
        if not isinstance(self.reader, TableReader):
            return 0
        return sum(8 * column.rows for column in self.reader.listed)

    def pieces(self) -> Iterator[Piece]:
        """The rows in pieces, one table behind the other."""
        import pyarrow as pa  # noqa: PLC0415 - slow import

        kinds, drop = self.header.kinds, self.cut is not None and not self.cut.kept
        for number, group in enumerate(self.groups):
            texts = {at: _Fields() for at in group if kinds[at] == TEXT}
            for chunk in self.reader.chunks(group, texts=texts, drop_unfinished=drop):
                if chunk.rows.size:
                    arrays = dict(zip(group, chunk.values, strict=True))
                    columns = {at: pa.array(values, pa.float64()) for at, values in arrays.items() if at not in texts}
                    columns |= {
                        at: pa.array(fields.take(chunk, arrays[at]), pa.string()) for at, fields in texts.items()
                    }
                    yield Piece(number, columns)


class _Fields:
    """Keeps the fields of a column of text as the reader hands them out to be made numbers."""

    def __init__(self) -> None:
        self._waiting: dict[int, tuple[FloatArray, Sequence[str]]] = {}

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        handed_out = np.zeros(len(texts))
        self._waiting[id(handed_out)] = handed_out, texts
        return handed_out

    def take(self, chunk: Chunk, values: FloatArray) -> list[str]:
        """The fields of a chunk: those for which its values were handed out; a reader may be some chunks ahead.

        A reader of text works on two pieces at a time, so that the later one may be handed out first.
        """
        known = self._waiting.pop(id(values), None)
        if known is not None:
            return list(known[1])
        found: list[str] = []
        while self._waiting and len(found) < chunk.rows.size:
            found.extend(self._waiting.pop(next(iter(self._waiting)))[1])
        return found


def _first_row(reader: Reader) -> int:
    if isinstance(reader, TableReader):
        return reader.first_row
    texts = {} if 0 in reader.number_columns() else {0: _Fields()}
    rows = (chunk.rows for chunk in reader.chunks([0], texts=texts, drop_unfinished=True))
    return next((int(some[0]) for some in rows if some.size), FIRST_DATA_ROW)


def _kinds(reader: Reader) -> tuple[str, ...]:
    numbers = set(reader.number_columns())
    kinds: list[str] = []
    for position in range(len(reader.columns)):
        if position not in numbers:
            kinds.append(TEXT)
        elif position in reader.seconds:
            kinds.append(_SECONDS)
        else:
            kinds.append(_SINGLE if position in reader.single_precision else NUMBER)
    return tuple(kinds)


def _side_by_side(reader: Reader) -> tuple[tuple[int, ...], ...]:
    """Positions of the columns of each table, in the file's order."""
    found: dict[frozenset[int], None] = {}
    for position in range(len(reader.columns)):
        beside = reader.together(position)
        if beside is None:
            return (tuple(range(len(reader.columns))),)
        found[beside] = None
    return tuple(tuple(sorted(table)) for table in found)


def _rasters(reader: Reader) -> tuple[tuple[int, ...], ...]:
    """Of a measurement file, the channels of each raster with the time in front; none of any other file."""
    if not isinstance(reader, TableReader) or not isinstance(reader.arrays, MdfArrays):
        return ()
    rasters: dict[int, list[int]] = {}
    time = -1
    for position, name in enumerate(reader.columns):
        if name in reader.arrays.places:
            rasters.setdefault(reader.arrays.places[name][0], []).append(position)
        else:
            time = position
    return tuple((time, *channels) for channels in rasters.values())
