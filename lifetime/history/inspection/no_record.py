"""Files whose rows are no samples of one course over time: tables of results, raw frames of a vehicle bus."""

import re
from typing import Final

from lifetime.constants import SECONDS_PER_DAY
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding
from lifetime.history.inspection.words import place_of
from lifetime.history.mapping.role_ranking import has_drive
from lifetime.text import significant

_ANEW: Final = 0.05
"""A log is written in order but for a few rows; a table of short tests starts its time anew every few rows. Common
practice, no source."""
_FEWEST_STEPS_BACK: Final = 5
_EXPORT: Final = "Export the samples of one course over time, one row a sample."


_FRAME: Final = re.compile(
    r"\(\d{1,20}+\.\d{1,9}+\) \S{1,20}+ [0-9A-Fa-f]{3,8}+#|[\d.]{1,20}+,[0-9A-Fa-f]{3,8}+,(?i:true|false),\d,\d,"
)
"""Time, bus and identifier with the bytes behind it; or time, identifier, whether it is extended, bus and length."""
_LOOKED_AT: Final = 6
_FRAME_COLUMNS: Final = frozenset({"ID", "LEN", "D1", "D2"})


def raw_frames(reader: Reader) -> Finding | None:
    """Say that a text holds raw frames of a vehicle bus; None where it does not.

    Args:
        reader: The file.
    """
    first = [next(iter(reader.text_sample(at)), "") for at in range(min(len(reader.columns), _LOOKED_AT))]
    named = set(reader.columns) >= _FRAME_COLUMNS
    if not named and not any(_FRAME.match(line) for line in (*reader.columns[:1], ",".join(first))):
        return None
    remedy = (
        "Decode it with the bus's data base to signals first, and export time and current, power or speed as MDF 4 or "
        "CSV."
    )
    return Finding("error", "file", "this is a log of raw frames of a vehicle bus, as text.", None, remedy)


def no_record(scan: FileScan) -> Finding | None:
    """Why the rows are no samples of one course over time; None where they may be.

    Args:
        scan: The pass over the file.
    """
    time = scan.time
    report = None if time is None else time.report
    if time is None or report is None or not has_drive({*scan.by_role, *scan.suggestions.undecided}):
        return None
    back = time.backward - time.backward_between_files
    if back >= scan.rows - 1 > 1:
        message = "the rows are in reverse order: time runs backwards from each to the next."
        return Finding("error", place_of(report.column), message, back, 'Ask for clean = ["sort_by_time"].')
    if back >= _FEWEST_STEPS_BACK and back > _ANEW * scan.rows:
        message = (
            f"time runs backwards in {back} of {scan.rows} rows: this looks like a table of results, or of many short "
            "tests, and not like one course over time."
        )
        remedy = f'{_EXPORT} Where rows are only out of order, name the columns with clean = ["sort_by_time"].'
        return Finding("error", place_of(report.column), message, back, remedy)
    if report.unit is not None and report.median_step > SECONDS_PER_DAY:
        days = report.median_step / SECONDS_PER_DAY
        message = (
            f"from row to row {significant(days)} days pass: this looks like a table of results, and not like samples."
        )
        return Finding("error", place_of(report.column), message, days, _EXPORT)
    return None
