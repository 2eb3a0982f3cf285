"""Range, mean and missing values of every column, over one pass in fixed memory."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.missing_values import MissingRun
from lifetime.units import header_unit

_VALUES_TOGETHER: Final = 1 << 16


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


@dataclass(frozen=True, slots=True)
class ColumnScan:
    """What the numbers of one column showed.

    Args:
        name: Its name in the file.
        rows: Rows seen.
        missing: Rows without a finite number.
        longest_missing: The longest run of such rows.
        first_missing_row: The first of them in its file, or None.
        range: Smallest and largest value in the file's unit; None where there is no number.
        sum: Sum of the numbers, in the file's unit.
    """

    name: str
    rows: int
    missing: int
    longest_missing: int
    first_missing_row: int | None
    range: tuple[float, float] | None
    sum: float

    @property
    def report(self) -> ColumnReport:
        """What the column contains."""
        limits = self.range
        mean = None if limits is None else self.sum / (self.rows - self.missing)
        return ColumnReport(
            name=self.name,
            unit=stated_unit(self.name),
            kind="numbers",
            low=None if limits is None else limits[0],
            high=None if limits is None else limits[1],
            mean=mean if mean is not None and np.isfinite(mean) else None,
            missing=self.missing,
            first_missing_row=self.first_missing_row,
        )


class ColumnScans:
    """Gathers what the numbers of all columns show; many short columns at a time, as files have thousands.

    Args:
        reader: The file.
        positions: Positions of the columns in the file, from 0.
    """

    def __init__(self, reader: Reader, positions: Sequence[int]) -> None:
        self._reader = reader
        self._names = reader.columns
        self.positions = tuple(positions)
        self._places = {position: place for place, position in enumerate(positions)}
        self._rows = 0
        self._low, self._high = np.full(len(positions), np.inf), np.full(len(positions), -np.inf)
        self._sum = np.zeros(len(positions))
        self._missing = np.zeros(len(positions), dtype=np.int64)
        self._first_missing: dict[int, int] = {}
        self._runs: dict[int, MissingRun] = {}

    def add(self, columns: Sequence[FloatArray], rows: IntArray) -> None:
        """Add a stretch of all columns.

        Args:
            columns: In the order of the positions, in the file's unit, NaN where a number is missing.
            rows: Rows in the file.
        """
        self._rows += int(rows.size)
        together = max(1, _VALUES_TOGETHER // max(1, int(rows.size)))
        for first in range(0, len(columns), together):
            part = columns[first : first + together]
            self._add(first, part[0][np.newaxis] if len(part) == 1 else np.array(part), rows)

    def _add(self, first: int, values: FloatArray, rows: IntArray) -> None:
        """Add columns from the one at ``first``, one a row of ``values``."""
        places = slice(first, first + values.shape[0])
        finite = np.isfinite(values)
        whole: NDArray[np.bool_] = np.all(finite, axis=1)
        for place in range(first, first + values.shape[0]):
            if not whole[place - first] or place in self._runs:
                self._add_missing(place, np.flatnonzero(~finite[place - first]), rows)
        if not whole.all():
            low = np.where(finite, values, np.inf).min(axis=1)
            high = np.where(finite, values, -np.inf).max(axis=1)
            values = np.where(finite, values, 0.0)
        else:
            low, high = values.min(axis=1), values.max(axis=1)
        self._low[places] = np.minimum(self._low[places], low)
        self._high[places] = np.maximum(self._high[places], high)
        with np.errstate(over="ignore", invalid="ignore"):  # absurd magnitudes have no mean
            self._sum[places] += values.sum(axis=1)

    def _add_missing(self, place: int, absent: IntArray, rows: IntArray) -> None:
        self._runs.setdefault(place, MissingRun()).add(absent, rows)
        if absent.size:
            self._first_missing.setdefault(place, int(rows[absent[0]]))
            self._missing[place] += absent.size

    def __getitem__(self, position: int) -> ColumnScan:
        """What one column showed so far.

        Args:
            position: Position of the column in the file.
        """
        place = self._places[position]
        low, high = float(self._low[place]), float(self._high[place])
        run, first = self._runs.get(place), self._first_missing.get(place)
        return ColumnScan(
            name=self._names[position],
            rows=self._rows,
            missing=int(self._missing[place]),
            longest_missing=0 if run is None else run.longest,
            first_missing_row=None if first is None else self._reader.place(first)[1],
            range=(low, high) if low <= high else None,
            sum=float(self._sum[place]),
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
