"""Where a column is in an HDF5 file, and its values from there."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from lifetime.checks import FloatArray


@dataclass(frozen=True, slots=True)
class Where:
    """Where in the file a column is.

    Args:
        path: Of the dataset.
        axis: Along which its rows run.
        index: Position along the other axis, or None where there is none.
        member: Member of a compound type, or None.
        per_second: How many of its whole numbers make a second, where it contains times; else None.
    """

    path: str
    axis: int = 0
    index: int | None = None
    member: str | None = None
    per_second: float | None = None

    def part(self, dataset: Any, ends: slice, *, as_text: bool) -> FloatArray | list[str]:
        """Some rows of the column.

        Args:
            dataset: The dataset at the path.
            ends: Which rows.
            as_text: True where its fields are wanted as text.
        """
        values = self._values(dataset, ends)
        if as_text:
            return [
                value.decode("utf-8", "replace").strip() if isinstance(value, bytes) else str(value) for value in values
            ]
        numbers = np.asarray(values, dtype=np.float64)
        if self.per_second is None:
            return numbers
        # The smallest of all whole numbers stands for a time that is not known.
        return np.where(np.asarray(values) == np.iinfo(np.int64).min, np.nan, numbers / self.per_second)

    def _values(self, dataset: Any, ends: slice) -> Any:
        if self.member is not None:
            rows = dataset[ends][self.member]
            return rows if self.index is None else rows[:, self.index]
        if self.index is None:
            return dataset[ends]
        return dataset[ends, self.index] if self.axis == 0 else dataset[self.index, ends]
