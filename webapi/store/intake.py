"""Taking a file in: converted for the store and looked at once, as plain data that another process can hand over."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.file_report import FileReport, describe_reader
from lifetime.units import header_unit
from webapi.settings import UploadLimits
from webapi.store.convert import convert
from webapi.store.files import stored_reader


@dataclass(frozen=True, slots=True)
class Intake:
    """What is known of a file once it is taken in.

    Args:
        format: Of the file uploaded, for example "CSV" or "Parquet".
        rows: Data rows.
        columns: Name, unit, kind and what it could be, of each column.
        report: What was found, for the page and the API.
    """

    format: str
    rows: int
    columns: list[dict[str, Any]]
    report: dict[str, Any]


def take_in(source: Path, target: Path, label: str, limits: UploadLimits, layout: Layout = AS_FOUND) -> Intake:
    """Convert an uploaded history and describe it.

    Args:
        source: The file uploaded.
        target: Where the file for the store is written; left behind unfinished on an error.
        label: The file's name as the user gave it, for messages.
        limits: What it may measure.
        layout: What is stated about its layout.

    Raises:
        HistoryError: It cannot be read as a history.
        LimitError: It is too large.
        MissingPackageError: The format needs an optional package.
    """
    converted = convert(source, target, label, limits, layout)
    reader = stored_reader(target, label)
    assert reader is not None  # noqa: S101 - just written
    report = describe_reader(reader, label)
    return Intake(converted.header.file_format, converted.rows, _columns(report, reader), _report(report))


def _columns(report: FileReport, reader: Reader) -> list[dict[str, Any]]:
    numbers = set(reader.number_columns())  # the report looks into one table only
    suggested = {suggestion.position: suggestion for suggestion in report.suggestions}
    columns = []
    for position, one in enumerate(report.columns):
        unit = header_unit(one.name)
        suggestion = suggested.get(position)
        columns.append(
            {
                "name": one.name,
                "unit": None if unit is None else unit.text,
                "kind": "numbers" if position in numbers else "text",
                "could_be": None if suggestion is None else suggestion.role,
                "evidence": None if suggestion is None else suggestion.evidence,
                "fits": [
                    {"role": one.role, "evidence": one.evidence, "objection": one.objection or None}
                    for one in report.candidates
                    if one.position == position
                ],
            }
        )
    return columns


def _report(report: FileReport) -> dict[str, Any]:
    """What was found, for the page and the API."""
    keys = report.study_keys
    return {
        "details": report.details,
        "time": None if report.time is None else asdict(report.time),
        "sign": None if report.sign is None else asdict(report.sign),
        "findings": [asdict(finding) for finding in report.findings],
        "study_keys": None if keys is None else {name: value for name, value in keys.items() if name != "file"},
    }
