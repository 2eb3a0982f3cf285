"""The time column over one pass in fixed memory: span, steps, gaps, edges, steps back."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import IntArray, file_of
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.equal_times import EqualTimes
from lifetime.history.inspection.time_steps import EDGE_S, StepCounts
from lifetime.history.inspection.time_words import StepBack
from lifetime.history.mapping.column_suggestions import ColumnSuggestion

LARGEST_TIME = 1e15
"""No time is beyond it, in whatever unit."""


@dataclass(frozen=True, slots=True)
class TimeReport:
    """The time column; in seconds where its unit is known, in the file's unit otherwise.

    Args:
        column: Its name.
        unit: "s" where the header states a unit of time, None otherwise.
        span: From the first to the last row.
        median_step: Median of the steps that take time.
        irregular_step_fraction: Fraction of the steps that differ from the median by more than half of it [0..1].
        largest_step: Longest step.
        largest_step_row: Row at its end, or None.
        gaps: Steps longer than ten median steps or an hour, where the logger does not simply write seldom.
        switching_edges: Steps that take no time.
        backward_steps: Steps back in time.
        first_backward_row: Row at the end of the first of them, or None.
    """

    column: str
    unit: str | None
    span: float
    median_step: float
    irregular_step_fraction: float
    largest_step: float
    largest_step_row: int | None
    gaps: int
    switching_edges: int
    backward_steps: int
    first_backward_row: int | None


class TimeScan:
    """What the time column shows.

    Args:
        reader: The file.
        suggestion: The column suggested as time.
    """

    def __init__(self, reader: Reader, suggestion: ColumnSuggestion) -> None:
        self._reader = reader
        self.column = suggestion.column
        self.is_unit_known = suggestion.unit is not None
        self.steps = StepCounts() if self.is_unit_known else StepCounts(longest_s=None)
        self.equal_times = EqualTimes()
        self.backward = self.backward_between_files = 0
        self._first_back_s = self._first_back_to_s = 0.0
        self._first_backward_row = self._largest_row = 0
        self._largest = 0.0
        self._ends: tuple[float, float] | None = None
        self._last_flow = 0.0
        self._last_file = 0

    def add(self, times: FloatArray, rows: IntArray, flow: FloatArray | None = None) -> None:
        """Add a stretch.

        Args:
            times: In seconds where the unit is known, NaN where a time is missing.
            rows: Rows in the file.
            flow: Current or power in the same rows, NaN where missing; None where there is none.
        """
        known = np.abs(times) < LARGEST_TIME  # false for NaN
        times, ends = times[known], rows[known]
        if times.size == 0:
            return
        flow = None if flow is None else flow[known]
        if self._ends is None:
            first = float(times[0])
            steps, ends = np.diff(times), ends[1:]
            flows = None if flow is None else (flow[:-1], flow[1:])
        else:
            first = self._ends[0]
            steps = np.diff(times, prepend=self._ends[1])
            flows = None if flow is None else (np.append(self._last_flow, flow[:-1]), flow)
        self._ends = (first, float(times[-1]))
        back = steps < 0.0
        if back.any():
            if not self.backward:
                self._first_backward_row = int(ends[np.argmax(back)])
                self._first_back_s = -float(steps[np.argmax(back)])
                self._first_back_to_s = float(times[times.size - steps.size + int(np.argmax(back))])
            self.backward += int(np.count_nonzero(back))
            files = file_of(ends)
            joint = np.diff(files, prepend=self._last_file) != 0
            self.backward_between_files += int(np.count_nonzero(back & joint))
        moves = steps > EDGE_S
        self.equal_times.add(steps, flows)
        self.steps.add(steps[moves], ends[moves], None if flows is None else (flows[0][moves], flows[1][moves]))
        self._last_flow = 0.0 if flow is None else float(flow[-1])
        self._last_file = int(file_of(rows[-1:])[0])
        if steps.size and steps.max() > self._largest:
            self._largest, self._largest_row = float(steps.max()), int(ends[np.argmax(steps)])

    @property
    def first_back(self) -> StepBack:
        """The first step back in time."""
        first = 0.0 if self._ends is None else self._ends[0]
        return StepBack(self._first_back_s, self._first_back_to_s - first, self.steps.median_s)

    @property
    def report(self) -> TimeReport | None:
        """What the time column contains; None where it contains no time."""
        if self._ends is None:
            return None
        return TimeReport(
            column=self.column,
            unit="s" if self.is_unit_known else None,
            span=self._ends[1] - self._ends[0],
            median_step=self.steps.median_s,
            irregular_step_fraction=self.steps.irregular_fraction(),
            largest_step=self._largest,
            largest_step_row=self._row(self._largest_row),
            gaps=self.steps.gaps()[0],
            switching_edges=self.equal_times.edges,
            backward_steps=self.backward,
            first_backward_row=self._row(self._first_backward_row),
        )

    def _row(self, row: int) -> int | None:
        return self._reader.place(row)[1] if row else None
