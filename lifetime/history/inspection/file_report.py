"""What a history file contains, and the findings of its data checks, before any study names it."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lifetime.errors import HistoryError
from lifetime.history.formats.files import open_files
from lifetime.history.formats.joined_files import JoinedReader
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.column_findings import column_findings, timestamp_findings, unit_findings
from lifetime.history.inspection.column_scan import ColumnReport
from lifetime.history.inspection.entry_trial import try_entry
from lifetime.history.inspection.file_findings import fault_place, file_findings
from lifetime.history.inspection.file_order import ordered
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding, by_severity
from lifetime.history.inspection.no_record import no_record, raw_frames
from lifetime.history.inspection.role_findings import role_findings
from lifetime.history.inspection.sensor_findings import charge_findings, sensor_findings
from lifetime.history.inspection.time_findings import time_findings
from lifetime.history.inspection.time_scan import TimeReport
from lifetime.history.mapping.column_suggestions import ColumnSuggestion, suggest_columns
from lifetime.history.mapping.discharge_sign import DischargeSign
from lifetime.history.mapping.role_ranking import Candidate
from lifetime.history.mapping.study_entry import study_entry, suggested_keys, winding_keys

_CHECKS = (
    file_findings,
    column_findings,
    role_findings,
    timestamp_findings,
    time_findings,
    charge_findings,
    sensor_findings,
    unit_findings,
)


@dataclass(frozen=True, slots=True)
class FileReport:
    """Everything ``describe_file`` finds.

    Args:
        file: The file's name as the user gave it.
        file_format: For example "CSV" or "Parquet".
        details: Separator, encoding and the like in words; may be empty.
        files: Names of the files, in order, where a pattern names several; else empty.
        rows: Data rows read.
        columns: All columns in the file's order.
        time: The suggested time column, or None.
        suggestions: Which column could have which role; never applied by themselves.
        candidates: Every column that fits current, power, speed, torque, shaft speed, voltage or temperature, with what
            speaks for and against it.
        sign: What the data say about the sign of discharge, or None where there is nothing to compare.
        findings: Findings of the data checks, errors first.
        study_keys: Keys of a history in a study for the suggested columns, or None.
        study_entry: The same as an entry to paste into a study, or None.
    """

    file: str
    file_format: str
    details: str
    files: tuple[str, ...]
    rows: int
    columns: tuple[ColumnReport, ...]
    time: TimeReport | None
    suggestions: tuple[ColumnSuggestion, ...]
    candidates: tuple[Candidate, ...]
    sign: DischargeSign | None
    findings: tuple[Finding, ...]
    study_keys: dict[str, str | list[str]] | None
    study_entry: str | None


def describe_file(
    path: Path | str, layout: Layout = AS_FOUND, progress: Callable[[int], None] | None = None
) -> FileReport:
    """Read a history file once and say what it contains, in fixed memory where the format allows.

    Args:
        path: The file, or a pattern with ``*`` or ``?`` for several.
        layout: What is stated about its layout.
        progress: Called with the number of rows read so far.

    Raises:
        HistoryError: The file is missing, a directory, empty, or in a format that is not read here.
        MissingPackageError: The format needs an optional package.
    """
    label = str(path)
    reader = open_files(label, Path(), layout)
    return describe_reader(ordered(reader) if isinstance(reader, JoinedReader) else reader, label, progress)


def describe_reader(reader: Reader, label: str, progress: Callable[[int], None] | None = None) -> FileReport:
    """Say what an opened file contains.

    Args:
        reader: The file.
        label: What a study would call it.
        progress: Called with the number of rows read so far.
    """
    found = suggest_columns(reader)
    scan = FileScan(reader, found, progress or (lambda _: None))
    scan.run()
    sign = scan.sign()
    suggestions = tuple(scan.by_role.values())
    stated_sign = None if sign is None or scan.is_unsigned else sign.sign
    keys = suggested_keys(label, suggestions, stated_sign, by_mode=scan.is_sign_by_mode, undecided=found.undecided)
    if keys is None and len(found.sets) == 1:
        keys = winding_keys(label, suggestions, found.sets[0], reader.columns)
    if keys is not None and isinstance(reader, JoinedReader) and reader.time_continues is not None:
        keys["files_follow"] = "one_after_another"
    findings = [finding for check in _CHECKS for finding in check(scan)]
    if no_record(scan) is not None or raw_frames(reader) is not None:
        keys = None
    if keys is not None:
        trial = try_entry(keys, suggestions, reader)
        if trial.fault is not None and not any(finding.severity == "error" for finding in findings):
            findings.append(_refused(trial.fault, label))
        keys = keys if trial.is_usable else None
    return FileReport(
        file=label,
        file_format=reader.file_format,
        details=reader.details,
        files=reader.files,
        rows=scan.rows,
        columns=scan.column_reports(),
        time=None if scan.time is None else scan.time.report,
        suggestions=suggestions,
        candidates=found.candidates,
        sign=sign,
        findings=by_severity(findings),
        study_keys=keys,
        study_entry=None if keys is None else study_entry(keys),
    )


def _refused(fault: HistoryError, label: str) -> Finding:
    message = f"a study refuses the suggested entry as it stands: {fault.problem}"
    return Finding("error", fault_place(fault, label), message, None, fault.remedy or "")
