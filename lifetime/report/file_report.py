"""What a history file contains and its findings, as text read in ten seconds."""

from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from lifetime.history.inspection.file_report import FileReport
from lifetime.history.inspection.findings import Finding
from lifetime.history.mapping.column_suggestions import ColumnSuggestion
from lifetime.text import printable

_SEVERITY_STYLE = {"error": "bold", "warning": "bold", "note": ""}
_OTHERS_NAMED: Final = 12
_CANDIDATES_NAMED: Final = 12


def print_file_report(report: FileReport, console: Console) -> None:
    """Print the report: what the file is, suggested roles of its columns, findings, the suggested study entry."""
    console.print(Text(printable(report.file), style="bold"))
    console.print(Text(summary(report)))
    if report.time is not None:
        console.print(Text(time_sentence(report)))
    console.print()
    if report.suggestions:
        console.print(_columns(report))
    also = also_fitting(report)
    if also:
        console.print(Text("Other columns that fit a role:"))
        for one in also:
            console.print(Text(f"  {one}"))
    others = _others(report)
    if others:
        console.print(Text(others))
    console.print()
    if not report.findings:
        console.print("The data checks found nothing.")
    for finding in report.findings:
        line = Text(f"{finding.severity}: ", style=_SEVERITY_STYLE[finding.severity])
        line.append(printable(finding_text(finding)), style="")
        console.print(line)
    if report.study_entry is not None:
        console.print()
        console.print("Suggested study entry (applied only when you paste it into a study):")
        # Not wrapped, so that it can be copied in one piece.
        console.print(Text(report.study_entry), soft_wrap=True)


def summary(report: FileReport) -> str:
    """Format, rows and columns in one sentence.

    Args:
        report: What was found.
    """
    details = f" ({report.details})" if report.details else ""
    files = f"{len(report.files)} files, " if report.files else ""
    return printable(f"{files}{report.file_format}{details}, {report.rows:,} rows, {len(report.columns)} columns")


def finding_text(finding: Finding) -> str:
    """A finding in words: place, problem, remedy.

    Args:
        finding: The finding.
    """
    remedy = f" {finding.remedy}" if finding.remedy else ""
    return f"{finding.place}: {finding.message}{remedy}"


def time_sentence(report: FileReport) -> str:
    """The time column in one sentence; empty where none is suggested.

    Args:
        report: What was found.
    """
    time = report.time
    if time is None:
        return ""
    if time.span < 0.0:
        return printable(f'Time in "{time.column}" runs backwards')
    unit = f" {time.unit}" if time.unit else " (unit not stated)"
    edges = f", {time.switching_edges} switching edges" if time.switching_edges else ""
    return printable(
        f'Time in "{time.column}": {time.span:g}{unit} long, steps of {time.median_step:g}{unit} (median), '
        f"at most {time.largest_step:g}{unit}{edges}"
    )


def also_fitting(report: FileReport) -> list[str]:
    """Columns that fit a role and are not suggested, with the evidence, one line each.

    Args:
        report: What was found.
    """
    suggested = {(suggestion.role, suggestion.position) for suggestion in report.suggestions}
    others = [one for one in report.candidates if (one.role, one.position) not in suggested]
    lines = []
    for one in others[:_CANDIDATES_NAMED]:
        objection = f", but {one.objection}" if one.objection else ""
        lines.append(printable(f'{one.role}: "{one.column}", {one.evidence}{objection}'))
    more = len(others) - _CANDIDATES_NAMED
    return [*lines, f"and {more} more"] if more > 0 else lines


def _columns(report: FileReport) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("suggested role")
    table.add_column("column", overflow="fold", max_width=30)
    table.add_column("unit")
    for name in ("low", "mean", "high"):
        table.add_column(name, justify="right")
    table.add_column("missing", justify="right")
    for suggestion in report.suggestions:
        column = report.columns[suggestion.position]
        called = Text(printable(column.name))
        table.add_row(
            suggestion.role, called, _unit(suggestion), *_numbers(report, suggestion), _missing(report, suggestion)
        )
    return table


def _unit(suggestion: ColumnSuggestion) -> Text:
    if suggestion.patterns:
        return Text(" or ".join(suggestion.patterns))
    return Text("" if suggestion.role == "mode" else suggestion.unit or "?")


def _numbers(report: FileReport, suggestion: ColumnSuggestion) -> tuple[str, str, str]:
    column = report.columns[suggestion.position]
    if column.kind == "text":
        return "", "", ""
    low, mean, high = ("" if one is None else f"{one:.4g}" for one in (column.low, column.mean, column.high))
    return low, mean, high


def _missing(report: FileReport, suggestion: ColumnSuggestion) -> str:
    missing = report.columns[suggestion.position].missing
    return str(missing) if missing else ""


def _others(report: FileReport) -> str:
    """The columns that fit no role, in one line."""
    suggested = {one.position for one in report.suggestions} | {one.position for one in report.candidates}
    names = [printable(column.name) for at, column in enumerate(report.columns) if at not in suggested and column.name]
    if not names:
        return ""
    more = f" and {len(names) - _OTHERS_NAMED} more" if len(names) > _OTHERS_NAMED else ""
    return f"Other columns: {', '.join(names[:_OTHERS_NAMED])}{more}"
