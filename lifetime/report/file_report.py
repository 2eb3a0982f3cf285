"""What a history file holds and what is wrong with it, as text and as one JSON document."""

import json
from dataclasses import asdict

from rich.console import Console
from rich.table import Table
from rich.text import Text

from lifetime.history.quality import FileReport

_SEVERITY_STYLE = {"error": "bold", "warning": "bold", "note": ""}


def file_document(report: FileReport) -> str:
    """The report as JSON text."""
    return json.dumps(asdict(report), indent=2, allow_nan=False, ensure_ascii=False)


def print_file_report(report: FileReport, console: Console) -> None:
    """Print the report: what it is, its columns, what they could serve as, what is wrong, a line for the study."""
    details = f" ({report.details})" if report.details else ""
    console.print(Text(report.file, style="bold"))
    console.print(Text(f"{report.file_format}{details}, {report.rows:,} rows, {len(report.columns)} columns"))
    if report.time is not None:
        console.print(Text(_time_sentence(report)))
    console.print()
    console.print(_columns(report))
    console.print()
    if not report.findings:
        console.print("Nothing wrong was found.")
    for finding in report.findings:
        remedy = f" {finding.remedy}" if finding.remedy else ""
        line = Text(f"{finding.severity}: ", style=_SEVERITY_STYLE[finding.severity])
        line.append(f"{finding.place}: {finding.message}{remedy}", style="")
        console.print(line)
    if report.study_line is not None:
        console.print()
        console.print("A line for the study; nothing is applied until you put it there:")
        # Not wrapped, so that it can be copied in one piece.
        console.print(Text(report.study_line), soft_wrap=True)


def _time_sentence(report: FileReport) -> str:
    time = report.time
    assert time is not None  # noqa: S101 - the caller has looked
    unit = f" {time.unit}" if time.unit else " (unit not stated)"
    edges = f", {time.switching_edges} switching edges" if time.switching_edges else ""
    return (
        f'Time in "{time.column}": {time.span:g}{unit} long, steps of {time.median_step:g}{unit} (median), '
        f"at most {time.largest_step:g}{unit}{edges}"
    )


def _columns(report: FileReport) -> Table:
    offered = {offer.position: offer for offer in report.offers}
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("column", overflow="fold", max_width=30)
    table.add_column("unit")
    for name in ("low", "mean", "high"):
        table.add_column(name, justify="right")
    table.add_column("missing", justify="right")
    table.add_column("could be")
    for position, column in enumerate(report.columns):
        offer = offered.get(position)
        numbers = ["" if value is None else f"{value:.4g}" for value in (column.low, column.mean, column.high)]
        if column.kind == "text":
            numbers = ["text", "", ""]
        table.add_row(
            Text(column.name),
            Text(column.unit or ""),
            *numbers,
            str(column.missing) if column.missing else "",
            "" if offer is None else offer.quantity,
        )
    return table
