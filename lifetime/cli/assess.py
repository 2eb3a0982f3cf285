"""The commands ``assess`` and ``demo``."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.cli.options import AsJson, Report, StudyFile
from lifetime.cli.output_files import check_output_file
from lifetime.cli.recorders import recorders
from lifetime.cli.terminal import console, exit_codes, print_json_text, progress

if TYPE_CHECKING:
    from lifetime.results.records import Assessment
    from lifetime.study.load import LoadedStudy


def assess(
    context: typer.Context,
    study: StudyFile,
    as_json: AsJson = False,
    report: Report = None,
    no_record: Annotated[bool, typer.Option("--no-record", help="Do not put the result on record.")] = False,
) -> None:
    """Assess a study and rank its strategies by net present cost."""
    with exit_codes():
        loaded, assessment = _assessed(study, report)
        # What took long is safe before anything is printed: printing may fail where recording does not.
        if not no_record:
            recorders(context).assessment(loaded, assessment, study.parent)
        _show(assessment, as_json=as_json, report=report)


def demo(as_json: AsJson = False, report: Report = None) -> None:
    """Assess the built-in, invented study of a yard tractor.

    Nothing is put on record.
    """
    from lifetime.packs.locate import profiles_folder  # noqa: PLC0415

    if not as_json:
        sys.stderr.write("An invented yard tractor; nothing in it was measured.\n\n")
    with exit_codes():
        _, assessment = _assessed(profiles_folder() / "demo" / "yard_tractor.toml", report)
        _show(assessment, as_json=as_json, report=report)


def _assessed(path: Path, report: Path | None) -> "tuple[LoadedStudy, Assessment]":
    """Assess a study file, after a look at where the report is to go."""
    from lifetime.study.load import load_study  # noqa: PLC0415

    check_output_file(report, "--report")
    loaded = load_study(path)
    return loaded, _with_progress(loaded)


def _show(assessment: "Assessment", *, as_json: bool, report: Path | None) -> None:
    """Print the ranking or the document, and write the report asked for."""
    from lifetime.results.document import ResultDocument  # noqa: PLC0415

    document = ResultDocument.of(assessment)
    if as_json:
        print_json_text(document.to_json())
    else:
        from lifetime.report.table import print_ranking  # noqa: PLC0415

        print_ranking(document, console())
    sys.stdout.flush()
    if report is not None:
        from lifetime.report.html import write_report  # noqa: PLC0415

        write_report(document, report)


def _with_progress(loaded: "LoadedStudy") -> "Assessment":
    from lifetime.assessment.run import assess as run  # noqa: PLC0415

    advance: Callable[[int], None]
    with progress("Assessing", len(loaded.study.strategy)) as advance:
        return run(loaded, lambda _: advance(1))
