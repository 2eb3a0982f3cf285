"""What was read and what data cleaning changed: the record that travels with a history."""

from dataclasses import dataclass
from typing import Final, Literal

CleaningName = Literal[
    "drop_bad_rows",
    "drop_unfinished_last_row",
    "join_restarts",
    "sort_by_time",
    "spread_times",
    "drop_spikes",
    "bridge_gaps",
    "rest_in_gaps",
]
"""Cleaning steps a study can ask for; nothing is cleaned unasked."""

CLEANING: Final[dict[CleaningName, str]] = {
    "drop_bad_rows": "leave out rows with an empty field, text, NaN, infinity or an implausible value (error code)",
    "drop_unfinished_last_row": "leave out the last row when it has no line end, as after a power loss while writing",
    "join_restarts": "where time runs back, continue from the last row: the clock was set to zero at every step or run",
    "sort_by_time": "put the rows in order of time; the needed columns are kept in memory whole",
    "spread_times": "space rows of one time evenly up to the next, where times are coarser than the rows come; the "
    "needed columns are kept in memory whole",
    "drop_spikes": "leave out single rows that leave the usual range and return at once",
    "bridge_gaps": "keep gaps and interpolate through them as between any two samples",
    "rest_in_gaps": "read current or power as zero in gaps",
}
"""Each cleaning step and what it does, in the order in which they act."""


@dataclass(frozen=True, slots=True)
class CleaningStep:
    """One step that was asked for, and what it did.

    Args:
        name: Which step.
        count: How many rows or gaps it touched; 0 where there was nothing to do.
        first_row: Row in the file of the first one, counted from 1 with the header as row 1; None where count is 0.
    """

    name: CleaningName
    count: int
    first_row: int | None


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """Which column served as what.

    Args:
        quantity: What the column was taken as.
        column: Its name in the file.
        unit: Its unit in the file.
        unit_from: Who named the unit.
    """

    quantity: str
    column: str
    unit: str
    unit_from: Literal["header", "study", "caller", "format"]


@dataclass(frozen=True, slots=True)
class CleaningRecord:
    """What was read from a file and what was changed.

    Args:
        file_format: For example "CSV" or "Parquet".
        details: Separator, encoding and the like, in words.
        columns: Which column served as what, with its unit.
        discharge_is: Sign of discharge in the file.
        meaning: What was made of the columns besides, one sentence each.
        files: Names of the files, in order, where several make one history; else empty.
        rows_read: Data rows read.
        rows_kept: Data rows left after cleaning.
        steps: The cleaning steps asked for and what each did.
        median_step_s: Median time step [s], steps within a nanosecond left out.
        gap_limit_s: Longer steps count as gaps [s].
        gaps: Number of gaps.
        largest_step_s: Longest time step [s].
        switching_edges: Number of steps that take no time: two rows at one instant.
    """

    file_format: str
    details: str
    columns: tuple[ColumnUse, ...]
    discharge_is: Literal["positive", "negative"]
    meaning: tuple[str, ...]
    files: tuple[str, ...]
    rows_read: int
    rows_kept: int
    steps: tuple[CleaningStep, ...]
    median_step_s: float
    gap_limit_s: float
    gaps: int
    largest_step_s: float
    switching_edges: int
