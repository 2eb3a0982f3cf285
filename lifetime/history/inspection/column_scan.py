"""Range, mean and missing values of every column, over one pass in fixed memory."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.missing_values import MissingRun
from lifetime.units import header_unit


@dataclass(frozen=True, slots=True)
class ColumnReport:
    """One column, in the file's own unit.

    Args:
        name: Its name in the file.
        unit: Unit that its header states, or None.
        kind: Whether it contains numbers.
        low: Smallest value, or None where there is no number.
        high: Largest value, or None.
        mean: Mean over the rows, not over time, or None.
        missing: Rows without a finite number.
        first_missing_row: The first of them, counted from 1 with the header as row 1, or None.
    """

    name: str
    unit: str | None
    kind: Literal["numbers", "text"]
    low: float | None
    high: float | None
    mean: float | None
    missing: int
    first_missing_row: int | None


class ColumnScan:
    """What the numbers of one column show.

    Args:
        reader: The file.
        position: Position of the column in the file, from 0.
    """

    def __init__(self, reader: Reader, position: int) -> None:
        self._reader = reader
        self._name = reader.columns[position]
        self.rows = 0
        self.missing = 0
        self.missing_run = MissingRun()
        self._first_missing_row = 0
        self._low, self._high, self._sum = np.inf, -np.inf, 0.0

    def add(self, values: FloatArray, rows: IntArray) -> None:
        """Add a stretch.

        Args:
            values: In the file's unit, NaN where a number is missing.
            rows: Rows in the file.
        """
        finite = np.isfinite(values)
        self.rows += int(values.size)
        self.missing_run.add(np.flatnonzero(~finite), rows)
        if not finite.all():
            if self.missing == 0:
                self._first_missing_row = int(rows[np.argmin(finite)])
            self.missing += int(values.size - np.count_nonzero(finite))
            values = values[finite]
        if values.size:
            self._low, self._high = min(self._low, float(values.min())), max(self._high, float(values.max()))
            with np.errstate(over="ignore", invalid="ignore"):
                self._sum += float(values.sum())

    @property
    def range(self) -> tuple[float, float] | None:
        """Smallest and largest value in the file's unit; None where there is no number."""
        return (self._low, self._high) if self._low <= self._high else None

    @property
    def report(self) -> ColumnReport:
        """What the column contains."""
        limits = self.range
        first = self._reader.place(self._first_missing_row)[1] if self.missing else None
        mean = None if limits is None else self._sum / (self.rows - self.missing)
        return ColumnReport(
            name=self._name,
            unit=stated_unit(self._name),
            kind="numbers",
            low=None if limits is None else limits[0],
            high=None if limits is None else limits[1],
            mean=mean if mean is not None and np.isfinite(mean) else None,
            missing=self.missing,
            first_missing_row=first,
        )


def text_report(name: str) -> ColumnReport:
    """What is said of a column that contains text, or that does not run beside the others.

    Args:
        name: Its name in the file.
    """
    return ColumnReport(name, stated_unit(name), "text", None, None, None, 0, None)


def stated_unit(name: str) -> str | None:
    """The unit that a header states: its symbol where it is known, its text otherwise, or None.

    Args:
        name: The header.
    """
    stated = header_unit(name)
    if stated is None:
        return None
    return stated.text if stated.unit is None else stated.unit.symbol
