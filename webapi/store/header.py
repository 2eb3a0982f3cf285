"""What a stored Parquet file remembers about the file it was made from, so that reading it gives the same history."""

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final

from lifetime.notices import Notice

METADATA_KEY: Final = b"packwear"
VERSION: Final = 2
"""Version 1 knew one table only."""
TEXT: Final = "text"
NUMBER: Final = "double"


@dataclass(frozen=True, slots=True)
class Cut:
    """The last row of a text file that has no line end.

    Args:
        kept: True where the row is complete and stands in the store as the last one.
        row: Its number in the file.
        problem: What is wrong with it where it is not kept.
        remedy: What to do then.
    """

    kept: bool
    row: int = 0
    problem: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Columns that run side by side, in a file that holds several tables or could.

    Args:
        columns: Their positions.
        start: First row in the stored file, where the tables stand one below the other.
        rows: How many.
    """

    columns: tuple[int, ...]
    start: int
    rows: int


@dataclass(frozen=True, slots=True)
class Header:
    """The memory of one stored history.

    Args:
        file_format: Of the file uploaded, for example "CSV" or "Parquet".
        details: Separator, encoding, sheet and the like in words.
        columns: Names exactly as uploaded, in order.
        physical: Names in the stored file; different only where a name occurs twice.
        kinds: Per column "text", or the type of number uploaded as Arrow names it, such as "double" or "float".
        first_row: Row in the file uploaded of the first data row.
        cut: The last row where it has no line end, or None.
        notices: Code, message and severity of each notice, without the file's name.
        tables: The tables of a file whose format has several; empty where all columns run side by side.
        held: True where tables differ in their times alone, and columns of one are held on the times of another; the
            one column that all tables share is the time.
    """

    file_format: str
    details: str
    columns: tuple[str, ...]
    physical: tuple[str, ...]
    kinds: tuple[str, ...]
    first_row: int
    cut: Cut | None
    notices: tuple[tuple[str, str, str], ...]
    tables: tuple[Table, ...] = ()
    held: bool = False

    def to_bytes(self) -> bytes:
        """As JSON, for the file's metadata."""
        return json.dumps({"version": VERSION, **asdict(self)}, allow_nan=False).encode()

    @classmethod
    def from_bytes(cls, text: bytes) -> "Header":
        """Read what ``to_bytes`` wrote.

        Args:
            text: JSON.
        """
        data: dict[str, Any] = json.loads(text)
        cut = data["cut"]
        return cls(
            file_format=data["file_format"],
            details=data["details"],
            columns=tuple(data["columns"]),
            physical=tuple(data["physical"]),
            kinds=tuple(data["kinds"]),
            first_row=data["first_row"],
            cut=None if cut is None else Cut(**cut),
            notices=tuple((code, message, severity) for code, message, severity in data["notices"]),
            tables=tuple(Table(tuple(one["columns"]), one["start"], one["rows"]) for one in data.get("tables", ())),
            held=data.get("held", False),
        )


def kept_notices(notices: Iterable[Notice], label: str) -> tuple[tuple[str, str, str], ...]:
    """Notices without the file's name, as a header keeps them.

    Args:
        notices: Of the reader.
        label: The file's name as the user gave it.
    """
    return tuple((one.code, one.message.removeprefix(f"{label}: "), one.severity) for one in notices)


def physical_names(columns: tuple[str, ...]) -> tuple[str, ...]:
    """Names for the stored file: as given where that is clear, with the position where a name occurs twice.

    Args:
        columns: Names as given.
    """
    counts = Counter(columns)
    taken = set(columns)
    found = []
    for position, name in enumerate(columns):
        chosen = name
        if counts[name] > 1:
            while chosen in taken:
                chosen += f" #{position}"
            taken.add(chosen)
        found.append(chosen)
    return tuple(found)
