"""What a history file holds and what is wrong with it, before any study names it."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lifetime.history.formats.files import open_files
from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection import findings as wrong
from lifetime.history.inspection.file_scan import ColumnReport, FileScan, TimeReport
from lifetime.history.inspection.findings import Finding
from lifetime.history.mapping.column_suggestions import Offer, offers
from lifetime.history.mapping.discharge_sign import DischargeSign
from lifetime.history.mapping.study_entry import history_keys, study_line


@dataclass(frozen=True, slots=True)
class FileReport:
    """Everything ``describe_file`` finds.

    Args:
        file: The file's name as the user gave it.
        file_format: For example "CSV" or "Parquet".
        details: Separator, encoding and the like in words; may be empty.
        files: Names of the files, in order, where a pattern stands for several; else empty.
        rows: Data rows read.
        columns: All columns in the file's order.
        time: The time column offered, or None.
        offers: Which column could serve as what; offered, never applied.
        sign: What the data say about the sign of discharge, or None where there is nothing to compare.
        findings: What is wrong or worth knowing, gravest first.
        study_keys: Keys of a history in a study for what was offered, or None.
        study_line: The same as a line to paste into a study, or None.
    """

    file: str
    file_format: str
    details: str
    files: tuple[str, ...]
    rows: int
    columns: tuple[ColumnReport, ...]
    time: TimeReport | None
    offers: tuple[Offer, ...]
    sign: DischargeSign | None
    findings: tuple[Finding, ...]
    study_keys: dict[str, str | list[str]] | None
    study_line: str | None


def describe_file(
    path: Path | str, layout: Layout = AS_FOUND, progress: Callable[[int], None] | None = None
) -> FileReport:
    """Read a history file once and say what it holds, in fixed memory where the format allows.

    Args:
        path: The file, or a pattern with ``*`` or ``?`` for several.
        layout: What is stated about its layout.
        progress: Called with the number of rows read so far.

    Raises:
        HistoryError: The file is missing, a directory, empty, or in no format read here.
        MissingPackageError: The format needs an optional package.
    """
    label = str(path)
    return describe_reader(open_files(label, Path(), layout), label, progress)


def describe_reader(reader: Reader, label: str, progress: Callable[[int], None] | None = None) -> FileReport:
    """Say what an opened file holds.

    Args:
        reader: The file.
        label: What a study would call it.
        progress: Called with the number of rows read so far.
    """
    offered = offers(reader)
    scan = FileScan(reader, offered, progress or (lambda _: None))
    scan.run()
    sign = scan.sign_hint()
    columns = tuple(scan.column_report(position) for position in range(len(reader.columns)))
    keys = history_keys(label, offered, None if sign is None else sign.sign, by_mode=_sign_is_by_mode(scan))
    return FileReport(
        file=label,
        file_format=reader.file_format,
        details=reader.details,
        files=reader.files,
        rows=scan.rows,
        columns=columns,
        time=scan.time_report(),
        offers=offered,
        sign=sign,
        findings=wrong.gravest_first(_findings(scan, columns, offered, sign)),
        study_keys=keys,
        study_line=None if keys is None else study_line(keys),
    )


def _sign_is_by_mode(scan: FileScan) -> bool:
    """True where the current has no sign of its own, and a column of words has."""
    if not {"mode", "current"} <= scan.offers.keys():
        return False
    return bool(scan.lows[scan.offers["current"].position] >= 0.0)


def _findings(
    scan: FileScan, columns: tuple[ColumnReport, ...], offered: tuple[Offer, ...], sign: DischargeSign | None
) -> list[Finding]:
    used = {offer.column: offer for offer in offered if offer.position in scan.numeric}
    found = wrong.of_file(scan.reader, scan.rows, scan.fault, offered)
    found += wrong.of_columns(
        {
            c.name: (c.missing, c.first_missing_row, c.low, c.high, scan.missing_runs[used[c.name].position].longest)
            for c in columns
            if c.name in used
        },
        used,
    )
    found += wrong.of_stamps(offered)
    time = scan.time_report()
    if time is not None:
        found += wrong.of_time(time.column, time.backward_steps, time.first_backward_row)
        found += wrong.of_gaps(time.column, time.gaps, time.largest_step, time.largest_step_row)
        found += wrong.of_clock(scan)
        found += wrong.of_charge(scan)
    found += wrong.of_sensors(scan)
    found += wrong.of_units(scan)
    if sign is not None and not _sign_is_by_mode(scan):
        found.append(wrong.of_sign(sign))
    return found
