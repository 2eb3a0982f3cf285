"""JSON lines: a text in which every line is one JSON object, read in pieces of fixed size.

Each piece goes through pyarrow's parser. Wherever it objects, the piece is gone through again line by line: that finds
the row to name, and turns values that are no numbers into NaN.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.formats.arrow_columns import as_float64, text_of
from lifetime.history.formats.csv_dialect import SAVE_AS
from lifetime.history.formats.line_pieces import PIECE_BYTES, LinePiece, LinePieces
from lifetime.history.formats.prefetch import prefetched_results
from lifetime.history.formats.reader import Chunk, OneFile
from lifetime.history.formats.text_bytes import TextBytes
from lifetime.history.formats.text_values import NO_TEXTS, Texts
from lifetime.notices import Notice

_HEAD_BYTES: Final = 1 << 20
_SAMPLE_ROWS: Final = 100
_TAIL_BYTES: Final = 1 << 16
_MOST_LEVELS: Final = 8
_UTF8_BOM: Final = b"\xef\xbb\xbf"

ValuePath = tuple[str, ...]
"""Names from the object of a line down to a value."""


def is_json_lines(path: Path, label: str) -> bool:
    """Tell whether the first line of a text is a whole JSON object and another one begins below it.

    Args:
        path: The file.
        label: Its name as the user gave it.

    Raises:
        HistoryError: The file is packed and damaged.
    """
    lines = _first_lines(_whole_text(path, label))
    first = next(lines, b"")
    if not first.lstrip().startswith(b"{") or _object(first) is None:
        return False
    return next(lines, b"").lstrip().startswith(b"{")


def _whole_text(path: Path, label: str) -> LinePieces:
    source = TextBytes.of(path, label)
    with source.open() as file:
        start = len(_UTF8_BOM) if source.read(file, len(_UTF8_BOM)) == _UTF8_BOM else 0
    return LinePieces(source, start, 1)


def _first_lines(text: LinePieces) -> Iterator[bytes]:
    """The lines within about the first megabyte that are not blank."""
    seen = 0
    for piece in text.pieces(piece_bytes=_HEAD_BYTES):
        yield from (line for line in piece.text.split(b"\n") if line.strip())
        seen += len(piece.text)
        if seen >= _HEAD_BYTES:
            return


class _TwiceError(ValueError):
    """A name occurs twice in one object."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = dict(pairs)
    if len(names) < len(pairs):
        raise _TwiceError
    return names


def _object(line: bytes) -> dict[str, Any] | None:
    """The object that a line is, or None."""
    try:
        value = json.loads(line, object_pairs_hook=_once)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _values(members: Mapping[str, Any], path: ValuePath = ()) -> Iterator[tuple[ValuePath, Any]]:
    """The values in an object and in the objects inside it, each with its path; no lists."""
    for name, value in members.items():
        if isinstance(value, dict):
            if len(path) < _MOST_LEVELS:
                yield from _values(value, (*path, name))
        elif not isinstance(value, list):
            yield (*path, name), value


