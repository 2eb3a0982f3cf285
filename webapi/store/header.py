"""What a stored Parquet file remembers about the file it was made from, so that reading it gives the same history."""

import json
from dataclasses import asdict, dataclass
from typing import Any, Final

METADATA_KEY: Final = b"packwear"
VERSION: Final = 1
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
class Header:
    """The memory of one stored history.

    Args:
        file_format: Of the file uploaded, "CSV" or "Parquet".
        details: Separator and encoding in words.
        columns: Names exactly as uploaded, in order.
        physical: Names in the stored file; different only where a name occurs twice.
        kinds: Per column "double" or "text" for CSV, else the type in the Parquet file uploaded.
        first_row: Row in the file uploaded of the first data row.
        cut: The last row where it has no line end, or None.
        notices: Code, message and severity of each notice, without the file's name.
    """

    file_format: str
    details: str
    columns: tuple[str, ...]
    physical: tuple[str, ...]
    kinds: tuple[str, ...]
    first_row: int
    cut: Cut | None
    notices: tuple[tuple[str, str, str], ...]

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
        )


def physical_names(columns: tuple[str, ...]) -> tuple[str, ...]:
    """Names for the stored file: as given where that is clear, with the position where a name occurs twice.

    Args:
        columns: Names as given.
    """
    taken = set(columns)
    found = []
    for position, name in enumerate(columns):
        chosen = name
        if columns.count(name) > 1:
            while chosen in taken:
                chosen += f" #{position}"
            taken.add(chosen)
        found.append(chosen)
    return tuple(found)
