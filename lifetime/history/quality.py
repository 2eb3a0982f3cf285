"""What a history file holds and what is wrong with it, before any study names it."""

from dataclasses import dataclass
from pathlib import Path

from lifetime.history import findings as wrong
from lifetime.history.findings import Finding
from lifetime.history.formats import reader_for
from lifetime.history.offers import Offer, offers, study_line
from lifetime.history.scan import ColumnReport, FileScan, TimeReport
from lifetime.history.sign import SignHint


@dataclass(frozen=True, slots=True)
class FileReport:
    """Everything ``describe_file`` finds.

    Args:
        file: The file's name as the user gave it.
        file_format: "CSV" or "Parquet".
        details: Separator and encoding in words; empty for Parquet.
        rows: Data rows read.
        columns: All columns in the file's order.
        time: The time column offered, or None.
        offers: Which column could serve as what; offered, never applied.
        sign: What the data say about the sign of discharge, or None where there is nothing to compare.
        findings: What is wrong or worth knowing, gravest first.
        study_line: A line to paste into a study, or None.
    """

    file: str
    file_format: str
    details: str
    rows: int
    columns: tuple[ColumnReport, ...]
    time: TimeReport | None
    offers: tuple[Offer, ...]
    sign: SignHint | None
    findings: tuple[Finding, ...]
    study_line: str | None


def describe_file(path: Path | str) -> FileReport:
    """Read a history file once and say what it holds, in fixed memory.

    Args:
        path: The file.

    Raises:
        HistoryError: The file is missing, a directory, empty, or in no format read here.
    """
    label = str(path)
    reader = reader_for(Path(path), label)
    numeric = reader.number_columns()
    offered = offers(reader.columns, numeric)
    scan = FileScan(reader, numeric, offered)
    scan.run()
    time = scan.time_report()
    sign = scan.sign_hint()
    columns = tuple(scan.column_report(position) for position in range(len(reader.columns)))
    used = {offer.column: offer for offer in offered}
    found = wrong.of_file(reader, scan.rows, scan.fault, offered)
    found += wrong.of_columns(
        {c.name: (c.missing, c.first_missing_row, c.low, c.high) for c in columns if c.name in used}, used
    )
    if time is not None:
        found += wrong.of_time(time.column, time.backward_steps, time.first_backward_row)
        found += wrong.of_gaps(time.column, time.gaps, time.largest_step, time.largest_step_row)
    if sign is not None:
        found.append(wrong.of_sign(sign))
    return FileReport(
        file=label,
        file_format=reader.file_format,
        details=reader.details,
        rows=scan.rows,
        columns=columns,
        time=time,
        offers=offered,
        sign=sign,
        findings=wrong.gravest_first(found),
        study_line=study_line(label, offered, None if sign is None else sign.sign),
    )