@dataclass(frozen=True, slots=True)
class JsonLinesReader(OneFile):
    """A text of one JSON object a line; a value in an object inside it is named by its path, such as ``pack.I``.

    Args:
        label: The file's name as the user gave it.
        lines: Its lines.
        paths: Paths of the values, in the order in which they first occur.
        numeric: Positions of those that are numbers.
        unfinished: True where the last line is no whole object and has no line end.
        piece_bytes: Bytes read at a time; results do not depend on it.
    """

    label: str
    lines: LinePieces
    paths: tuple[ValuePath, ...]
    numeric: tuple[int, ...]
    unfinished: bool
    piece_bytes: int = PIECE_BYTES
    columns: tuple[str, ...] = field(init=False, repr=False)
    single_precision: frozenset[int] = field(default=frozenset(), init=False)

    def __post_init__(self) -> None:
        """Name the columns."""
        object.__setattr__(self, "columns", tuple(".".join(path).strip() for path in self.paths))

    @classmethod
    def open(cls, path: Path, label: str) -> "JsonLinesReader":
        """Look at the file's first lines; a value that only occurs beyond the first megabyte has no column.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The lines have no values, or each has one signal instead of one sample.
        """
        text = _whole_text(path, label)
        kinds: dict[ValuePath, set[type]] = {}
        for line in _first_lines(text):
            for place, value in _values(_object(line) or {}):
                kinds.setdefault(place, set()).add(type(value))
        _refuse_one_signal_a_line(kinds, label)
        numeric = tuple(at for at, types in enumerate(kinds.values()) if types & {int, float} or types == {type(None)})
        if not numeric:
            raise HistoryError(
                "the lines are JSON objects without a number.",
                file=label,
                remedy="Give one object a line, with one number a channel.",
            )
        return cls(label, text, tuple(kinds), numeric, _is_unfinished(text, path))

    @property
    def file_format(self) -> str:
        """Name of the format."""
        return "JSON lines"

    @property
    def details(self) -> str:
        """Compression in words."""
        return self.lines.source.words.removeprefix(", ")

    @property
    def notices(self) -> tuple[Notice, ...]:
        """A last line that was cut."""
        if not self.unfinished:
            return ()
        text = (
            f"{self.label}: the last line is no whole JSON object, so the file was cut. Ask for "
            'clean = ["drop_unfinished_last_row"] to leave it out.'
        )
        return (Notice("unfinished_last_row", text),)

    def number_columns(self) -> tuple[int, ...]:
        """Positions of the columns with a number in the first lines, or nothing at all."""
        return self.numeric

    def text_sample(self, column: int) -> list[str]:
        """The fields of a column in the first lines.

        Args:
            column: Position of the column.
        """
        lines = islice(_first_lines(self.lines), _SAMPLE_ROWS)
        return [_text(_at(members, self.paths[column])) for line in lines if (members := _object(line)) is not None]

    def chunks(
        self, columns: Sequence[int], *, texts: Texts = NO_TEXTS, drop_unfinished: bool = False
    ) -> Iterator[Chunk]:
        """Stream the lines as rows; a row's number is that of its line.

        Args:
            columns: Positions of the columns wanted.
            texts: How columns of text become numbers.
            drop_unfinished: Leave out a last line that is no whole object.

        Raises:
            HistoryError: A line is no JSON object.
        """
        pieces = self.lines.pieces(drop_unended=drop_unfinished and self.unfinished, piece_bytes=self.piece_bytes)
        for chunk, fault in prefetched_results(lambda piece: self._parse(piece, columns, texts), pieces):
            if chunk.rows.size or fault is None:
                yield chunk
            if fault is not None:
                raise fault

    def field(self, row: int, column: int) -> str:
        """One field as text; slow.

        Args:
            row: Line in the file.
            column: Position of the column.
        """
        for piece in self.lines.pieces(piece_bytes=self.piece_bytes):
            if row < piece.row + piece.lines:
                members = _object(piece.text.split(b"\n")[row - piece.row])
                return "" if members is None else _text(_at(members, self.paths[column]))
        return ""

    def _parse(self, piece: LinePiece, columns: Sequence[int], texts: Texts) -> tuple[Chunk, HistoryError | None]:
        values = self._parse_fast(piece, columns, texts)
        if values is not None:
            return Chunk(np.arange(piece.row, piece.row + piece.lines, dtype=np.int64), values), None
        return self._parse_by_line(piece, columns, texts)

    def _parse_fast(self, piece: LinePiece, columns: Sequence[int], texts: Texts) -> tuple[FloatArray, ...] | None:
        import pyarrow as pa  # noqa: PLC0415 - slow import
        from pyarrow import json as arrow_json  # noqa: PLC0415

        if not columns:
            return None
        schema = _schema({self.paths[at]: pa.string() if at in texts else pa.float64() for at in columns})
        try:
            table = arrow_json.read_json(
                pa.BufferReader(piece.text),
                read_options=arrow_json.ReadOptions(use_threads=False, block_size=len(piece.text) + 1),
                parse_options=arrow_json.ParseOptions(explicit_schema=schema, unexpected_field_behavior="ignore"),
            )
        except pa.ArrowException:
            return None
        if table.num_rows != piece.lines:
            return None
        found = (_column(table, self.paths[at]) for at in columns)
        return tuple(
            texts[at].numbers(text_of(one)) if at in texts else as_float64(one)
            for at, one in zip(columns, found, strict=True)
        )

    def _parse_by_line(
        self, piece: LinePiece, columns: Sequence[int], texts: Texts
    ) -> tuple[Chunk, HistoryError | None]:
        rows: list[int] = []
        found: list[dict[str, Any]] = []
        fault: HistoryError | None = None
        for number, line in enumerate(piece.text.split(b"\n")[:-1], start=piece.row):
            if not line.strip(b" \t\r\x00"):
                continue  # a blank line holds no sample
            members = _object(line)
            if members is None:
                fault = self._no_object(number)
                break
            rows.append(number)
            found.append(members)
        values = []
        for at in columns:
            fields = [_at(members, self.paths[at]) for members in found]
            if at in texts:
                values.append(texts[at].numbers([_text(one) for one in fields]))
            else:
                values.append(np.array([_number(one) for one in fields], dtype=np.float64))
        return Chunk(np.array(rows, dtype=np.int64), tuple(values)), fault

    def _no_object(self, row: int) -> HistoryError:
        return HistoryError(
            "the line is not one whole JSON object with each name once.",
            file=self.label,
            row=row,
            remedy='Repair or delete the line, or ask for clean = ["drop_unfinished_last_row"] if the file was cut.',
        )


