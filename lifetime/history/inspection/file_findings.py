"""Findings about a file as a whole: suggested roles that are missing, what stopped reading, headers, sign."""

from collections import Counter
from collections.abc import Iterator

from lifetime.errors import HistoryError
from lifetime.history.formats.joined_files import JoinedReader
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding, FindingSeverity
from lifetime.history.inspection.no_record import raw_frames
from lifetime.history.mapping.column_suggestions import suggest_columns
from lifetime.history.mapping.discharge_sign import DischargeSign
from lifetime.history.mapping.role_ranking import DRIVES, has_drive


def file_findings(scan: FileScan) -> Iterator[Finding]:
    """Everything that concerns the file as a whole.

    Args:
        scan: The pass over the file.
    """
    reader = scan.reader
    missing = _missing_roles(scan)
    lost = list(_lost_columns(reader, missing)) if isinstance(reader, JoinedReader) else []
    yield from lost
    frames = raw_frames(reader)
    if frames is not None:
        yield frames
    if "time" in missing and not lost and frames is None:
        remedy = "Name it in the study yourself; where there is none, export one with the samples."
        yield Finding("error", "file", "no column looks like time.", None, remedy)
    if "current" in missing and not lost and frames is None:
        remedy = (
            "Name it in the study yourself; it must contain numbers. Where there is none, export one with the samples."
        )
        yield Finding("error", "file", "no column of numbers looks like current, power or speed.", None, remedy)
    if scan.fault is not None:
        message = f"{scan.fault.problem} Reading stopped here."
        yield Finding("error", fault_place(scan.fault, reader.label), message, None, scan.fault.remedy)
    if scan.rows < 2:
        yield Finding("error", "file", "fewer than two data rows.", scan.rows, "Give a longer file.")
    yield from _header_findings(reader)
    if isinstance(reader, JoinedReader):
        yield from _partial_columns(reader)
        yield from _order_findings(reader)
        yield from _repeated_files(scan)
    for notice in reader.notices:
        yield Finding(notice.severity, "file", notice.message.removeprefix(f"{reader.label}: "), None, "")
    sign = scan.sign()
    if sign is not None and not scan.is_sign_by_mode:
        yield _sign_finding(sign)


def fault_place(fault: HistoryError, label: str) -> str:
    """Where a fault is: another file than the one looked at, the row, the column.

    Args:
        fault: What is wrong.
        label: The file looked at.
    """
    file = "" if fault.file == label else fault.file
    row = "" if fault.row is None else f"row {fault.row}"
    column = "" if fault.column is None else f'column "{fault.column}"'
    return ", ".join(part for part in (file, row, column) if part) or "file"


def _header_findings(reader: Reader) -> Iterator[Finding]:
    if reader.columns and all(name == f"column {number}" for number, name in enumerate(reader.columns, start=1)):
        remedy = 'Name columns as "column 1", "column 2" and so on, and state their units.'
        yield Finding("warning", "file", "there is no row with column names.", None, remedy)
    repeated = {name: count for name, count in Counter(reader.columns).items() if name and count > 1}
    for name, count in sorted(repeated.items()):
        remedy = "Rename them before a study asks for one."
        yield Finding("note", f'column "{name}"', f"{count} columns have this name.", count, remedy)


def _missing_roles(scan: FileScan) -> set[str]:
    """Of what every history needs, the roles for which no column is suggested."""
    missing = set() if "time" in scan.by_role else {"time"}
    return missing if has_drive(scan.by_role.keys()) else missing | DRIVES


def _lost_columns(reader: JoinedReader, missing: set[str]) -> Iterator[Finding]:
    """Columns of the first file that would serve, were they in every file."""
    partial = reader.partial
    if not missing or not partial:
        return
    for suggestion in suggest_columns(reader.readers[0]).columns:
        if suggestion.role in missing and suggestion.column in partial:
            file, count = partial[suggestion.column]
            has = f"{count} columns of this file have this name" if count else "there is no such column"
            message = f"{has}, and the first file, {reader.readers[0].label}, has it as {suggestion.role}."
            yield Finding(
                "error", f'{file}, column "{suggestion.column}"', message, count, "Name files of one kind only."
            )


def _partial_columns(reader: JoinedReader) -> Iterator[Finding]:
    for name, (file, count) in reader.partial.items():
        how_many = f"{file} has it {count} times" if count else f"{file} does not have it"
        remedy = "" if count == 0 else "Rename one of them before a study asks for it."
        yield Finding("note", f'column "{name}"', f"it was not looked at: {how_many}.", count, remedy)


def _order_findings(reader: JoinedReader) -> Iterator[Finding]:
    if reader.time_continues is None:
        return
    message = "each file starts its clock anew; they were read one after another, in the order of their names."
    remedy = 'State files_follow = "one_after_another"; clean = ["sort_by_time"] would mix the rows of different files.'
    yield Finding("warning", "file", message, len(reader.readers), remedy)


def _repeated_files(scan: FileScan) -> Iterator[Finding]:
    for first, again in scan.repeated_files.repeated(scan.reader.files):
        message = f"it has the same samples as {first}: read one after the other, their charge counts twice."
        yield Finding("warning", again, message, None, "Name each log once.")


def _sign_finding(sign: DischargeSign) -> Finding:
    severity: FindingSeverity = "warning" if sign.agree is False else "note"
    remedy = "" if sign.sign else "State discharge_is in the study."
    if sign.sign == "negative":
        severity, remedy = "warning", 'State discharge_is = "negative" in the study.'
    return Finding(severity, "file", f"{sign.message}.", None, remedy)
