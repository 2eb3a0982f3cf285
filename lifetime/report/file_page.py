"""A history file as one HTML page: what it contains, its channels over time, the findings. No scripts."""

from pathlib import Path

from markupsafe import Markup

from lifetime.history.formats.layout import AS_FOUND, Layout
from lifetime.history.inspection.file_report import FileReport
from lifetime.report.figures.trace_svg import traces_svg
from lifetime.report.file_report import also_fitting, finding_text, summary, time_sentence
from lifetime.report.file_trace import traces
from lifetime.report.html import page_environment
from lifetime.text import printable


def write_file_page(report: FileReport, path: Path, layout: Layout = AS_FOUND) -> None:
    """Write the page of a file that was looked at.

    Args:
        report: What was found in it.
        path: Where to; an existing file is replaced.
        layout: What is stated about its layout.

    Raises:
        OSError: The page cannot be written.
        HistoryError: The file cannot be read any more.
    """
    path.write_text(file_page(report, layout), encoding="utf-8", newline="\n")


def file_page(report: FileReport, layout: Layout = AS_FOUND) -> str:
    """The page as one HTML text without any outside reference or script.

    Args:
        report: What was found in the file.
        layout: What is stated about its layout.
    """
    shown = [one for one in traces(report, layout) if one.time.size > 1]
    seconds = report.time is not None and report.time.unit == "s"
    return (
        page_environment()
        .get_template("file.html")
        .render(
            name=printable(Path(report.file).name),
            summary=summary(report),
            time=time_sentence(report),
            picture=Markup(traces_svg(shown, seconds=seconds)) if shown else None,  # noqa: S704 - its texts are escaped
            suggestions=[
                {
                    "role": suggestion.role,
                    "column": printable(suggestion.column),
                    "unit": " or ".join(suggestion.patterns) if suggestion.patterns else suggestion.unit or "",
                    "evidence": printable(suggestion.evidence),
                }
                for suggestion in report.suggestions
            ],
            also=also_fitting(report),
            findings=[{"severity": one.severity, "text": printable(finding_text(one))} for one in report.findings],
            entry=report.study_entry,
        )
    )