def _refuse_one_signal_a_line(kinds: Mapping[ValuePath, set[type]], label: str) -> None:
    """Refuse lines such as {"name": "speed", "value": 3, "timestamp": 1}: numbers of different things in one column."""
    types = {place[-1].lower(): found for place, found in kinds.items()}
    named = next((name for name in ("name", "signal", "channel") if types.get(name) == {str}), None)
    if named is not None and "value" in types and len(types) <= 4:
        raise HistoryError(
            f'each line has one signal, named in "{named}", and not one sample of all channels.',
            file=label,
            remedy=f"Bring the signals side by side first. {SAVE_AS}",
        )


def _is_unfinished(text: LinePieces, path: Path) -> bool:
    """Whether the last line has no line end and is no whole object; a packed text that is cut is refused anyway."""
    if text.source.packing or text.source.wide:
        last = b"\n"
        for piece in text.pieces():
            last = piece.text
        line = last.split(b"\n")[-2]
        return bool(line.strip()) and _object(line) is None
    with path.open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(0, size - _TAIL_BYTES))
        last = file.read()
        if last.endswith(b"\n"):
            return False
        if b"\n" not in last:
            file.seek(text.start)
            last = file.read()
    line = last.rsplit(b"\n", 1)[-1]
    return bool(line.strip()) and _object(line) is None


def _schema(kinds: Mapping[ValuePath, Any]) -> Any:
    """An Arrow schema of the values wanted, those in objects inside as structs."""
    import pyarrow as pa  # noqa: PLC0415 - loaded already

    inside: dict[str, dict[ValuePath, Any]] = {}
    for place, kind in kinds.items():
        inside.setdefault(place[0], {})[place[1:]] = kind
    return pa.schema(
        [
            (name, members[()] if () in members else pa.struct(list(_schema(members))))
            for name, members in inside.items()
        ]
    )


def _column(table: Any, path: ValuePath) -> Any:
    from pyarrow import compute  # noqa: PLC0415 - loaded already

    column = table.column(path[0])
    for name in path[1:]:
        column = compute.struct_field(column, [name])
    return column


def _at(members: Mapping[str, Any], path: ValuePath) -> Any:
    value: Any = members
    for name in path:
        value = value.get(name) if isinstance(value, dict) else None
    return value


def _number(value: Any) -> float:
    try:
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else float("nan")
    except OverflowError:  # a whole number beyond all floats
        return float("inf")


def _text(value: Any) -> str:
    return "" if value is None else value.strip() if isinstance(value, str) else json.dumps(value)
