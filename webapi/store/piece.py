"""A piece of an uploaded file on its way into the store."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Piece:
    """Consecutive rows of one table.

    Args:
        table: Which of the file's tables, from 0.
        columns: One Arrow array of float64 or text each, by position; what is not named is empty there.
    """

    table: int
    columns: dict[int, Any]

    @property
    def rows(self) -> int:
        """How many rows."""
        return next((len(column) for column in self.columns.values()), 0)
